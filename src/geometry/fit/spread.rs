//! [`Spread`]: where points lie and how far they scatter.

use super::FitError;
use crate::geometry::{Point, Vector};
use nalgebra::{MatrixXx3, SVD};

/// Greatest coordinate, mm, that a fit takes: a thousand kilometers. Its fourth power
/// is far from overflow.
const FARTHEST: f64 = 1e12;
/// Points whose deviation across a line is less than this part of that along it count
/// as on the line: 0.1 mm in a meter, which no tape holds.
const NEARLY_LINE: f64 = 1e-4;
/// Rounding of a deviation, in parts of the greatest coordinate.
const ROUNDING: f64 = 32.0 * f64::EPSILON;
/// Deviation, mm, below which points are one: smaller than an atom.
const LEAST: f64 = 1e-9;
/// Singular values this small, in parts of the greatest, count as zero while iterating.
const SVD_EPSILON: f64 = 5.0 * f64::EPSILON;
/// Bound on the iterations of a singular value decomposition; a dozen do for three
/// columns.
const SVD_STEPS: usize = 1000;

/// Principal axes of points.
#[derive(Clone, Debug)]
pub struct Spread {
    /// Weighted mean.
    pub middle: Point,
    /// Right-handed unit axes, the longest deviation first.
    pub axes: [Vector; 3],
    /// Standard deviation along each axis, mm.
    pub deviations: [f64; 3],
    /// Greatest coordinate, mm.
    greatest: f64,
}

impl Spread {
    /// Of points that count alike.
    pub fn even(points: &[Point]) -> Result<Self, FitError> {
        Self::of(points, &vec![1.0; points.len()])
    }

    /// Of points with weights: the right singular vectors of the rows √w·(p − p̄).
    ///
    /// Refuses coordinates that are no numbers, no points, and points all in one place.
    pub(super) fn of(points: &[Point], weights: &[f64]) -> Result<Self, FitError> {
        check(points)?;
        let total: f64 = weights.iter().sum();
        if points.is_empty() || total <= 0.0 {
            return Err(FitError::TooFew {
                given: 0,
                needed: 2,
            });
        }
        let middle = mean(points, weights, total);
        // Three rows at least, so that there are three singular vectors.
        let mut rows = MatrixXx3::zeros(points.len().max(3));
        for (i, (point, weight)) in points.iter().zip(weights).enumerate() {
            let row = (point - middle) * (weight / total).sqrt();
            rows.set_row(i, &row.transpose());
        }
        let greatest = points.iter().map(|p| p.coords.amax()).fold(0.0, f64::max);
        if rows.norm() <= LEAST.max(ROUNDING * greatest) {
            return Err(FitError::Coincident);
        }
        let (values, right) = decompose(rows).ok_or(FitError::Coincident)?;
        Ok(Self {
            middle,
            axes: [right[0], right[1], right[0].cross(&right[1])],
            deviations: values,
            greatest,
        })
    }

    /// Refuses points on a line.
    pub(super) fn beside_a_line(self) -> Result<Self, FitError> {
        let [length, width, _] = self.deviations;
        let least = (NEARLY_LINE * length).max(ROUNDING * self.greatest);
        if width <= least {
            return Err(FitError::Collinear { width_mm: width });
        }
        Ok(self)
    }

    /// Deviation across the nearest line in parts of that along it, 0 to 1.
    pub(super) fn conditioning(&self) -> f64 {
        self.deviations[1] / self.deviations[0]
    }
}

/// Refuses coordinates that are no numbers or beyond reason.
pub(super) fn check(points: &[Point]) -> Result<(), FitError> {
    let bad = |p: &Point| !p.iter().all(|c| c.abs() <= FARTHEST);
    points.iter().position(bad).map_or(Ok(()), |index| {
        Err(FitError::NotFinite { number: index + 1 })
    })
}

/// Refuses weights that are negative, no numbers or beyond reason.
pub(super) fn check_weights(weights: &[f64]) -> Result<(), FitError> {
    let bad = |w: &f64| !(0.0..=FARTHEST).contains(w);
    weights
        .iter()
        .position(bad)
        .map_or(Ok(()), |index| Err(FitError::Weight { number: index + 1 }))
}

/// Singular values and right singular vectors of a matrix of three columns, greatest
/// first.
pub(super) fn decompose(rows: MatrixXx3<f64>) -> Option<([f64; 3], [Vector; 3])> {
    let found = SVD::try_new(rows, false, true, SVD_EPSILON, SVD_STEPS)?;
    let right = found.v_t?;
    let vector = |i: usize| right.row(i).transpose();
    let values = &found.singular_values;
    Some((
        [values[0], values[1], values[2]],
        [vector(0), vector(1), vector(2)],
    ))
}

/// Weighted mean.
fn mean(points: &[Point], weights: &[f64], total: f64) -> Point {
    // About the first point, which keeps the digits of what is far from the origin.
    let origin = points[0];
    let pairs = points.iter().zip(weights);
    let sum: Vector = pairs.map(|(p, w)| (p - origin) * (w / total)).sum();
    origin + sum
}
