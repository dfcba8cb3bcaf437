//! [`Accuracy`]: how well a shop cuts, measures and clocks.

use crate::units::{Angle, Length};

/// One standard deviation of every kind of error that is made while a run is built:
/// two of three come out within it. Errors are independent of each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Accuracy {
    /// Saw angle of one cut. A miter joint is one cut whose one side is turned half
    /// round, so its deflection is off by twice as much.
    pub cut: Angle,
    /// Setting of the saw, which all miters that are cut at that setting share: on top
    /// of `cut`, and the same way at each of them. Zero for a saw that is set by a
    /// proven stop.
    pub setting: Angle,
    /// Length of a piece along its axis.
    pub length: Length,
    /// Clock of a bend, or of one joint of a bend, about the axis before it.
    pub clock: Angle,
    /// Turn of a stock bend, whole or cut down.
    pub bend: Angle,
}

impl Accuracy {
    /// No errors.
    pub const EXACT: Self = Self {
        cut: Angle::ZERO,
        setting: Angle::ZERO,
        length: Length::ZERO,
        clock: Angle::ZERO,
        bend: Angle::ZERO,
    };
}

impl Default for Accuracy {
    /// A careful hand with a cold saw, a tape and scribed lines (common practice, no
    /// source). Echoed in the plan, to be corrected in the job.
    fn default() -> Self {
        Self {
            cut: Angle::from_degrees(0.25),
            setting: Angle::ZERO,
            length: Length::from_mm(0.5),
            clock: Angle::from_degrees(1.0),
            bend: Angle::from_degrees(0.5),
        }
    }
}
