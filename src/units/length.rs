//! [`Length`]: a distance in millimeters.

use std::iter::Sum;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub, SubAssign};

/// Millimeters in an inch, exact by the 1959 international agreement.
const MM_PER_INCH: f64 = 25.4;

/// A signed distance, held in millimeters.
///
/// Ordering is that of `f64`; a `Length` built from a finite number is finite.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Length {
    mm: f64,
}

impl Length {
    /// No distance.
    pub const ZERO: Self = Self { mm: 0.0 };

    /// From millimeters.
    pub const fn from_mm(mm: f64) -> Self {
        Self { mm }
    }

    /// From inches (25.4 mm each).
    pub const fn from_inches(inches: f64) -> Self {
        Self {
            mm: inches * MM_PER_INCH,
        }
    }

    /// From `value` counted in `unit`.
    pub const fn from_unit(value: f64, unit: LengthUnit) -> Self {
        Self {
            mm: value * unit.mm(),
        }
    }

    /// In millimeters.
    pub const fn mm(self) -> f64 {
        self.mm
    }

    /// In inches.
    pub const fn inches(self) -> f64 {
        self.mm / MM_PER_INCH
    }

    /// Magnitude.
    pub const fn abs(self) -> Self {
        Self { mm: self.mm.abs() }
    }

    /// The larger of two; NaN loses.
    pub const fn max(self, other: Self) -> Self {
        Self {
            mm: self.mm.max(other.mm),
        }
    }

    /// The smaller of two; NaN loses.
    pub const fn min(self, other: Self) -> Self {
        Self {
            mm: self.mm.min(other.mm),
        }
    }

    /// Whether the value is neither infinite nor NaN.
    pub const fn is_finite(self) -> bool {
        self.mm.is_finite()
    }
}

/// A unit that a length may be written in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LengthUnit {
    /// Millimeter.
    Mm,
    /// Centimeter, 10 mm.
    Cm,
    /// Meter, 1000 mm.
    M,
    /// Inch, 25.4 mm.
    In,
    /// Foot, 12 in.
    Ft,
}

impl LengthUnit {
    /// Every unit, in the order that help texts list them.
    pub const ALL: [Self; 5] = [Self::In, Self::Mm, Self::Cm, Self::M, Self::Ft];

    /// The unit's size in millimeters.
    pub const fn mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Cm => 10.0,
            Self::M => 1000.0,
            Self::In => MM_PER_INCH,
            Self::Ft => 12.0 * MM_PER_INCH,
        }
    }

    /// The symbol used in files and on paper.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Mm => "mm",
            Self::Cm => "cm",
            Self::M => "m",
            Self::In => "in",
            Self::Ft => "ft",
        }
    }

    /// The unit that `symbol` stands for, if any.
    pub fn from_symbol(symbol: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|unit| unit.symbol() == symbol)
    }

    /// Whether the shop reads this unit in inch fractions.
    pub const fn is_imperial(self) -> bool {
        matches!(self, Self::In | Self::Ft)
    }
}

impl Add for Length {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::from_mm(self.mm + other.mm)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Self) {
        self.mm += other.mm;
    }
}

impl Sub for Length {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::from_mm(self.mm - other.mm)
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Self) {
        self.mm -= other.mm;
    }
}

impl Neg for Length {
    type Output = Self;
    fn neg(self) -> Self {
        Self::from_mm(-self.mm)
    }
}

impl Mul<f64> for Length {
    type Output = Self;
    fn mul(self, factor: f64) -> Self {
        Self::from_mm(self.mm * factor)
    }
}

impl Mul<Length> for f64 {
    type Output = Length;
    fn mul(self, length: Length) -> Length {
        length * self
    }
}

impl Div<f64> for Length {
    type Output = Self;
    fn div(self, divisor: f64) -> Self {
        Self::from_mm(self.mm / divisor)
    }
}

impl Div for Length {
    type Output = f64;
    fn div(self, other: Self) -> f64 {
        self.mm / other.mm
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Self>>(lengths: I) -> Self {
        lengths.fold(Self::ZERO, Add::add)
    }
}
