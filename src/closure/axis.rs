//! [`Axis`]: the closing piece's, laid where the walls meet best.

use super::BuiltEnd;
use crate::geometry::{Direction, Point, Vector, across, clock_between};
use crate::survey::{Model, adjust};
use crate::tube::Mesh;
use crate::units::{Angle, Length};
use nalgebra::{DMatrix, DVector};

/// Sides round each rim at which the mismatch of the walls is counted.
const SIDES: usize = 48;

/// A line that tube lies about, with a direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// A point on it.
    pub through: Point,
    /// Downstream.
    pub along: Direction,
}

impl Axis {
    /// From one point to another; `None` where they coincide.
    pub fn between(from: Point, to: Point) -> Option<Self> {
        let along = Direction::try_new(to - from, f64::MIN_POSITIVE)?;
        Some(Self {
            through: from,
            along,
        })
    }

    /// The line on which a tube of `radius` meets both rims with the least mismatch of
    /// walls, root mean square over both seams.
    ///
    /// Unknown are the points at which it passes the two centers, each free to move
    /// square to the line between them. The mismatch at a point p of a rim's outside is
    /// its distance from the line less r; moving the line's point at the other end by δ
    /// changes it by −λ·ρ·δ, where ρ is the unit vector from the line to p and λ the part
    /// of the way from one center to the other at which p's foot lies. On flat rims the
    /// answer is the line through both centers whenever the ends are exactly in line, and
    /// beside it by less than r·tan κ times the lean otherwise.
    pub fn of_least_mismatch(ends: [&BuiltEnd; 2], radius: Length) -> Option<Self> {
        let start = Self::between(ends[0].center, ends[1].center)?;
        let model = Mismatch {
            points: ends
                .iter()
                .flat_map(|end| end.rim_points(radius, SIDES))
                .collect(),
            centers: ends.map(|end| end.center),
            across: across(&start.along).map(Direction::into_inner),
            radius: radius.mm(),
        };
        let best = adjust(&model, DVector::zeros(UNKNOWNS), None)?;
        model.line(&best.x)
    }

    /// A piece's mesh as it stands in the job's frame: its own has the axis along +z from
    /// the origin, and clock zero along +x.
    pub fn place(&self, zero: &Direction, mut mesh: Mesh) -> Mesh {
        let (x, z) = (zero.into_inner(), self.along.into_inner());
        let y = z.cross(&x);
        for vertex in &mut mesh.vertices {
            *vertex = self.through + x * vertex.x + y * vertex.y + z * vertex.z;
        }
        mesh
    }

    /// The point of the line that is nearest to `point`.
    pub fn foot(&self, point: &Point) -> Point {
        self.through + self.along.into_inner() * self.along.dot(&(point - self.through))
    }

    /// How far along it the foot of `point` is.
    pub fn reach(&self, point: &Point) -> f64 {
        self.along.dot(&(point - self.through))
    }

    /// From the line to `point`, square to the line.
    pub fn out(&self, point: &Point) -> Vector {
        point - self.foot(point)
    }

    /// Clock of `point` about the line from `zero`, which is square to it. Zero for a
    /// point on the line.
    pub fn clock(&self, zero: &Direction, point: &Point) -> Angle {
        Direction::try_new(self.out(point), f64::MIN_POSITIVE)
            .map_or(Angle::ZERO, |out| clock_between(&self.along, zero, &out))
    }
}

/// Two offsets at each end.
const UNKNOWNS: usize = 4;

/// The mismatch of the walls round both rims, mm.
struct Mismatch {
    points: Vec<Point>,
    centers: [Point; 2],
    across: [Vector; 2],
    radius: f64,
}

impl Mismatch {
    fn passed(&self, x: &DVector<f64>) -> [Point; 2] {
        [0, 1].map(|end| {
            self.centers[end] + self.across[0] * x[2 * end] + self.across[1] * x[2 * end + 1]
        })
    }

    fn line(&self, x: &DVector<f64>) -> Option<Axis> {
        let [from, to] = self.passed(x);
        Axis::between(from, to)
    }
}

impl Model for Mismatch {
    fn unknowns(&self) -> usize {
        UNKNOWNS
    }

    fn rows(&self) -> usize {
        self.points.len()
    }

    fn evaluate(&self, x: &DVector<f64>) -> (DVector<f64>, DMatrix<f64>) {
        let mut left = DVector::from_element(self.rows(), f64::NAN);
        let mut slopes = DMatrix::zeros(self.rows(), UNKNOWNS);
        let [from, to] = self.passed(x);
        let Some(line) = self.line(x) else {
            return (left, slopes);
        };
        let length = (to - from).norm();
        for (row, point) in self.points.iter().enumerate() {
            let out = line.out(point);
            let distance = out.norm();
            left[row] = distance - self.radius;
            let part = line.reach(point) / length;
            for (i, across) in self.across.iter().enumerate() {
                let outward = out.dot(across) / distance;
                slopes[(row, i)] = -(1.0 - part) * outward;
                slopes[(row, 2 + i)] = -part * outward;
            }
        }
        (left, slopes)
    }
}
