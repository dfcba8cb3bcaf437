//! [`Blank`]: a piece that is sawn already, longer than the closing piece will be.

use super::Side;
use crate::tube::{Edge, Piece, Sleeve};
use crate::units::{Angle, Length};

/// Sides at which edges are compared.
const SIDES: u32 = 720;
/// Saw angles nearer than this are the same: half of the last digit that is printed.
const SAME_CUT: Angle = Angle::from_degrees(0.005);

/// A piece that is sawn already.
#[derive(Clone, Copy, Debug)]
pub struct Blank<'a> {
    /// As planned.
    pub piece: &'a Piece,
    /// How much longer it was sawn, along its axis.
    pub longer: Length,
}

/// How a closing piece comes out of a blank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recut {
    /// The end of the blank that stays as it is; none where both are cut again.
    pub stays: Option<Side>,
    /// What must come off the blank's start, along its center and with kerf; nothing where
    /// it stays.
    pub off_start: Length,
    /// How much longer the blank is than it takes; negative where it is too short.
    pub spare: Length,
}

impl Blank<'_> {
    /// How `sleeve` comes out of it: with one end as it is, if that is cut within `good_to` of
    /// what is asked, else with both ends cut again.
    ///
    /// Long sides are laid on each other at the end that stays. The outside of the closing
    /// piece, set in by x, is within the blank's where at every side x ≥ its start's
    /// extension less the blank's, and likewise at the end. Each end that is cut again gives
    /// the saw's `kerf` beside that, so that the saw runs in metal.
    pub fn recut(&self, sleeve: &Sleeve, good_to: Angle, kerf: Length) -> Recut {
        let kept = Side::BOTH
            .into_iter()
            .filter(|&side| self.fits(sleeve, side, good_to));
        let kept = kept.map(|side| self.cut(sleeve, Some(side), kerf));
        let best = kept.max_by(|a, b| a.spare.mm().total_cmp(&b.spare.mm()));
        best.filter(|best| best.spare >= Length::ZERO)
            .unwrap_or_else(|| self.cut(sleeve, None, kerf))
    }

    /// Its length at its center.
    pub fn length(&self) -> Length {
        self.piece.length() + self.longer
    }

    fn edges(&self) -> [Edge; 2] {
        [self.piece.start(), self.piece.end()].map(Edge::Cut)
    }

    /// Whether its cut at `side` is the closing piece's.
    fn fits(&self, sleeve: &Sleeve, side: Side, good_to: Angle) -> bool {
        let (own, asked) = (&self.edges()[side as usize], edges(sleeve)[side as usize]);
        match (own, asked) {
            (Edge::Cut(own), Edge::Cut(asked)) => {
                (own.angle - asked.angle).abs() <= good_to.max(SAME_CUT)
            }
            _ => false,
        }
    }

    fn cut(&self, sleeve: &Sleeve, stays: Option<Side>, kerf: Length) -> Recut {
        let turn = self.turn(sleeve, stays.unwrap_or(Side::Before));
        let off = |side: Side| {
            if stays == Some(side) {
                return Length::ZERO;
            }
            let (own, asked) = (&self.edges()[side as usize], edges(sleeve)[side as usize]);
            let radius = sleeve.tube().radius();
            let more = (0..SIDES).map(|i| {
                let clock = Angle::FULL * (f64::from(i) / f64::from(SIDES));
                asked.extension(radius, clock) - own.extension(radius, clock + turn)
            });
            let (least, most) = asked.range(radius);
            // Along the axis: kerf/cos κ.
            let slant = ((most - least) / 2.0 / radius).hypot(1.0);
            more.fold(Length::ZERO, Length::max) + kerf * slant
        };
        let [off_start, off_end] = Side::BOTH.map(off);
        Recut {
            stays,
            off_start,
            spare: self.length() - sleeve.length() - off_start - off_end,
        }
    }

    /// How far the blank's clock is ahead of the closing piece's where their long sides lie on
    /// each other at `side`, or at the other where one is square there.
    fn turn(&self, sleeve: &Sleeve, side: Side) -> Angle {
        let both = [side as usize, 1 - side as usize];
        let ahead = both.into_iter().find_map(|i| {
            let (Edge::Cut(own), Edge::Cut(asked)) = (&self.edges()[i], edges(sleeve)[i]) else {
                return None;
            };
            let mitered = own.angle > SAME_CUT && asked.angle > SAME_CUT;
            mitered.then(|| own.clock - asked.clock)
        });
        ahead.unwrap_or(Angle::ZERO)
    }
}

fn edges(sleeve: &Sleeve) -> [&Edge; 2] {
    [sleeve.start(), sleeve.end()]
}
