//! [`Motion`]: what one error does to all that is built on.

use crate::geometry::{Point, Vector};

/// A small motion of everything on one side of a place in the run: a shift, mm, and a
/// turn about a point, rad, as a rotation vector. First order: motions add up.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::shop) struct Motion {
    about: Point,
    shift: Vector,
    turn: Vector,
}

impl Motion {
    pub fn shift(shift: Vector) -> Self {
        Self {
            about: Point::origin(),
            shift,
            turn: Vector::zeros(),
        }
    }

    pub fn turn(turn: Vector, about: Point) -> Self {
        Self {
            about,
            shift: Vector::zeros(),
            turn,
        }
    }

    /// The same seen from the other side: of what comes before the place, while all that
    /// comes after it stays.
    pub fn reversed(&self) -> Self {
        Self {
            about: self.about,
            shift: -self.shift,
            turn: -self.turn,
        }
    }

    /// Shift and turn of what is at `place`: shift + turn × arm, and the turn itself.
    pub fn seen_at(&self, place: &Point) -> (Vector, Vector) {
        let arm = place - self.about;
        (self.shift + self.turn.cross(&arm), self.turn)
    }
}
