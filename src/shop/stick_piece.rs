//! [`StickPiece`]: a piece as it lies in the stick that it is cut from.

use super::saw::SawSheet;
use super::sticks::{Drops, Stick};
use crate::run::Run;
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
    /// The pieces of `run`, which counts as number `number`, as `saw` cuts them in order from
    /// one stick. Each cut leaves the next piece's long side opposite to its own.
    pub fn in_order(number: usize, run: &Run, saw: &SawSheet) -> Vec<Self> {
        let mut before = Angle::ZERO;
        let steps = saw.steps.iter().filter_map(|step| {
            let piece = run
                .pieces()
                .get(step.piece.checked_sub(1)?)?
                .piece
                .straight()?;
            let left = (before + Angle::HALF).wrapped();
            before = step.mark;
            Some(Self::new(
                [number, step.piece],
                piece,
                [left, step.mark],
                false,
            ))
        });
        steps.collect()
    }

    /// `piece`, known by the numbers of its run and in it, whose long sides lie at `clocks`
    /// on the stick at the start and at the end, wherever they are mitered.
    pub(super) fn new(
        [run, number]: [usize; 2],
        piece: &Piece,
        clocks: [Angle; 2],
        end_first: bool,
    ) -> Self {
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

    /// The pieces of `runs` that a layout cuts from `stick`; runs count as they do there.
    pub fn on_stick(stick: &Stick, runs: &[&Run]) -> Vec<Self> {
        let pairs = stick.cuts.windows(2);
        let pieces = pairs.filter_map(|pair| {
            let Drops::Piece { run, piece, turned } = pair[1].drops else {
                return None;
            };
            let of = runs.get(run)?;
            let own = of.pieces().get(piece.checked_sub(1)?)?.piece.straight()?;
            // The cut before leaves the long side of what comes next opposite to its own.
            let faces = [(pair[0].mark + Angle::HALF).wrapped(), pair[1].mark];
            let [start, end] = if turned { [faces[1], faces[0]] } else { faces };
            let mitered = |angle: Angle| angle > Angle::ZERO;
            let reach = |cut: crate::tube::Cut| cut.reach(of.tube().radius());
            let alike = (reach(own.start()) - reach(own.end())).abs() <= ALIKE;
            let [cut_start, cut_end] = [own.start().angle, own.end().angle].map(mitered);
            Some(Self {
                run,
                number: piece,
                start: cut_start.then_some(start),
                end: cut_end.then_some(end),
                turnable: cut_start && cut_end && alike,
                end_first: turned,
            })
        });
        pieces.collect()
    }
}
