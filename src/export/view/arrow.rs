//! Arrows: along flow, along axes, at the ends of dimension lines.

use super::canvas::Paint;
use super::{Area, Offset, Plate, Spot};

/// Length and half width of a head, in text heights. Source: ISO 129-1's closed and
/// filled terminator (from memory).
const HEAD: [f64; 2] = [0.95, 0.17];
/// Radius of the sign for an arrow that comes out of the page or goes into it, in text
/// heights.
const SIGN: f64 = 0.55;

/// An arrow from `tail` to `tip`; its head is `bold` times as large as a dimension line's.
pub fn arrow(plate: &mut Plate, tail: Spot, tip: Spot, width: f64, color: &str, bold: f64) {
    let along = tip - tail;
    let length = along.norm();
    if length <= 0.0 {
        return;
    }
    let way = along / length;
    let [head, half] = HEAD.map(|size| size * plate.text * bold);
    let neck = tip - way * head.min(length);
    plate
        .canvas
        .polyline(&[tail, neck], false, Paint::line(color, width));
    self::head(
        plate,
        tip,
        way,
        [head.min(length), half * bold.max(1.0)],
        color,
    );
}

/// A filled head that points along `way`.
fn head(plate: &mut Plate, tip: Spot, way: Offset, [length, half]: [f64; 2], color: &str) {
    let (neck, side) = (tip - way * length, Offset::new(-way.y, way.x) * half);
    plate
        .canvas
        .polyline(&[tip, neck + side, neck - side], true, Paint::fill(color));
}

/// The sign for an arrow along the line of sight: a dot where it comes to the viewer, a
/// cross where it goes away.
pub fn sign(plate: &mut Plate, center: Spot, comes: bool, color: &str) {
    let [thick, _] = plate.lines();
    let radius = SIGN * plate.text;
    let paint = Paint {
        fill: "white",
        stroke: color,
        width: thick,
    };
    plate.canvas.disc(center, radius, paint);
    if comes {
        plate.canvas.disc(center, radius * 0.3, Paint::fill(color));
    } else {
        let arm = radius * std::f64::consts::FRAC_1_SQRT_2;
        for off in [Offset::new(arm, arm), Offset::new(arm, -arm)] {
            let ends = [center - off, center + off];
            plate
                .canvas
                .polyline(&ends, false, Paint::line(color, thick));
        }
    }
    plate.room.take(&Area::about(center, radius, radius));
}
