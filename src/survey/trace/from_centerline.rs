//! A tube from points along its centerline: the fewest pieces that keep to them.

use super::blame::Hints;
use super::caution::Caution;
use super::cut_up::CutUp;
use super::error::TraceError;
use super::finish::finish;
use super::from_joints::axis;
use super::polygon::{backward, polygon, straight_tube};
use super::readings::Readings;
use super::suspects::Fit;
use super::touched::{Trace, WITHIN};
use super::traced::Traced;
use crate::geometry::Point;
use crate::survey::adjust::chance;
use crate::units::Length;

/// Most joints of one tube.
pub const MOST_JOINTS: usize = 40;

/// Deviations that a step along a centerline must have for its way to be told.
const STEP: f64 = 10.0;

/// Deviations that none of a thousand points of a centerline is off, 99 times in 100.
const FEW_EXCEED: f64 = 4.5;

/// Probability of chance below which a centerline's points are those of a smooth bend.
const SMOOTH: f64 = 1e-3;

/// Root mean square of how far a smooth bend is from its polygon, in parts of the most:
/// that of an arc's height over a chord which is fitted to it, 0.3, and some to spare.
const CHORD: f64 = 0.5;

/// Points of a smooth bend, a piece, that tell different things.
const MOST_TELLING: f64 = 8.0;

pub(super) fn from_centerline(
    trace: &Trace,
    points: &[Point],
    within: Option<Length>,
) -> Result<Traced, Vec<TraceError>> {
    let noise = trace.accuracy * FEW_EXCEED;
    let asked = within.unwrap_or(WITHIN.max(noise));
    let back = backward(points, STEP * trace.accuracy.mm());
    if !back.is_empty() {
        return Err(back);
    }
    let axes = [axis(&trace.ends[0]), axis(&trace.ends[1])];
    let mut cut_up = CutUp::new(points, axes);
    let mut nearest = (0, f64::INFINITY);
    let straight = straight_tube(trace, asked);
    let mut tries = std::iter::once(straight).chain((0..MOST_JOINTS).map_while(|lines| {
        let begins = cut_up.pieces(lines)?;
        let mitered = polygon(trace, points, &begins, asked, &mut nearest);
        Some(mitered.and_then(|found| {
            if is_chance(&found.1) {
                return Some(found);
            }
            // A smooth tube leaves its polygon as far as was asked: that is no error of
            // the points, and no reason to doubt the ends.
            let each = points.len() as f64 / (begins.len() + 1) as f64;
            let rough = rougher(trace, asked, each);
            polygon(&rough, points, &begins, asked, &mut nearest)
        }))
    }));
    if let Some((readings, fit)) = tries.by_ref().flatten().next() {
        let mut traced = finish(&readings, fit, asked, &Hints::default())?;
        if within.is_some_and(|within| within < noise) {
            traced.cautions.push(Caution::Tight {
                within: asked,
                noise,
            });
        }
        return Ok(traced);
    }
    drop(tries);
    let (joints, off) = nearest;
    Err(vec![TraceError::NotWithin {
        joints,
        off: Length::from_mm(off),
    }])
}

/// Whether what is left of points and ends is what chance leaves.
pub(super) fn is_chance(fit: &Fit) -> bool {
    let spare = fit.spare();
    let all = spare == 0 || fit.adjusted.squares <= chance(spare, SMOOTH);
    // Points that stand off together pull at the ends long before they scatter too much.
    let ends = (0..2).all(|end| {
        let doubt = fit
            .hold
            .doubt(&fit.adjusted.left, &Readings::rows_of_end(end));
        doubt.is_none_or(|doubt| doubt.test <= chance(doubt.freedom, SMOOTH))
    });
    all && ends
}

/// The same tube with points that stand off it as a smooth bend's do: neighbors on the
/// same side, so that the points of a piece, of which there are `each`, tell no more than
/// a few.
pub(super) fn rougher(trace: &Trace, within: Length, each: f64) -> Trace {
    let alike = (each / MOST_TELLING).max(1.0).sqrt();
    let both = trace.accuracy.mm().hypot(within.mm() * CHORD * alike);
    Trace {
        accuracy: Length::from_mm(both),
        ..trace.clone()
    }
}
