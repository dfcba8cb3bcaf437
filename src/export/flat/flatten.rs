//! Curves as polylines.

use super::path::Segment;
use crate::tube::{Curve, FlatPoint};

/// Most chords of one curve, whatever its size.
const MOST_CHORDS: f64 = 1000.0;

/// Points along segments that join, first and last included; chords lie within
/// `tolerance`, mm, of the curves.
///
/// A chord over 1/n of a curve is off by at most |B″|/(8·n²), and |B″| by at most six
/// times the greater second difference of the controls.
pub(super) fn points(stroke: &[Segment], tolerance: f64) -> Vec<FlatPoint> {
    let mut points: Vec<FlatPoint> = stroke.first().map(Segment::start).into_iter().collect();
    for segment in stroke {
        match segment {
            Segment::Line([_, to]) => points.push(*to),
            Segment::Cubic(curve) => points.extend(chords(curve, tolerance)),
        }
    }
    points
}

/// Points along a curve without its first.
fn chords(curve: &Curve, tolerance: f64) -> Vec<FlatPoint> {
    let [a, b, c, d] = *curve;
    let second = |p: FlatPoint, q: FlatPoint, r: FlatPoint| {
        (p[0] - 2.0 * q[0] + r[0]).hypot(p[1] - 2.0 * q[1] + r[1])
    };
    let bend = 6.0 * second(a, b, c).max(second(b, c, d));
    // `as` saturates, and `clamp` leaves NaN, which it makes nothing.
    let count = (bend / (8.0 * tolerance)).sqrt().ceil();
    let count = count.clamp(1.0, MOST_CHORDS).max(1.0) as u32;
    let at = |i: u32| {
        if i == count {
            return d;
        }
        let t = f64::from(i) / f64::from(count);
        let u = 1.0 - t;
        [0, 1].map(|i| {
            u * u * u * a[i] + 3.0 * u * u * t * b[i] + 3.0 * u * t * t * c[i] + t * t * t * d[i]
        })
    };
    (1..=count).map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chords_keep_the_tolerance() {
        // A quarter circle of 50 mm; the cubic itself is within 0.03 % of it.
        let k = 0.552_284_749_8 * 50.0;
        let curve = [[50.0, 0.0], [50.0, k], [k, 50.0], [0.0, 50.0]];
        for tolerance in [0.1, 0.01, 0.002] {
            let points = points(&[Segment::Cubic(curve)], tolerance);
            let sagitta = |pair: &[FlatPoint]| {
                let middle = [0, 1].map(|i| (pair[0][i] + pair[1][i]) / 2.0);
                50.0 - middle[0].hypot(middle[1])
            };
            let worst = points.windows(2).map(sagitta).fold(0.0, f64::max);
            assert!(worst < tolerance + 1e-9, "{worst} {tolerance}");
            assert!(points.len() < 200);
        }
    }

    #[test]
    fn no_number_makes_it_hang() {
        let curve = [
            [0.0, 0.0],
            [f64::NAN, 1e300],
            [f64::INFINITY, -1e300],
            [1.0, 1.0],
        ];
        for tolerance in [0.0, -1.0, f64::NAN, 1e-300] {
            assert!(points(&[Segment::Cubic(curve)], tolerance).len() <= 1001);
        }
    }
}
