//! [`Drum`]: the convex hull of two ellipses, which is what a stretch of tube sweeps.

use crate::geometry::{Point, Vector};

/// A flat ellipse; a point where both half axes are zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ellipse {
    /// Its middle.
    pub center: Point,
    /// From the middle to the edge along two conjugate directions, mm: the edge is
    /// center + a·cos t + b·sin t.
    pub half: [Vector; 2],
}

/// The convex hull of two ellipses: exactly a tube's outside where both lie on it and
/// their planes do not cross within it; a segment where both are points.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drum {
    /// Both ends.
    pub ends: [Ellipse; 2],
}

impl Ellipse {
    /// An ellipse shrunk to its middle.
    pub fn point(center: Point) -> Self {
        Self {
            center,
            half: [Vector::zeros(); 2],
        }
    }

    /// The place farthest along `direction`: center + (a·(a·d) + b·(b·d))/√((a·d)² + (b·d)²).
    fn farthest(&self, direction: &Vector) -> Point {
        let [a, b] = self.half;
        let (along_a, along_b) = (a.dot(direction), b.dot(direction));
        let reach = along_a.hypot(along_b);
        if reach > 0.0 {
            self.center + a * (along_a / reach) + b * (along_b / reach)
        } else {
            self.center
        }
    }

    /// Greatest distance of the edge from the middle, or a little more.
    fn reach(&self) -> f64 {
        self.half[0].norm().hypot(self.half[1].norm())
    }
}

impl Drum {
    /// The segment from `a` to `b`.
    pub fn segment(a: Point, b: Point) -> Self {
        Self {
            ends: [Ellipse::point(a), Ellipse::point(b)],
        }
    }

    /// The place farthest along `direction`.
    pub fn farthest(&self, direction: &Vector) -> Point {
        let [a, b] = self.ends.map(|end| end.farthest(direction));
        if (b - a).dot(direction) > 0.0 { b } else { a }
    }

    /// Center and radius, mm, of a ball that holds it.
    pub(super) fn ball(&self) -> (Point, f64) {
        let [a, b] = &self.ends;
        let half = (b.center - a.center).norm() / 2.0;
        let center = nalgebra::center(&a.center, &b.center);
        (center, half + a.reach().max(b.reach()))
    }
}
