//! [`Readings`]: what was measured of a tube, as rows of a least-squares problem.
//!
//! With a piece's line through its vertices A and B, d its direction, w = P − A,
//! t = w·d/|AB| and q = w − (w·d)·d the way from the line to a point P, a direction n
//! square to d has n·∂q = −n·((1 − t)·∂A + t·∂B). A point of the centerline reads both
//! coordinates of q as 0; a point of the outside reads |q| as the radius; a joint's
//! middle reads its vertex.

use super::Spot;
use super::end::EndReading;
use crate::geometry::{Direction, Point, Vector, perpendicular};
use crate::survey::adjust::Model;
use nalgebra::{DMatrix, DVector};
use std::ops::Range;

/// Rows of an end.
const END_ROWS: usize = 5;

/// What a point was touched on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum On {
    /// A vertex of the polyline.
    Vertex(usize),
    /// The axis of a piece.
    Axis(usize),
    /// The outside of a piece.
    Outside(usize),
}

/// A point that was touched.
#[derive(Clone, Copy, Debug)]
pub(super) struct TouchedPoint {
    pub(super) spot: Spot,
    pub(super) at: Point,
    pub(super) on: On,
}

impl TouchedPoint {
    const fn rows(&self) -> usize {
        match self.on {
            On::Vertex(_) => 3,
            On::Axis(_) => 2,
            On::Outside(_) => 1,
        }
    }

    /// The piece that it lies along.
    pub(super) const fn piece(&self) -> Option<usize> {
        match self.on {
            On::Vertex(_) => None,
            On::Axis(piece) | On::Outside(piece) => Some(piece),
        }
    }
}

/// A tube's ends and touched points; unknown are its vertices, three numbers each.
#[derive(Clone, Debug)]
pub(super) struct Readings {
    /// Both ends; their rows come first, because they may be the firmest by far.
    pub(super) ends: [EndReading; 2],
    pub(super) points: Vec<TouchedPoint>,
    /// Outside radius, mm.
    pub(super) radius: f64,
    /// Whether the radius is one more unknown: how much greater it is than given.
    pub(super) is_radius_free: bool,
    /// Deviation of a point, mm a coordinate.
    pub(super) sigma: f64,
    /// Vertices, both faces among them.
    pub(super) vertices: usize,
    /// Where the unknowns are counted from, so that they keep their digits.
    pub(super) origin: Point,
}

/// A point against a line.
struct OffLine {
    /// From the line to the point.
    q: Vector,
    /// Along the line.
    direction: Vector,
    /// Where along it: 0 at A, 1 at B.
    part: f64,
}

fn off_line(point: &Point, a: &Point, b: &Point) -> OffLine {
    let edge = b - a;
    let length = edge.norm().max(f64::MIN_POSITIVE);
    let direction = edge / length;
    let w = point - a;
    let along = w.dot(&direction);
    OffLine {
        q: w - direction * along,
        direction,
        part: along / length,
    }
}

impl Readings {
    /// The vertices that unknowns stand for.
    pub(super) fn unpack(&self, x: &DVector<f64>) -> Vec<Point> {
        let vertex = |i: usize| self.origin + Vector::new(x[3 * i], x[3 * i + 1], x[3 * i + 2]);
        (0..self.vertices).map(vertex).collect()
    }

    /// Unknowns that stand for vertices.
    pub(super) fn pack(&self, vertices: &[Point]) -> DVector<f64> {
        DVector::from_fn(3 * self.vertices, |i, _| {
            vertices[i / 3][i % 3] - self.origin[i % 3]
        })
    }

    /// Rows of an end.
    pub(super) const fn rows_of_end(end: usize) -> Range<usize> {
        END_ROWS * end..END_ROWS * (end + 1)
    }

    /// Rows of each point.
    pub(super) fn rows_of_points(&self) -> Vec<Range<usize>> {
        let mut from = 2 * END_ROWS;
        let rows = self.points.iter().map(|point| {
            let rows = from..from + point.rows();
            from = rows.end;
            rows
        });
        rows.collect()
    }

    /// How far a point is off the tube through `vertices`, mm: from its joint, from its
    /// piece's line, or from its piece's outside (negative within).
    pub(super) fn off(&self, point: &TouchedPoint, vertices: &[Point]) -> f64 {
        let from_line = |piece: usize| {
            off_line(&point.at, &vertices[piece], &vertices[piece + 1])
                .q
                .norm()
        };
        match point.on {
            On::Vertex(vertex) => (vertices[vertex] - point.at).norm(),
            On::Axis(piece) => from_line(piece),
            On::Outside(piece) => from_line(piece) - self.radius,
        }
    }
}

impl Model for Readings {
    fn unknowns(&self) -> usize {
        3 * self.vertices + usize::from(self.is_radius_free)
    }

    fn rows(&self) -> usize {
        2 * END_ROWS + self.points.iter().map(TouchedPoint::rows).sum::<usize>()
    }

    fn evaluate(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
        let vertices = self.unpack(x);
        let mut left = DVector::zeros(self.rows());
        let mut slopes = DMatrix::zeros(self.rows(), self.unknowns());
        let last = self.vertices - 1;
        for (end, [face, next]) in [[0, 1], [last, last - 1]].into_iter().enumerate() {
            let (off, by) = self.ends[end].evaluate(&vertices[face], &vertices[next]);
            let row = END_ROWS * end;
            left.rows_mut(row, END_ROWS).copy_from(&off);
            for (vertex, by) in [face, next].into_iter().zip(by) {
                slopes
                    .view_mut((row, 3 * vertex), (END_ROWS, 3))
                    .copy_from(&by);
            }
        }
        for (point, rows) in self.points.iter().zip(self.rows_of_points()) {
            self.evaluate_point(point, &vertices, rows.start, &mut left, &mut slopes);
            if self.is_radius_free && matches!(point.on, On::Outside(_)) {
                left[rows.start] -= x[3 * self.vertices] / self.sigma;
                slopes[(rows.start, 3 * self.vertices)] = -1.0 / self.sigma;
            }
        }
        (left, slopes)
    }
}

impl Readings {
    fn evaluate_point(
        &self,
        point: &TouchedPoint,
        vertices: &[Point],
        row: usize,
        left: &mut DVector<f64>,
        slopes: &mut DMatrix<f64>,
    ) {
        let weight = 1.0 / self.sigma;
        let (piece, is_axis) = match point.on {
            On::Vertex(vertex) => {
                for i in 0..3 {
                    left[row + i] = (vertices[vertex][i] - point.at[i]) * weight;
                    slopes[(row + i, 3 * vertex + i)] = weight;
                }
                return;
            }
            On::Axis(piece) => (piece, true),
            On::Outside(piece) => (piece, false),
        };
        let off = off_line(&point.at, &vertices[piece], &vertices[piece + 1]);
        let mut put = |row: usize, value: f64, n: &Vector| {
            left[row] = value * weight;
            for i in 0..3 {
                slopes[(row, 3 * piece + i)] = -n[i] * (1.0 - off.part) * weight;
                slopes[(row, 3 * (piece + 1) + i)] = -n[i] * off.part * weight;
            }
        };
        let distance = off.q.norm();
        if is_axis {
            // The frame turns with the line, which its slopes leave out: that only turns
            // the two numbers into each other and changes neither their squares nor
            // the slopes of these.
            let first = perpendicular(&Direction::new_unchecked(off.direction)).into_inner();
            let second = off.direction.cross(&first);
            put(row, off.q.dot(&first), &first);
            put(row + 1, off.q.dot(&second), &second);
        } else {
            let n = off.q / distance.max(f64::MIN_POSITIVE);
            put(row, distance - self.radius, &n);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Scatter;
    use crate::survey::trace::TubeEnd;
    use crate::units::{Angle, Length};

    /// A bent tube of three joints, with points of every kind near it.
    fn readings() -> (Readings, DVector<f64>) {
        let vertices = [
            [0.0, 0.0, 0.0],
            [1.0, -2.0, 80.0],
            [40.0, 5.0, 130.0],
            [90.0, 30.0, 150.0],
            [180.0, 40.0, 155.0],
        ]
        .map(Point::from);
        let end = |center: Point, outward: Vector| {
            let outward = Direction::new_normalize(outward);
            let scatter = Scatter::even(Length::from_mm(0.4), Angle::from_degrees(0.3), &outward);
            EndReading::new(TubeEnd {
                center,
                outward,
                scatter,
            })
        };
        let touched = |on, at: [f64; 3]| TouchedPoint {
            spot: Spot::Center(0),
            at: Point::from(at),
            on,
        };
        let readings = Readings {
            ends: [
                end(Point::new(0.3, -0.2, 0.5), Vector::new(0.02, 0.01, 1.0)),
                end(Point::new(181.0, 40.0, 155.0), Vector::new(-1.0, 0.1, 0.02)),
            ],
            points: vec![
                touched(On::Vertex(2), [41.0, 4.0, 131.0]),
                touched(On::Axis(0), [3.0, -1.0, 30.0]),
                touched(On::Axis(2), [66.0, 20.0, 145.0]),
                touched(On::Outside(1), [45.0, 10.0, 90.0]),
                touched(On::Outside(3), [120.0, 5.0, 160.0]),
            ],
            radius: 30.0,
            is_radius_free: true,
            sigma: 0.5,
            vertices: 5,
            origin: Point::new(10.0, 0.0, 5.0),
        };
        let x = readings.pack(&vertices).push(0.7);
        (readings, x)
    }

    #[test]
    fn slopes_are_those_of_differences() {
        let (readings, x) = readings();
        let (left, slopes) = readings.evaluate(&x);
        let squares = |x: &DVector<f64>| readings.evaluate(x).0.norm_squared() / 2.0;
        let gradient = slopes.transpose() * &left;
        let framed: Vec<usize> = (0..readings.points.len())
            .filter(|&i| matches!(readings.points[i].on, On::Axis(_)))
            .flat_map(|i| readings.rows_of_points()[i].clone())
            .collect();
        let step = 1e-5;
        for i in 0..x.len() {
            let moved = |by: f64| {
                let mut x = x.clone();
                x[i] += by;
                x
            };
            let (ahead, back) = (moved(step), moved(-step));
            let by_difference = (squares(&ahead) - squares(&back)) / (2.0 * step);
            let scale = by_difference.abs().max(1.0);
            assert!(
                (gradient[i] - by_difference).abs() < 1e-4 * scale,
                "{i}: {} {by_difference}",
                gradient[i]
            );
            let rows = (readings.evaluate(&ahead).0 - readings.evaluate(&back).0) / (2.0 * step);
            for row in (0..rows.len()).filter(|row| !framed.contains(row)) {
                let scale = rows[row].abs().max(1.0);
                assert!(
                    (slopes[(row, i)] - rows[row]).abs() < 1e-6 * scale,
                    "row {row}, unknown {i}"
                );
            }
        }
    }
}
