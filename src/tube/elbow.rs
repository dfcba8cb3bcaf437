//! [`StockBend`]: a bend as it lies on the shop's shelf.

use crate::units::{Angle, Denominator, Length, LengthUnit, parse_length};
use thiserror::Error;

/// A bend bought or made ahead: an arc with straight tube at both ends.
#[derive(Clone, Debug, PartialEq)]
pub struct StockBend {
    /// What the shop calls it.
    pub name: String,
    /// Outside diameter.
    pub od: Length,
    /// Centerline radius of the arc.
    pub clr: Length,
    /// Change of direction from face to face.
    pub turn: Angle,
    /// Straight tube past the arc, at both ends, as bought.
    pub leg: Length,
    /// Money for one, in the shop's currency.
    pub price: f64,
    /// How many are on the shelf; `None` for as many as needed.
    pub count: Option<u32>,
}

/// Why a stock bend cannot exist.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum StockBendError {
    /// The diameter is zero, negative or not finite.
    #[error("the outside diameter must be more than zero")]
    Diameter,
    /// The radius is not finite, or leaves no inside to the bend.
    #[error("the CLR must be more than half the outside diameter")]
    Clr,
    /// The turn is not between straight and a return bend.
    #[error("the turn must be more than 0° and less than 180°")]
    Turn,
    /// The leg is negative or not finite.
    #[error("the leg must be finite and not negative")]
    Leg,
    /// The price is negative or not finite.
    #[error("the price must be finite and not negative")]
    Price,
}

impl StockBend {
    /// How far a butt-welding elbow's center to end may be off the table, either
    /// way: ASME B16.9 (seen). To be taken up where the elbow is trimmed or fitted.
    pub const B16_9_TOLERANCE: Length = Length::from_mm(2.0);

    /// The ASME B16.9 butt-welding elbow of `pattern` for pipe of size `nps`, with
    /// no price and as many as needed; `None` for a size that is not in the table.
    ///
    /// `nps` is read as the trade writes it: `2`, `1 1/2`, `1-1/2`, `1.5`. It is a
    /// name, not a measurement (NPS 2 is 60.3 mm outside), so it takes no unit.
    pub fn b16_9(nps: &str, pattern: ElbowPattern) -> Option<Self> {
        let size = Size::find(nps)?;
        let center_to_end = size.center_to_end(pattern);
        let half_turn = (pattern.turn() / 2.0).tan();
        // The standard rounds center to end to whole millimeters. Where that is less
        // than the nominal arc needs (76 against 76.2), the arc gives way: the face
        // is where the standard puts it.
        let clr = size.nominal_clr(pattern).min(center_to_end / half_turn);
        Some(Self {
            name: size.elbow_name(pattern),
            od: Length::from_mm(size.od),
            clr,
            turn: pattern.turn(),
            // Small 45° elbows are longer than CLR·tan 22.5° (NPS 2: 35 against 31.6).
            leg: (center_to_end - clr * half_turn).max(Length::ZERO),
            price: 0.0,
            count: None,
        })
    }

    /// Corner to face, CLR·tan(θ/2) + leg.
    pub fn take_out(&self) -> Length {
        self.clr * (self.turn / 2.0).tan() + self.leg
    }

    /// Checks that such a bend can be.
    pub fn check(&self) -> Result<(), StockBendError> {
        if !(self.od.is_finite() && self.od > Length::ZERO) {
            return Err(StockBendError::Diameter);
        }
        if !(self.clr.is_finite() && self.clr > self.od / 2.0) {
            return Err(StockBendError::Clr);
        }
        if !(self.turn > Angle::ZERO && self.turn < Angle::HALF) {
            return Err(StockBendError::Turn);
        }
        if !(self.leg.is_finite() && self.leg >= Length::ZERO) {
            return Err(StockBendError::Leg);
        }
        if !(self.price.is_finite() && self.price >= 0.0) {
            return Err(StockBendError::Price);
        }
        Ok(())
    }
}

/// Patterns of butt-welding elbows that a shop keeps.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ElbowPattern {
    /// 90° at 1.5 × NPS.
    LongRadius90,
    /// 45° at 1.5 × NPS.
    LongRadius45,
    /// 90° at 1 × NPS.
    ShortRadius90,
}

impl ElbowPattern {
    /// Every pattern, in the order that help texts list them.
    pub const ALL: [Self; 3] = [Self::LongRadius90, Self::LongRadius45, Self::ShortRadius90];

    /// Change of direction.
    pub const fn turn(self) -> Angle {
        match self {
            Self::LongRadius90 | Self::ShortRadius90 => Angle::QUARTER,
            Self::LongRadius45 => Angle::from_degrees(45.0),
        }
    }

    /// The trade's short name.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::LongRadius90 => "LR 90",
            Self::LongRadius45 => "LR 45",
            Self::ShortRadius90 => "SR 90",
        }
    }

    /// Nominal CLR over nominal pipe size: ASME B16.9 (from memory).
    const fn clr_per_nps(self) -> f64 {
        match self {
            Self::LongRadius90 | Self::LongRadius45 => 1.5,
            Self::ShortRadius90 => 1.0,
        }
    }
}

/// A pipe size and its elbows.
struct Size {
    /// Nominal pipe size, in.
    nps: f64,
    /// Outside diameter, mm.
    od: f64,
    /// Center to end of the long-radius 90° elbow, mm.
    long_90: f64,
    /// Center to end of the long-radius 45° elbow, mm.
    long_45: f64,
    /// Center to end of the short-radius 90° elbow, mm.
    short_90: f64,
}

/// The sizes known. Outside diameters: ASME B36.10M (seen, through `fluids`).
/// Centers to ends: ASME B16.9 (seen, in catalog tables).
static SIZES: [Size; 5] = [
    Size::new(1.5, 48.3, [57.0, 29.0, 38.0]),
    Size::new(2.0, 60.3, [76.0, 35.0, 51.0]),
    Size::new(2.5, 73.0, [95.0, 44.0, 64.0]),
    Size::new(3.0, 88.9, [114.0, 51.0, 76.0]),
    Size::new(4.0, 114.3, [152.0, 64.0, 102.0]),
];

impl Size {
    /// From inches and millimeters, centers to ends in the order of [`ElbowPattern::ALL`].
    const fn new(nps: f64, od: f64, [long_90, long_45, short_90]: [f64; 3]) -> Self {
        Self {
            nps,
            od,
            long_90,
            long_45,
            short_90,
        }
    }

    /// The size that `nps` names, if it is known.
    fn find(nps: &str) -> Option<&'static Self> {
        if nps.contains(char::is_alphabetic) {
            return None;
        }
        let named = parse_length(nps, LengthUnit::In).ok()?;
        SIZES
            .iter()
            .find(|size| Length::from_inches(size.nps) == named)
    }

    /// Corner to face by the standard.
    const fn center_to_end(&self, pattern: ElbowPattern) -> Length {
        Length::from_mm(match pattern {
            ElbowPattern::LongRadius90 => self.long_90,
            ElbowPattern::LongRadius45 => self.long_45,
            ElbowPattern::ShortRadius90 => self.short_90,
        })
    }

    /// CLR before the standard's rounding.
    fn nominal_clr(&self, pattern: ElbowPattern) -> Length {
        Length::from_inches(self.nps * pattern.clr_per_nps())
    }

    /// For example `NPS 2 1/2 LR 45`.
    fn elbow_name(&self, pattern: ElbowPattern) -> String {
        let nps = Denominator::DEFAULT.format(self.nps);
        format!("NPS {nps} {}", pattern.symbol())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ASME B16.9, center to end in mm: LR 90, LR 45, SR 90 (catalog tables; seen).
    const PUBLISHED: [(&str, [f64; 3]); 5] = [
        ("1 1/2", [57.0, 29.0, 38.0]),
        ("2", [76.0, 35.0, 51.0]),
        ("2 1/2", [95.0, 44.0, 64.0]),
        ("3", [114.0, 51.0, 76.0]),
        ("4", [152.0, 64.0, 102.0]),
    ];

    fn elbow(nps: &str, pattern: ElbowPattern) -> StockBend {
        StockBend::b16_9(nps, pattern).expect("a size of the table")
    }

    #[test]
    fn faces_are_where_the_standard_puts_them() {
        for (nps, centers_to_ends) in PUBLISHED {
            for (pattern, center_to_end) in ElbowPattern::ALL.into_iter().zip(centers_to_ends) {
                let bend = elbow(nps, pattern);
                let off = bend.take_out().mm() - center_to_end;
                assert!(off.abs() < 1e-9, "{}: {off}", bend.name);
                assert_eq!(bend.check(), Ok(()), "{}", bend.name);
            }
        }
    }

    #[test]
    fn small_45_elbows_are_longer_than_their_arc() {
        for (nps, _) in PUBLISHED {
            let bend = elbow(nps, ElbowPattern::LongRadius45);
            assert!(bend.leg > Length::ZERO, "{}", bend.name);
        }
        // NPS 2: 76.2·tan 22.5° = 31.5631 mm (computed), 3.4 mm short of the table's 35.
        let bend = elbow("2", ElbowPattern::LongRadius45);
        assert!((bend.clr.mm() - 76.2).abs() < 1e-9);
        assert!((bend.leg.mm() - 3.4369).abs() < 1e-4, "{:?}", bend.leg);
        assert!(bend.leg > StockBend::B16_9_TOLERANCE);
    }

    #[test]
    fn the_arc_keeps_its_nominal_radius_within_the_tolerance() {
        for (nps, clr) in [("1.5", 57.15), ("2", 76.2), ("2.5", 95.25), ("3", 114.3)] {
            let bend = elbow(nps, ElbowPattern::LongRadius90);
            let short = clr - bend.clr.mm();
            let allowed = StockBend::B16_9_TOLERANCE.mm();
            assert!((0.0..allowed).contains(&short), "{}", bend.name);
            assert_eq!(bend.leg, Length::ZERO, "{}", bend.name);
        }
    }

    #[test]
    fn outside_diameters_are_those_of_the_pipe() {
        // ASME B36.10M (seen, through `fluids`).
        let published = [48.3, 60.3, 73.0, 88.9, 114.3];
        for ((nps, _), od) in PUBLISHED.into_iter().zip(published) {
            for pattern in ElbowPattern::ALL {
                assert_eq!(elbow(nps, pattern).od, Length::from_mm(od), "NPS {nps}");
            }
        }
    }

    #[test]
    fn sizes_are_read_as_the_trade_writes_them() {
        for nps in ["2 1/2", "2-1/2", "2.5", " 2.50 ", "2½", "2 1/2\""] {
            let bend = elbow(nps, ElbowPattern::LongRadius45);
            assert_eq!(bend.name, "NPS 2 1/2 LR 45", "{nps}");
        }
        assert_eq!(
            elbow("1.5", ElbowPattern::ShortRadius90).name,
            "NPS 1 1/2 SR 90"
        );
        assert_eq!(elbow("4", ElbowPattern::LongRadius90).name, "NPS 4 LR 90");
    }

    #[test]
    fn other_sizes_and_measurements_are_none() {
        for nps in [
            "",
            "5",
            "-2",
            "50.8 mm",
            "DN 50",
            "2 in",
            "2/0",
            "NaN",
            "1 1/2 1/2",
        ] {
            assert_eq!(
                StockBend::b16_9(nps, ElbowPattern::LongRadius90),
                None,
                "{nps}"
            );
        }
    }

    #[test]
    fn impossible_bends_are_refused() {
        let good = elbow("2", ElbowPattern::LongRadius90);
        let after = |change: fn(&mut StockBend)| {
            let mut bend = good.clone();
            change(&mut bend);
            bend.check()
        };
        let nan = Length::from_mm(f64::NAN);
        for (bend, error) in [
            (after(|b| b.od = Length::ZERO), StockBendError::Diameter),
            (after(|b| b.clr = b.od / 2.0), StockBendError::Clr),
            (after(|b| b.turn = Angle::ZERO), StockBendError::Turn),
            (after(|b| b.turn = Angle::HALF), StockBendError::Turn),
            (
                after(|b| b.leg = Length::from_mm(-1.0)),
                StockBendError::Leg,
            ),
            (after(|b| b.price = f64::INFINITY), StockBendError::Price),
            (after(|b| b.price = -1.0), StockBendError::Price),
        ] {
            assert_eq!(bend, Err(error));
        }
        let not_a_number = StockBend {
            clr: nan,
            ..good.clone()
        };
        assert_eq!(not_a_number.check(), Err(StockBendError::Clr));
        let sold_out = StockBend {
            count: Some(0),
            ..good
        };
        assert_eq!(sold_out.check(), Ok(()));
    }
}
