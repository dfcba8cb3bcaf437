//! [`stitch`]: where a triangle and a segment come nearest, in closed form.

use parry3d_f64::math::Vector as Fast;
use parry3d_f64::query::PointQuery;
use parry3d_f64::shape::Triangle;

/// The nearest places of a triangle and a segment, on each of them.
///
/// Where they do not cross, an end of the segment is nearest, or a side of the triangle.
pub(super) fn stitch(triangle: &Triangle, segment: [Fast; 2]) -> [Fast; 2] {
    if let Some(place) = crossing(triangle, segment) {
        return [place, place];
    }
    let [a, b, c] = [triangle.a, triangle.b, triangle.c];
    let ends = segment.map(|end| [triangle.project_local_point(end, true).point, end]);
    let sides = [[a, b], [b, c], [c, a]].map(|side| nearest(side, segment));
    let square = |[on, off]: &[Fast; 2]| on.distance_squared(*off);
    let mut best = ends[0];
    for pair in ends.into_iter().skip(1).chain(sides) {
        if square(&pair) < square(&best) {
            best = pair;
        }
    }
    best
}

/// Where a segment goes through a triangle; `None` too if it lies in its plane, where it
/// meets a side.
fn crossing(triangle: &Triangle, [start, end]: [Fast; 2]) -> Option<Fast> {
    let [ab, ac] = [triangle.b - triangle.a, triangle.c - triangle.a];
    let normal = ab.cross(ac);
    let along = end - start;
    let (height, fall) = (normal.dot(start - triangle.a), -normal.dot(along));
    // Compared like this, no numbers also means no crossing.
    if !(fall != 0.0 && (0.0..=1.0).contains(&(height / fall))) {
        return None;
    }
    let place = start + along * (height / fall);
    let ap = place - triangle.a;
    let square = normal.length_squared();
    let v = ap.cross(ac).dot(normal) / square;
    let w = ab.cross(ap).dot(normal) / square;
    (v >= 0.0 && w >= 0.0 && v + w <= 1.0).then_some(place)
}

/// The nearest places of two segments. Closed form with clamping; exact but for rounding,
/// also where they are parallel or have no length. Source: as in
/// [`crate::geometry::Segment::closest_points`], in the index's vectors for speed.
fn nearest(first: [Fast; 2], second: [Fast; 2]) -> [Fast; 2] {
    let (along, beside) = (first[1] - first[0], second[1] - second[0]);
    let between = first[0] - second[0];
    let (a, e) = (along.length_squared(), beside.length_squared());
    let (b, c, f) = (along.dot(beside), along.dot(between), beside.dot(between));
    let part = |over: f64, under: f64| {
        if under > 0.0 {
            (over / under).clamp(0.0, 1.0)
        } else {
            0.0
        }
    };
    let mut s = part(b * f - c * e, a * e - b * b);
    let t = part(b * s + f, e);
    // Again from there: it changes nothing but where the second was clamped.
    s = part(b * t - c, a);
    [first[0] + along * s, second[0] + beside * t]
}
