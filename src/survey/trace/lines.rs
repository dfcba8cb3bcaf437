//! [`Line`]: the axis of one piece from its own points.

use super::readings::{On, TouchedPoint};
use crate::geometry::{Direction, Point, Spread, Vector, perpendicular};
use crate::survey::adjust::{Hold, Model, adjust};
use nalgebra::{DMatrix, DVector};

/// Directions over a half sphere that an axis is first looked for in: 11° apart, where
/// a piece as short as it is thick is followed from twice as far.
const DIRECTIONS: usize = 160;
/// Points that an axis is first looked for with; more tell nothing more about where to
/// begin.
const MOST_TRIED: usize = 40;
/// Steps of a circle's center toward its points.
const CIRCLE_STEPS: usize = 8;
/// Circles that are followed up as cylinders.
const FOLLOWED: usize = 40;
/// Axes that are kept for a piece.
const KEPT: usize = 6;
/// Axes nearer than this part of the radius at the points, and leaning less than it, are
/// one.
const SAME: f64 = 0.05;
/// Deviation, in radii, at which an axis from its own points tells nothing.
const LOOSE: f64 = 0.25;
/// Sine of the angle between two lines below which where they pass is not asked.
const NEARLY_PARALLEL: f64 = 0.03;

/// A line without ends.
#[derive(Clone, Copy, Debug)]
pub(in crate::survey) struct Line {
    pub(in crate::survey) point: Point,
    pub(in crate::survey) direction: Vector,
}

impl Line {
    pub(super) fn nearest_to(&self, point: &Point) -> Point {
        self.point + self.direction * self.direction.dot(&(point - self.point))
    }

    /// Where this line and another pass each other: a point of each. `None` where they
    /// are as good as parallel.
    pub(super) fn pass(&self, other: &Self) -> Option<[Point; 2]> {
        let between = other.point - self.point;
        let cosine = self.direction.dot(&other.direction);
        let square = 1.0 - cosine * cosine;
        if square.is_nan() || square < NEARLY_PARALLEL * NEARLY_PARALLEL {
            return None;
        }
        let (a, b) = (between.dot(&self.direction), between.dot(&other.direction));
        let (s, t) = ((a - cosine * b) / square, (cosine * a - b) / square);
        Some([
            self.point + self.direction * s,
            other.point + other.direction * t,
        ])
    }

    /// How far apart two lines pass each other, about `near` where they are parallel.
    pub(super) fn gap(&self, other: &Self, near: &Point) -> f64 {
        let [a, b] = self
            .pass(other)
            .unwrap_or_else(|| [self.nearest_to(near), other.nearest_to(near)]);
        (a - b).norm()
    }
}

/// Mean of points.
pub(super) fn middle(points: &[Point]) -> Point {
    let origin = points.first().copied().unwrap_or_else(Point::origin);
    let sum: Vector = points.iter().map(|p| p - origin).sum();
    origin + sum / points.len().max(1) as f64
}

/// The line that points of a centerline lie nearest to.
pub(super) fn center_line(points: &[Point]) -> Option<Line> {
    let spread = Spread::even(points).ok()?;
    Some(Line {
        point: spread.middle,
        direction: spread.axes[0],
    })
}

/// One piece's axis as a least-squares problem: its line may move across at two places.
struct Alone<'a> {
    points: &'a [Point],
    is_axis: bool,
    radius: f64,
    sigma: f64,
    /// Two places on the line to begin with.
    at: [Point; 2],
    across: [Vector; 2],
}

impl<'a> Alone<'a> {
    fn new(points: &'a [Point], is_axis: bool, radius: f64, sigma: f64, start: &Line) -> Self {
        let middle = start.nearest_to(&middle(points));
        let reach = points
            .iter()
            .map(|p| start.direction.dot(&(p - middle)).abs());
        let half = reach.fold(radius / 2.0, f64::max);
        let direction = Direction::new_unchecked(start.direction);
        let first = perpendicular(&direction).into_inner();
        Self {
            points,
            is_axis,
            radius,
            sigma,
            at: [
                middle - start.direction * half,
                middle + start.direction * half,
            ],
            across: [first, start.direction.cross(&first)],
        }
    }

    fn ends(&self, x: &DVector<f64>) -> [Point; 2] {
        [0, 1].map(|i| self.at[i] + self.across[0] * x[2 * i] + self.across[1] * x[2 * i + 1])
    }

    fn line(&self, x: &DVector<f64>) -> Line {
        let [a, b] = self.ends(x);
        Line {
            point: a + (b - a) / 2.0,
            direction: (b - a).normalize(),
        }
    }

    fn put(&self, slopes: &mut DMatrix<f64>, row: usize, n: &Vector, part: f64) {
        for (end, share) in [1.0 - part, part].into_iter().enumerate() {
            for (i, across) in self.across.iter().enumerate() {
                slopes[(row, 2 * end + i)] = -n.dot(across) * share / self.sigma;
            }
        }
    }
}

impl Model for Alone<'_> {
    fn unknowns(&self) -> usize {
        4
    }

    fn rows(&self) -> usize {
        self.points.len() * if self.is_axis { 2 } else { 1 }
    }

    fn evaluate(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
        let [a, b] = self.ends(x);
        let length = (b - a).norm().max(f64::MIN_POSITIVE);
        let direction = (b - a) / length;
        let mut left = DVector::zeros(self.rows());
        let mut slopes = DMatrix::zeros(self.rows(), 4);
        for (i, point) in self.points.iter().enumerate() {
            let along = direction.dot(&(point - a));
            let q = point - a - direction * along;
            let part = along / length;
            if self.is_axis {
                for (j, n) in self.across.iter().enumerate() {
                    left[2 * i + j] = q.dot(n) / self.sigma;
                    self.put(&mut slopes, 2 * i + j, n, part);
                }
            } else {
                let distance = q.norm();
                left[i] = (distance - self.radius) / self.sigma;
                self.put(&mut slopes, i, &(q / distance.max(f64::MIN_POSITIVE)), part);
            }
        }
        (left, slopes)
    }
}

/// A piece's axis from its own points alone; `None` where these do not hold it.
pub(super) fn own_line(
    points: &[TouchedPoint],
    radius: f64,
    sigma: f64,
    start: &Line,
) -> Option<OwnLine> {
    let is_axis = matches!(points.first()?.on, On::Axis(_));
    let at: Vec<Point> = points.iter().map(|point| point.at).collect();
    let alone = Alone::new(&at, is_axis, radius, sigma, start);
    if alone.rows() < 4 {
        return None;
    }
    let found = adjust(&alone, DVector::zeros(4), None)?;
    let hold = Hold::of(&alone.evaluate(&found.x).1)?;
    let loose = LOOSE * radius;
    let held = hold.free.is_empty() && (0..4).all(|i| hold.covariance[(i, i)] < loose * loose);
    held.then(|| OwnLine {
        line: alone.line(&found.x),
        at: alone.ends(&found.x),
        across: alone.across,
        covariance: hold.covariance.clone(),
        squares: found.squares,
        spare: alone.rows() - 4,
    })
}

/// A piece's axis from its own points alone.
pub(super) struct OwnLine {
    pub(super) line: Line,
    /// Two places on it, and the two ways in which each may be off.
    at: [Point; 2],
    across: [Vector; 2],
    /// Of how far these places are off those ways.
    covariance: DMatrix<f64>,
    /// Sum of the squares of what is left, in deviations.
    pub(super) squares: f64,
    /// Points beyond what it takes.
    pub(super) spare: usize,
}

impl OwnLine {
    /// Standard deviation of the line along `way` beside `point`.
    pub(super) fn sigma(&self, point: &Point, way: &Vector) -> f64 {
        let edge = self.at[1] - self.at[0];
        let part = edge.dot(&(point - self.at[0])) / edge.norm_squared().max(f64::MIN_POSITIVE);
        let by = DVector::from_fn(4, |i, _| {
            [1.0 - part, part][i / 2] * way.dot(&self.across[i % 2])
        });
        by.dot(&(&self.covariance * &by)).max(0.0).sqrt()
    }
}

/// An axis that points on the outside allow.
#[derive(Clone, Copy, Debug)]
pub(in crate::survey) struct Allowed {
    pub(in crate::survey) line: Line,
    /// Sum of the squares of what is left, in deviations.
    pub(super) squares: f64,
}

/// Axes of tubes of `radius` that points lie on the outside of, the nearest first:
/// circles of the radius through the points as seen along many directions, then
/// cylinders from the best of these. `hints` are directions to try as well.
pub(in crate::survey) fn outside_lines(
    points: &[Point],
    radius: f64,
    sigma: f64,
    hints: &[Vector],
) -> Vec<Allowed> {
    let tried = thinned(points);
    let mut circles: Vec<(f64, Line)> = Vec::new();
    let own = Spread::even(&tried).map(|spread| spread.axes);
    let directions = half_sphere()
        .chain(own.into_iter().flatten())
        .chain(hints.iter().copied());
    for direction in directions {
        let found = circles_along(&tried, &direction, radius);
        circles.extend(found);
    }
    circles.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut allowed: Vec<Allowed> = Vec::new();
    for (_, start) in circles.iter().take(FOLLOWED) {
        let alone = Alone::new(&tried, false, radius, sigma, start);
        let Some(found) = adjust(&alone, DVector::zeros(4), None) else {
            continue;
        };
        let line = alone.line(&found.x);
        let is_new = allowed
            .iter()
            .all(|other| !is_same(&other.line, &line, &tried, radius));
        if is_new && line.direction.iter().all(|c| c.is_finite()) {
            allowed.push(Allowed {
                line,
                squares: found.squares,
            });
        }
    }
    allowed.sort_by(|a, b| a.squares.total_cmp(&b.squares));
    allowed.truncate(KEPT);
    allowed
}

/// Every so manieth point, at most as many as are tried.
fn thinned(points: &[Point]) -> Vec<Point> {
    let count = points.len().min(MOST_TRIED);
    (0..count)
        .map(|i| points[i * points.len() / count.max(1)])
        .collect()
}

fn is_same(a: &Line, b: &Line, points: &[Point], radius: f64) -> bool {
    let near = SAME * radius;
    points
        .iter()
        .all(|p| (a.nearest_to(p) - b.nearest_to(p)).norm() < near)
}

/// Directions evenly over a half sphere: a golden spiral.
fn half_sphere() -> impl Iterator<Item = Vector> {
    let golden = std::f64::consts::PI * (3.0 - 5.0_f64.sqrt());
    (0..DIRECTIONS).map(move |i| {
        let z = 1.0 - (i as f64 + 0.5) / DIRECTIONS as f64;
        let around = (1.0 - z * z).max(0.0).sqrt();
        let (sin, cos) = (golden * i as f64).sin_cos();
        Vector::new(around * cos, around * sin, z)
    })
}

/// Circles of `radius` nearest to the points as seen along `direction`, with the sum of
/// the squares of what is left.
fn circles_along(points: &[Point], direction: &Vector, radius: f64) -> Vec<(f64, Line)> {
    let middle = middle(points);
    let first = perpendicular(&Direction::new_unchecked(*direction)).into_inner();
    let second = direction.cross(&first);
    let seen: Vec<[f64; 2]> = points
        .iter()
        .map(|p| [first.dot(&(p - middle)), second.dot(&(p - middle))])
        .collect();
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for [x, y] in &seen {
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    // The points' longer axis; centers are looked for to either side of both, and amid.
    let (sin, cos) = ((2.0 * xy).atan2(xx - yy) / 2.0).sin_cos();
    let starts = [
        [0.0, 0.0],
        [-sin * radius, cos * radius],
        [sin * radius, -cos * radius],
        [cos * radius, sin * radius],
        [-cos * radius, -sin * radius],
    ];
    let mut found: Vec<(f64, [f64; 2])> = Vec::new();
    for start in starts {
        let center = circle_center(&seen, start, radius);
        let is_new = found
            .iter()
            .all(|(_, [x, y])| (x - center[0]).hypot(y - center[1]) > SAME * radius);
        let squares: f64 = seen
            .iter()
            .map(|[x, y]| ((x - center[0]).hypot(y - center[1]) - radius).powi(2))
            .sum();
        if is_new && squares.is_finite() {
            found.push((squares, center));
        }
    }
    let line = |[x, y]: [f64; 2]| Line {
        point: middle + first * x + second * y,
        direction: *direction,
    };
    found
        .into_iter()
        .map(|(squares, center)| (squares, line(center)))
        .collect()
}

/// The center of a circle of `radius` through points, a few steps from `start`.
fn circle_center(points: &[[f64; 2]], start: [f64; 2], radius: f64) -> [f64; 2] {
    let [mut cx, mut cy] = start;
    for _ in 0..CIRCLE_STEPS {
        // The ridge keeps points along one line from sending the center away.
        let ridge = 1e-3 * points.len() as f64;
        let (mut a, mut b, mut c, mut u, mut v) = (ridge, 0.0, ridge, 0.0, 0.0);
        for [x, y] in points {
            let (dx, dy) = (x - cx, y - cy);
            let distance = dx.hypot(dy).max(1e-9);
            let (nx, ny, off) = (dx / distance, dy / distance, distance - radius);
            a += nx * nx;
            b += nx * ny;
            c += ny * ny;
            u += nx * off;
            v += ny * off;
        }
        let determinant = a * c - b * b;
        cx += (c * u - b * v) / determinant;
        cy += (a * v - b * u) / determinant;
    }
    [cx, cy]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_tube_is_found_from_a_few_points() {
        let axis = Vector::new(1.0, 2.0, -0.5).normalize();
        let first = perpendicular(&Direction::new_unchecked(axis)).into_inner();
        let second = axis.cross(&first);
        let center = Point::new(500.0, -80.0, 33.0);
        let points: Vec<Point> = (0..7)
            .map(|i| {
                let (sin, cos) = (f64::from(i) * 2.1).sin_cos();
                center + axis * f64::from(i % 4 * 9) + (first * cos + second * sin) * 30.0
            })
            .collect();
        let found = outside_lines(&points, 30.0, 0.5, &[]);
        let best = found.first().expect("an axis");
        assert!(best.squares < 1e-15, "{best:?}");
        assert!(best.line.direction.cross(&axis).norm() < 1e-9);
        assert!((best.line.nearest_to(&center) - center).norm() < 1e-8);
    }

    #[test]
    fn lines_pass_where_they_do() {
        let a = Line {
            point: Point::new(0.0, 0.0, 0.0),
            direction: Vector::x(),
        };
        let b = Line {
            point: Point::new(5.0, 7.0, 2.0),
            direction: Vector::y(),
        };
        let [p, q] = a.pass(&b).expect("they are not parallel");
        assert!((p - Point::new(5.0, 0.0, 0.0)).norm() < 1e-12);
        assert!((q - Point::new(5.0, 0.0, 2.0)).norm() < 1e-12);
        assert!((a.gap(&b, &p) - 2.0).abs() < 1e-12);
    }
}
