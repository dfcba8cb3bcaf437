//! What `plan.json` says of how well a place and a direction are known.

use super::numbers::{deg, mm, positive_zero};
use crate::geometry::{Direction, Scatter};
use crate::units::{Angle, Length};
use schemars::JsonSchema;
use serde::Serialize;

/// How well a place and a direction are known: one standard deviation each.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Scatter", deny_unknown_fields)]
pub(in crate::export) struct ScatterOut {
    /// Standard deviations of the place along the axes of their ellipsoid.
    ellipsoid: [SpreadOut; 3],
    /// Root mean square distance of the place.
    distance_mm: f64,
    /// Standard deviation along the axis of the tube, or of the port.
    along_mm: f64,
    /// How much the axis leans, the greatest way first.
    leans: [LeanOut; 2],
    /// Covariance of shift and turn in the job's frame, row by row: shift along x, y, z in mm, then
    /// turn about x, y, z in rad by the right-hand rule. So the first three rows hold mm² and
    /// mm·rad, the last three mm·rad and rad².
    covariance_mm_rad: [[f64; 6]; 6],
}

/// An axis of an ellipsoid.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Spread", deny_unknown_fields)]
struct SpreadOut {
    /// Standard deviation along it.
    sigma_mm: f64,
    /// Unit vector in the job's frame.
    direction: [f64; 3],
}

/// A way to lean.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Lean", deny_unknown_fields)]
struct LeanOut {
    /// Standard deviation of the lean.
    sigma_deg: f64,
    /// Toward where the axis leans: unit vector square to it.
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
