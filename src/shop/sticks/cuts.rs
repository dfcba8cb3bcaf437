//! What comes to the saw: the cuts that the pieces on a stick take.

use super::cutting::Cutting;
use super::faces::Place;
use super::order::{Laid, ends};
use crate::shop::saw::{Asked, Drops, Saw, SawCut, turn_between};
use crate::units::{Angle, Length};

/// The cuts that a stick's pieces take, in order.
pub(super) fn cuts(cutting: &Cutting<'_>, laid: &[Laid], radius: Length) -> Vec<SawCut> {
    let faces = cutting.faces;
    let asked = |drops, length, face, turn| Asked {
        drops,
        length,
        angle: faces.angle(face),
        kerf: Length::from_mm(faces.cut(face)),
        turn,
    };
    let mut saw = Saw::new(radius);
    let mut free: Place = None;
    for piece in laid {
        let [first, last] = ends(cutting, piece.blank, piece.turned);
        if free != Some(first) {
            let drops = match free {
                None => Drops::End,
                Some(_) => Drops::Wedge,
            };
            let wedge = Length::from_mm(faces.wedge(free, Some(first)));
            saw.cut(asked(drops, wedge, first, Angle::ZERO));
        }
        let blank = cutting.blanks[piece.blank];
        let both_mitered = [first, last].map(|face| faces.angle(face) > Angle::ZERO);
        let drops = Drops::Piece {
            run: blank.run,
            piece: blank.piece,
            turned: piece.turned,
        };
        let turn = turn_between(blank.clock, both_mitered == [true; 2]);
        saw.cut(asked(drops, blank.length, last, turn));
        free = Some(last);
    }
    saw.done()
}
