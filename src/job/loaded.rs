//! [`LoadedScan`]: what became of a scan that the job asked for.

use crate::geometry::Point;
use crate::scan::{Dropped, Placed, Placement, Settled};
use crate::units::Length;

/// A scan in the job's frame.
#[derive(Clone, Debug, PartialEq)]
pub struct LoadedScan {
    /// What the user calls it.
    pub name: String,
    /// The file as the job has it.
    pub file: String,
    /// Groups that the file names.
    pub groups: usize,
    /// Triangles that were kept.
    pub triangles: usize,
    /// Triangles that were not.
    pub dropped: Dropped,
    /// Least and greatest coordinates, in the job's frame.
    pub bounds: (Point, Point),
    /// How landmarks and rims agree.
    pub placed: Option<Placed>,
    /// How touched points agree.
    pub settled: Option<Settled>,
    /// Its parts: name, triangles and the distance to keep.
    pub parts: Vec<(String, usize, Length)>,
}

impl LoadedScan {
    /// From the file's own axes to the job's frame: what landmarks and rims gave, settled
    /// on what was touched.
    pub fn placement(&self) -> Placement {
        let settled = self.settled.as_ref().map(|settled| settled.placement);
        let placed = self.placed.as_ref().map(|placed| placed.placement);
        settled.or(placed).unwrap_or_else(Placement::identity)
    }
}
