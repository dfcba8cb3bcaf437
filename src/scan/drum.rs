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
        let reach = (along_a * along_a + along_b * along_b).sqrt();
        if reach > 0.0 {
            self.center + a * (along_a / reach) + b * (along_b / reach)
        } else {
            self.center
        }
    }

    /// Greatest distance of the edge from the middle: the longer half axis. Its square
    /// is the greater eigenvalue of [a·a a·b; a·b b·b].
    pub(super) fn reach(&self) -> f64 {
        let [a, b] = self.half;
        let (aa, bb) = (a.norm_squared(), b.norm_squared());
        ((aa + bb + (aa - bb).hypot(2.0 * a.dot(&b))) / 2.0).sqrt()
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

    /// Its ends if it is a segment.
    pub(super) fn as_segment(&self) -> Option<[Point; 2]> {
        let points = self.ends.map(|end| end.half == [Vector::zeros(); 2]);
        (points == [true; 2]).then(|| self.ends.map(|end| end.center))
    }

    /// Center and radius, mm, of a ball that holds it.
    pub(super) fn ball(&self) -> (Point, f64) {
        let ([a, b], radius) = self.spine();
        (nalgebra::center(&a, &b), (b - a).norm() / 2.0 + radius)
    }

    /// The segment between its ends' middles, and the greatest distance of its places
    /// from there, mm.
    pub(super) fn spine(&self) -> ([Point; 2], f64) {
        let [a, b] = &self.ends;
        ([a.center, b.center], a.reach().max(b.reach()))
    }
}
