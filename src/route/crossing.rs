//! [`Crossing`]: where a leg crosses a pass, what room is left there, and the slopes.

use super::layout::Layout;
use super::pass::LEAST_COS;
use super::shape::{Shape, Slopes};
use crate::geometry::Vector;

/// Distance off a pass's middle, in units, below which the slope is smoothed.
const SMOOTH: f64 = 1e-6;

/// Where a leg crosses a pass.
pub(super) struct Crossing {
    leg: usize,
    pass: usize,
    /// From the leg's beginning.
    pub along: f64,
    /// From the pass's middle to the crossing.
    off: Vector,
    /// Room round the tube.
    pub room: f64,
    /// Cosine of the angle off square, held away from zero; 1 at a bracket.
    cos: f64,
}

impl Crossing {
    pub fn new(layout: &Layout<'_>, shape: &Shape, leg: usize, pass: usize) -> Self {
        let opening = layout.field().passes[pass];
        let (from, axis) = (leg_start(shape, leg), shape.legs[leg]);
        let to = opening.center - from;
        let (along, cos, needs) = match opening.direction {
            None => (to.dot(&axis), 1.0, 0.0),
            Some(direction) => {
                let cos = axis.dot(&direction);
                let cos = if cos.abs() < LEAST_COS {
                    LEAST_COS.copysign(cos)
                } else {
                    cos
                };
                (
                    to.dot(&direction) / cos,
                    cos,
                    layout.tube_radius() / cos.abs(),
                )
            }
        };
        let off = from + axis * along - opening.center;
        // A hair more than the true distance, never less.
        let distance = off.norm().hypot(SMOOTH);
        Self {
            leg,
            pass,
            along,
            off,
            room: opening.radius - distance - needs,
            cos,
        }
    }

    /// off = P + e·a − C, with a = (C − P)·n/(e·n) at a hole and (C − P)·e at a bracket.
    pub fn room_slope(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        let axis = shape.legs[self.leg];
        let pull = self.off * (-weight / self.off.norm().hypot(SMOOTH));
        add_leg_start(self.leg, pull, slopes);
        slopes.legs[self.leg] += pull * self.along;
        self.along_slope(layout, shape, pull.dot(&axis), slopes);
        if let Some(direction) = layout.field().passes[self.pass].direction
            && axis.dot(&direction).abs() >= LEAST_COS
        {
            // Needs r/|cos|.
            let by_cos = layout.tube_radius() / (self.cos * self.cos) * self.cos.signum();
            slopes.legs[self.leg] += direction * (weight * by_cos);
        }
    }

    pub fn along_slope(
        &self,
        layout: &Layout<'_>,
        shape: &Shape,
        weight: f64,
        slopes: &mut Slopes,
    ) {
        let opening = layout.field().passes[self.pass];
        let axis = shape.legs[self.leg];
        match opening.direction {
            None => {
                add_leg_start(self.leg, axis * -weight, slopes);
                let to = opening.center - leg_start(shape, self.leg);
                slopes.legs[self.leg] += to * weight;
            }
            Some(direction) => {
                add_leg_start(self.leg, direction * (-weight / self.cos), slopes);
                if axis.dot(&direction).abs() >= LEAST_COS {
                    slopes.legs[self.leg] -= direction * (weight * self.along / self.cos);
                }
            }
        }
    }
}

fn leg_start(shape: &Shape, leg: usize) -> Vector {
    match leg.checked_sub(1) {
        None => shape.centers[0],
        Some(bend) => shape.corners[bend],
    }
}

fn add_leg_start(leg: usize, pull: Vector, slopes: &mut Slopes) {
    match leg.checked_sub(1) {
        None => slopes.centers[0] += pull,
        Some(bend) => slopes.corners[bend] += pull,
    }
}
