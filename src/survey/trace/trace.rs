//! [`trace`]: from points to the tube.

use super::error::TraceError;
use super::from_centerline::{MOST_JOINTS, from_centerline};
use super::from_joints::from_joints;
use super::from_pieces::from_pieces;
use super::touched::{Touched, Trace, listed};
use super::traced::Traced;
use crate::geometry::Point;

/// Most points of one tube. Finding where pieces begin takes time and memory as their
/// square.
pub const MOST_POINTS: usize = 1000;

/// Farthest coordinate, mm.
const FARTHEST: f64 = 1e9;

/// The tube that what was touched says: the polyline with the least sum of squares of
/// what is left of points and ends, in their deviations.
///
/// Refuses points that hold no tube, all that is wrong with them at once.
pub fn trace(trace: &Trace) -> Result<Traced, Vec<TraceError>> {
    let errors = check_points(trace);
    if !errors.is_empty() {
        return Err(errors);
    }
    match &trace.touched {
        Touched::Joints(points) => from_joints(trace, points),
        Touched::Pieces(pieces) => from_pieces(trace, pieces),
        Touched::Centerline { points, within } => from_centerline(trace, points, *within),
    }
}

fn check_points(trace: &Trace) -> Vec<TraceError> {
    let listed = listed(&trace.touched);
    let (count, joints) = match &trace.touched {
        Touched::Joints(points) => (0, points.len()),
        Touched::Pieces(pieces) => (listed.len(), pieces.len().saturating_sub(1)),
        Touched::Centerline { points, .. } => (points.len(), 0),
    };
    let mut errors = Vec::new();
    for (given, most) in [(count, MOST_POINTS), (joints, MOST_JOINTS)] {
        if given > most {
            errors.push(TraceError::TooMany { given, most });
        }
    }
    let bad = |p: &Point| !p.iter().all(|c| c.abs() <= FARTHEST);
    errors.extend(
        listed
            .iter()
            .filter(|(_, p)| bad(p))
            .map(|(spot, _)| TraceError::NotFinite(*spot)),
    );
    errors
}
