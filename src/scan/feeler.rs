//! [`Feeler`]: says cheaply how far away from a body something is at least.
//!
//! From a place in the body toward the middle of the thing, a plane square to the way
//! there is pushed out as far as the body reaches: what the thing keeps ahead of it, it
//! keeps from the body. From the body's place nearest to the thing this is the distance,
//! nearly; a few steps of Frank and Wolfe (1956) come near that place.

use super::Convex;
use super::convex::Supported;
use super::fast::{box_distance, fast};
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector as Fast;
use parry3d_f64::shape::{SupportMap, Triangle};

/// Planes tried; more cost more than they save.
const STEPS: u32 = 3;
/// Progress, in parts of the way there, below which a step is the last.
const LEAST_PROGRESS: f64 = 0.01;

/// A body and what is known of it.
pub(super) struct Feeler<'a, B> {
    body: Supported<'a, B>,
    start: Fast,
    along: Fast,
    /// One through the square of the length along; zero where that is zero.
    inverse_square: f64,
    /// Greatest distance of its places from its spine.
    radius: f64,
    bounds: Aabb,
}

impl<'a, B: Convex> Feeler<'a, B> {
    pub(super) fn of(body: &'a B) -> Self {
        let (spine, radius) = body.spine();
        let [start, end] = spine.map(fast);
        let square = (end - start).length_squared();
        let (min, max) = body.bounds();
        Self {
            body: Supported(body),
            start,
            along: end - start,
            inverse_square: if square > 0.0 { square.recip() } else { 0.0 },
            radius,
            bounds: Aabb::new(fast(min), fast(max)),
        }
    }

    /// The body's middle.
    pub(super) fn middle(&self) -> Fast {
        self.start + self.along * 0.5
    }

    /// No more than the distance from the body to anything in a box; looks no closer than
    /// to know that it is `enough`. Where it may be zero, less than zero tells how deep
    /// the box lies: whoever looks there first soon finds where they cross.
    pub(super) fn to_box(&self, aabb: &Aabb, enough: f64) -> f64 {
        let by_boxes = box_distance(aabb, &self.bounds);
        if by_boxes >= enough {
            return by_boxes;
        }
        let (middle, half) = (aabb.center(), aabb.half_extents());
        let ahead = self.ahead(middle, half.min_element(), enough, |away| {
            away.abs().dot(half)
        });
        if by_boxes > 0.0 {
            ahead.max(by_boxes)
        } else {
            ahead
        }
    }

    /// No more than the distance from the body to a triangle, in the same way.
    pub(super) fn to_triangle(&self, triangle: &Triangle, enough: f64) -> f64 {
        let middle = triangle.center();
        let [a, b, c] = [triangle.a, triangle.b, triangle.c].map(|corner| middle - corner);
        self.ahead(middle, 0.0, enough, |away| {
            a.dot(away).max(b.dot(away)).max(c.dot(away))
        })
    }

    /// How far something stays ahead of the body, by the best plane found: `lag` tells how
    /// far behind its `middle` its hindmost place is, times the length of a direction;
    /// `thin` is the least that can be.
    fn ahead(&self, middle: Fast, thin: f64, enough: f64, lag: impl Fn(Fast) -> f64) -> f64 {
        let part = self.along.dot(middle - self.start) * self.inverse_square;
        let mut from = self.start + self.along * part.clamp(0.0, 1.0);
        let away = middle - from;
        let distance = away.length();
        if distance <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let mut best = distance - lag(away) / distance - self.radius;
        // The body's axis is in it: no plane finds more than the way from there.
        if best >= enough || self.radius <= 0.0 || distance - thin < enough {
            return best;
        }
        for _ in 0..STEPS {
            let away = middle - from;
            let square = away.length_squared();
            if square <= 0.0 {
                break;
            }
            let tip = self.body.local_support_point(away);
            let ahead = ((middle - tip).dot(away) - lag(away)) / square.sqrt();
            best = best.max(ahead);
            let step = tip - from;
            let progress = step.dot(away);
            if best >= enough || progress <= LEAST_PROGRESS * square {
                break;
            }
            from += step * (progress / step.length_squared()).min(1.0);
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Point, Vector};
    use crate::scan::{Drum, Ellipse};
    use parry3d_f64::query::PointQuery;
    use proptest::prelude::*;

    fn vector() -> impl Strategy<Value = Vector> {
        prop::array::uniform3(-4.0..4.0).prop_map(Vector::from)
    }

    fn ellipse() -> impl Strategy<Value = Ellipse> {
        let thin = prop_oneof![Just(Vector::zeros()), vector()];
        (vector(), thin, vector(), 0.0..1.0).prop_map(|(center, a, b, size)| Ellipse {
            center: Point::from(center * 3.0),
            half: [a * size, b * size],
        })
    }

    /// Places of an ellipse's rim; with those of the other one's they span the body.
    fn rim(ellipse: &Ellipse) -> impl Iterator<Item = Fast> {
        (0..16).map(|i| {
            let (sin, cos) = (f64::from(i) * std::f64::consts::TAU / 16.0).sin_cos();
            fast(ellipse.center + ellipse.half[0] * cos + ellipse.half[1] * sin)
        })
    }

    proptest! {
        #[test]
        fn nothing_is_nearer_than_said(
            ends in prop::array::uniform2(ellipse()),
            corner in vector(),
            size in vector(),
            enough in 0.0..30.0,
        ) {
            let body = Drum { ends };
            let feeler = Feeler::of(&body);
            let (low, high) = (corner * 4.0, corner * 4.0 + size.abs());
            let aabb = Aabb::new(fast(low.into()), fast(high.into()));
            let whole = aabb.mins.with_z(aabb.maxs.z);
            let triangle = Triangle::new(aabb.mins, aabb.maxs, whole);
            let (to_box, to_triangle) =
                (feeler.to_box(&aabb, enough), feeler.to_triangle(&triangle, enough));
            for p in rim(&ends[0]) {
                for q in rim(&ends[1]) {
                    for k in 0..=8 {
                        let place = p.lerp(q, f64::from(k) / 8.0);
                        let near = aabb.distance_to_local_point(place, true);
                        prop_assert!(to_box <= near + 1e-9, "{to_box} {near}");
                        let near = triangle.distance_to_local_point(place, true);
                        prop_assert!(to_triangle <= near + 1e-9, "{to_triangle} {near}");
                    }
                }
            }
        }
    }
}
