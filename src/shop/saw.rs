//! [`SawSheet`]: a run cut in order from one stick.

use crate::run::Run;
use crate::tube::{Cut, Piece};
use crate::units::{Angle, Length};

/// Stop distances nearer than this are one setting of the stop, mm: rounding, far below
/// what a stop can be set to.
const SAME_STOP: f64 = 0.01;
/// Turns and saw angles nearer than this are the same: half of the last digit that is
/// printed.
pub(super) const SAME_TURN: Angle = Angle::from_degrees(0.005);

/// Feed, rotate and angle for every cut of a run, from one stick with a square end.
///
/// The saw stays put; the stick is pushed past it, free end first, and turned. The
/// free end is upstream, so "looking downstream" is looking from the free end along
/// the stick. Each miter cut serves two pieces: the one that drops off and the one
/// that comes next, whose long side it leaves on the opposite side of the stick.
///
/// For a run that is cut from stock lengths see [`StickLayout`](super::StickLayout).
#[derive(Clone, Debug, PartialEq)]
pub struct SawSheet {
    /// One step a straight piece, in order of flow. Stock bends are not cut from the
    /// stick; the pieces beside them end square.
    pub steps: Vec<SawStep>,
}

/// One cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SawStep {
    /// Number of the piece that drops off, from 1.
    pub piece: usize,
    /// How far to push the stick, along its center: the piece's length and the kerf
    /// of this cut, L + kerf/cos κ.
    pub feed: Length,
    /// How far to turn the stick before this cut, clockwise looking downstream:
    /// 180° − clock between the piece's long sides.
    pub rotate: Angle,
    /// Clock of this cut's long side on the stick, from a line scribed along it
    /// through the first cut's long side: the same as `rotate`, but counted on the
    /// tube.
    pub mark: Angle,
    /// What the saw is set to, off square.
    pub angle: Angle,
    /// Where to set a stop, along the axis: see [`stop_distance`].
    pub stop: Length,
    /// Whether this cut also makes the start of the next piece, so that the two mate as
    /// cut. The last cut of a stick makes none.
    pub mates: bool,
    /// Whether the saw and the stop stay as they were at the cut before and the stick is
    /// turned by half, or at square cuts at will: alike pieces that are cut in one go.
    pub again: bool,
}

/// From a stop to the saw, along the tube's axis: L + r·tan κ₁ + r·tan κ₂.
///
/// The stop is a flat face square to the tube and at least as wide, on the side where
/// pieces drop off. The foremost point of the face that is cut already touches it:
/// r·tan κ₁ ahead of that face's center, wherever its long side has been turned to. The
/// distance is measured to where the saw enters or leaves the tube at this cut's own
/// long side, on the side of the piece, so that no kerf is in it: r·tan κ₂ behind the
/// cut's center. It is what the piece measures between two flat plates: its long side,
/// where both long sides stand on one line (clock 0), and more than any side where they
/// do not.
pub fn stop_distance(length: Length, radius: Length, cuts: [Angle; 2]) -> Length {
    length + cuts.map(|cut| radius * cut.tan()).into_iter().sum()
}

impl SawSheet {
    /// The sheet for `run` on a saw that takes `kerf`.
    pub fn new(run: &Run, kerf: Length) -> Self {
        let mut mark = Angle::ZERO;
        let mut steps: Vec<SawStep> = run
            .pieces()
            .iter()
            .enumerate()
            .filter_map(|(i, placed)| Some((i, placed.piece.straight()?)))
            .map(|(i, piece)| {
                let between = between_marks(piece);
                mark = (mark + between).wrapped();
                let ends = [piece.start(), piece.end()].map(|cut: Cut| cut.angle);
                SawStep {
                    piece: i + 1,
                    feed: piece.length() + kerf / ends[1].cos(),
                    rotate: (-between).wrapped(),
                    mark,
                    angle: ends[1],
                    stop: stop_distance(piece.length(), run.tube().radius(), ends),
                    mates: true,
                    again: false,
                }
            })
            .collect();
        if let Some(last) = steps.last_mut() {
            last.mates = false;
        }
        for i in 1..steps.len() {
            steps[i].again = steps[i].setting().repeats(&steps[i - 1].setting());
        }
        Self { steps }
    }

    /// Stock used from the first end to the last cut.
    pub fn stick(&self) -> Length {
        self.steps.iter().map(|step| step.feed).sum()
    }
}

impl SawStep {
    /// Whether the stick is turned by just a half for this cut.
    pub fn is_half_turn(&self) -> bool {
        self.setting().is_half_turn()
    }

    const fn setting(&self) -> Setting {
        Setting {
            stop: self.stop,
            angle: self.angle,
            rotate: self.rotate,
        }
    }
}

/// How far the mark goes on from a piece's first cut to its second, on the stick: the
/// cut before left this piece's long side opposite to its own.
fn between_marks(piece: &Piece) -> Angle {
    let both_mitered = piece.start().angle > Angle::ZERO && piece.end().angle > Angle::ZERO;
    turn_between(piece.clock(), both_mitered)
}

/// The same from a piece's clock.
pub(super) fn turn_between(clock: Angle, both_mitered: bool) -> Angle {
    if both_mitered {
        Angle::HALF + clock
    } else {
        Angle::ZERO
    }
}

/// What is set for a cut.
#[derive(Clone, Copy)]
pub(super) struct Setting {
    pub stop: Length,
    pub angle: Angle,
    pub rotate: Angle,
}

impl Setting {
    pub fn is_half_turn(&self) -> bool {
        self.angle > Angle::ZERO && (self.rotate - Angle::HALF).abs() <= SAME_TURN
    }

    /// Whether nothing is set anew since the cut before.
    pub fn repeats(&self, before: &Self) -> bool {
        let square = self.angle == Angle::ZERO;
        (self.stop - before.stop).abs().mm() <= SAME_STOP
            && (self.angle - before.angle).abs() <= SAME_TURN
            && (square || self.is_half_turn())
    }
}
