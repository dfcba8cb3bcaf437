//! [`Gaze`]: which way an orthographic picture is looked at.

use crate::geometry::{Direction, Point, Vector};

/// A place in a picture before it is scaled: mm of the job, to the right and down.
pub type Spot = nalgebra::Point2<f64>;
/// A displacement in a picture.
pub type Offset = nalgebra::Vector2<f64>;

/// An orthographic view: three directions square to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gaze {
    /// What goes to the right in the picture.
    pub right: Direction,
    /// What goes up in the picture.
    pub up: Direction,
    /// From the run to the viewer.
    pub toward: Direction,
}

impl Gaze {
    /// From the corner (1, −1, 1), z up: each axis is foreshortened alike.
    pub fn isometric() -> Self {
        let toward = Direction::new_normalize(Vector::new(1.0, -1.0, 1.0));
        let right = Direction::new_normalize(Vector::new(1.0, 1.0, 0.0));
        Self {
            right,
            up: Direction::new_normalize(toward.cross(&right)),
            toward,
        }
    }

    /// Looking along y: x to the right, z up.
    pub fn front() -> Self {
        Self {
            right: Vector::x_axis(),
            up: Vector::z_axis(),
            toward: -Vector::y_axis(),
        }
    }

    /// Looking down z: x to the right, y up.
    pub fn top() -> Self {
        Self {
            right: Vector::x_axis(),
            up: Vector::y_axis(),
            toward: Vector::z_axis(),
        }
    }

    /// From the right, looking against x: y to the right, z up.
    pub fn side() -> Self {
        Self {
            right: Vector::y_axis(),
            up: Vector::z_axis(),
            toward: Vector::x_axis(),
        }
    }

    /// Where a point is in the picture.
    pub fn place(&self, point: &Point) -> Spot {
        Spot::from(self.flatten(&point.coords))
    }

    /// What is left of a vector in the picture.
    pub fn flatten(&self, vector: &Vector) -> Offset {
        Offset::new(vector.dot(&self.right), -vector.dot(&self.up))
    }

    /// How near a point is to the viewer, mm.
    pub fn depth(&self, point: &Point) -> f64 {
        point.coords.dot(&self.toward)
    }

    /// The point at `depth` that is seen at `spot`.
    pub fn lift(&self, spot: &Spot, depth: f64) -> Point {
        let across = self.right.into_inner() * spot.x - self.up.into_inner() * spot.y;
        Point::from(across + self.toward.into_inner() * depth)
    }
}
