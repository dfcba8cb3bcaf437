//! [`Placement`]: where a scan stands in the job's frame.

use super::Mesh;
use crate::geometry::{Direction, Point, RigidFit, Vector};
use nalgebra::{Rotation3, UnitQuaternion};

/// A motion without scaling or mirroring: p → turn·p + shift.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Placement {
    /// Rotation about the origin, first.
    pub turn: Rotation3<f64>,
    /// Shift, mm, after it.
    pub shift: Vector,
}

impl Placement {
    /// Leaves everything where it is.
    pub fn identity() -> Self {
        Self {
            turn: Rotation3::identity(),
            shift: Vector::zeros(),
        }
    }

    /// Where a point comes to lie.
    pub fn apply(&self, point: &Point) -> Point {
        self.turn * point + self.shift
    }

    /// Which way a direction comes to point.
    pub fn turn(&self, direction: &Direction) -> Direction {
        self.turn * direction
    }

    /// Carries a mesh.
    pub fn carry(&self, mesh: &mut Mesh) {
        mesh.transform(&self.turn, &self.shift);
    }

    /// First this motion, then the next.
    pub fn then(&self, next: &Self) -> Self {
        Self {
            turn: next.turn * self.turn,
            shift: next.turn * self.shift + next.shift,
        }
    }

    /// The motion back.
    pub fn inverse(&self) -> Self {
        let back = self.turn.inverse();
        Self {
            turn: back,
            shift: -(back * self.shift),
        }
    }

    /// Whether all its numbers are finite.
    pub fn is_finite(&self) -> bool {
        let mut numbers = self.turn.matrix().iter().chain(self.shift.iter());
        numbers.all(|number| number.is_finite())
    }

    /// A small turn about `pivot` (vector along the axis, its length the angle, rad),
    /// then a small shift, after this motion.
    pub(super) fn nudged(&self, pivot: &Point, turn: &Vector, shift: &Vector) -> Self {
        let turn = Rotation3::new(*turn);
        let nudge = Self {
            turn,
            shift: pivot.coords + shift - turn * pivot.coords,
        };
        self.then(&nudge)
    }

    /// Free of what rounding has added to the rotation over many steps.
    pub(super) fn squared(self) -> Self {
        let turn = UnitQuaternion::from_rotation_matrix(&self.turn);
        Self {
            turn: turn.to_rotation_matrix(),
            ..self
        }
    }
}

impl From<&RigidFit> for Placement {
    fn from(fit: &RigidFit) -> Self {
        Self {
            turn: fit.turn,
            shift: fit.shift,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn there_and_back(
            turn in prop::array::uniform3(-3.0..3.0_f64), shift in prop::array::uniform3(-1e3..1e3_f64),
            at in prop::array::uniform3(-1e3..1e3_f64), pivot in prop::array::uniform3(-1e3..1e3_f64),
        ) {
            let there = Placement { turn: Rotation3::new(Vector::from(turn)), shift: Vector::from(shift) };
            let (at, pivot) = (Point::from(at), Point::from(pivot));
            let back = there.inverse().apply(&there.apply(&at));
            prop_assert!((back - at).norm() < 1e-9);
            prop_assert!((there.then(&there.inverse()).apply(&at) - at).norm() < 1e-9);
            prop_assert!((there.squared().apply(&at) - there.apply(&at)).norm() < 1e-9);
            let nudged = Placement::identity().nudged(&pivot, &Vector::from(turn), &Vector::z());
            prop_assert!((nudged.apply(&pivot) - pivot - Vector::z()).norm() < 1e-9);
        }
    }
}
