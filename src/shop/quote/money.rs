//! [`Money`]: sums that add up as they are printed.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign};

/// Hundredths in the shop's unit of money.
const CENTS: f64 = 100.0;
/// Part of a last digit by which a number is moved up before rounding, so that halves
/// which binary holds a hair too small go up.
const HALF_NUDGE: f64 = 1e-6;

/// `value`, which is not negative, with `digits` decimals; halves go up.
pub(in crate::shop) fn rounded(value: f64, digits: i32) -> f64 {
    let scale = 10_f64.powi(digits);
    (value * scale + HALF_NUDGE).round() / scale
}

/// An amount in whole hundredths, so that sums are exact. Amounts past any price are held
/// at the greatest.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Money {
    cents: i128,
}

impl Money {
    /// Nothing.
    pub const ZERO: Self = Self { cents: 0 };

    /// The nearest whole hundredth to `amount`, which is not negative; halves go up.
    pub fn of(amount: f64) -> Self {
        Self {
            cents: (amount * CENTS + HALF_NUDGE).round() as i128,
        }
    }

    /// As a number, for files and for percentages of it.
    pub fn amount(self) -> f64 {
        self.cents as f64 / CENTS
    }
}

impl Add for Money {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            cents: self.cents.saturating_add(other.cents),
        }
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Self>>(amounts: I) -> Self {
        amounts.fold(Self::ZERO, Add::add)
    }
}

impl fmt::Display for Money {
    /// `1234.50`, without a currency.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (whole, cents) = (
            self.cents.unsigned_abs() / 100,
            self.cents.unsigned_abs() % 100,
        );
        let sign = if self.cents < 0 { "-" } else { "" };
        f.pad(&format!("{sign}{whole}.{cents:02}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_go_up_as_a_shop_rounds() {
        assert_eq!(Money::of(1.005).to_string(), "1.01");
        assert_eq!(Money::of(0.0).to_string(), "0.00");
        assert_eq!(Money::of(12.344_999).to_string(), "12.34");
        assert_eq!(rounded(0.0125, 3), 0.013);
    }

    #[test]
    fn sums_are_those_of_the_printed_amounts() {
        let lines = [0.1, 0.2, 0.7].map(Money::of);
        assert_eq!(lines.into_iter().sum::<Money>(), Money::of(1.0));
        assert_eq!(format!("{:>8}", Money::of(1.5)), "    1.50");
    }

    #[test]
    fn amounts_past_any_price_do_no_harm() {
        let most = Money::of(f64::MAX);
        assert_eq!(most + most, most);
        assert_eq!(Money::of(f64::NAN), Money::ZERO);
    }
}
