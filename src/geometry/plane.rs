//! [`Plane`]: a point and a normal.

use super::{Direction, Point};

/// An oriented plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// A point on the plane.
    pub point: Point,
    /// The side that counts as ahead.
    pub normal: Direction,
}

impl Plane {
    /// The plane that bisects two axes meeting at `corner`: where both tubes are
    /// cut so that their ellipses coincide. `None` if the axes double back on
    /// each other, where no such plane exists.
    pub fn bisecting(corner: Point, incoming: &Direction, outgoing: &Direction) -> Option<Self> {
        let sum = incoming.into_inner() + outgoing.into_inner();
        Direction::try_new(sum, f64::EPSILON.sqrt()).map(|normal| Self {
            point: corner,
            normal,
        })
    }

    /// Signed distance of `point`, positive ahead of the plane.
    pub fn distance(&self, point: &Point) -> f64 {
        self.normal.dot(&(point - self.point))
    }

    /// How far along `direction` a ray from `origin` meets the plane; infinite
    /// or NaN if it runs parallel.
    pub fn reach(&self, origin: &Point, direction: &Direction) -> f64 {
        -self.distance(origin) / self.normal.dot(direction)
    }
}
