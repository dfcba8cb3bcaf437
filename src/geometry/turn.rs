//! The least rotation from one direction to another.

use super::{Direction, perpendicular};
use nalgebra::{Quaternion, Rotation3, UnitQuaternion};

/// Directions whose sum is shorter than this count as opposite: the half turn that
/// stands in for their rotation is then off by no more than this, rad.
const OPPOSITE: f64 = 1e-8;

/// The rotation of least angle that turns `from` into `to`, accurate near 0 and π,
/// where an arc cosine is not. Between opposite directions it is a half turn about
/// [`perpendicular`] of `from`.
///
/// By the quaternion (1 + a·b, a × b), where 1 + a·b = |a + b|²/2.
pub fn least_turn(from: &Direction, to: &Direction) -> Rotation3<f64> {
    let sum = from.into_inner() + to.into_inner();
    if sum.norm() < OPPOSITE {
        let axis = perpendicular(from);
        return Rotation3::from_axis_angle(&axis, std::f64::consts::PI);
    }
    let cross = from.cross(to);
    let quaternion = Quaternion::from_parts(sum.norm_squared() / 2.0, cross);
    UnitQuaternion::from_quaternion(quaternion).to_rotation_matrix()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Vector;

    #[test]
    fn it_turns_one_into_the_other_and_no_farther() {
        let from = Direction::new_normalize(Vector::new(0.3, -0.4, 0.9));
        for tilt in [0.0, 1e-12, 1e-6, 1.0, 3.0, 3.1, std::f64::consts::PI] {
            let turn = Rotation3::from_axis_angle(&perpendicular(&from), tilt);
            let to = turn * from;
            let found = least_turn(&from, &to);
            assert!(((found * from).into_inner() - to.into_inner()).norm() < 2.0 * OPPOSITE);
            let angle = UnitQuaternion::from_rotation_matrix(&found).angle();
            assert!((angle - tilt).abs() < 1e-7, "{angle} {tilt}");
        }
    }
}
