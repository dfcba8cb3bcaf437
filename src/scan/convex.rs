//! [`Convex`]: a convex body as distances need it: its farthest place in any direction.

use super::Drum;
use super::fast::{fast, plain};
use crate::geometry::{Point, Vector};
use parry3d_f64::math::{Pose, Vector as Fast};
use parry3d_f64::query::gjk::{self, CsoPoint, GJKResult, VoronoiSimplex};
use parry3d_f64::shape::SupportMap;

/// A bounded convex body.
pub trait Convex {
    /// The place farthest along `direction`, which may have any length but zero.
    fn farthest(&self, direction: &Vector) -> Point;

    /// Center and radius, mm, of a ball that holds it.
    fn ball(&self) -> (Point, f64);

    /// A segment within it, and the greatest distance, mm, of its places from there.
    fn spine(&self) -> ([Point; 2], f64) {
        let (middle, reach) = self.ball();
        ([middle; 2], reach)
    }

    /// Its ends if it is a segment: those are measured in closed form.
    fn as_segment(&self) -> Option<[Point; 2]> {
        None
    }

    /// Least and greatest coordinates.
    fn bounds(&self) -> (Point, Point) {
        let reach = |axis: usize, sign: f64| {
            let mut direction = Vector::zeros();
            direction[axis] = sign;
            self.farthest(&direction)[axis]
        };
        let corner = |sign| Point::new(reach(0, sign), reach(1, sign), reach(2, sign));
        (corner(-1.0), corner(1.0))
    }
}

impl Convex for Drum {
    fn farthest(&self, direction: &Vector) -> Point {
        Self::farthest(self, direction)
    }

    fn ball(&self) -> (Point, f64) {
        Self::ball(self)
    }

    fn spine(&self) -> ([Point; 2], f64) {
        Self::spine(self)
    }

    fn as_segment(&self) -> Option<[Point; 2]> {
        Self::as_segment(self)
    }
}

/// A triangle, by its corners.
impl Convex for [Point; 3] {
    fn farthest(&self, direction: &Vector) -> Point {
        let [a, b, c] = self;
        let along = |p: &Point| p.coords.dot(direction);
        let ab = if along(b) > along(a) { b } else { a };
        *if along(c) > along(ab) { c } else { ab }
    }

    fn ball(&self) -> (Point, f64) {
        let [a, b, c] = self.map(|p| p.coords);
        let middle = Point::from((a + b + c) / 3.0);
        let reach = self.iter().map(|p| (p - middle).norm());
        (middle, reach.fold(0.0, f64::max))
    }
}

/// Where two convex bodies come nearest to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// Distance, mm; zero where they touch or overlap.
    pub distance: f64,
    /// The place on the first; where they overlap, some place near.
    pub on_first: Point,
    /// The place on the second; where they overlap, some place near.
    pub on_second: Point,
}

/// Where two bodies come nearest, to 5e-8 of their distance, by GJK.
pub fn gap(first: &impl Convex, second: &impl Convex) -> Gap {
    let (here, there) = (first.ball().0, second.ball().0);
    let toward = fast(there) - fast(here);
    match closest(&Supported(first), &Supported(second), toward, f64::INFINITY) {
        Closest::Apart([a, b]) => Gap {
            distance: a.distance(b),
            on_first: plain(a),
            on_second: plain(b),
        },
        // Nothing is too far for it.
        Closest::Crossing | Closest::Far => {
            let middle = nalgebra::center(&here, &there);
            Gap {
                distance: 0.0,
                on_first: middle,
                on_second: middle,
            }
        }
    }
}

/// How two bodies lie to each other.
pub(super) enum Closest {
    /// Apart or touching, nearest at these places.
    Apart([Fast; 2]),
    /// One in the other.
    Crossing,
    /// Farther than was asked.
    Far,
}

/// Where two bodies come nearest, if nearer than `within`; `toward` leads about from the
/// first to the second.
pub(super) fn closest(
    first: &impl SupportMap,
    second: &impl SupportMap,
    toward: Fast,
    within: f64,
) -> Closest {
    let toward = toward.try_normalize().unwrap_or(Fast::X);
    let mut simplex = VoronoiSimplex::new();
    simplex.reset(CsoPoint::new(
        first.local_support_point(toward),
        second.local_support_point(-toward),
    ));
    match gjk::closest_points(&Pose::IDENTITY, first, second, within, true, &mut simplex) {
        GJKResult::ClosestPoints(a, b, _) => Closest::Apart([a, b]),
        GJKResult::Intersection => Closest::Crossing,
        GJKResult::Proximity(_) | GJKResult::NoIntersection(_) => Closest::Far,
    }
}

/// A body as the GJK has it.
pub(super) struct Supported<'a, B: ?Sized>(pub(super) &'a B);

impl<B: Convex + ?Sized> SupportMap for Supported<'_, B> {
    fn local_support_point(&self, direction: Fast) -> Fast {
        let direction = Vector::new(direction.x, direction.y, direction.z);
        fast(self.0.farthest(&direction))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn triangle(z: f64) -> [Point; 3] {
        [[0.0, 0.0, z], [4.0, 0.0, z], [0.0, 4.0, z]].map(Point::from)
    }

    #[test]
    fn triangles_are_as_far_apart_as_their_planes() {
        let found = gap(&triangle(0.0), &triangle(3.0));
        assert!((found.distance - 3.0).abs() < 1e-6, "{found:?}");
        assert_eq!(gap(&triangle(0.0), &triangle(0.0)).distance, 0.0);
    }

    #[test]
    fn a_triangle_reaches_its_corners() {
        assert_eq!(triangle(1.0).bounds().1, Point::new(4.0, 4.0, 1.0));
        let (center, radius) = triangle(0.0).ball();
        let holds = |corner: &Point| (corner - center).norm() <= radius + 1e-12;
        assert!(triangle(0.0).iter().all(holds));
    }
}
