//! [`Reading`]: one thing that was measured of a port.

use super::{Face, Measuring};
use crate::geometry::{Direction, Point, Scatter};
use crate::units::{Angle, Length};

/// One thing that was measured of a port, and what to call it.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// As a message names it: "rim point 2".
    pub name: String,
    /// What was read.
    pub what: Observed,
}

/// What was read, with the standard deviation of each number, all in the job's frame.
///
/// The port's center c, its outward direction u, and where needed the radius of its
/// rim, that of its bolt circle, how far a rod's tip is out of the face, and where a rod
/// laid through the bore lies, are what the readings are to tell. Where the face is
/// mitered, so is its own normal n, which leans from u to any side; the rim is where the
/// tube's outside, a cylinder about the axis, meets the face.
#[derive(Clone, Debug, PartialEq)]
pub enum Observed {
    /// A coordinate of the center.
    Coordinate {
        /// 0, 1 or 2 for x, y or z.
        axis: usize,
        /// Its value.
        at: Length,
        /// Standard deviation.
        good_to: Length,
    },
    /// The outward direction.
    Outward {
        /// As read.
        direction: Direction,
        /// Two directions square to it and to each other.
        across: [Direction; 2],
        /// Standard deviation of its lean toward each of them.
        good_to: [Angle; 2],
    },
    /// How far the outward direction rises from level, asin(u·up).
    Elevation {
        /// Straight up.
        up: Direction,
        /// From −90° to 90°.
        angle: Angle,
        /// Standard deviation.
        good_to: Angle,
    },
    /// Which way the outward direction goes over the ground, clockwise from ahead for
    /// someone who looks down.
    Heading {
        /// Straight up.
        up: Direction,
        /// Heading zero; square to `up`.
        ahead: Direction,
        /// Clockwise.
        angle: Angle,
        /// Standard deviation.
        good_to: Angle,
    },
    /// A point on the rim: in the face's plane, and on the tube's outside.
    OnRim {
        /// Where.
        at: Point,
        /// Standard deviation of each coordinate.
        good_to: Length,
    },
    /// The middle of a bolt hole: in the face's plane, at another distance from the axis.
    OnBoltCircle {
        /// Where.
        at: Point,
        /// Standard deviation of each coordinate.
        good_to: Length,
    },
    /// A point anywhere on the face.
    OnFace {
        /// Where.
        at: Point,
        /// Standard deviation of each coordinate.
        good_to: Length,
    },
    /// A point anywhere on the tube's outside, behind the face.
    OnOutside {
        /// Where.
        at: Point,
        /// Standard deviation of each coordinate.
        good_to: Length,
    },
    /// The angle between the face's normal and the axis, as the saw was set: 0 is a
    /// square cut. Says nothing of a face that is square by itself. To first order:
    /// about an angle of less than some deviations it says more than it knows.
    Cut {
        /// As set, from 0 to less than 90°.
        angle: Angle,
        /// Standard deviation.
        good_to: Angle,
    },
    /// The rim's radius: that of the tube's outside.
    RimRadius {
        /// Half of what the caliper says.
        radius: Length,
        /// Standard deviation.
        good_to: Length,
    },
    /// The bolt circle's radius.
    BoltRadius {
        /// Half of the circle's diameter.
        radius: Length,
        /// Standard deviation.
        good_to: Length,
    },
    /// A point on a straight rod held on the port's axis.
    OnRod {
        /// Where.
        at: Point,
        /// Standard deviation of each coordinate.
        good_to: Length,
        /// How far out of the face it is, and how good that is; `None` where not known.
        out: Option<(Length, Length)>,
    },
    /// A point on a straight rod laid through the bore: parallel to the axis.
    OnLaidRod {
        /// Where.
        at: Point,
        /// Standard deviation of each coordinate.
        good_to: Length,
    },
    /// A tape's reading from a pin to the center.
    ToCenter {
        /// Which of the pins.
        pin: usize,
        /// What the tape says.
        distance: Length,
        /// Standard deviation.
        good_to: Length,
    },
    /// A tape's reading from a pin to the tip of a rod held on the axis.
    ToTip {
        /// Which of the pins.
        pin: usize,
        /// What the tape says.
        distance: Length,
        /// Standard deviation.
        good_to: Length,
    },
    /// How far the rod's tip is out of the face.
    TipOut {
        /// What the tape says.
        out: Length,
        /// Standard deviation.
        good_to: Length,
    },
}

impl Observed {
    /// Numbers in it.
    pub(super) const fn rows(&self) -> usize {
        match self {
            Self::Outward { .. }
            | Self::OnRim { .. }
            | Self::OnBoltCircle { .. }
            | Self::OnLaidRod { .. }
            | Self::OnRod { out: None, .. } => 2,
            Self::OnRod { .. } => 3,
            _ => 1,
        }
    }

    /// The point that was touched, if it is one.
    pub(super) const fn point(&self) -> Option<Point> {
        match self {
            Self::OnRim { at, .. }
            | Self::OnBoltCircle { at, .. }
            | Self::OnFace { at, .. }
            | Self::OnOutside { at, .. }
            | Self::OnRod { at, .. }
            | Self::OnLaidRod { at, .. } => Some(*at),
            _ => None,
        }
    }

    /// The touched point, if it is in the face's plane.
    pub(super) const fn face_point(&self) -> Option<Point> {
        match self {
            Self::OnRim { at, .. } | Self::OnBoltCircle { at, .. } | Self::OnFace { at, .. } => {
                Some(*at)
            }
            _ => None,
        }
    }

    /// Whether it says something of the tube's radius by its distance from the axis.
    pub(super) const fn is_on_tube(&self) -> bool {
        matches!(self, Self::OnRim { .. } | Self::OnOutside { .. })
    }
}

/// A fixed place to measure from.
#[derive(Clone, Debug, PartialEq)]
pub struct Pin {
    /// The user's name for it.
    pub name: String,
    /// Where it is.
    pub at: Point,
    /// Standard deviation of each coordinate; zero where it defines the frame.
    pub good_to: Length,
}

/// All that was measured of one port.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// One by one.
    pub list: Vec<Reading>,
    /// How the face stands to the axis.
    pub face: Face,
    /// Places that tapes were held to.
    pub pins: Vec<Pin>,
    /// How good the tools are with which more could be measured.
    pub measuring: Measuring,
    /// How far all readings may be off together: how well what they were taken from is
    /// in its place.
    pub frame: Scatter,
    /// Roughly where free space is: of two directions that fit, that which leans toward
    /// it is meant.
    pub toward: Option<Direction>,
    /// Roughly where the center is: of two places that fit, the nearer is meant.
    pub near: Option<Point>,
    /// How far back from its end the tube goes on straight, where that is known: advice
    /// stays on it.
    pub behind: Option<Length>,
}

impl Readings {
    /// Whether any of them is such.
    pub(super) fn has(&self, test: fn(&Observed) -> bool) -> bool {
        self.list.iter().any(|reading| test(&reading.what))
    }
}
