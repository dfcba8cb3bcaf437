//! [`Freedom`]: a motion that points on a surface do not hold, and [`Grip`], which
//! finds those and moves only the others.

use super::Placement;
use crate::geometry::{Direction, Point, Vector};
use nalgebra::{Matrix3, Matrix6, SymmetricEigen, Vector3, Vector6};
use std::fmt;

/// Least change of the points' distances from the surface, root mean square in parts of
/// the motion, for a motion to count as held: as if one point in 400 stood square to
/// it, or the normals of a flat face scattered by 3°.
const LEAST_GRIP: f64 = 0.05;
/// Eigenvalues this small, in parts of the greatest, count as zero while iterating.
const EIGEN_EPSILON: f64 = f64::EPSILON;
/// Bound on the iterations of an eigenvalue decomposition; some 20 do.
const EIGEN_STEPS: usize = 1000;
/// Least size of the points' cloud, mm; below it turns mean nothing.
const LEAST_SIZE: f64 = 1e-6;

/// A motion under which all points slide along the surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Freedom {
    /// A shift.
    Slide {
        /// Along this direction.
        along: Direction,
    },
    /// A turn.
    Turn {
        /// About an axis through this point.
        through: Point,
        /// And along this direction.
        along: Direction,
    },
}

impl fmt::Display for Freedom {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let triple = |v: &Vector| format!("({:.3}, {:.3}, {:.3})", v.x, v.y, v.z);
        match self {
            Self::Slide { along } => write!(f, "sliding along {}", triple(along)),
            Self::Turn { through, along } => write!(
                f,
                "turning about the axis through ({:.1}, {:.1}, {:.1}) mm along {}",
                through.x,
                through.y,
                through.z,
                triple(along)
            ),
        }
    }
}

impl Freedom {
    /// The same motion in another frame.
    pub(super) fn carried(&self, placement: &Placement) -> Self {
        match self {
            Self::Slide { along } => Self::Slide {
                along: placement.turn(along),
            },
            Self::Turn { through, along } => Self::Turn {
                through: placement.apply(through),
                along: placement.turn(along),
            },
        }
    }
}

/// A point's equation: distance + away·(shift + turn × (place − pivot)) = 0.
pub(super) struct Row {
    pub(super) place: Point,
    /// Unit.
    pub(super) away: Vector,
    /// mm.
    pub(super) distance: f64,
    pub(super) weight: f64,
}

/// Which small motions points hold.
#[derive(Clone)]
pub(super) struct Grip {
    /// About which turns are counted: the points' mean.
    pub(super) pivot: Point,
    /// Root mean square distance of the points from it, mm: a turn counts by what it
    /// moves a point that far out.
    size: f64,
    /// Motions (shift, then turn · size), orthonormal, that are not held.
    free: Vec<Vector6<f64>>,
    /// Shifts that are not held.
    slides: Vec<Vector>,
}

impl Grip {
    /// From the points' equations, each counted once; `None` without points.
    pub(super) fn of(rows: &[Row]) -> Option<Self> {
        let first = rows.first()?.place;
        let count = rows.len() as f64;
        let sum: Vector = rows.iter().map(|row| row.place - first).sum();
        let pivot = first + sum / count;
        let squares: f64 = rows
            .iter()
            .map(|row| (row.place - pivot).norm_squared())
            .sum();
        let mut grip = Self {
            pivot,
            size: (squares / count).sqrt().max(LEAST_SIZE),
            free: Vec::new(),
            slides: Vec::new(),
        };
        let slopes = rows.iter().map(|row| grip.slope(row));
        let matrix = slopes.map(|s| s * s.transpose()).sum::<Matrix6<f64>>() / count;
        let least = LEAST_GRIP * LEAST_GRIP;
        let shifts: Matrix3<f64> = matrix.fixed_view::<3, 3>(0, 0).into_owned();
        let all = SymmetricEigen::try_new(matrix, EIGEN_EPSILON, EIGEN_STEPS)?;
        let slides = SymmetricEigen::try_new(shifts, EIGEN_EPSILON, EIGEN_STEPS)?;
        let small = |values: &[f64]| -> Vec<usize> {
            let numbered = values.iter().enumerate();
            numbered
                .filter(|(_, v)| **v < least)
                .map(|(i, _)| i)
                .collect()
        };
        let free = small(all.eigenvalues.as_slice()).into_iter();
        grip.free = free
            .map(|i| all.eigenvectors.column(i).into_owned())
            .collect();
        let free = small(slides.eigenvalues.as_slice()).into_iter();
        grip.slides = free
            .map(|i| slides.eigenvectors.column(i).into_owned())
            .collect();
        Some(grip)
    }

    /// Number of motions that are held, of six.
    pub(super) fn held(&self) -> usize {
        6 - self.free.len()
    }

    /// Change of a point's distance with each motion.
    fn slope(&self, row: &Row) -> Vector6<f64> {
        let turn = (row.place - self.pivot).cross(&row.away) / self.size;
        let shift = row.away;
        Vector6::new(shift.x, shift.y, shift.z, turn.x, turn.y, turn.z)
    }

    /// Turn, rad about each axis through the pivot, and shift, mm, of weighted least
    /// squares, among the motions that are held.
    pub(super) fn solve(&self, rows: &[Row]) -> Option<(Vector, Vector)> {
        let mut matrix = Matrix6::zeros();
        let mut right = Vector6::zeros();
        for row in rows {
            let slope = self.slope(row);
            matrix += slope * slope.transpose() * row.weight;
            right -= slope * (row.weight * row.distance);
        }
        // Free motions are taken out of the equations and set to zero.
        let out: Matrix6<f64> = self.free.iter().map(|v| v * v.transpose()).sum();
        let held = Matrix6::identity() - out;
        let size = matrix.diagonal().amax();
        let matrix = held * matrix * held + out * size;
        let found = matrix.cholesky()?.solve(&(held * right));
        let (shift, turn) = parts(&found);
        let finite = found.iter().all(|number| number.is_finite());
        finite.then(|| (turn / self.size, shift))
    }

    /// About how far a motion moves points, mm.
    pub(super) fn greatest(&self, turn: &Vector, shift: &Vector) -> f64 {
        turn.norm() * self.size + shift.norm()
    }

    /// The free motions in words: shifts first, then what is left as turns.
    pub(super) fn free(&self) -> Vec<Freedom> {
        let slides = self.slides.iter().take(self.free.len());
        let mut named: Vec<Vector6<f64>> = slides
            .clone()
            .map(|s| Vector6::new(s.x, s.y, s.z, 0.0, 0.0, 0.0))
            .collect();
        let mut found: Vec<Freedom> = slides
            .map(|slide| Freedom::Slide {
                along: one_way(slide),
            })
            .collect();
        while found.len() < self.free.len() {
            // Of the free motions the one that is least among those named.
            let rest = self.free.iter().map(|motion| {
                let known = named.iter().map(|n| n * n.dot(motion));
                motion - known.sum::<Vector6<f64>>()
            });
            let next = rest.max_by(|a, b| a.norm().total_cmp(&b.norm()));
            let Some(motion) = next.and_then(|m| m.try_normalize(LEAST_GRIP)) else {
                break;
            };
            named.push(motion);
            found.push(self.turning(&motion));
        }
        found
    }

    /// A motion as a turn about the axis whose points it moves least.
    fn turning(&self, motion: &Vector6<f64>) -> Freedom {
        let (shift, turn) = parts(motion);
        let turn = turn / self.size;
        let squared = turn.norm_squared();
        if squared * self.size * self.size < LEAST_GRIP * LEAST_GRIP {
            return Freedom::Slide {
                along: one_way(&shift),
            };
        }
        Freedom::Turn {
            through: self.pivot + turn.cross(&shift) / squared,
            along: one_way(&turn),
        }
    }
}

/// Shift and turn of a motion.
fn parts(motion: &Vector6<f64>) -> (Vector, Vector) {
    let part = |from: usize| Vector3::new(motion[from], motion[from + 1], motion[from + 2]);
    (part(0), part(3))
}

/// A direction or its opposite, the same for both: its greatest coordinate is positive.
fn one_way(along: &Vector) -> Direction {
    let along = Direction::new_normalize(*along);
    if along[along.map(f64::abs).imax()] < 0.0 {
        -along
    } else {
        along
    }
}
