//! The job's axes beside a view.

use super::arrow::{arrow, sign};
use super::canvas::ACCENT;
use super::{Area, Gaze, Offset, Plate, Spot};
use crate::geometry::Vector;

/// Length of an axis, and from its tip to its letter, in text heights.
const LENGTH: f64 = 2.6;
const LETTER: f64 = 0.85;
/// Half a side of all of it, in text heights.
const HALF: f64 = 2.9;
/// An axis that shows less of its length than this is a sign instead.
const SHOWN: f64 = 0.2;

/// Puts the axes in a corner of `area` where least tube is, at best the lower left.
pub fn triad(plate: &mut Plate, gaze: &Gaze, area: &Area) {
    let half = HALF * plate.text;
    let inner = area.within(plate.room.page()).grown(-half);
    let corners = [
        Spot::new(inner.low.x, inner.high.y),
        inner.high,
        inner.low,
        Spot::new(inner.high.x, inner.low.y),
    ];
    let cost = |corner: &Spot| {
        let place = Area::about(*corner, half, half);
        let taken = if plate.room.is_free(&place) { 0.0 } else { 1.0 };
        taken + plate.room.tube_under(&place)
    };
    let best = corners.iter().min_by(|a, b| cost(a).total_cmp(&cost(b)));
    if let Some(&corner) = best {
        draw(plate, gaze, corner);
    }
}

fn draw(plate: &mut Plate, gaze: &Gaze, corner: Spot) {
    let axes = [("x", Vector::x()), ("y", Vector::y()), ("z", Vector::z())];
    let flat = axes.map(|(name, axis)| (name, axis, gaze.flatten(&axis) * (LENGTH * plate.text)));
    // The middle of what is drawn goes to the middle of its place.
    let tips: Vec<Spot> = flat.iter().map(|(_, _, off)| Spot::from(*off)).collect();
    let origin = corner - Area::round(&tips).center().coords;
    let [thick, _] = plate.lines();
    for (name, _, off) in flat {
        if off.norm() < SHOWN * LENGTH * plate.text {
            continue;
        }
        let tip = origin + off;
        arrow(plate, origin, tip, thick, ACCENT, 1.0);
        let beyond = tip + off.normalize() * (LETTER * plate.text);
        plate.canvas.text(name, beyond, plate.text, false, ACCENT);
    }
    for (name, axis, off) in flat {
        if off.norm() < SHOWN * LENGTH * plate.text {
            sign(plate, origin, axis.dot(&gaze.toward) > 0.0, ACCENT);
            let beside = origin + Offset::new(-1.0, 1.0) * (1.05 * plate.text);
            plate.canvas.text(name, beside, plate.text, false, ACCENT);
        }
    }
    let half = HALF * plate.text;
    plate.room.take(&Area::about(corner, half, half));
}
