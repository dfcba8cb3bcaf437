//! [`Measuring`]: how good the shop's ways to measure are.

use crate::units::{Angle, Length};

/// One standard deviation of each way to measure: two readings in three are within it,
/// nineteen in twenty within twice as much.
///
/// The defaults are what a careful person gets with shop tools; common practice, no
/// source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measuring {
    /// Each coordinate of a point, by square and height gauge from a jig table.
    pub point: Length,
    /// A distance by tape.
    pub tape: Length,
    /// A diameter by caliper.
    pub caliper: Length,
    /// A digital level's reading.
    pub level: Angle,
    /// A heading by protractor from a line on the table.
    pub heading: Angle,
    /// A direction given by numbers or angles, any way that it may lean.
    pub direction: Angle,
    /// Each coordinate of a reference pin.
    pub pin: Length,
    /// A point of a scan.
    pub scan: Length,
}

impl Default for Measuring {
    fn default() -> Self {
        Self {
            point: Length::from_mm(0.5),
            tape: Length::from_mm(1.0),
            caliper: Length::from_mm(0.1),
            level: Angle::from_degrees(0.2),
            heading: Angle::from_degrees(1.0),
            direction: Angle::from_degrees(0.5),
            pin: Length::ZERO,
            scan: Length::from_mm(0.5),
        }
    }
}
