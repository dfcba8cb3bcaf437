//! [`Landmark`]s and [`RimMatch`]es: what ties a scan to the job's frame.

use super::{Rim, RimError, Side, pick_rim};
use crate::geometry::{Direction, Point};
use crate::units::Length;

/// A place that is known in the scan and in the job.
#[derive(Clone, Debug, PartialEq)]
pub struct Landmark {
    /// What the user calls it.
    pub name: String,
    /// In the scan's own axes.
    pub in_scan: Point,
    /// In the job's frame.
    pub in_job: Point,
}

/// A port that is an open rim in the scan.
#[derive(Clone, Debug, PartialEq)]
pub struct RimMatch {
    /// What the user calls the port.
    pub name: String,
    /// About the middle of the opening, in the scan's own axes; see [`pick_rim`].
    pub near: Point,
    /// How near to `near` the rim must come.
    pub within: Length,
    /// The port's center in the job's frame.
    pub center: Point,
    /// From the port's face into free space, in the job's frame.
    pub outward: Direction,
}

impl RimMatch {
    /// Reach unless the user says otherwise: a port's size.
    pub const USUAL_REACH: Length = Length::from_mm(50.0);

    /// The rim of the scan that is meant, with the normal as the scan tells it; where
    /// it does not, whichever way needs less turning.
    pub(super) fn find<'a>(&self, rims: &'a [Rim]) -> Result<(usize, Rim), RimError> {
        let found: &'a Rim = pick_rim(rims, &self.near, self.within.mm())?;
        let number = rims.iter().position(|rim| std::ptr::eq(rim, found));
        let backward = found.circle.normal.dot(&self.outward) < 0.0;
        let rim = found.clone();
        let rim = if found.side == Side::Unknown && backward {
            rim.flipped()
        } else {
            rim
        };
        Ok((number.unwrap_or_default(), rim))
    }
}
