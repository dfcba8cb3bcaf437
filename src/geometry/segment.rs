//! [`Segment`]: a straight stretch, and how near two of them come.

use super::{Direction, Point, Vector};
use crate::units::Length;

/// A straight stretch from one point to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    /// Upstream end.
    pub start: Point,
    /// Downstream end.
    pub end: Point,
}

/// Where two segments come nearest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClosestPoints {
    /// On the first segment.
    pub first: Point,
    /// On the second segment.
    pub second: Point,
}

impl ClosestPoints {
    /// Distance between the two points.
    pub fn distance(&self) -> Length {
        Length::from_mm((self.second - self.first).norm())
    }
}

impl Segment {
    /// From start to end.
    pub fn vector(&self) -> Vector {
        self.end - self.start
    }

    /// Length of the segment.
    pub fn length(&self) -> Length {
        Length::from_mm(self.vector().norm())
    }

    /// Direction from start to end; `None` for a segment without length.
    pub fn direction(&self) -> Option<Direction> {
        Direction::try_new(self.vector(), f64::MIN_POSITIVE)
    }

    /// The place nearest to `point`.
    pub fn closest_to(&self, point: &Point) -> Point {
        let vector = self.vector();
        let along = vector.dot(&(point - self.start));
        let part = along / vector.norm_squared().max(f64::MIN_POSITIVE);
        self.start + vector * part.clamp(0.0, 1.0)
    }

    /// The nearest pair of points of two segments.
    ///
    /// Closed form with clamping; exact but for rounding, also for parallel or
    /// zero-length segments. Source: Ericson, *Real-Time Collision Detection*
    /// (2005), section 5.1.9 (from memory).
    pub fn closest_points(&self, other: &Self) -> ClosestPoints {
        let (d1, d2) = (self.vector(), other.vector());
        let between = self.start - other.start;
        let (a, e, f) = (d1.norm_squared(), d2.norm_squared(), d2.dot(&between));
        let (mut s, t);
        if a == 0.0 && e == 0.0 {
            (s, t) = (0.0, 0.0);
        } else if a == 0.0 {
            (s, t) = (0.0, (f / e).clamp(0.0, 1.0));
        } else {
            let c = d1.dot(&between);
            if e == 0.0 {
                (s, t) = ((-c / a).clamp(0.0, 1.0), 0.0);
            } else {
                let b = d1.dot(&d2);
                let denominator = a * e - b * b;
                s = if denominator > 0.0 {
                    ((b * f - c * e) / denominator).clamp(0.0, 1.0)
                } else {
                    0.0
                };
                let unclamped = (b * s + f) / e;
                t = unclamped.clamp(0.0, 1.0);
                if t != unclamped {
                    s = ((b * t - c) / a).clamp(0.0, 1.0);
                }
            }
        }
        ClosestPoints {
            first: self.start + d1 * s,
            second: other.start + d2 * t,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn segment(a: [f64; 3], b: [f64; 3]) -> Segment {
        Segment {
            start: Point::from(a),
            end: Point::from(b),
        }
    }

    fn point() -> impl Strategy<Value = [f64; 3]> {
        // Whole numbers make parallel, touching and zero-length cases common.
        prop::array::uniform3((-4_i8..=4).prop_map(f64::from))
    }

    #[test]
    fn crossing_segments_touch() {
        let first = segment([-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]);
        let second = segment([0.0, -1.0, 2.0], [0.0, 1.0, 2.0]);
        assert_eq!(
            first.closest_points(&second).distance(),
            Length::from_mm(2.0)
        );
    }

    proptest! {
        #[test]
        fn no_sampled_pair_is_nearer(a in point(), b in point(), c in point(), d in point()) {
            let (first, second) = (segment(a, b), segment(c, d));
            let found = first.closest_points(&second).distance().mm();
            for i in 0..=20 {
                for j in 0..=20 {
                    let p = first.start + first.vector() * (f64::from(i) / 20.0);
                    let q = second.start + second.vector() * (f64::from(j) / 20.0);
                    prop_assert!(found <= (q - p).norm() + 1e-12);
                }
            }
        }

        #[test]
        fn distance_is_symmetric(a in point(), b in point(), c in point(), d in point()) {
            let (first, second) = (segment(a, b), segment(c, d));
            let there = first.closest_points(&second).distance().mm();
            let back = second.closest_points(&first).distance().mm();
            prop_assert!((there - back).abs() < 1e-12);
        }
    }
}
