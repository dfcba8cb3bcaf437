//! [`Saw`]: a stick at the saw, cut by cut.

use super::Drops;
use super::cut::SawCut;
use super::stop::stop_distance;
use crate::units::{Angle, Length};

/// A stick at the saw.
///
/// Clocks: what drops off at a cut with mark m has its long side at m; what stays has its
/// own at m + 180°, and so has the next piece's first face, also where a wedge is cut out
/// first, because the saw goes on leaning the same way. That piece's second cut has its
/// long side at m + 180° + clock. At a square face there is no long side and the count
/// goes on as it is.
pub(in crate::shop) struct Saw {
    radius: Length,
    /// Saw angle of the free end's face.
    face: Angle,
    /// Where its center is along the stick.
    at: Length,
    mark: Angle,
    cuts: Vec<SawCut>,
}

/// A cut that is asked for.
#[derive(Clone, Copy)]
pub(in crate::shop) struct Asked {
    pub drops: Drops,
    /// Length of what drops off, at its center.
    pub length: Length,
    /// Saw angle of the cut.
    pub angle: Angle,
    /// What the saw takes along the axis.
    pub kerf: Length,
    /// How far the mark goes on from the cut before.
    pub turn: Angle,
}

impl Saw {
    /// A stick of `radius` with a square free end.
    pub fn new(radius: Length) -> Self {
        Self {
            radius,
            face: Angle::ZERO,
            at: Length::ZERO,
            mark: Angle::ZERO,
            cuts: Vec::new(),
        }
    }

    /// Makes a cut.
    pub fn cut(&mut self, asked: Asked) {
        self.mark = (self.mark + asked.turn).wrapped();
        let feed = asked.length + asked.kerf;
        self.cuts.push(SawCut {
            drops: asked.drops,
            from: self.at,
            length: asked.length,
            feed,
            stop: stop_distance(asked.length, self.radius, [self.face, asked.angle]),
            rotate: (-asked.turn).wrapped(),
            angle: asked.angle,
            mark: self.mark,
            kerf: asked.kerf,
            mates: false,
            again: false,
        });
        self.at += feed;
        self.face = asked.angle;
    }

    /// The cuts that were made, and what each means for its neighbors.
    pub fn done(self) -> Vec<SawCut> {
        let mut cuts = self.cuts;
        for i in 1..cuts.len() {
            let [before, cut] = [cuts[i - 1], cuts[i]];
            let next = cut.piece().is_some();
            cuts[i].again = next && before.piece().is_some() && cut.repeats(&before);
            cuts[i - 1].mates = next;
        }
        cuts
    }
}

/// How far the mark goes on from a piece's first cut to its second, `clock` being the
/// piece's own: the cut before left its long side opposite to its own.
pub(in crate::shop) fn turn_between(clock: Angle, both_mitered: bool) -> Angle {
    if both_mitered {
        Angle::HALF + clock
    } else {
        Angle::ZERO
    }
}
