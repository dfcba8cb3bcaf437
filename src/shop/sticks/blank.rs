//! [`Blank`]: a piece that is still to be cut, and the kinds that are alike on a stick.

use super::faces::Faces;
use crate::run::Run;
use crate::shop::Longer;
use crate::units::{Angle, Length};

/// Centerline lengths nearer than this, mm, are one kind: rounding of the search, far
/// below anything that a stop shows.
const ALIKE: f64 = 1e-6;

/// A straight piece of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Blank {
    /// Which of the runs, and the piece's number in it from 1.
    pub run: usize,
    pub piece: usize,
    /// Along its axis, cut to cut.
    pub length: Length,
    /// Its faces in order of flow.
    pub faces: [usize; 2],
    /// From the start's long side to the end's. A piece that is turned end for end keeps
    /// it: handedness does not change with the way one looks.
    pub clock: Angle,
}

/// Blanks that take the same length of a stick.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Kind {
    /// Which pair of faces.
    pub pair: usize,
    /// Its length with half a cut at each end, mm: the most of any.
    pub own: f64,
    /// What it takes at least of a stick's room: see [`relax`](super::relax::relax).
    pub weight: f64,
    /// Its blanks, in order of runs and pieces.
    pub blanks: Vec<usize>,
}

/// All straight pieces of `runs`, each with the number that the caller knows it by, and
/// their faces; some are cut `longer` than planned.
pub(super) fn blanks(
    runs: &[(usize, &Run)],
    kerf: Length,
    longer: &[Longer],
) -> (Vec<Blank>, Faces) {
    let mut cuts = Vec::new();
    let mut blanks = Vec::new();
    let mut radius = Length::ZERO;
    for &(number, run) in runs {
        radius = run.tube().radius();
        for (i, placed) in run.pieces().iter().enumerate() {
            let Some(piece) = placed.piece.straight() else {
                continue;
            };
            cuts.extend([piece.start().angle, piece.end().angle]);
            blanks.push(Blank {
                run: number,
                piece: i + 1,
                length: piece.length() + Longer::of(longer, number, i + 1),
                faces: [0, 0],
                clock: piece.clock(),
            });
        }
    }
    let (faces, numbers) = Faces::new(&cuts, radius, kerf);
    for (blank, ends) in blanks.iter_mut().zip(numbers.chunks_exact(2)) {
        blank.faces = [ends[0], ends[1]];
    }
    (blanks, faces)
}

/// The kinds of `blanks`, heaviest first, and the pairs of faces that they have.
pub(super) fn kinds(blanks: &[Blank], faces: &Faces) -> (Vec<Kind>, Vec<[usize; 2]>) {
    let pair_of = |blank: &Blank| {
        let [a, b] = blank.faces;
        [a.min(b), a.max(b)]
    };
    let mut pairs: Vec<[usize; 2]> = blanks.iter().map(pair_of).collect();
    pairs.sort_unstable();
    pairs.dedup();
    let keyed = |(i, blank): (usize, &Blank)| {
        let [a, b] = blank.faces;
        let weight = blank.length.mm() + faces.half(Some(a)) + faces.half(Some(b));
        let pair = pairs.binary_search(&pair_of(blank)).unwrap_or(0);
        (weight, pair, i)
    };
    let mut all: Vec<(f64, usize, usize)> = blanks.iter().enumerate().map(keyed).collect();
    all.sort_by(|a, b| {
        (a.1.cmp(&b.1))
            .then(b.0.total_cmp(&a.0))
            .then(a.2.cmp(&b.2))
    });
    let mut kinds: Vec<Kind> = Vec::new();
    for (weight, pair, blank) in all {
        match kinds.last_mut() {
            Some(kind) if kind.pair == pair && kind.own - weight <= ALIKE => {
                kind.blanks.push(blank);
            }
            _ => kinds.push(Kind {
                pair,
                own: weight,
                weight,
                blanks: vec![blank],
            }),
        }
    }
    for kind in &mut kinds {
        kind.blanks.sort_unstable();
    }
    kinds.sort_by(|a, b| b.weight.total_cmp(&a.weight).then(a.pair.cmp(&b.pair)));
    (kinds, pairs)
}
