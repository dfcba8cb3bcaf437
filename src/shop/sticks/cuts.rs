//! [`StickCut`]: one cut of a stick.

use super::cutting::Cutting;
use super::faces::Place;
use super::order::{Laid, ends};
use crate::shop::saw::{Setting, stop_distance, turn_between};
use crate::units::{Angle, Length};

/// What drops off at a cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drops {
    /// The stick's own end.
    End,
    /// Waste between two pieces whose faces are cut at different angles.
    Wedge,
    /// A piece.
    Piece {
        /// Which of the runs, from 0.
        run: usize,
        /// Its number in the run, from 1.
        piece: usize,
        /// Whether its end comes off first, against the order of flow. Its two cuts stand
        /// to each other just as they do the other way round.
        turned: bool,
    },
}

/// One cut of a stick, by the same conventions as [`SawStep`](super::super::SawStep):
/// clocks are seen from the free end along the stick, the way a piece flows unless it is
/// turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StickCut {
    /// What drops off.
    pub drops: Drops,
    /// Where that begins, at its center, from the stick's first end; the stick's own end
    /// begins at 0.
    pub from: Length,
    /// Its length at its center, without kerf. A wedge comes to nothing at one side.
    pub length: Length,
    /// How far to push the stick, along its center: length and kerf/cos κ.
    pub feed: Length,
    /// Where to set a stop: see [`stop_distance`].
    pub stop: Length,
    /// How far to turn the stick before this cut, clockwise.
    pub rotate: Angle,
    /// What the saw is set to, off square.
    pub angle: Angle,
    /// Clock of this cut's long side, on what drops off, from a line scribed along the
    /// stick through the first cut's.
    pub mark: Angle,
    /// What the saw turns to chips along the axis: kerf/cos κ.
    pub kerf: Length,
    /// Whether this cut also makes the first face of the piece that comes next.
    pub mates: bool,
    /// Whether saw and stop stay as they were at the cut before and the stick is turned
    /// by half, or at square cuts at will.
    pub again: bool,
}

impl StickCut {
    /// Whether the stick is turned by just a half for this cut.
    pub fn is_half_turn(&self) -> bool {
        self.setting().is_half_turn()
    }

    const fn setting(&self) -> Setting {
        Setting {
            stop: self.stop,
            angle: self.angle,
            rotate: self.rotate,
        }
    }
}

/// The cuts that a stick's pieces take, in order.
///
/// Clocks: what drops off at a cut with mark m has its long side at m; what stays has its
/// own at m + 180°, and so has the next piece's first face, also where a wedge is cut out
/// first, because the saw goes on leaning the same way. That piece's second cut has its
/// long side at m + 180° + clock. At a square face there is no long side and the count
/// goes on as it is.
pub(super) fn cuts(cutting: &Cutting<'_>, laid: &[Laid], radius: Length) -> Vec<StickCut> {
    let mut saw = Saw {
        cutting,
        radius,
        face: None,
        at: 0.0,
        mark: Angle::ZERO,
        cuts: Vec::new(),
    };
    for piece in laid {
        let [first, last] = ends(cutting, piece.blank, piece.turned);
        if saw.face != Some(first) {
            let drops = match saw.face {
                None => Drops::End,
                Some(_) => Drops::Wedge,
            };
            let wedge = cutting.faces.wedge(saw.face, Some(first));
            saw.cut(drops, wedge, first, Angle::ZERO);
        }
        let blank = cutting.blanks[piece.blank];
        let angles = [first, last].map(|face| cutting.faces.angle(face));
        let both_mitered = angles.iter().all(|&angle| angle > Angle::ZERO);
        let drops = Drops::Piece {
            run: blank.run,
            piece: blank.piece,
            turned: piece.turned,
        };
        let turn = turn_between(blank.clock, both_mitered);
        saw.cut(drops, blank.length.mm(), last, turn);
    }
    let mut cuts = saw.cuts;
    for i in 1..cuts.len() {
        let piece = |cut: &StickCut| matches!(cut.drops, Drops::Piece { .. });
        let (both, next) = (piece(&cuts[i]) && piece(&cuts[i - 1]), piece(&cuts[i]));
        cuts[i].again = both && cuts[i].setting().repeats(&cuts[i - 1].setting());
        cuts[i - 1].mates = next;
    }
    cuts
}

/// A stick at the saw.
struct Saw<'a> {
    cutting: &'a Cutting<'a>,
    radius: Length,
    /// The free end's face.
    face: Place,
    /// Where its center is along the stick, mm.
    at: f64,
    mark: Angle,
    cuts: Vec<StickCut>,
}

impl Saw<'_> {
    /// Cuts off `length` at `face`, after turning the mark on by `turn`.
    fn cut(&mut self, drops: Drops, length: f64, face: usize, turn: Angle) {
        let faces = self.cutting.faces;
        let kerf = faces.cut(face);
        let angle = faces.angle(face);
        let before = self.face.map_or(Angle::ZERO, |face| faces.angle(face));
        let length = Length::from_mm(length);
        self.mark = (self.mark + turn).wrapped();
        self.cuts.push(StickCut {
            drops,
            from: Length::from_mm(self.at),
            length,
            feed: length + Length::from_mm(kerf),
            stop: stop_distance(length, self.radius, [before, angle]),
            rotate: (-turn).wrapped(),
            angle,
            mark: self.mark,
            kerf: Length::from_mm(kerf),
            mates: false,
            again: false,
        });
        self.at += length.mm() + kerf;
        self.face = Some(face);
    }
}
