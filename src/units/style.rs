//! How numbers are printed for the shop.

use super::{Angle, Denominator, Length, LengthUnit, Temperature};

/// Part of a last digit by which a number is moved away from zero before rounding.
const HALF_NUDGE: f64 = 1e-6;

/// Kilograms in a pound, exact by the 1959 international agreement.
pub(super) const KG_PER_POUND: f64 = 0.453_592_37;

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
    /// Halves round away from zero, as a shop rounds.
    pub fn decimal(&self, length: Length) -> String {
        let digits = length / self.last_digit();
        // A nudge for halves that binary holds a hair too small.
        let digits = (digits + HALF_NUDGE.copysign(digits)).round() + 0.0;
        if self.unit.is_imperial() {
            format!("{:.3} in", digits / 1000.0)
        } else {
            format!("{:.2} mm", digits / 100.0)
        }
    }

    /// How far off something may be, up to the next line of a tape: `1/16 in` or `1.6 mm`.
    pub fn tolerance(&self, length: Length) -> String {
        let line = if self.unit.is_imperial() {
            Length::from_inches(1.0 / f64::from(self.denominator.get()))
        } else {
            Length::from_mm(0.1)
        };
        let lines = (length.abs() / line - HALF_NUDGE).ceil().max(0.0);
        self.length(line * lines)
    }

    /// The last digit that [`Style::decimal`] prints.
    pub const fn last_digit(&self) -> Length {
        if self.unit.is_imperial() {
            Length::from_inches(0.001)
        } else {
            Length::from_mm(0.01)
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

    /// A temperature in whole degrees: `650 °C`, or `1202 °F` beside inches.
    pub fn temperature(&self, temperature: Temperature) -> String {
        if self.unit.is_imperial() {
            format!("{:.0} °F", unsigned_zero(temperature.fahrenheit(), 0.5))
        } else {
            format!("{:.0} °C", unsigned_zero(temperature.celsius(), 0.5))
        }
    }

    /// A mass: `1.234 kg`, or `2.72 lb` beside inches.
    pub fn mass(&self, kg: f64) -> String {
        if self.unit.is_imperial() {
            format!("{:.2} lb", kg / KG_PER_POUND)
        } else {
            format!("{kg:.3} kg")
        }
    }

    /// A pace along a weld: `50 mm/min`, or `2 in/min` beside inches. As many decimals as it
    /// takes, up to three.
    pub fn pace(&self, in_a_minute: Length) -> String {
        let plain = |value: f64| (value * 1000.0).round() / 1000.0;
        if self.unit.is_imperial() {
            format!("{} in/min", plain(in_a_minute.inches()))
        } else {
            format!("{} mm/min", plain(in_a_minute.mm()))
        }
    }

    /// A small area: `2.04 mm²`, or `0.0032 in²` beside inches.
    pub fn area(&self, square_mm: f64) -> String {
        if self.unit.is_imperial() {
            let inch = LengthUnit::In.mm();
            format!("{:.4} in²", square_mm / (inch * inch))
        } else {
            format!("{square_mm:.2} mm²")
        }
    }

    /// A clock in degrees with hundredths, from 0.00° to 359.99°.
    pub fn clock(&self, angle: Angle) -> String {
        let hundredths = (angle.wrapped().degrees() * 100.0).round() % 36_000.0;
        format!("{:.2}°", hundredths / 100.0)
    }
}

/// A direction's three parts, without unit and with no sign on what rounds to zero:
/// `(0.7071, 0.0000, -0.7071)`.
pub fn direction_text(parts: impl Into<[f64; 3]>) -> String {
    let [x, y, z] = parts.into().map(|part| unsigned_zero(part, 5e-5));
    format!("({x:.4}, {y:.4}, {z:.4})")
}

/// Which way a line goes, for the bench: `along y`, `nearly along y`, or along its three
/// parts.
pub fn line_text(parts: impl Into<[f64; 3]>) -> String {
    let parts: [f64; 3] = parts.into();
    let near = ["x", "y", "z"].into_iter().zip(parts);
    let mut near = near.filter(|(_, part)| part.abs() >= NEAR_AXIS);
    match near.next() {
        Some((axis, part)) if part.abs() >= ON_AXIS => format!("along {axis}"),
        Some((axis, _)) => format!("nearly along {axis}"),
        None => {
            let [x, y, z] = parts.map(|part| unsigned_zero(part, 5e-3));
            format!("along ({x:.2}, {y:.2}, {z:.2})")
        }
    }
}

/// Which way a direction goes: `+z`, or its three parts.
pub fn way_text(parts: impl Into<[f64; 3]>) -> String {
    let parts: [f64; 3] = parts.into();
    let mut axes = ["x", "y", "z"].into_iter().zip(parts);
    match axes.find(|(_, part)| part.abs() >= ON_AXIS) {
        Some((axis, part)) => format!("{}{axis}", if part < 0.0 { '-' } else { '+' }),
        None => {
            let [x, y, z] = parts.map(|part| unsigned_zero(part, 5e-3));
            format!("({x:.2}, {y:.2}, {z:.2})")
        }
    }
}

/// Cosine of 20°: a line this near to an axis is nearly along it.
const NEAR_AXIS: f64 = 0.94;
/// Cosine of 2°: a line this near to an axis is along it.
const ON_AXIS: f64 = 0.9994;

/// `1 joint`, `2 joints`.
pub fn counted(count: usize, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// `value`, but plain 0 where it would print as a signed zero.
fn unsigned_zero(value: f64, half_digit: f64) -> f64 {
    if value.abs() < half_digit { 0.0 } else { value }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_round_away_from_zero() {
        let inch = Style::new(LengthUnit::In);
        assert_eq!(inch.decimal(Length::from_inches(0.0625)), "0.063 in");
        assert_eq!(inch.decimal(Length::from_inches(-0.0625)), "-0.063 in");
        assert_eq!(inch.decimal(Length::from_inches(-0.0001)), "0.000 in");
        let mm = Style::new(LengthUnit::Mm);
        assert_eq!(mm.decimal(Length::from_mm(34.925)), "34.93 mm");
    }

    #[test]
    fn a_clock_never_prints_a_whole_turn() {
        let style = Style::new(LengthUnit::Mm);
        assert_eq!(style.clock(Angle::from_degrees(359.999)), "0.00°");
        assert_eq!(style.clock(Angle::from_degrees(-90.0)), "270.00°");
    }
}
