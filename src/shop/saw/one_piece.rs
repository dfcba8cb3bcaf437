//! One piece by itself at the saw.

use super::Drops;
use super::bench::{Asked, Saw, turn_between};
use super::cut::SawCut;
use crate::tube::Cut;
use crate::units::{Angle, Length};

/// The cuts of one piece with two mitered or square ends, from tube of `radius` with a square
/// end: first its start, unless that is square, then its end; or with `turned` the other
/// way round. It counts as number `piece` of the run 0.
///
/// The end that drops off first comes to nothing at its short side: a longer one does, too.
pub fn cuts_of_one(
    radius: Length,
    (piece, turned): (usize, bool),
    length: Length,
    ends: [Cut; 2],
    kerf: Length,
) -> Vec<SawCut> {
    // Which of the two is cut first changes nothing in how they stand to each other.
    let clock = ends[1].clock - ends[0].clock;
    let [first, last] = if turned {
        [ends[1].angle, ends[0].angle]
    } else {
        [ends[0].angle, ends[1].angle]
    };
    let mut saw = Saw::new(radius);
    if first > Angle::ZERO {
        saw.cut(Asked {
            drops: Drops::End,
            length: radius * first.tan(),
            angle: first,
            kerf: kerf / first.cos(),
            turn: Angle::ZERO,
        });
    }
    saw.cut(Asked {
        drops: Drops::Piece {
            run: 0,
            piece,
            turned,
        },
        length,
        angle: last,
        kerf: kerf / last.cos(),
        turn: turn_between(clock, first > Angle::ZERO && last > Angle::ZERO),
    });
    saw.done()
}
