//! Shades of round tube: how its outside looks across, lit from above the viewer's left
//! shoulder.

use super::{Gaze, Ring};
use crate::geometry::{Direction, Vector};
use std::f64::consts::PI;

/// Steps across the tube between places where a shade is set, close together where it turns away.
const STOPS: u32 = 5;
/// Light from everywhere, from the lamp, and from the lamp as metal mirrors it, in parts
/// of full light. Chosen by looking: print stays light, tube looks round.
const AMBIENT: f64 = 0.18;
const DIFFUSE: f64 = 0.70;
const GLOSS: f64 = 0.30;
/// How sharp the mirrored light is (Blinn's exponent).
const SHARPNESS: f64 = 18.0;
/// How much of its light a side keeps that is just turning out of sight.
const RIM: f64 = 0.72;
/// Darkest and lightest red, green and blue of the tubes of each run in turn.
const TINTS: [[[f64; 3]; 2]; 5] = [
    [[96.0, 108.0, 122.0], [252.0, 253.0, 255.0]],
    [[122.0, 104.0, 82.0], [255.0, 252.0, 246.0]],
    [[84.0, 116.0, 104.0], [248.0, 255.0, 251.0]],
    [[114.0, 98.0, 122.0], [254.0, 250.0, 255.0]],
    [[120.0, 118.0, 84.0], [255.0, 255.0, 246.0]],
];

/// A place across the tube, 0 to 1, and its color.
pub type Stop = (f64, String);

/// The colors across a tube, from the side at clock 0 to that at half a turn.
pub fn across(ring: &Ring, gaze: &Gaze, run: usize) -> Vec<Stop> {
    let (toward, up, right) = (
        gaze.toward.into_inner(),
        gaze.up.into_inner(),
        gaze.right.into_inner(),
    );
    let light = Direction::new_normalize(toward * 0.9 + up * 0.9 - right * 0.55);
    let halfway = Direction::new_normalize(light.into_inner() + toward);
    (0..=STOPS)
        .map(|i| {
            let t = PI * f64::from(i) / f64::from(STOPS);
            let tone = tone(&ring.outward(t), &light, &halfway, &gaze.toward);
            (f64::midpoint(1.0, -t.cos()), color(tone, run))
        })
        .collect()
}

fn tone(normal: &Vector, light: &Direction, halfway: &Direction, toward: &Direction) -> f64 {
    let lit = DIFFUSE * normal.dot(light).max(0.0);
    let gloss = GLOSS * normal.dot(halfway).max(0.0).powf(SHARPNESS);
    let rim = RIM + (1.0 - RIM) * normal.dot(toward).clamp(0.0, 1.0);
    ((AMBIENT + lit + gloss) * rim).clamp(0.0, 1.0)
}

/// The color of run number `run` at a tone from 0 to 1.
pub fn color(tone: f64, run: usize) -> String {
    let [dark, light] = TINTS[run % TINTS.len()];
    let part = |i: usize| (dark[i] + (light[i] - dark[i]) * tone).round() as u8;
    format!("#{:02x}{:02x}{:02x}", part(0), part(1), part(2))
}
