//! [`NearScan`]: where a part of what is built comes nearest to a scan.

use super::term::ScanPart;

/// Where a part comes nearest to a scan.
#[derive(Clone, Copy, Debug)]
pub(super) struct NearScan {
    pub edge: usize,
    pub obstacle: usize,
    /// In units, by the map alone.
    pub margin: f64,
    /// Part of the way along the edge…
    pub part: f64,
    /// …and how that changes as the edge grows, a mm.
    pub part_by_length: f64,
}

impl NearScan {
    /// A lower bound that no search comes near.
    pub const fn far(part: &ScanPart, margin: f64) -> Self {
        Self {
            edge: part.first,
            obstacle: part.obstacle,
            margin,
            part: 0.0,
            part_by_length: 0.0,
        }
    }
}
