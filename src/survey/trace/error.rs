//! [`TraceError`]: why points hold no tube.

use super::{Caution, Spot};
use crate::units::{Angle, Length};

/// Why points hold no tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum TraceError {
    /// More points or joints than are taken.
    TooMany {
        /// How many.
        given: usize,
        /// How many are taken.
        most: usize,
    },
    /// Fewer points on a piece than it takes.
    TooFew {
        /// Which piece, from 0.
        piece: usize,
        /// How many.
        given: usize,
        /// How many it takes.
        needed: usize,
    },
    /// A coordinate is no number.
    NotFinite(Spot),
    /// A joint where the one before, or the end, is.
    Together {
        /// Which joint, from 0.
        joint: usize,
        /// How far apart they are.
        apart: Length,
    },
    /// All of a piece's points in one place.
    OnePlace {
        /// Which piece, from 0.
        piece: usize,
    },
    /// The points go back on themselves here.
    Back(Spot),
    /// A piece's points lie so that its axis may be elsewhere.
    Ambiguous {
        /// Which piece, from 0.
        piece: usize,
        /// How far apart the middles of the two axes are that fit.
        apart: Length,
    },
    /// A piece's points leave its axis free.
    Free {
        /// Which piece, from 0.
        piece: usize,
    },
    /// A joint that does not turn, so that nothing says where it is.
    Straight {
        /// Which joint, from 0.
        joint: usize,
    },
    /// A joint that turns so far that pieces or points must be out of order.
    Sharp {
        /// Which joint, from 0.
        joint: usize,
        /// How far it turns.
        turn: Angle,
    },
    /// The middle of a piece's points does not lie between its joints.
    OutOfOrder {
        /// Which piece, from 0.
        piece: usize,
    },
    /// Two neighboring pieces that make a tube the other way round.
    Swapped {
        /// The first of them, from 0.
        piece: usize,
    },
    /// The tube would have to leave its end backward.
    Behind {
        /// Which end: 0 or 1.
        end: usize,
    },
    /// No polyline of so many joints keeps within what was asked for.
    NotWithin {
        /// Most joints that were tried.
        joints: usize,
        /// What is left over with these, at most.
        off: Length,
    },
    /// What is odd about a tube that could not have been built.
    Odd(Caution),
    /// The numbers run away.
    Astray,
}
