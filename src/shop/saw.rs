//! [`SawSheet`]: a run cut in order from one stick.

use crate::run::Run;
use crate::units::{Angle, Length};

/// Feed, rotate and angle for every cut of a run, from one stick with a square end.
///
/// The saw stays put; the stick is pushed past it, free end first, and turned. The
/// free end is upstream, so "looking downstream" is looking from the free end along
/// the stick. Each miter cut serves two pieces: the one that drops off and the one
/// that comes next, whose long side it leaves on the opposite side of the stick.
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
}

impl SawSheet {
    /// The sheet for `run` on a saw that takes `kerf`.
    pub fn new(run: &Run, kerf: Length) -> Self {
        let mut mark = Angle::ZERO;
        let steps = run
            .pieces()
            .iter()
            .enumerate()
            .filter_map(|(i, placed)| Some((i, placed.piece.straight()?)))
            .map(|(i, piece)| {
                let angle = piece.end().angle;
                let both_mitered = piece.start().angle > Angle::ZERO && angle > Angle::ZERO;
                // The cut before left this piece's long side opposite to its own.
                let between_marks = if both_mitered {
                    Angle::HALF + piece.clock()
                } else {
                    Angle::ZERO
                };
                mark = (mark + between_marks).wrapped();
                SawStep {
                    piece: i + 1,
                    feed: piece.length() + kerf / angle.cos(),
                    rotate: (-between_marks).wrapped(),
                    mark,
                    angle,
                }
            })
            .collect();
        Self { steps }
    }

    /// Stock used from the first end to the last cut.
    pub fn stick(&self) -> Length {
        self.steps.iter().map(|step| step.feed).sum()
    }
}
