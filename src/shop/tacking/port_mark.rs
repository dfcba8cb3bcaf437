//! [`PortMark`]: where round a port the line of the piece on it comes.

use super::lines::Lines;
use crate::geometry::{Direction, FoundSide, Level, clock_between};
use crate::run::{JointKind, Run};
use crate::units::{Angle, Length};

/// Where round a port the line of the piece that is put on there comes: what turns
/// everything that is built from that port.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PortMark {
    /// The piece, from 1.
    pub piece: usize,
    /// Which side of the port its clock is counted from.
    pub from: FoundSide,
    /// From that side to the piece's line, clockwise looking downstream.
    pub clock: Angle,
    /// The same as a distance round the tube's outside.
    pub round: Length,
    /// From the axis toward that side, square to it.
    pub zero: Direction,
}

impl PortMark {
    /// At a joint of `run`; none where it is no port's.
    pub(in crate::shop) fn new(
        run: &Run,
        lines: &Lines,
        level: &Level,
        joint: usize,
    ) -> Option<Self> {
        if run.joints()[joint].kind != JointKind::Flange {
            return None;
        }
        let pieces = run.pieces();
        let (index, axis, line) = match joint {
            0 => (0, pieces.first()?.axis, lines.start(0)),
            _ => {
                let last = joint - 1;
                (last, pieces.get(last)?.end_axis(), lines.end(last))
            }
        };
        let (from, zero) = level.side_of(&axis);
        let clock = super::marks::whole(clock_between(&axis, &zero, &line));
        Some(Self {
            piece: index + 1,
            from,
            clock,
            round: run.tube().circumference() * (clock / Angle::FULL),
            zero,
        })
    }
}
