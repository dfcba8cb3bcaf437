//! Exact slopes of a layout: how objective and margins change with the variables.
//!
//! Reverse accumulation by hand: the sum `objective + Σ weight·margin` is followed
//! back from margins to turns, radii and legs, and from legs to corners. One pass
//! costs about two evaluations, whatever the number of variables.

use super::layout::{Layout, MAX_CORNERS, Making, Shape, half_tan_slope};
use crate::geometry::Vector;
use crate::units::Angle;

/// Step of the difference by which the greatest turn's slope over the CLR is taken,
/// as a part of the CLR. It is piecewise smooth; ∛ε is best for a central difference.
const CLR_STEP: f64 = 6e-6;

/// Slopes of the sum over everything that it is made of.
struct Slopes {
    lengths: [f64; MAX_CORNERS + 1],
    legs: [Vector; MAX_CORNERS + 1],
    turns: [f64; MAX_CORNERS],
    radii: [f64; MAX_CORNERS],
    take_outs: [f64; MAX_CORNERS],
    cut_tans: [f64; MAX_CORNERS],
}

impl Layout<'_> {
    /// Slope of `objective + Σ weights[i]·margins[i]` over each variable at `x`, with
    /// margins in the order of [`Layout::evaluate`].
    pub fn gradient(&self, x: &[f64], weights: &[f64]) -> Vec<f64> {
        let shape = self.shape(x);
        let mut slopes = Slopes {
            lengths: [0.0; MAX_CORNERS + 1],
            legs: [Vector::zeros(); MAX_CORNERS + 1],
            turns: [0.0; MAX_CORNERS],
            radii: [0.0; MAX_CORNERS],
            take_outs: [0.0; MAX_CORNERS],
            cut_tans: [0.0; MAX_CORNERS],
        };
        self.slopes_of_objective(&shape, &mut slopes);
        self.slopes_of_margins(&shape, weights, &mut slopes);
        self.slopes_of_turns(&shape, &mut slopes);
        self.slopes_of_variables(&shape, &slopes)
    }

    fn slopes_of_objective(&self, shape: &Shape, slopes: &mut Slopes) {
        let weight = self.turn_weight();
        let scale = 1.0 / (1.0 + weight);
        for length in &mut slopes.lengths[..=self.corners()] {
            *length += scale;
        }
        for i in 0..self.corners() {
            slopes.take_outs[i] -= 2.0 * scale;
            match self.making() {
                Making::Arcs { .. } => {
                    slopes.radii[i] += shape.turns[i] * scale;
                    slopes.turns[i] += (shape.radii[i] + weight) * scale;
                }
                Making::Pies(joints) => {
                    let cuts = 2.0 * f64::from(joints[i]);
                    slopes.radii[i] += cuts * shape.cut_tans[i] * scale;
                    slopes.cut_tans[i] += cuts * shape.radii[i] * scale;
                }
            }
        }
    }

    /// Follows the order in which the margins are visited.
    fn slopes_of_margins(&self, shape: &Shape, weights: &[f64], slopes: &mut Slopes) {
        let mut weights = weights.iter().copied();
        let mut next = || weights.next().unwrap_or(0.0);
        for leg in 0..=self.corners() {
            self.slope_of_straight(leg, next(), slopes);
        }
        for bend in 0..self.corners() {
            let weight = next() * self.turn_margin_scale();
            slopes.turns[bend] -= weight;
            if weight != 0.0 && self.clr_is_free() {
                slopes.radii[bend] += weight * self.greatest_turn_slope(shape, bend);
            }
            if let Making::Pies(joints) = self.making()
                && joints[bend] > 1
            {
                let weight = 2.0 * next();
                slopes.radii[bend] += weight * shape.cut_tans[bend];
                slopes.cut_tans[bend] += weight * (shape.radii[bend] - self.tube_radius());
            }
            if self.clr_is_free() {
                slopes.radii[bend] += next();
                slopes.radii[bend] -= next();
            }
        }
        if matches!(self.making(), Making::Pies(_)) {
            for leg in 0..=self.corners() {
                let weight = next();
                if weight != 0.0 {
                    self.slope_of_straight(leg, weight, slopes);
                    self.slope_of_merged(shape, leg, weight, slopes);
                }
            }
        }
    }

    fn slope_of_straight(&self, leg: usize, weight: f64, slopes: &mut Slopes) {
        slopes.lengths[leg] += weight;
        for bend in self.bends_beside(leg).into_iter().flatten() {
            slopes.take_outs[bend] -= weight;
        }
    }

    /// The half pies at both ends of a merged piece, and its slant.
    fn slope_of_merged(&self, shape: &Shape, leg: usize, weight: f64, slopes: &mut Slopes) {
        let ends = self.slants(shape, leg);
        let slant: Vector = ends.iter().flatten().map(|end| end.slant()).sum();
        let steepest = slant / slant.norm().max(f64::MIN_POSITIVE);
        let axis = shape.legs[leg];
        let pull = -weight * self.tube_radius();
        for end in ends.into_iter().flatten() {
            let bend = end.bend;
            slopes.radii[bend] += weight * shape.cut_tans[bend];
            slopes.cut_tans[bend] += weight * shape.radii[bend] + pull * steepest.dot(&end.side);
            // The side is the unit of q = other − axis·(axis·other).
            let along = steepest * (pull * end.tan);
            let on_q =
                (along - end.side * end.side.dot(&along)) / end.square_norm.max(f64::MIN_POSITIVE);
            let on_other = on_q - axis * axis.dot(&on_q);
            slopes.legs[leg] -= on_q * axis.dot(&end.other) + end.other * axis.dot(&on_q);
            if end.upstream {
                slopes.legs[bend] += on_other;
            } else {
                slopes.legs[bend + 1] -= on_other;
            }
        }
    }

    /// From take-outs and cuts to turns and radii, and from turns to legs.
    fn slopes_of_turns(&self, shape: &Shape, slopes: &mut Slopes) {
        for i in 0..self.corners() {
            let turn = shape.turns[i];
            let half_tan = shape.take_outs[i] / shape.radii[i];
            slopes.radii[i] += slopes.take_outs[i] * half_tan;
            slopes.turns[i] +=
                slopes.take_outs[i] * shape.radii[i] * half_tan_slope(half_tan, turn);
            if let Making::Pies(joints) = self.making() {
                let tan = shape.cut_tans[i];
                slopes.turns[i] +=
                    slopes.cut_tans[i] * (1.0 + tan * tan) / (2.0 * f64::from(joints[i]));
            }
            // A turn grows fastest as one leg swings straight away from the other.
            let (a, b) = (shape.legs[i], shape.legs[i + 1]);
            let away = |from: Vector, other: Vector| {
                let square = other - from * from.dot(&other);
                square * (-1.0 / square.norm().max(f64::MIN_POSITIVE))
            };
            slopes.legs[i] += away(a, b) * slopes.turns[i];
            slopes.legs[i + 1] += away(b, a) * slopes.turns[i];
        }
    }

    fn slopes_of_variables(&self, shape: &Shape, slopes: &Slopes) -> Vec<f64> {
        let corners = self.corners();
        let mut on_corners = [Vector::zeros(); MAX_CORNERS];
        for leg in 1..corners {
            let axis = shape.legs[leg];
            let swing = slopes.legs[leg] - axis * axis.dot(&slopes.legs[leg]);
            let on_leg =
                axis * slopes.lengths[leg] + swing / shape.lengths[leg].max(f64::MIN_POSITIVE);
            on_corners[leg] += on_leg;
            on_corners[leg - 1] -= on_leg;
        }
        let mut gradient = Vec::with_capacity(self.variables());
        gradient.push(slopes.lengths[0] + on_corners[0].dot(&shape.legs[0]));
        gradient.push(slopes.lengths[corners] - on_corners[corners - 1].dot(&shape.legs[corners]));
        for corner in &on_corners[1..corners - 1] {
            gradient.extend(corner.iter());
        }
        if self.clr_is_free() {
            gradient.extend(&slopes.radii[..corners]);
        }
        gradient
    }

    /// Slope of a bend's greatest turn over its CLR, in radians a unit.
    fn greatest_turn_slope(&self, shape: &Shape, bend: usize) -> f64 {
        let radius = shape.radii[bend];
        let step = radius * CLR_STEP;
        let at = |radius: f64| -> Angle { self.greatest_turn(bend, radius) };
        (at(radius + step) - at(radius - step)).radians() / (2.0 * step)
    }
}

#[cfg(test)]
mod tests {
    use crate::geometry::{Direction, Point, Vector};
    use crate::route::{Layout, Limits, Making};
    use crate::run::Port;
    use crate::tube::Tube;
    use crate::units::Length;
    use proptest::prelude::*;

    /// Step of the central difference that slopes are checked against, in units.
    const STEP: f64 = 1e-6;

    fn port(name: &str, center: [f64; 3], outward: [f64; 3]) -> Port {
        Port::new(
            name,
            Point::from(center),
            Direction::new_normalize(Vector::from(outward)),
        )
    }

    fn check(
        corners: usize,
        making: Making,
        clr_max: f64,
        x: &[f64],
        weights: &[f64],
    ) -> Result<(), TestCaseError> {
        let tube =
            Tube::new(Length::from_mm(60.0), Length::from_mm(1.5), "304").expect("a real tube");
        let limits = Limits {
            clr_min: Length::from_mm(60.0),
            clr_max: Length::from_mm(clr_max),
            ..Limits::for_tube(&tube)
        };
        let start = port("a", [10.0, -20.0, 30.0], [0.1, 0.2, 1.0]);
        let end = port("b", [300.0, 150.0, 250.0], [-1.0, 0.3, 0.2]);
        let layout = Layout::new(&start, &end, &limits, tube.radius(), corners, making);
        let x = &x[..layout.variables()];
        let value = |x: &[f64]| {
            let evaluation = layout.evaluate(x);
            let margins = &evaluation.margins[..evaluation.count];
            evaluation.objective + margins.iter().zip(weights).map(|(m, w)| m * w).sum::<f64>()
        };
        let slopes = layout.gradient(x, weights);
        prop_assert_eq!(slopes.len(), x.len());
        for (i, slope) in slopes.iter().enumerate() {
            let mut probe = x.to_vec();
            probe[i] += STEP;
            let ahead = value(&probe);
            probe[i] -= 2.0 * STEP;
            let difference = (ahead - value(&probe)) / (2.0 * STEP);
            let scale = 1.0 + slope.abs();
            prop_assert!(
                (slope - difference).abs() < 1e-4 * scale,
                "{i}: {slope} and {difference}"
            );
        }
        Ok(())
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn slopes_are_those_of_the_values(
            corners in 2_usize..=5,
            joints in prop::array::uniform5(1_u32..6),
            arcs in any::<bool>(),
            range in any::<bool>(),
            reach in prop::array::uniform2(0.2..1.5_f64),
            between in prop::collection::vec(-0.8..1.2_f64, 9),
            radii in prop::array::uniform5(0.15..0.4_f64),
            weights in prop::collection::vec(-1.0..1.0_f64, 32),
        ) {
            let making = if arcs {
                Making::Arcs { per_radian: Length::from_mm(150.0) }
            } else {
                Making::Pies(joints)
            };
            let mut x = reach.to_vec();
            x.extend(&between[..3 * (corners - 2)]);
            x.extend(&radii[..corners]);
            check(corners, making, if range { 200.0 } else { 60.0 }, &x, &weights)?;
        }
    }
}
