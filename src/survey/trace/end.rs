//! [`TubeEnd`]: an end of the tube as it was measured, and how the copy meets it.

use crate::geometry::{Direction, Point, Scatter, Vector, perpendicular};
use crate::units::{Angle, Length};
use nalgebra::{Cholesky, Const, Matrix5, SMatrix, Vector5};

/// Deviation, mm, of an end that is known exactly: what nobody measures, and still far
/// from rounding.
const EXACT_SHIFT: f64 = 1e-5;
/// The same of its direction, rad.
const EXACT_LEAN: f64 = 1e-7;

/// An end of the tube.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TubeEnd {
    /// Center of its face, mm in the job's frame.
    pub center: Point,
    /// From the face along the tube, at both ends.
    pub outward: Direction,
    /// How well these are known; none is exact.
    pub scatter: Scatter,
}

/// How far a copy's end is from where its end was measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EndShift {
    /// Distance of the centers.
    pub shift: Length,
    /// Angle between the axes.
    pub lean: Angle,
}

/// An end as five readings: three of its center, two of its direction.
#[derive(Clone, Debug)]
pub(super) struct EndReading {
    pub(super) end: TubeEnd,
    across: [Vector; 2],
    /// Turns shift and lean into independent numbers of unit deviation.
    whiten: Matrix5<f64>,
}

impl EndReading {
    pub(super) fn new(end: TubeEnd) -> Self {
        let first = perpendicular(&end.outward).into_inner();
        let across = [first, end.outward.cross(&first)];
        // A direction d moves by ω × d: along e by ω·(d × e).
        let mut moved = SMatrix::<f64, 5, 6>::zeros();
        for i in 0..3 {
            moved[(i, i)] = 1.0;
        }
        for (i, e) in across.iter().enumerate() {
            let row = end.outward.cross(e);
            moved
                .fixed_view_mut::<1, 3>(3 + i, 3)
                .copy_from(&row.transpose());
        }
        let mut covariance = moved * end.scatter.covariance() * moved.transpose();
        for i in 0..5 {
            let floor: f64 = if i < 3 { EXACT_SHIFT } else { EXACT_LEAN };
            covariance[(i, i)] += floor * floor;
        }
        let own = |i: usize| 1.0 / covariance[(i, i)].max(f64::MIN_POSITIVE).sqrt();
        let whiten = Cholesky::<f64, Const<5>>::new(covariance)
            .and_then(|root| root.l().try_inverse())
            .unwrap_or_else(|| Matrix5::from_diagonal(&Vector5::from_fn(|i, _| own(i))));
        Self {
            end,
            across,
            whiten,
        }
    }

    /// What is left of the five readings with the end at `face` and the next vertex at
    /// `next`, and the slopes by both.
    pub(super) fn evaluate(
        &self,
        face: &Point,
        next: &Point,
    ) -> (Vector5<f64>, [SMatrix<f64, 5, 3>; 2]) {
        let along = next - face;
        let length = along.norm().max(f64::MIN_POSITIVE);
        let along = along / length;
        let shift = face - self.end.center;
        let mut left = Vector5::zeros();
        let mut slopes = [SMatrix::<f64, 5, 3>::zeros(); 2];
        left.fixed_rows_mut::<3>(0).copy_from(&shift);
        for i in 0..3 {
            slopes[0][(i, i)] = 1.0;
        }
        for (i, e) in self.across.iter().enumerate() {
            left[3 + i] = e.dot(&along);
            let row = ((e - along * e.dot(&along)) / length).transpose();
            slopes[0].fixed_view_mut::<1, 3>(3 + i, 0).copy_from(&-row);
            slopes[1].fixed_view_mut::<1, 3>(3 + i, 0).copy_from(&row);
        }
        (self.whiten * left, slopes.map(|s| self.whiten * s))
    }
}
