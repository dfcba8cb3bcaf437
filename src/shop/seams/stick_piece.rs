//! [`StickPiece`]: a piece as it lies in the stick that it is cut from.

use crate::run::Run;
use crate::shop::saw::{Drops, SawCut};
use crate::tube::{Cut, Piece};
use crate::units::{Angle, Length};

/// Cuts whose long sides differ by less than this, mm on the outside, are equal: a tenth of
/// what a pencil line covers.
const ALIKE: Length = Length::from_mm(0.01);

/// A straight piece in its stick: where its long sides come to lie against the line that is
/// scribed along the stick, clockwise looking downstream.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StickPiece {
    /// Which run it is for: any number that tells runs apart.
    pub run: usize,
    /// Its number in that run, from 1.
    pub number: usize,
    /// Clock of its start's long side on the stick; none where it starts square.
    pub start: Option<Angle>,
    /// Clock of its end's long side on the stick; none where it ends square.
    pub end: Option<Angle>,
    /// Whether it may be turned end for end: its two cuts are equal. That brings its seam
    /// from the clock x to clock − x, whatever the clock between its long sides.
    pub turnable: bool,
    /// Whether it lies in the stick with its end first, so that whoever looks downstream in
    /// the run sees the stick's clocks go the other way.
    pub end_first: bool,
}

impl StickPiece {
    /// The pieces that `cuts` cut from a stick, which know runs by their places in `runs`.
    /// Each cut leaves the next piece's long side opposite to its own.
    pub fn lying(cuts: &[SawCut], runs: &[&Run]) -> Vec<Self> {
        let mut left = Angle::ZERO;
        let mut lying = Vec::new();
        for cut in cuts {
            let front = std::mem::replace(&mut left, (cut.mark + Angle::HALF).wrapped());
            let Drops::Piece { run, piece, turned } = cut.drops else {
                continue;
            };
            let placed = runs
                .get(run)
                .and_then(|run| run.pieces().get(piece.checked_sub(1)?));
            let clocks = match turned {
                true => [cut.mark, front],
                false => [front, cut.mark],
            };
            if let Some(own) = placed.and_then(|placed| placed.piece.straight()) {
                lying.push(Self::new([run, piece], own, clocks, turned));
            }
        }
        lying
    }

    /// `piece`, known by the numbers of its run and in it, whose long sides lie at `clocks`
    /// on the stick at the start and at the end, wherever they are mitered.
    fn new([run, number]: [usize; 2], piece: &Piece, clocks: [Angle; 2], end_first: bool) -> Self {
        let reach = |cut: Cut| cut.reach(piece.tube().radius());
        let alike = (reach(piece.start()) - reach(piece.end())).abs() <= ALIKE;
        let mitered = |angle: Angle| angle > Angle::ZERO;
        let [start, end] = [piece.start().angle, piece.end().angle].map(mitered);
        Self {
            run,
            number,
            start: start.then_some(clocks[0]),
            end: end.then_some(clocks[1]),
            turnable: start && end && alike,
            end_first,
        }
    }
}
