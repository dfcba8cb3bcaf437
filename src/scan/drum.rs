//! [`Drum`]: the convex hull of two ellipses, which is what a stretch of tube sweeps.

use super::surface::fast;
use crate::geometry::{Point, Vector};
use parry3d_f64::math::Vector as Fast;
use parry3d_f64::shape::SupportMap;

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

    /// Least and greatest coordinates.
    pub(super) fn bounds(&self) -> (Point, Point) {
        let reach = |axis: usize, sign: f64| {
            let mut direction = Vector::zeros();
            direction[axis] = sign;
            self.farthest(&direction)[axis]
        };
        let corner = |sign| Point::new(reach(0, sign), reach(1, sign), reach(2, sign));
        (corner(-1.0), corner(1.0))
    }
}

impl SupportMap for Drum {
    fn local_support_point(&self, direction: Fast) -> Fast {
        fast(self.farthest(&Vector::new(direction.x, direction.y, direction.z)))
    }
}
