//! From the fit that is taken to the tube, with what is to be said of it.

use super::blame::{Hints, missing, right_radius};
use super::error::TraceError;
use super::polygon::STRAY;
use super::readings::Readings;
use super::shape::check;
use super::suspects::{Fit, Verdict, suspects};
use super::traced::Traced;
use crate::geometry::Vector;
use crate::units::Length;

/// Parts of the radius by which two axes must differ to be another.
pub(super) const ANOTHER: f64 = 0.3;

/// Squares, in parts of what is usual or of the least, that are no fit.
pub(super) const FAR_OFF: f64 = 9.0;

/// Tells what does not go with the rest, and how well the rest holds the tube.
pub(super) fn finish(
    readings: &Readings,
    fit: Fit,
    within: Length,
    hints: &Hints,
) -> Result<Traced, Vec<TraceError>> {
    let vertices = readings.unpack(&fit.adjusted.x);
    let errors = check(readings, &vertices);
    let free = free(readings, &fit);
    if errors.is_empty() && !free.is_empty() {
        return Err(free);
    }
    let odd = missing(readings, &vertices);
    let verdict = if odd.is_empty() {
        suspects(readings, fit, within * STRAY, hints).ok_or(vec![TraceError::Astray])?
    } else {
        // Each of the two pieces is sound by itself: no point of them is to blame.
        let odd = right_radius(readings, &fit, hints).map_or(odd, |caution| vec![caution]);
        Verdict::blaming_none(fit, odd)
    };
    // A wrong point may make of a sound tube one that could not be.
    let is_mended = !verdict.suspects.is_empty() && is_sound(&verdict.fit);
    let errors = if errors.is_empty() || is_mended {
        check(readings, &readings.unpack(&verdict.fit.adjusted.x))
    } else {
        errors
    };
    if errors.is_empty() {
        return Ok(Traced::new(readings, verdict));
    }
    let odd = verdict.cautions.into_iter().map(TraceError::Odd);
    Err(odd.chain(errors).collect())
}

/// Whether points scatter about as much as was said.
pub(super) fn is_sound(fit: &Fit) -> bool {
    fit.adjusted.squares <= FAR_OFF * fit.spare() as f64
}

/// Pieces whose axes nothing holds, and joints that may be anywhere along them.
pub(super) fn free(readings: &Readings, fit: &Fit) -> Vec<TraceError> {
    let vertices = readings.unpack(&fit.adjusted.x);
    let mut errors = Vec::new();
    for way in &fit.hold.free {
        let motion =
            |vertex: usize| Vector::new(way[3 * vertex], way[3 * vertex + 1], way[3 * vertex + 2]);
        let across = |piece: usize| {
            let along = (vertices[piece + 1] - vertices[piece]).normalize();
            let square = |v: Vector| (v - along * along.dot(&v)).norm();
            square(motion(piece)).max(square(motion(piece + 1)))
        };
        let freest = (0..vertices.len() - 1).max_by(|a, b| across(*a).total_cmp(&across(*b)));
        let vertex =
            (1..vertices.len() - 1).max_by(|a, b| motion(*a).norm().total_cmp(&motion(*b).norm()));
        let error = match (freest, vertex) {
            (Some(piece), _) if across(piece) > ANOTHER => TraceError::Free { piece },
            (_, Some(vertex)) => TraceError::Straight { joint: vertex - 1 },
            _ => TraceError::Astray,
        };
        if !errors.contains(&error) {
            errors.push(error);
        }
    }
    errors
}
