//! Clocks: rotations about a tube's axis.
//!
//! **Sign.** A clock is positive by the right-hand rule about the direction of
//! flow: clockwise for someone who looks downstream. Every function here takes
//! the axis pointing downstream.

use super::{Direction, Vector};
use crate::units::Angle;

/// Some direction square to `axis`: always the same one for the same axis.
pub fn perpendicular(axis: &Direction) -> Direction {
    // The coordinate axis that is least along `axis` gives the best conditioned
    // cross product; ties go to the first.
    let index = axis.map(f64::abs).imin();
    let mut helper = Vector::zeros();
    helper[index] = 1.0;
    Direction::new_normalize(axis.cross(&helper))
}

/// Two directions square to `axis` and to each other: [`perpendicular`], and the one a
/// quarter turn clockwise from it.
pub fn across(axis: &Direction) -> [Direction; 2] {
    let first = perpendicular(axis);
    [first, Direction::new_unchecked(axis.cross(&first))]
}

/// The direction square to `axis` that stands at `clock` from `zero`.
///
/// `zero` must be square to `axis`.
pub fn toward(axis: &Direction, zero: &Direction, clock: Angle) -> Direction {
    let (sin, cos) = clock.sin_cos();
    Direction::new_normalize(zero.into_inner() * cos + axis.cross(zero) * sin)
}

/// Clock from `zero` to `other`, in [0°, 360°), both square to `axis`.
pub fn clock_between(axis: &Direction, zero: &Direction, other: &Direction) -> Angle {
    let across = axis.cross(zero);
    Angle::from_radians(other.dot(&across).atan2(other.dot(zero))).wrapped()
}

/// Carries `mark`, a direction square to `from`, through the least rotation
/// that turns `from` into `to`: what a mark on a tube does at a miter joint.
///
/// Where `to` is opposite to `from` the rotation is not unique and `mark` is
/// returned as it is.
pub fn transport(mark: &Direction, from: &Direction, to: &Direction) -> Direction {
    // Rotation about a × b applied to a vector square to a:
    // v' = v − (v·b)/(1 + a·b)·(a + b).
    let opening = 1.0 + from.dot(to);
    if opening <= f64::EPSILON {
        return *mark;
    }
    let sum = from.into_inner() + to.into_inner();
    Direction::new_normalize(mark.into_inner() - sum * (mark.dot(to) / opening))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn direction() -> impl Strategy<Value = Direction> {
        (-1.0..1.0_f64, -1.0..1.0_f64, -1.0..1.0_f64)
            .prop_map(|(x, y, z)| Vector::new(x, y, z))
            .prop_filter("not the zero vector", |v| v.norm() > 1e-3)
            .prop_map(Direction::new_normalize)
    }

    #[test]
    fn clockwise_is_positive_looking_downstream() {
        // Looking along +z with +x up, clockwise goes from +x to +y.
        let clock = clock_between(&Vector::z_axis(), &Vector::x_axis(), &Vector::y_axis());
        assert!((clock.degrees() - 90.0).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn a_clock_is_read_back(axis in direction(), degrees in 0.0..359.9_f64) {
            let zero = perpendicular(&axis);
            let there = toward(&axis, &zero, Angle::from_degrees(degrees));
            prop_assert!(there.dot(&axis).abs() < 1e-12);
            prop_assert!((clock_between(&axis, &zero, &there).degrees() - degrees).abs() < 1e-9);
        }

        #[test]
        fn transport_keeps_a_mark_square(from in direction(), to in direction()) {
            prop_assume!(from.dot(&to) > -0.99);
            let mark = perpendicular(&from);
            let carried = transport(&mark, &from, &to);
            prop_assert!(carried.dot(&to).abs() < 1e-9);
            let back = transport(&carried, &to, &from);
            prop_assert!((back.into_inner() - mark.into_inner()).norm() < 1e-9);
        }
    }
}
