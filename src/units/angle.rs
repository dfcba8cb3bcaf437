//! [`Angle`]: radians, with exact values at quarter turns.

use std::f64::consts::{FRAC_PI_2, PI, TAU};
use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// A signed plane angle, held in radians. Not reduced to one turn unless said.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Angle {
    radians: f64,
}

impl Angle {
    /// No rotation.
    pub const ZERO: Self = Self { radians: 0.0 };
    /// A quarter turn, 90°.
    pub const QUARTER: Self = Self { radians: FRAC_PI_2 };
    /// Half a turn, 180°.
    pub const HALF: Self = Self { radians: PI };
    /// A whole turn, 360°.
    pub const FULL: Self = Self { radians: TAU };

    /// From radians.
    pub const fn from_radians(radians: f64) -> Self {
        Self { radians }
    }

    /// From degrees.
    pub const fn from_degrees(degrees: f64) -> Self {
        Self {
            radians: degrees * (PI / 180.0),
        }
    }

    /// In radians.
    pub const fn radians(self) -> f64 {
        self.radians
    }

    /// In degrees. A value given in whole degrees comes back to within 1 ulp.
    pub const fn degrees(self) -> f64 {
        self.radians * (180.0 / PI)
    }

    /// Sine and cosine, exact at multiples of a quarter turn, so that drawings
    /// and files do not differ in the last digit between platforms at 90°.
    pub fn sin_cos(self) -> (f64, f64) {
        let quarters = self.radians / FRAC_PI_2;
        let nearest = quarters.round();
        if (quarters - nearest).abs() <= QUARTER_TOLERANCE && nearest.abs() < 1e9 {
            return match (nearest as i64).rem_euclid(4) {
                0 => (0.0, 1.0),
                1 => (1.0, 0.0),
                2 => (0.0, -1.0),
                _ => (-1.0, 0.0),
            };
        }
        self.radians.sin_cos()
    }

    /// Sine; exact at quarter turns.
    pub fn sin(self) -> f64 {
        self.sin_cos().0
    }

    /// Cosine; exact at quarter turns.
    pub fn cos(self) -> f64 {
        self.sin_cos().1
    }

    /// Tangent. Infinite at odd quarter turns.
    pub fn tan(self) -> f64 {
        let (sin, cos) = self.sin_cos();
        sin / cos
    }

    /// Magnitude.
    pub const fn abs(self) -> Self {
        Self {
            radians: self.radians.abs(),
        }
    }

    /// The larger of two; NaN loses.
    pub const fn max(self, other: Self) -> Self {
        Self {
            radians: self.radians.max(other.radians),
        }
    }

    /// The smaller of two; NaN loses.
    pub const fn min(self, other: Self) -> Self {
        Self {
            radians: self.radians.min(other.radians),
        }
    }

    /// The same direction in [0°, 360°). Values within [`Angle::sin_cos`]'s
    /// rounding of a whole turn come back as 0°, so that a clock of −1e-17 rad
    /// never prints as 360°.
    pub fn wrapped(self) -> Self {
        let wrapped = self.radians.rem_euclid(TAU);
        let close_to_full = TAU - wrapped <= QUARTER_TOLERANCE * FRAC_PI_2;
        // Adding zero turns −0 into 0.
        Self::from_radians(if close_to_full { 0.0 } else { wrapped + 0.0 })
    }

    /// Whether the value is neither infinite nor NaN.
    pub const fn is_finite(self) -> bool {
        self.radians.is_finite()
    }
}

/// How far, in quarter turns, a value may be off a quarter turn and still be
/// taken as one: some ulps of a few turns, far below any saw's setting.
const QUARTER_TOLERANCE: f64 = 1e-14;

impl Add for Angle {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::from_radians(self.radians + other.radians)
    }
}

impl AddAssign for Angle {
    fn add_assign(&mut self, other: Self) {
        self.radians += other.radians;
    }
}

impl Sub for Angle {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::from_radians(self.radians - other.radians)
    }
}

impl Neg for Angle {
    type Output = Self;
    fn neg(self) -> Self {
        Self::from_radians(-self.radians)
    }
}

impl Mul<f64> for Angle {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self::from_radians(self.radians * factor)
    }
}

impl Div<f64> for Angle {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self::from_radians(self.radians / divisor)
    }
}

impl Div for Angle {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.radians / other.radians
    }
}

impl Sum for Angle {
    fn sum<I: Iterator<Item = Self>>(angles: I) -> Self {
        angles.fold(Self::ZERO, Add::add)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarter_turns_are_exact() {
        for quarter in -8..=8_i32 {
            let (sin, cos) = Angle::from_degrees(f64::from(quarter) * 90.0).sin_cos();
            let expected = match quarter.rem_euclid(4) {
                0 => (0.0, 1.0),
                1 => (1.0, 0.0),
                2 => (0.0, -1.0),
                _ => (-1.0, 0.0),
            };
            assert_eq!((sin, cos), expected, "{quarter} quarter turns");
        }
    }

    #[test]
    fn wrapping_never_yields_a_full_turn() {
        assert_eq!(Angle::from_radians(-1e-17).wrapped(), Angle::ZERO);
        assert_eq!(Angle::FULL.wrapped(), Angle::ZERO);
        assert!((Angle::from_degrees(-90.0).wrapped().degrees() - 270.0).abs() < 1e-12);
    }
}
