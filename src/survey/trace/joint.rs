//! [`TracedJoint`]: a joint of a traced tube and how well it is known.

use crate::geometry::{Direction, Point, Scatter};
use crate::units::{Angle, Length};

/// A joint of a traced tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TracedJoint {
    /// Where the axes of its pieces meet, mm in the job's frame.
    pub at: Point,
    /// How far it may be off; its turn is not in it.
    pub scatter: Scatter,
    /// Change of direction.
    pub turn: Angle,
    /// Standard deviation of that.
    pub turn_sigma: Angle,
    /// How far apart the two pieces' own lines pass each other.
    pub own: OwnLines,
    /// √(Σ d²/n) of what is left of the points that count on the joint or its two
    /// pieces; `None` without any.
    pub rms: Option<Length>,
}

impl TracedJoint {
    /// Standard deviation of its place along the direction in which it is the greatest.
    pub fn sigma(&self) -> (Length, Direction) {
        self.scatter.ellipsoid()[0]
    }
}

/// Two neighboring pieces' lines, each fitted to its own points alone. An end piece
/// without enough of these has its end's axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum OwnLines {
    /// How far apart they pass each other.
    Apart(Length),
    /// A piece has too few points to hold a line.
    TooFew,
}

impl OwnLines {
    /// How far apart, where it is known.
    pub const fn apart(&self) -> Option<Length> {
        match self {
            Self::Apart(apart) => Some(*apart),
            Self::TooFew => None,
        }
    }
}
