//! [`MatchMarks`]: what to bring together at a joint.

use super::lines::Lines;
use crate::geometry::{Direction, clock_between, toward};
use crate::run::{JointKind, Run};
use crate::units::{Angle, Length};

/// Clocks this near to a whole turn are zero: rounding.
const WHOLE_TURN: Angle = Angle::from_degrees(1e-6);

/// A mark at the end of a piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MatchMark {
    /// The piece, from 1.
    pub piece: usize,
    /// Clock of the mark from the piece's own line: its start's long side, or its end's
    /// where the start is square; on a stock bend the outside of the bend.
    pub clock: Angle,
    /// The same as a distance round the outside, clockwise looking downstream.
    pub round: Length,
    /// Out of the tube toward it, square to the piece's axis there.
    pub side: Direction,
}

/// The marks on both sides of a joint, which meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MatchMarks {
    /// On the piece upstream; none at the first port.
    pub before: Option<MatchMark>,
    /// On the piece downstream; none at the last port.
    pub after: Option<MatchMark>,
}

impl MatchMarks {
    /// At a joint of `run`. At a miter the two long sides meet there; at a square joint the
    /// piece after is turned to its line; a port's own mark is where the piece's line
    /// comes to.
    pub(in crate::shop) fn new(run: &Run, lines: &Lines, joint: usize) -> Self {
        let pieces = run.pieces();
        let before = joint.checked_sub(1);
        let after = (joint < pieces.len()).then_some(joint);
        let clocks = match (before, after, run.joints()[joint].kind) {
            (Some(before), Some(after), JointKind::Miter) => [
                pieces[before].piece.end().clock,
                pieces[after].piece.start().clock,
            ],
            (Some(before), Some(after), _) => {
                let axis = pieces[before].end_axis();
                let clock = clock_between(&axis, &lines.end(before), &lines.start(after));
                [clock, Angle::ZERO]
            }
            _ => [Angle::ZERO; 2],
        };
        let circumference = run.tube().circumference();
        let mark = |index: usize, clock: Angle, axis: Direction, line: Direction| {
            let clock = whole(clock);
            MatchMark {
                piece: index + 1,
                clock,
                round: circumference * (clock / Angle::FULL),
                side: toward(&axis, &line, clock),
            }
        };
        Self {
            before: before.map(|index| {
                let axis = pieces[index].end_axis();
                mark(index, clocks[0], axis, lines.end(index))
            }),
            after: after
                .map(|index| mark(index, clocks[1], pieces[index].axis, lines.start(index))),
        }
    }

    /// Whether it is enough to bring the lines of both pieces together, as in a bend of one
    /// plane.
    pub fn are_together(&self) -> bool {
        let marks = [self.before, self.after];
        marks
            .into_iter()
            .flatten()
            .all(|mark| mark.clock == Angle::ZERO)
    }
}

/// A clock from 0° to less than 360°.
pub(super) fn whole(clock: Angle) -> Angle {
    let clock = clock.wrapped();
    if clock < WHOLE_TURN || Angle::FULL - clock < WHOLE_TURN {
        Angle::ZERO
    } else {
        clock
    }
}
