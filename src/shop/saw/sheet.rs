//! [`SawSheet`]: a run cut in order from one stick.

use super::Drops;
use super::bench::{Asked, Saw, turn_between};
use super::cut::SawCut;
use super::longer::Longer;
use crate::run::Run;
use crate::units::{Angle, Length};

/// Feed, rotate and angle for every cut of a run, from one stick with a square end.
///
/// For a run that is cut from stock lengths see [`StickLayout`](crate::shop::StickLayout).
#[derive(Clone, Debug, PartialEq)]
pub struct SawSheet {
    /// One cut a straight piece, in order of flow. Stock bends are not cut from the
    /// stick; the pieces beside them end square.
    pub cuts: Vec<SawCut>,
}

impl SawSheet {
    /// The sheet for `run`, which counts as number `number`, on a saw that takes `kerf`:
    /// every piece as planned.
    pub fn new(number: usize, run: &Run, kerf: Length) -> Self {
        Self::with(number, run, kerf, &[])
    }

    /// The same with some pieces cut longer than planned.
    pub fn with(number: usize, run: &Run, kerf: Length, longer: &[Longer]) -> Self {
        let mut saw = Saw::new(run.tube().radius());
        for (i, placed) in run.pieces().iter().enumerate() {
            let Some(piece) = placed.piece.straight() else {
                continue;
            };
            let ends = [piece.start().angle, piece.end().angle];
            let both_mitered = ends.iter().all(|&angle| angle > Angle::ZERO);
            saw.cut(Asked {
                drops: Drops::Piece {
                    run: number,
                    piece: i + 1,
                    turned: false,
                },
                length: piece.length() + Longer::of(longer, number, i + 1),
                angle: ends[1],
                kerf: kerf / ends[1].cos(),
                turn: turn_between(piece.clock(), both_mitered),
            });
        }
        Self { cuts: saw.done() }
    }

    /// Stock used from the first end to the last cut.
    pub fn stick(&self) -> Length {
        self.cuts.iter().map(|cut| cut.feed).sum()
    }
}
