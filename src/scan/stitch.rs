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

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place() -> impl Strategy<Value = Fast> {
        // Whole numbers make parallel, touching and flat cases common.
        prop::array::uniform3((-3_i8..=3).prop_map(f64::from)).prop_map(Fast::from)
    }

    fn on_triangle(triangle: &Triangle, i: u32, j: u32) -> Fast {
        let (v, w) = (f64::from(i) / 12.0, f64::from(j) / 12.0);
        triangle.a * (1.0 - v - w) + triangle.b * v + triangle.c * w
    }

    #[test]
    fn a_needle_goes_through() {
        let triangle = Triangle::new(Fast::ZERO, Fast::X * 4.0, Fast::Y * 4.0);
        let needle = [Fast::new(1.0, 1.0, -2.0), Fast::new(1.0, 1.0, 6.0)];
        assert_eq!(stitch(&triangle, needle), [Fast::new(1.0, 1.0, 0.0); 2]);
        let above = needle.map(|end| end + Fast::Z * 3.0);
        let [on, off] = stitch(&triangle, above);
        assert_eq!(off - on, Fast::Z);
    }

    proptest! {
        #[test]
        fn no_sampled_pair_is_nearer(
            corners in prop::array::uniform3(place()),
            segment in prop::array::uniform2(place()),
        ) {
            let triangle = Triangle::from(corners);
            let [on, off] = stitch(&triangle, segment);
            let found = on.distance(off);
            let here = triangle.distance_to_local_point(on, true);
            prop_assert!(here < 1e-9, "{on} is {here} off the triangle");
            let part = (off - segment[0]).length() / (segment[1] - segment[0]).length().max(1e-9);
            prop_assert!((segment[0].lerp(segment[1], part) - off).length() < 1e-9);
            for k in 0..=24 {
                let beside = segment[0].lerp(segment[1], f64::from(k) / 24.0);
                for i in 0..=12 {
                    for j in 0..=12 - i {
                        let sampled = on_triangle(&triangle, i, j).distance(beside);
                        prop_assert!(found <= sampled + 1e-9, "{found} {sampled}");
                    }
                }
            }
        }
    }
}
