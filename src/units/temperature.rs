//! [`Temperature`]: how hot a tube is, held in degrees Celsius.

/// Degrees Fahrenheit at which water freezes, and to a degree Celsius: exact by
/// definition.
const FREEZING_F: f64 = 32.0;
const F_PER_C: f64 = 1.8;
/// Kelvin at 0 °C, exact by definition.
const FREEZING_K: f64 = 273.15;

/// A temperature. Differences of two are plain numbers, in degrees Celsius: see
/// [`Temperature::above`].
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Temperature {
    celsius: f64,
}

impl Temperature {
    /// Nothing is colder.
    pub const ABSOLUTE_ZERO: Self = Self {
        celsius: -FREEZING_K,
    };

    /// From degrees Celsius.
    pub const fn from_celsius(celsius: f64) -> Self {
        Self { celsius }
    }

    /// From degrees Fahrenheit.
    pub const fn from_fahrenheit(fahrenheit: f64) -> Self {
        Self {
            celsius: (fahrenheit - FREEZING_F) / F_PER_C,
        }
    }

    /// From `value` counted in `unit`.
    pub const fn from_unit(value: f64, unit: TemperatureUnit) -> Self {
        match unit {
            TemperatureUnit::Celsius => Self::from_celsius(value),
            TemperatureUnit::Fahrenheit => Self::from_fahrenheit(value),
            TemperatureUnit::Kelvin => Self::from_celsius(value - FREEZING_K),
        }
    }

    /// In degrees Celsius.
    pub const fn celsius(self) -> f64 {
        self.celsius
    }

    /// In degrees Fahrenheit.
    pub const fn fahrenheit(self) -> f64 {
        self.celsius * F_PER_C + FREEZING_F
    }

    /// How many degrees Celsius it is above `other`.
    pub const fn above(self, other: Self) -> f64 {
        self.celsius - other.celsius
    }
}

/// What a temperature is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TemperatureUnit {
    /// °C.
    Celsius,
    /// °F.
    Fahrenheit,
    /// K.
    Kelvin,
}

impl TemperatureUnit {
    /// The unit of a number without one, in a job whose lengths are in inches or feet,
    /// or in metric units.
    pub const fn beside(imperial: bool) -> Self {
        if imperial {
            Self::Fahrenheit
        } else {
            Self::Celsius
        }
    }

    /// The unit that a word stands for, in lower case and without a degree sign.
    pub(super) fn from_word(word: &str) -> Option<Self> {
        match word {
            "c" | "celsius" => Some(Self::Celsius),
            "f" | "fahrenheit" => Some(Self::Fahrenheit),
            "k" | "kelvin" => Some(Self::Kelvin),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fixed_points_agree() {
        // −40 is the same on both scales; water boils at 212 °F (1 atm).
        let cold = Temperature::from_fahrenheit(-40.0);
        assert!((cold.celsius() + 40.0).abs() < 1e-12);
        let boiling = Temperature::from_celsius(100.0);
        assert!((boiling.fahrenheit() - 212.0).abs() < 1e-12);
        assert!((boiling.above(cold) - 140.0).abs() < 1e-12);
    }
}
