//! What of a drawing lies in a rectangle: one tile of it.
//!
//! Lines and curves are cut exactly where they cross the border. Words and dots are there
//! whole or not at all; where a drawing is cut into tiles, neighbors overlap, and each
//! word keeps off the lines at which they join.

use super::area::Area;
use super::drawing::{Drawing, Item, Shape};
use super::path::{Path, Segment};
use crate::tube::{Curve, FlatPoint};

/// Halvings that find where a curve crosses a border: a part of 10⁻¹⁵ of it.
const HALVINGS: u32 = 50;

impl Drawing {
    /// The part of it inside `window`.
    pub fn clipped(&self, window: &Area) -> Self {
        let mut clipped = Self::default();
        for item in &self.items().to_vec() {
            if let Some(shape) = inside(&item.shape, window) {
                clipped.push(Item {
                    shape,
                    ..item.clone()
                });
            }
        }
        clipped
    }
}

fn inside(shape: &Shape, window: &Area) -> Option<Shape> {
    if window.holds(&shape.area()) {
        return Some(shape.clone());
    }
    match shape {
        Shape::Line(ends, pen) => {
            let (from, to) = line_inside(ends, window)?;
            let at = |part: f64| between(ends, part);
            Some(Shape::Line([at(from), at(to)], *pen))
        }
        Shape::Path(path, pen) => {
            let path = path_inside(path, window);
            (!path.steps().is_empty()).then_some(Shape::Path(path, *pen))
        }
        Shape::Dot(..) | Shape::Text(_) => None,
    }
}

fn path_inside(path: &Path, window: &Area) -> Path {
    let mut inside = Path::default();
    for stroke in path.strokes() {
        let mut pen: Option<FlatPoint> = None;
        for segment in stroke {
            for part in segment_inside(&segment, window) {
                if pen != Some(part.start()) {
                    inside.move_to(part.start());
                }
                pen = Some(match part {
                    Segment::Line([_, to]) => {
                        inside.line_to(to);
                        to
                    }
                    Segment::Cubic([_, a, b, to]) => {
                        inside.cubic_to([a, b, to]);
                        to
                    }
                });
            }
        }
    }
    inside
}

fn segment_inside(segment: &Segment, window: &Area) -> Vec<Segment> {
    match segment {
        Segment::Line(ends) => {
            let part = line_inside(ends, window);
            let part = part.map(|(from, to)| [between(ends, from), between(ends, to)]);
            part.map(Segment::Line).into_iter().collect()
        }
        Segment::Cubic(curve) => cubic_inside(curve, window)
            .into_iter()
            .map(Segment::Cubic)
            .collect(),
    }
}

/// The point at a part of a line: exactly its ends at 0 and 1.
fn between(&[from, to]: &[FlatPoint; 2], part: f64) -> FlatPoint {
    if part >= 1.0 {
        return to;
    }
    [0, 1].map(|i| from[i] + (to[i] - from[i]) * part)
}

/// From which part of a line to which it is inside (Liang and Barsky).
fn line_inside(&[from, to]: &[FlatPoint; 2], window: &Area) -> Option<(f64, f64)> {
    let sides = [(window.left, window.right), (window.low, window.high)];
    let mut range = (0.0_f64, 1.0_f64);
    for (i, (least, most)) in sides.into_iter().enumerate() {
        let along = to[i] - from[i];
        if along == 0.0 {
            if from[i] < least || from[i] > most {
                return None;
            }
            continue;
        }
        let (a, b) = ((least - from[i]) / along, (most - from[i]) / along);
        range = (range.0.max(a.min(b)), range.1.min(a.max(b)));
    }
    (range.0 < range.1).then_some(range)
}

/// The parts of a curve that are inside.
fn cubic_inside(curve: &Curve, window: &Area) -> Vec<Curve> {
    let mut cuts = vec![0.0, 1.0];
    for (i, levels) in [[window.left, window.right], [window.low, window.high]]
        .into_iter()
        .enumerate()
    {
        let values = curve.map(|point| point[i]);
        for level in levels {
            cuts.extend(crossings(values, level));
        }
    }
    cuts.sort_by(f64::total_cmp);
    cuts.dedup();
    let mut parts: Vec<(f64, f64)> = Vec::new();
    for pair in cuts.windows(2) {
        let middle = point_at(curve, (pair[0] + pair[1]) / 2.0);
        if !window.holds_point(middle) {
            continue;
        }
        match parts.last_mut() {
            Some((_, end)) if *end == pair[0] => *end = pair[1],
            _ => parts.push((pair[0], pair[1])),
        }
    }
    let part = |&(from, to): &(f64, f64)| part_of(curve, from, to);
    parts.iter().map(part).collect()
}

/// Where a cubic polynomial in Bézier form takes a value, strictly between 0 and 1.
fn crossings(values: [f64; 4], level: f64) -> Vec<f64> {
    let at = |t: f64| value_at(values, t) - level;
    let mut knots = vec![0.0];
    knots.extend(turns(values));
    knots.push(1.0);
    let mut found = Vec::new();
    for pair in knots.windows(2) {
        let (mut low, mut high) = (pair[0], pair[1]);
        let (a, b) = (at(low), at(high));
        if a == 0.0 {
            found.push(low);
        }
        if a * b >= 0.0 || a.is_nan() || b.is_nan() {
            continue;
        }
        for _ in 0..HALVINGS {
            let middle = (low + high) / 2.0;
            if at(middle) * a > 0.0 {
                low = middle;
            } else {
                high = middle;
            }
        }
        found.push((low + high) / 2.0);
    }
    found.retain(|t| *t > 0.0 && *t < 1.0);
    found
}

/// Where its slope is nothing, rising.
fn turns([p, q, r, s]: [f64; 4]) -> Vec<f64> {
    // A quarter of the slope: a·t² + b·t + c.
    let (c, d, e) = (q - p, r - q, s - r);
    let (a, b) = (c - 2.0 * d + e, 2.0 * (d - c));
    let mut found = Vec::new();
    let root = (b * b - 4.0 * a * c).sqrt();
    if root.is_nan() {
        return found;
    }
    // The form that does not cancel; infinities and NaN fall out below.
    let far = -0.5 * (b + root.copysign(b));
    found.extend([far / a, c / far]);
    found.retain(|t: &f64| *t > 0.0 && *t < 1.0);
    found.sort_by(f64::total_cmp);
    found
}

fn value_at([p, q, r, s]: [f64; 4], t: f64) -> f64 {
    let u = 1.0 - t;
    u * u * u * p + 3.0 * u * u * t * q + 3.0 * u * t * t * r + t * t * t * s
}

fn point_at(curve: &Curve, t: f64) -> FlatPoint {
    [0, 1].map(|i| value_at(curve.map(|point| point[i]), t))
}

/// The stretch of a curve between two of its parts: polar forms.
fn part_of(curve: &Curve, from: f64, to: f64) -> Curve {
    if from == 0.0 && to == 1.0 {
        return *curve;
    }
    let blend = |a: FlatPoint, b: FlatPoint, t: f64| [0, 1].map(|i| a[i] + (b[i] - a[i]) * t);
    let polar = |r: f64, s: f64, t: f64| {
        let [a, b, c, d] = *curve;
        let first = [blend(a, b, r), blend(b, c, r), blend(c, d, r)];
        let second = [blend(first[0], first[1], s), blend(first[1], first[2], s)];
        blend(second[0], second[1], t)
    };
    let mut part = [
        polar(from, from, from),
        polar(from, from, to),
        polar(from, to, to),
        polar(to, to, to),
    ];
    // The curve's own ends, exactly, so that strokes stay in one piece.
    if from == 0.0 {
        part[0] = curve[0];
    }
    if to == 1.0 {
        part[3] = curve[3];
    }
    part
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::export::flat::{Layer, Pen};
    use proptest::prelude::*;

    const WINDOW: Area = Area {
        left: 0.0,
        right: 10.0,
        low: 0.0,
        high: 10.0,
    };

    #[test]
    fn a_line_ends_at_the_border() {
        let mut drawing = Drawing::default();
        drawing.line(Layer::Cut, Pen::CUT, [[-5.0, 5.0], [15.0, 5.0]]);
        drawing.line(Layer::Cut, Pen::CUT, [[-5.0, 15.0], [15.0, 15.0]]);
        let clipped = drawing.clipped(&WINDOW);
        let ends: Vec<_> = clipped.items().iter().map(|item| &item.shape).collect();
        assert_eq!(ends, [&Shape::Line([[0.0, 5.0], [10.0, 5.0]], Pen::CUT)]);
    }

    #[test]
    fn a_path_keeps_its_strokes() {
        // A square round the corner of the window.
        let corners = [[5.0, 5.0], [15.0, 5.0], [15.0, 15.0], [5.0, 15.0]];
        let path = path_inside(&Path::through(corners).closed(true), &WINDOW);
        let strokes = path.strokes();
        assert_eq!(strokes.len(), 2);
        assert_eq!(strokes[0], [Segment::Line([[5.0, 5.0], [10.0, 5.0]])]);
        assert_eq!(strokes[1], [Segment::Line([[5.0, 10.0], [5.0, 5.0]])]);
    }

    proptest! {
        #[test]
        fn parts_inside_and_out_are_the_whole_curve(
            points in prop::array::uniform4(prop::array::uniform2(-15.0..25.0_f64)),
            t in 0.0..1.0_f64,
        ) {
            let parts = cubic_inside(&points, &WINDOW);
            for part in &parts {
                for s in 0..=20 {
                    let point = point_at(part, f64::from(s) / 20.0);
                    prop_assert!(WINDOW.grown(1e-9).holds_point(point), "{point:?}");
                }
            }
            let point = point_at(&points, t);
            let near = parts.iter().flat_map(|part| {
                (0..=4000).map(|s| point_at(part, f64::from(s) / 4000.0))
            });
            let off = near.map(|q| (q[0] - point[0]).hypot(q[1] - point[1]));
            let off = off.fold(f64::INFINITY, f64::min);
            prop_assert_eq!(WINDOW.grown(-0.03).holds_point(point) && off > 0.03, false);
            prop_assert!(WINDOW.grown(0.03).holds_point(point) || off > 0.02);
        }
    }
}
