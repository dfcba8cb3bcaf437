//! [`Ring`]: the ellipse in which a tube meets a plane, as it is looked at.

use super::{Gaze, Offset, Spot};
use crate::geometry::{Direction, Plane, Point, Vector};

/// An axis this near to the line of sight, as a sine, shows no side of its tube; which
/// way its sides point in the picture is then rounding.
const END_ON: f64 = 1e-9;

/// The points center + r·(U·cos t + W·sin t). Clocks t are counted from where the side of
/// the tube turns out of sight: it faces the viewer for t in (0, π).
#[derive(Clone, Copy, Debug)]
pub struct Ring {
    /// Where the axis meets the plane.
    pub center: Point,
    /// Downstream direction of the tube.
    pub axis: Direction,
    /// The plane's normal, downstream.
    pub normal: Direction,
    /// Square to the axis and to the line of sight: normal of the outside at t = 0.
    pub across: Direction,
    /// Square to the axis, as near to the viewer as can be: normal at t = π/2.
    pub facing: Direction,
    lifted: [Vector; 2],
}

impl Ring {
    /// The ring of a tube along `axis` on `plane`, whose point is on the axis.
    pub fn new(plane: &Plane, axis: &Direction, gaze: &Gaze) -> Self {
        let across = Direction::try_new(gaze.toward.cross(axis), END_ON).unwrap_or(gaze.right);
        let facing = Direction::new_normalize(axis.cross(&across));
        let normal = plane.normal;
        let lift = |off: Vector| off - axis.into_inner() * (normal.dot(&off) / normal.dot(axis));
        Self {
            center: plane.point,
            axis: *axis,
            normal,
            across,
            facing,
            lifted: [lift(across.into_inner()), lift(facing.into_inner())],
        }
    }

    /// The point at clock `t`, rad, on a tube of `radius`, mm.
    pub fn at(&self, radius: f64, t: f64) -> Point {
        self.center + (self.lifted[0] * t.cos() + self.lifted[1] * t.sin()) * radius
    }

    /// Outward normal of the tube at clock `t`.
    pub fn outward(&self, t: f64) -> Vector {
        self.across.into_inner() * t.cos() + self.facing.into_inner() * t.sin()
    }

    /// Clock of a direction about the axis.
    pub fn clock(&self, direction: &Vector) -> f64 {
        direction
            .dot(&self.facing)
            .atan2(direction.dot(&self.across))
    }

    /// The picture of the ring at clock `t`, and its derivative.
    pub fn seen(&self, gaze: &Gaze, radius: f64, t: f64) -> (Spot, Offset) {
        let along = (self.lifted[1] * t.cos() - self.lifted[0] * t.sin()) * radius;
        (gaze.place(&self.at(radius, t)), gaze.flatten(&along))
    }
}
