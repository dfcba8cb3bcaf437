//! [`Lines`]: the line along each piece that clocks are counted from.

use crate::geometry::{Direction, toward};
use crate::run::{Placed, Run};
use crate::units::Angle;

/// Each piece's clock zero where it stands: its own long side as the saw sheet has it, on a
/// stock bend the outside of the bend. A piece with two square ends has none of its own;
/// its line goes on from the piece before it, or else from the one after.
pub(in crate::shop) struct Lines {
    /// At the start and at the end of each piece, square to its axis there.
    at: Vec<[Direction; 2]>,
}

impl Lines {
    pub fn new(run: &Run) -> Self {
        let pieces = run.pieces();
        let mut at: Vec<[Direction; 2]> = pieces.iter().map(own).collect();
        for index in 0..pieces.len() {
            if !is_plain(&pieces[index]) {
                continue;
            }
            let line = match index.checked_sub(1) {
                Some(before) => Some(at[before][1]),
                None => at.get(1).map(|after| after[0]),
            };
            if let Some(line) = line {
                at[index] = [line; 2];
            }
        }
        Self { at }
    }

    /// At the start of the piece at `index`.
    pub fn start(&self, index: usize) -> Direction {
        self.at[index][0]
    }

    /// At its end.
    pub fn end(&self, index: usize) -> Direction {
        self.at[index][1]
    }
}

/// Whether a piece's clocks could begin anywhere.
fn is_plain(placed: &Placed) -> bool {
    let square = |angle: Angle| angle == Angle::ZERO;
    let piece = placed.piece.straight();
    piece.is_some_and(|piece| square(piece.start().angle) && square(piece.end().angle))
}

fn own(placed: &Placed) -> [Direction; 2] {
    let Some(arc) = placed.arc else {
        return [placed.zero; 2];
    };
    // The outside of a bend leans back by the turn.
    let across = Direction::new_unchecked(arc.incoming.cross(&arc.outside()));
    let end = toward(&arc.outgoing, &across, -Angle::QUARTER);
    [placed.zero, end]
}
