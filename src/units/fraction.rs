//! Inch fractions, as read off a tape.

use std::fmt;

/// The finest division of the inch that a shop reads: a power of two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Denominator(u32);

impl Denominator {
    /// Thirty-seconds: what a good tape and a pencil line are worth.
    pub const DEFAULT: Self = Self(32);

    /// A power of two from 1 to 128, or `None`.
    pub const fn new(denominator: u32) -> Option<Self> {
        if denominator.is_power_of_two() && denominator <= 128 {
            Some(Self(denominator))
        } else {
            None
        }
    }

    /// The number under the bar.
    pub const fn get(self) -> u32 {
        self.0
    }

    /// Splits `inches` into sign, whole inches and a reduced fraction, rounded
    /// to this division (halves away from zero).
    fn split(self, inches: f64) -> Tape {
        let parts = (inches.abs() * f64::from(self.0)).round();
        let whole = (parts / f64::from(self.0)).floor();
        // The remainder is below the denominator, so it fits an u32 exactly.
        let mut numerator = (parts - whole * f64::from(self.0)) as u32;
        let mut denominator = self.0;
        while numerator != 0 && numerator.is_multiple_of(2) {
            numerator /= 2;
            denominator /= 2;
        }
        Tape {
            negative: inches < 0.0 && parts > 0.0,
            whole,
            numerator,
            denominator,
        }
    }

    /// `inches` as a tape reads it: `1 3/8`, `-7/16`, `0`. No unit.
    pub fn format(self, inches: f64) -> String {
        self.split(inches).to_string()
    }
}

/// A tape reading.
struct Tape {
    negative: bool,
    whole: f64,
    numerator: u32,
    denominator: u32,
}

impl fmt::Display for Tape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sign = if self.negative { "-" } else { "" };
        let (whole, top, bottom) = (self.whole, self.numerator, self.denominator);
        if top == 0 {
            write!(f, "{sign}{whole}")
        } else if whole == 0.0 {
            write!(f, "{sign}{top}/{bottom}")
        } else {
            write!(f, "{sign}{whole} {top}/{bottom}")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fractions_are_reduced_and_rounded() {
        let tape = Denominator::new(16).expect("16 is a power of two");
        for (inches, text) in [
            (0.0, "0"),
            (1.375, "1 3/8"),
            (-0.4375, "-7/16"),
            (0.97, "1"),
            (-0.01, "0"),
            (12.5, "12 1/2"),
            (0.03125, "1/16"),
        ] {
            assert_eq!(tape.format(inches), text, "{inches} in");
        }
    }

    #[test]
    fn only_powers_of_two_divide_an_inch() {
        assert!(Denominator::new(0).is_none());
        assert!(Denominator::new(10).is_none());
        assert!(Denominator::new(256).is_none());
    }
}
