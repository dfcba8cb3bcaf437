//! [`BendCut`]: what is sawn off a stock bend.

use super::{BentPiece, StockBend};
use crate::units::{Angle, Length};

/// Less than this is not sawn off: no tape shows it.
const LEAST_OFF: Length = Length::from_mm(0.05);
/// Turn by which a piece may fall short of its bend's and still be all of it: what a
/// fit-up takes.
const WHOLE: Angle = Angle::from_radians(1e-6);

/// One cut that makes a stock bend the piece that it is in a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BendCut {
    /// The end that is sawn, in order of flow: 0 the start, 1 the end.
    pub end: usize,
    /// What is done to it.
    pub sawn: Sawn,
}

/// What a cut does to an end of a stock bend. All are square to the tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Sawn {
    /// Its leg is made shorter.
    Leg {
        /// Straight tube that is left past the arc; less than nothing where a weld's
        /// allowance takes a little from the arc.
        leg: Length,
        /// What comes off the end as bought; leg and this are the leg as bought.
        off: Length,
    },
    /// Its arc is cut through, for less turn; the leg goes with what drops off.
    Arc {
        /// Along the outside and the inside of the bend from the other end, which is
        /// sawn by then, to the cut: leg + (CLR ± r)·θ.
        from_end: [Length; 2],
        /// The same from where the other end's leg meets the arc.
        from_arc: [Length; 2],
    },
}

impl StockBend {
    /// Whether a piece of `turn` is cut from its arc, and not all of it.
    pub fn is_cut_down_to(&self, turn: Angle) -> bool {
        self.turn - turn > WHOLE
    }

    /// Every cut that makes it `piece`, in the order in which they are made: legs first,
    /// so that the arc can be measured from an end that is there to stay.
    pub fn cuts_to(&self, piece: &BentPiece) -> Vec<BendCut> {
        // An arc that is cut through has no leg there; without any leg it is cut at its end.
        let [start, end] = piece.legs;
        let through = self
            .is_cut_down_to(piece.turn)
            .then(|| usize::from(start + LEAST_OFF >= end));
        let legs = (0..2).filter(|end| Some(*end) != through);
        let legs = legs.filter_map(|end| {
            let leg = piece.legs[end];
            let off = self.leg - leg;
            let sawn = Sawn::Leg { leg, off };
            (off >= LEAST_OFF).then_some(BendCut { end, sawn })
        });
        let arc = through.map(|end| {
            let from_end = [piece.long_side(), piece.short_side()];
            let from_arc = from_end.map(|side| side - piece.legs[1 - end]);
            let sawn = Sawn::Arc { from_end, from_arc };
            BendCut { end, sawn }
        });
        legs.chain(arc).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tube::Tube;

    fn mm(mm: f64) -> Length {
        Length::from_mm(mm)
    }

    fn bought(leg: f64) -> StockBend {
        StockBend {
            name: "mandrel 90".to_owned(),
            od: mm(60.0),
            clr: mm(90.0),
            turn: Angle::QUARTER,
            leg: mm(leg),
            price: 0.0,
            count: None,
        }
    }

    fn piece(turn: f64, legs: [f64; 2]) -> BentPiece {
        BentPiece {
            tube: Tube::new(mm(60.0), mm(2.0), "304").unwrap(),
            clr: mm(90.0),
            turn: Angle::from_degrees(turn),
            legs: legs.map(mm),
        }
    }

    #[test]
    fn a_bend_that_is_used_as_it_is_has_no_cut() {
        assert!(bought(150.0).cuts_to(&piece(90.0, [150.0; 2])).is_empty());
        assert!(bought(0.0).cuts_to(&piece(90.0, [0.0; 2])).is_empty());
        // A weld that pulls in asks for more than there is: nothing to saw.
        assert!(bought(0.0).cuts_to(&piece(90.0, [0.5; 2])).is_empty());
    }

    #[test]
    fn legs_are_sawn_to_what_the_run_has() {
        let cuts = bought(150.0).cuts_to(&piece(90.0, [150.0, 110.0]));
        let [BendCut { end: 1, sawn }] = cuts[..] else {
            panic!("{cuts:?}");
        };
        let (leg, off) = (mm(110.0), mm(40.0));
        assert_eq!(sawn, Sawn::Leg { leg, off });
    }

    /// 60° of a 90 mm CLR: π/3·120 mm outside, π/3·60 mm inside (computed), and the leg
    /// that stays.
    #[test]
    fn an_arc_is_marked_from_the_end_that_stays() {
        let arc = [120.0, 60.0].map(|radius| radius * std::f64::consts::FRAC_PI_3);
        for (legs, end) in [([20.0, 0.0], 1), ([0.0, 20.0], 0)] {
            let cuts = bought(150.0).cuts_to(&piece(60.0, legs));
            assert_eq!(cuts.len(), 2, "the leg that stays is sawn first: {cuts:?}");
            assert_eq!((cuts[0].end, cuts[1].end), (1 - end, end));
            let Sawn::Arc { from_end, from_arc } = cuts[1].sawn else {
                panic!("{cuts:?}");
            };
            for (i, arc) in arc.into_iter().enumerate() {
                assert!((from_arc[i].mm() - arc).abs() < 1e-9);
                assert!((from_end[i].mm() - arc - 20.0).abs() < 1e-9);
            }
        }
        // Rounding does not choose the end.
        for legs in [[0.0, 0.0], [-1e-13, 0.0], [0.0, -1e-13]] {
            let only = bought(0.0).cuts_to(&piece(60.0, legs));
            assert_eq!(only.len(), 1, "an elbow without legs: {only:?}");
            assert_eq!(only[0].end, 1);
        }
    }
}
