//! [`SawCut`]: one cut of a stick.

use crate::units::{Angle, Length};

/// Stop distances nearer than this are one setting of the stop, mm: rounding, far below
/// what a stop can be set to.
const SAME_STOP: f64 = 0.01;
/// Turns and saw angles nearer than this are the same: half of the last digit that is
/// printed.
const SAME_TURN: Angle = Angle::from_degrees(0.005);

/// What drops off at a cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drops {
    /// The stick's own end.
    End,
    /// Waste between two pieces whose faces are cut at different angles.
    Wedge,
    /// A piece.
    Piece {
        /// Which of the runs, from 0.
        run: usize,
        /// Its number in the run, from 1.
        piece: usize,
        /// Whether its end comes off first, against the order of flow. Its two cuts stand
        /// to each other just as they do the other way round.
        turned: bool,
    },
}

/// One cut of a stick.
///
/// The saw stays put; the stick is pushed past it, free end first, and turned. Clocks are
/// seen from the free end along the stick, the way a piece flows unless it is turned. A
/// cut between two pieces serves both: the one that drops off and the one that comes
/// next, whose long side it leaves on the opposite side of the stick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SawCut {
    /// What drops off.
    pub drops: Drops,
    /// Where that begins, at its center, from the stick's first end; the stick's own end
    /// begins at 0.
    pub from: Length,
    /// Its length at its center, without kerf. A wedge comes to nothing at one side.
    pub length: Length,
    /// How far to push the stick, along its center: length and kerf/cos κ.
    pub feed: Length,
    /// Where to set a stop: see [`stop_distance`](super::stop_distance).
    pub stop: Length,
    /// How far to turn the stick before this cut, clockwise looking along it from its free
    /// end: 180° − clock between a piece's long sides.
    pub rotate: Angle,
    /// What the saw is set to, off square.
    pub angle: Angle,
    /// Clock of this cut's long side, on what drops off, from a line scribed along the
    /// stick through the first cut's.
    pub mark: Angle,
    /// What the saw turns to chips along the axis: kerf/cos κ.
    pub kerf: Length,
    /// Whether this cut also makes the first face of the piece that comes next, so that
    /// the two mate as cut.
    pub mates: bool,
    /// Whether saw and stop stay as they were at the cut before and the stick is turned
    /// by half, or at square cuts at will: alike pieces that are cut in one go.
    pub again: bool,
}

impl SawCut {
    /// Number, from 1, of the piece that drops off, if one does.
    pub const fn piece(&self) -> Option<usize> {
        match self.drops {
            Drops::Piece { piece, .. } => Some(piece),
            Drops::End | Drops::Wedge => None,
        }
    }

    /// Whether the stick is turned by just a half for this cut.
    pub fn is_half_turn(&self) -> bool {
        !self.is_square() && (self.rotate - Angle::HALF).abs() <= SAME_TURN
    }

    /// Whether the saw stands square, so that the stick may stand at any clock.
    pub fn is_square(&self) -> bool {
        self.angle == Angle::ZERO
    }

    /// How far round the tube the mark stands, of `circumference`.
    pub fn round(&self, circumference: Length) -> Length {
        circumference * (self.mark.wrapped() / Angle::FULL)
    }

    /// Whether nothing is set anew since the cut before.
    pub(in crate::shop) fn repeats(&self, before: &Self) -> bool {
        (self.stop - before.stop).abs().mm() <= SAME_STOP
            && (self.angle - before.angle).abs() <= SAME_TURN
            && (self.is_square() || self.is_half_turn())
    }
}
