//! First guesses of how a mitered end stands: its axis and the normal of its face.
//!
//! The rim tells the face and, by how far it is from a circle, by how much the axis leans
//! from its normal: to either side of the ellipse's long axis. An axis along the normal
//! is a saddle between the two, so that no search may begin there alone.

use super::guess::{Pose, ROUND, distinct, points};
use super::reading::{Observed, Readings};
use crate::geometry::{Direction, PlaneFit, Point, Spread, Vector, across};
use crate::units::Angle;
use std::f64::consts::TAU;

/// Least lean between normal and axis that is tried where no cut tells it: about half of
/// what a rim by hand shows.
const LEAST_CUT: Angle = Angle::from_degrees(5.0);
/// Greatest lean that is tried: miters are cut to 45°.
const MOST_CUT: Angle = Angle::from_degrees(60.0);
/// A lean that is tried beside what the rim says, which is coarse: a common miter.
const USUAL_CUT: Angle = Angle::from_degrees(15.0);
/// Cosine between axis and normal below which no tube ends so.
const STEEPEST: f64 = 0.2;
/// Sine between axes, or normals, below which both are one guess.
const ALIKE: f64 = 2e-3;

/// Axes and normals to begin from; `outwards` are directions that readings give.
pub(super) fn poses(readings: &Readings, outwards: &[Direction]) -> Vec<Pose> {
    let face: Vec<Point> = readings
        .list
        .iter()
        .filter_map(|r| r.what.face_point())
        .collect();
    let normals = match PlaneFit::new(&face) {
        Ok(fit) => vec![fit.plane.normal, -fit.plane.normal],
        Err(_) => outwards.to_vec(),
    };
    let cuts = cuts(readings);
    let mut found: Vec<Pose> = Vec::new();
    for normal in &normals {
        // What readings give first: it is the best where it is there.
        found.extend(outwards.iter().map(|outward| (*outward, *normal)));
        for cut in &cuts {
            found.extend(leaning(readings, normal, *cut).map(|outward| (outward, *normal)));
        }
    }
    found.retain(|(outward, normal)| outward.dot(normal) > STEEPEST);
    if found.is_empty() {
        found.extend(outwards.iter().map(|outward| (*outward, *outward)));
    }
    distinct(found, |a, b| near(&a.0, &b.0) && near(&a.1, &b.1))
}

fn near(a: &Direction, b: &Direction) -> bool {
    a.dot(b) > 0.0 && a.cross(b).norm() < ALIKE
}

/// Leans between normal and axis: as the saw was set, or as the rim's shape says.
fn cuts(readings: &Readings) -> Vec<Angle> {
    let set = readings
        .list
        .iter()
        .filter_map(|reading| match reading.what {
            Observed::Cut { angle, .. } => Some(angle.abs().min(MOST_CUT)),
            _ => None,
        });
    let set: Vec<Angle> = set.filter(|angle| angle.is_finite()).collect();
    if !set.is_empty() {
        return set;
    }
    let rim = points(readings, |what| matches!(what, Observed::OnRim { .. }));
    let shape = Spread::even(&rim).ok().map(|spread| {
        let [long, wide, _] = spread.deviations;
        Angle::from_radians((wide / long).clamp(0.0, 1.0).acos())
    });
    let by_shape = shape.map(|angle| angle.max(LEAST_CUT).min(MOST_CUT));
    by_shape.into_iter().chain([USUAL_CUT]).collect()
}

/// Axes that lean from a normal by `cut`: along the rim's long axis, and all round.
fn leaning(
    readings: &Readings,
    normal: &Direction,
    cut: Angle,
) -> impl Iterator<Item = Direction> + use<> {
    let rim = points(readings, |what| matches!(what, Observed::OnRim { .. }));
    let long = Spread::even(&rim).ok().map(|spread| spread.axes[0]);
    let [first, second] = across(normal).map(Direction::into_inner);
    let round = (0..ROUND).map(move |i| {
        let (sin, cos) = (f64::from(i) * TAU / f64::from(ROUND)).sin_cos();
        first * cos + second * sin
    });
    let (sin, cos) = cut.sin_cos();
    let normal: Vector = normal.into_inner();
    let sides = long.into_iter().flat_map(|long| [long, -long]);
    sides
        .chain(round)
        .filter_map(move |side| Direction::try_new(normal * cos + side * sin, f64::EPSILON))
}
