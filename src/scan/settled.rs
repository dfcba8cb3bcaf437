//! [`Settled`]: a scan moved the last few millimeters until surfaces meet.

use super::{Freedom, Placement};
use crate::units::Length;
use thiserror::Error;

/// Bounds of the search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IcpLimits {
    /// Points farther than this from the surface are not used.
    pub reach: Length,
    /// A scan that has moved farther than this may have slid to a wrong place.
    pub farthest: Length,
    /// Steps at most, each way: with all points, and without those left out.
    pub max_steps: usize,
}

impl Default for IcpLimits {
    /// A reach of 25 mm, a warning beyond 15 mm, 100 steps.
    fn default() -> Self {
        Self {
            reach: Length::from_mm(25.0),
            farthest: Length::from_mm(15.0),
            max_steps: 100,
        }
    }
}

/// A placement that was refined.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// From the moving scan's axes to the frame of what it was settled on.
    pub placement: Placement,
    /// Root mean square distance from the surface at the start, over the points used
    /// in the end.
    pub rms_before: Length,
    /// The same in the end; never more.
    pub rms_after: Length,
    /// Steps taken.
    pub steps: usize,
    /// Part of the points that were used in the end, 0 to 1.
    pub used: f64,
    /// Numbers, from 0, of touch points that were not used; empty for a scan.
    pub left_out: Vec<usize>,
    /// How far the point that moved farthest has moved.
    pub moved: Length,
    /// Motions that the points do not hold; the scan was not moved that way.
    pub free: Vec<Freedom>,
    /// Why it ended.
    pub stop: Stop,
    /// What the user should know.
    pub warnings: Vec<IcpWarning>,
}

/// Why the iteration ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// Steps became too small to matter.
    Settled,
    /// No step made it better.
    NoGain,
    /// The steps allowed were taken.
    Steps,
}

/// Why a placement cannot be refined.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum IcpError {
    /// No points were given.
    #[error("there are no points to settle the scan by")]
    Empty,
    /// No point is near the surface.
    #[error("no point comes within {reach_mm:.1} mm of the surface: place the scan better first")]
    NothingNear {
        /// How near, mm.
        reach_mm: f64,
    },
    /// A number is none.
    #[error("a point, the start or a limit is not a finite number")]
    NotFinite,
}

/// What the user should know about a refined placement.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum IcpWarning {
    /// A motion that nothing holds.
    #[error("nothing holds the scan against {0}: it was not moved that way")]
    Free(Freedom),
    /// It has moved far.
    #[error(
        "the scan moved {moved_mm:.1} mm, more than {farthest_mm:.1} mm: it may have slid to a wrong place"
    )]
    Far {
        /// How far, mm.
        moved_mm: f64,
        /// What was expected at most, mm.
        farthest_mm: f64,
    },
    /// A touch point is off the others.
    #[error(
        "touch point {number} is {off_mm:.1} mm off the scan and was left out: measure it again"
    )]
    Off {
        /// Which, counted from 1.
        number: usize,
        /// How far off, mm.
        off_mm: f64,
    },
    /// A touch point is beside the scan.
    #[error("touch point {number} is not over the scanned surface and was not used")]
    Beside {
        /// Which, counted from 1.
        number: usize,
    },
    /// It ran out of steps.
    #[error("the scan had not settled after {steps} steps")]
    Unsettled {
        /// Steps taken.
        steps: usize,
    },
}
