//! What `plan.json` says of how well a place and a direction are known.

use super::numbers::{deg, mm, positive_zero};
use crate::geometry::{Direction, Scatter};
use crate::units::{Angle, Length};
use serde::Serialize;

/// One standard deviation each.
#[derive(Serialize)]
pub(in crate::export) struct ScatterOut {
    /// Standard deviations of the place along the axes of their ellipsoid.
    ellipsoid: [SpreadOut; 3],
    /// Root mean square distance of the place.
    distance_mm: f64,
    /// Standard deviation along the axis of the tube, or of the port.
    along_mm: f64,
    /// How much the axis leans, the greatest way first.
    leans: [LeanOut; 2],
    /// Covariance of the shift and of the turn, in the job's frame: shift first.
    covariance_mm_rad: [[f64; 6]; 6],
}

#[derive(Serialize)]
struct SpreadOut {
    sigma_mm: f64,
    direction: [f64; 3],
}

#[derive(Serialize)]
struct LeanOut {
    sigma_deg: f64,
    direction: [f64; 3],
}

impl ScatterOut {
    pub(in crate::export) fn new(scatter: &Scatter, axis: &Direction) -> Self {
        let covariance = scatter.covariance();
        let entry = |i: usize, j: usize| positive_zero(covariance[(i, j)]);
        Self {
            ellipsoid: scatter.ellipsoid().map(SpreadOut::from),
            distance_mm: mm(scatter.distance()),
            along_mm: mm(scatter.along(axis)),
            leans: scatter.leans(axis).map(LeanOut::from),
            covariance_mm_rad: std::array::from_fn(|i| std::array::from_fn(|j| entry(i, j))),
        }
    }
}

impl From<(Length, Direction)> for SpreadOut {
    fn from((sigma, direction): (Length, Direction)) -> Self {
        Self {
            sigma_mm: mm(sigma),
            direction: direction.map(positive_zero).into(),
        }
    }
}

impl From<(Angle, Direction)> for LeanOut {
    fn from((sigma, direction): (Angle, Direction)) -> Self {
        Self {
            sigma_deg: deg(sigma),
            direction: direction.map(positive_zero).into(),
        }
    }
}
