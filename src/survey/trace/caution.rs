//! [`Caution`]: what is odd about a traced tube.

use crate::units::{Angle, Length};

/// What the user should know before cutting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Caution {
    /// A joint that turns no more than chance would make it.
    Straight {
        /// Which joint, from 0.
        joint: usize,
        /// How far it turns.
        turn: Angle,
        /// Standard deviation of that.
        sigma: Angle,
    },
    /// A piece whose outside was touched along one side only.
    OneSide {
        /// Which piece, from 0.
        piece: usize,
        /// Clocks between the outermost points.
        span: Angle,
    },
    /// A point of a piece is off, and the others do not tell which.
    Blurred {
        /// Which piece, from 0.
        piece: usize,
        /// About how far it is off.
        off: Length,
    },
    /// The points fit a tube of another radius better.
    OtherRadius {
        /// Which.
        radius: Length,
    },
    /// Neighboring pieces' own lines pass each other too far apart.
    Missing {
        /// Which joint, from 0.
        joint: usize,
        /// How far apart.
        apart: Length,
        /// Standard deviation of that.
        sigma: Length,
    },
    /// Points scatter more than they should.
    Scattered {
        /// Deviations are this many times what was said.
        factor: f64,
    },
    /// Nothing checks the readings: no more of them than it takes.
    Unchecked,
    /// The copy is farther from a point of the centerline than was asked for because
    /// the point's own error may be as much.
    Tight {
        /// What was asked for.
        within: Length,
        /// What the points' errors come to.
        noise: Length,
    },
}
