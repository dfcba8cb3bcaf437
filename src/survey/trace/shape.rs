//! Whether vertices are a tube that somebody could have built.

use super::TraceError;
use super::readings::Readings;
use crate::geometry::{Point, angle_between};
use crate::units::Angle;

/// A joint that turns farther than this is points out of order: its cut would be 60° off
/// square (common practice, no source).
const SHARPEST: Angle = Angle::from_degrees(120.0);
/// A joint that turns less than this does not turn: 0.02 mm in a meter.
const STRAIGHT: Angle = Angle::from_degrees(1e-3);
/// A joint that turns less than this slides so far along its pieces, for the least error
/// of their axes, that it is to blame where one of them seems out of order.
pub(super) const SLIDES: Angle = Angle::from_degrees(2.0);
/// Deviations by which the middle of a piece's points may lie past its joints.
const PAST: f64 = 3.0;

/// What is wrong with vertices as a tube.
pub(super) fn check(readings: &Readings, vertices: &[Point]) -> Vec<TraceError> {
    let mut errors = Vec::new();
    let last = vertices.len() - 1;
    for (end, [face, next]) in [[0, 1], [last, last - 1]].into_iter().enumerate() {
        let along = vertices[next] - vertices[face];
        if readings.ends[end].end.outward.dot(&along) <= 0.0 {
            errors.push(TraceError::Behind { end });
        }
    }
    let turns = turns(vertices);
    for (joint, &turn) in turns.iter().enumerate() {
        if turn > SHARPEST {
            errors.push(TraceError::Sharp { joint, turn });
        } else if turn < STRAIGHT {
            errors.push(TraceError::Straight { joint });
        }
    }
    for error in (0..last).filter_map(|piece| out_of_order(readings, vertices, &turns, piece)) {
        if !errors.contains(&error) {
            errors.push(error);
        }
    }
    errors
}

/// Change of direction at each vertex but the first and last.
pub(super) fn turns(vertices: &[Point]) -> Vec<Angle> {
    let turn = |three: &[Point]| angle_between(&(three[1] - three[0]), &(three[2] - three[1]));
    vertices.windows(3).map(turn).collect()
}

/// That the middle of a piece's points lies between its joints, as far as miters reach.
fn out_of_order(
    readings: &Readings,
    vertices: &[Point],
    turns: &[Angle],
    piece: usize,
) -> Option<TraceError> {
    let (a, b) = (vertices[piece], vertices[piece + 1]);
    let edge = b - a;
    let length = edge.norm().max(f64::MIN_POSITIVE);
    let own = readings
        .points
        .iter()
        .filter(|point| point.piece() == Some(piece));
    let along: Vec<f64> = own
        .map(|point| edge.dot(&(point.at - a)) / length)
        .collect();
    if along.is_empty() {
        return None;
    }
    let middle = along.iter().sum::<f64>() / along.len() as f64;
    let reach = |joint: Option<&Angle>| {
        let cut = joint.map_or(0.0, |turn| {
            (turn.radians() / 2.0).min(SHARPEST.radians() / 2.0)
        });
        readings.radius * cut.tan() + PAST * readings.sigma
    };
    let before = piece.checked_sub(1).and_then(|joint| turns.get(joint));
    let is_between = middle >= -reach(before) && middle <= length + reach(turns.get(piece));
    if is_between {
        return None;
    }
    let beside = [piece.checked_sub(1), Some(piece)].into_iter().flatten();
    let sliding = beside
        .filter(|&joint| turns.get(joint).is_some_and(|turn| *turn < SLIDES))
        .min_by(|a, b| turns[*a].radians().total_cmp(&turns[*b].radians()));
    Some(sliding.map_or(TraceError::OutOfOrder { piece }, |joint| {
        TraceError::Straight { joint }
    }))
}
