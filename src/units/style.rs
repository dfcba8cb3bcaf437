//! How numbers are printed for the shop.

use super::{Angle, Denominator, Length, LengthUnit};

/// The shop's way of writing numbers: unit and finest inch fraction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Style {
    /// Unit of printed lengths. Feet print as inches: saw stops are set in inches.
    pub unit: LengthUnit,
    /// Finest inch division; unused for metric units.
    pub denominator: Denominator,
}

impl Style {
    /// A style in `unit` with thirty-seconds for inches.
    pub const fn new(unit: LengthUnit) -> Self {
        Self {
            unit,
            denominator: Denominator::DEFAULT,
        }
    }

    /// A length with its unit: `1 3/8 in` or `34.9 mm`.
    pub fn length(&self, length: Length) -> String {
        if self.unit.is_imperial() {
            format!("{} in", self.denominator.format(length.inches()))
        } else {
            format!("{:.1} mm", unsigned_zero(length.mm(), 0.05))
        }
    }

    /// A length with decimals beside the tape reading: `1.375 in` or `34.93 mm`.
    pub fn decimal(&self, length: Length) -> String {
        if self.unit.is_imperial() {
            format!("{:.3} in", unsigned_zero(length.inches(), 5e-4))
        } else {
            format!("{:.2} mm", unsigned_zero(length.mm(), 5e-3))
        }
    }

    /// A point's three coordinates with the unit once: `(1.000, 2.000, 0.000) in`.
    pub fn point(&self, millimeters: [f64; 3]) -> String {
        let (scale, digits) = if self.unit.is_imperial() {
            (LengthUnit::In.mm(), 3)
        } else {
            (1.0, 1)
        };
        let [x, y, z] = millimeters.map(|mm| unsigned_zero(mm / scale, 5e-4));
        let unit = if self.unit.is_imperial() { "in" } else { "mm" };
        format!("({x:.digits$}, {y:.digits$}, {z:.digits$}) {unit}")
    }

    /// An angle in degrees with hundredths: `11.25°`.
    pub fn angle(&self, angle: Angle) -> String {
        format!("{:.2}°", unsigned_zero(angle.degrees(), 5e-3))
    }
}

/// `value`, but plain 0 where it would print as a signed zero.
fn unsigned_zero(value: f64, half_digit: f64) -> f64 {
    if value.abs() < half_digit { 0.0 } else { value }
}
