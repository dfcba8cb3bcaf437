//! [`Facets`]: how finely a round tube is drawn with flats.

use crate::units::{Angle, Length};
use std::f64::consts::PI;

/// Number of flats round the tube: a multiple of four, so that the four sides
/// at 0°, 90°, 180° and 270° are met exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Facets(u32);

impl Facets {
    /// Coarsest: still recognizably round.
    const FEWEST: u32 = 12;
    /// Finest: 0.3 µm of sag on a 1 m tube; finer only makes files large.
    const MOST: u32 = 4096;

    /// The fewest flats whose middles lie within `tolerance` of a circle of
    /// `radius`: r·(1 − cos(π/n)) ≤ tolerance. Within fixed limits, so that no
    /// tolerance (zero, negative, NaN) makes it hang.
    pub fn within(radius: Length, tolerance: Length) -> Self {
        let ratio = tolerance / radius;
        let wanted = PI / (1.0 - ratio.clamp(0.0, 1.0)).acos();
        // `as` saturates: infinite and NaN wishes end up at a limit.
        Self::at_least(if wanted.is_nan() {
            Self::MOST
        } else {
            wanted.ceil() as u32
        })
    }

    /// At least `count` flats, rounded up to a multiple of four.
    pub fn at_least(count: u32) -> Self {
        Self(count.clamp(Self::FEWEST, Self::MOST).next_multiple_of(4))
    }

    /// How many flats.
    pub const fn count(self) -> usize {
        self.0 as usize
    }

    /// Steps along a bend of `turn` and `clr` whose chords lie as near to the arc of the
    /// tube's outside as the flats lie to the tube: the sag grows with radius × step².
    pub fn steps_along(self, radius: Length, clr: Length, turn: Angle) -> u32 {
        let finer = ((clr + radius) / radius).max(1.0).sqrt();
        let steps = turn / Angle::FULL * f64::from(self.0) * finer;
        (steps.ceil() as u32).clamp(1, Self::MOST)
    }

    /// The clock of each edge between flats, from 0° on.
    pub fn clocks(self) -> impl ExactSizeIterator<Item = Angle> {
        let step = 360.0 / f64::from(self.0);
        (0..self.0).map(move |i| Angle::from_degrees(f64::from(i) * step))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sag_stays_within_tolerance() {
        for radius in [6.0, 38.1, 500.0] {
            for tolerance in [1.0, 0.1, 0.01, 0.001] {
                let facets = Facets::within(Length::from_mm(radius), Length::from_mm(tolerance));
                let sag = radius * (1.0 - (PI / facets.count() as f64).cos());
                assert!(sag <= tolerance, "r {radius}, tolerance {tolerance}: {sag}");
            }
        }
    }

    #[test]
    fn no_tolerance_hangs() {
        let radius = Length::from_mm(38.1);
        for tolerance in [0.0, -1.0, f64::NAN, f64::INFINITY, 1e-300] {
            let count = Facets::within(radius, Length::from_mm(tolerance)).count();
            assert!((12..=4096).contains(&count), "{tolerance}: {count}");
        }
    }
}
