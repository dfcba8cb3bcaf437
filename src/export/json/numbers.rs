//! How numbers are written: mm, degrees, no negative zero.

use crate::units::{Angle, Length};

pub(in crate::export) fn numbered<T, U>(
    items: &[T],
    first: usize,
    make: impl Fn(usize, &T) -> U,
) -> Vec<U> {
    let items = items.iter().enumerate();
    items.map(|(i, item)| make(first + i, item)).collect()
}

pub(in crate::export) fn mm(length: Length) -> f64 {
    positive_zero(length.mm())
}

pub(in crate::export) fn deg(angle: Angle) -> f64 {
    positive_zero(angle.degrees())
}

/// Never −0, which some readers stumble over.
pub(super) fn positive_zero(value: f64) -> f64 {
    value + 0.0
}
