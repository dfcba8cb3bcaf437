//! [`Rate`]: money for a length, a mass or a volume; [`Flow`]: gas in a time. Both stay in
//! the unit that they were written in, so that what is printed is what was written.

use super::LengthUnit;
use super::style::KG_PER_POUND;
use std::fmt;

/// Cubic meters in a cubic foot, exact: 0.3048³.
const CUBIC_METERS_PER_CUBIC_FOOT: f64 = 0.028_316_846_592;
/// Liters in a cubic meter.
const LITERS_PER_CUBIC_METER: f64 = 1000.0;
/// Millimeters in a meter.
const MM_PER_METER: f64 = 1000.0;
/// Minutes in an hour.
const MINUTES_PER_HOUR: f64 = 60.0;

/// What a rate is for one of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Per {
    /// A meter.
    Meter,
    /// A foot.
    Foot,
    /// A kilogram.
    Kilogram,
    /// A pound.
    Pound,
    /// A cubic meter.
    CubicMeter,
    /// A cubic foot.
    CubicFoot,
}

impl Per {
    /// How many meters, kilograms or cubic meters it is.
    pub const fn metric(self) -> f64 {
        match self {
            Self::Meter | Self::Kilogram | Self::CubicMeter => 1.0,
            Self::Foot => LengthUnit::Ft.mm() / MM_PER_METER,
            Self::Pound => KG_PER_POUND,
            Self::CubicFoot => CUBIC_METERS_PER_CUBIC_FOOT,
        }
    }

    /// Whether it is one of US customary measure.
    pub const fn is_imperial(self) -> bool {
        matches!(self, Self::Foot | Self::Pound | Self::CubicFoot)
    }

    /// What stands behind a number.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Meter => "m",
            Self::Foot => "ft",
            Self::Kilogram => "kg",
            Self::Pound => "lb",
            Self::CubicMeter => "m³",
            Self::CubicFoot => "ft³",
        }
    }

    /// Its word in a sentence.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Meter => "meter",
            Self::Foot => "foot",
            other => other.symbol(),
        }
    }
}

/// Money, or what ranks like it, for one of a unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// As written.
    pub amount: f64,
    /// For what.
    pub per: Per,
}

impl Rate {
    /// `amount` for one of `per`.
    pub const fn new(amount: f64, per: Per) -> Self {
        Self { amount, per }
    }

    /// The same for a meter, kilogram or cubic meter.
    pub fn metric(self) -> f64 {
        self.amount / self.per.metric()
    }
}

impl fmt::Display for Rate {
    /// `12 a foot`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} a {}", self.amount, self.per.word())
    }
}

/// What a flow of gas is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FlowUnit {
    /// Liters a minute.
    LitersPerMinute,
    /// Cubic feet an hour.
    CubicFeetPerHour,
}

/// A flow of gas, as it is set on the regulator.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flow {
    /// As written.
    pub amount: f64,
    /// In what.
    pub unit: FlowUnit,
}

impl Flow {
    /// `amount` in `unit`.
    pub const fn new(amount: f64, unit: FlowUnit) -> Self {
        Self { amount, unit }
    }

    /// Liters a minute.
    pub fn liters_per_minute(self) -> f64 {
        match self.unit {
            FlowUnit::LitersPerMinute => self.amount,
            FlowUnit::CubicFeetPerHour => {
                self.amount * CUBIC_METERS_PER_CUBIC_FOOT * LITERS_PER_CUBIC_METER
                    / MINUTES_PER_HOUR
            }
        }
    }
}

impl fmt::Display for Flow {
    /// `15 ft³/h`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let unit = match self.unit {
            FlowUnit::LitersPerMinute => "L/min",
            FlowUnit::CubicFeetPerHour => "ft³/h",
        };
        write!(f, "{} {unit}", self.amount)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rates_in_feet_are_those_in_meters() {
        // 12.192 a foot is 40 a meter: a foot is 0.3048 m.
        assert!((Rate::new(12.192, Per::Foot).metric() - 40.0).abs() < 1e-12);
        assert!((Rate::new(1.0, Per::Pound).metric() - 2.204_622_62).abs() < 1e-8);
        assert!((Rate::new(1.0, Per::CubicFoot).metric() - 35.314_666_72).abs() < 1e-8);
        // What is metric stays to the last bit.
        assert_eq!(
            Rate::new(0.1, Per::CubicMeter).metric().to_bits(),
            0.1_f64.to_bits()
        );
    }

    #[test]
    fn flows_in_feet_are_those_in_liters() {
        // 2.118 880 003 ft³/h is 1 L/min.
        let flow = Flow::new(2.118_880_003, FlowUnit::CubicFeetPerHour);
        assert!((flow.liters_per_minute() - 1.0).abs() < 1e-8);
        assert_eq!(flow.to_string(), "2.118880003 ft³/h");
    }
}
