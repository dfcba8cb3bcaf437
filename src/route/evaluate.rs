//! A layout at one choice of variables: its objective and margins, their slopes, and the
//! route that it is.

use super::choice::Making;
use super::layout::{Guess, Layout};
use super::limits::CUT_TOLERANCE;
use super::shape::{Shape, Slopes};
use super::term::Term;
use super::{Bend, Constraint, Make, Route};
use crate::geometry::{Direction, Point, Vector, angle_between};
use crate::units::{Angle, Length};

/// A corner that turns less than this, rad, is no bend: 6 millionths of a degree.
const LEAST_TURN: f64 = CUT_TOLERANCE;
/// Distance from the wished length, in units, below which its slope is smoothed.
const SMOOTH: f64 = 1e-4;

/// What [`Layout::evaluate`] found.
#[derive(Clone, Debug)]
pub(super) struct Evaluation {
    /// What the search makes least.
    pub objective: f64,
    /// How far each term is from binding, in units; negative is violated, and anything
    /// but zero where it is an equality.
    pub margins: Vec<f64>,
}

impl Layout<'_> {
    /// The guess that the variables `x` are.
    pub fn unpack(&self, x: &[f64]) -> Guess {
        let k = self.bends();
        let between = x[2..2 + 3 * k.saturating_sub(2)].chunks_exact(3);
        let radii = (0..k).map(|bend| {
            self.places().radii[bend].map_or_else(|| self.radius(bend), |place| x[place])
        });
        let end = |end: usize| {
            let from = self.places().ends[end];
            x[from..from + self.field().ends[end].variables()].to_vec()
        };
        let shape = Shape::new(self, x);
        let turn = |(i, making): (usize, &Making)| {
            shape.turns[i] / (2.0 * f64::from(making.joints().max(1)))
        };
        let steepest = self
            .choice()
            .bends
            .iter()
            .enumerate()
            .map(turn)
            .fold(0.0, f64::max);
        Guess {
            reaches: [x[0], x[1]],
            between: between.map(|c| Vector::new(c[0], c[1], c[2])).collect(),
            radii: radii.collect(),
            cut: self.places().cut.map_or(steepest, |place| x[place]),
            ends: [end(0), end(1)],
        }
    }

    /// Objective and margins at `x`.
    pub fn evaluate(&self, x: &[f64]) -> Evaluation {
        self.evaluate_shape(&Shape::new(self, x))
    }

    /// Objective and margins of `shape`.
    pub fn evaluate_shape(&self, shape: &Shape) -> Evaluation {
        let straights = shape.straights(self.bends());
        let margin = |term: &Term| term.margin(self, shape, &straights);
        Evaluation {
            margins: self.terms().iter().map(margin).collect(),
            objective: self.objective(shape),
        }
    }

    /// Slope of `objective + Σ weights[i]·margins[i]` over each variable at `shape`.
    pub fn gradient(&self, shape: &Shape, weights: impl Iterator<Item = f64>) -> Vec<f64> {
        let mut slopes = Slopes::for_shape(shape);
        self.add_objective_slopes(shape, &mut slopes);
        for (term, weight) in self.terms().iter().zip(weights) {
            if weight != 0.0 {
                term.add_slopes(self, shape, weight, &mut slopes);
            }
        }
        slopes.over_variables(self, shape)
    }

    /// Length of the centerline at `x`, in units.
    pub fn length_at(&self, x: &[f64]) -> f64 {
        self.length(&Shape::new(self, x))
    }

    /// Turn of each bend at `x`.
    pub fn turns_at(&self, x: &[f64]) -> Vec<Angle> {
        let shape = Shape::new(self, x);
        let turns = shape.turns[..self.bends()].iter();
        turns.map(|&turn| Angle::from_radians(turn)).collect()
    }

    /// The terms at `x`, as constraints with their margins as lengths; an equality's is
    /// never positive.
    pub fn constraints(&self, x: &[f64]) -> Vec<(Constraint, Length)> {
        let margins = self.evaluate(x).margins;
        let named = self.terms().iter().zip(margins).map(|(term, margin)| {
            let kept = self.field().length(term.kept(margin));
            (term.constraint(self.bends()), kept)
        });
        named.collect()
    }

    /// Length of straights and arcs or pies.
    fn length(&self, shape: &Shape) -> f64 {
        let k = self.bends();
        let legs: f64 = if k == 0 {
            shape.lengths[0]
        } else {
            shape.lengths[..=k].iter().sum()
        };
        let bends = self.choice().bends.iter().enumerate().map(|(i, making)| {
            let bend = match making {
                Making::Pies { joints, .. } => 2.0 * f64::from(*joints) * shape.cut_tans[i],
                Making::Arc { .. } | Making::Stock { .. } => shape.turns[i],
            };
            shape.radii[i] * bend - 2.0 * shape.take_outs[i]
        });
        legs + bends.sum::<f64>()
    }

    /// Length, plus the weights of turns and of a wished length; scaled so that its
    /// slope is near 1 whatever the weights.
    fn objective(&self, shape: &Shape) -> f64 {
        let length = self.length(shape);
        let turns: f64 = shape.turns[..self.bends()].iter().sum();
        let off = self.aim().wish.map_or(0.0, |(wish, weight)| {
            weight * ((length - wish).hypot(SMOOTH) - SMOOTH)
        });
        let making: f64 = (0..self.bends())
            .map(|bend| self.making_cost(shape, bend).0)
            .sum();
        (length + self.aim().per_radian * turns + off + making) * self.objective_scale()
    }

    /// What making a bend costs, in units of length, and its slopes over the tangent of
    /// its cut, its CLR and its turn.
    fn making_cost(&self, shape: &Shape, bend: usize) -> (f64, [f64; 3]) {
        let worth = &self.aim().making;
        match self.choice().bends[bend] {
            Making::Arc { .. } => (0.0, [0.0; 3]),
            Making::Stock { .. } => {
                let (radius, turn) = (shape.radii[bend], shape.turns[bend]);
                let saved = -worth.stock;
                (saved * radius * turn, [0.0, saved * turn, saved * radius])
            }
            Making::Pies { joints, .. } => {
                let joints = f64::from(joints);
                let tan = shape.cut_tans[bend];
                let long = tan.hypot(1.0);
                let (weld, weld_slope) = ellipse_round(long);
                let cost = worth.weld * weld + worth.joint * long;
                let slope = (worth.weld * weld_slope + worth.joint) * tan / long;
                (joints * cost, [joints * slope, 0.0, 0.0])
            }
        }
    }

    fn objective_scale(&self) -> f64 {
        1.0 / (1.0 + self.aim().per_radian + self.aim().wish.map_or(0.0, |(_, weight)| weight))
    }

    fn add_objective_slopes(&self, shape: &Shape, slopes: &mut Slopes) {
        let scale = self.objective_scale();
        let by_length = scale
            * self.aim().wish.map_or(1.0, |(wish, weight)| {
                let off = self.length(shape) - wish;
                1.0 + weight * off / off.hypot(SMOOTH)
            });
        let k = self.bends();
        for length in &mut slopes.lengths[..=k] {
            *length += by_length;
        }
        for (i, making) in self.choice().bends.iter().enumerate() {
            slopes.take_outs[i] -= 2.0 * by_length;
            slopes.turns[i] += self.aim().per_radian * scale;
            let (_, [by_tan, by_radius, by_turn]) = self.making_cost(shape, i);
            slopes.cut_tans[i] += by_tan * scale;
            slopes.radii[i] += by_radius * scale;
            slopes.turns[i] += by_turn * scale;
            match making {
                Making::Pies { joints, .. } => {
                    let cuts = 2.0 * f64::from(*joints) * by_length;
                    slopes.radii[i] += cuts * shape.cut_tans[i];
                    slopes.cut_tans[i] += cuts * shape.radii[i];
                }
                Making::Arc { .. } | Making::Stock { .. } => {
                    slopes.radii[i] += shape.turns[i] * by_length;
                    slopes.turns[i] += shape.radii[i] * by_length;
                }
            }
        }
    }

    /// The route at `x`; `None` where a corner does not turn, where bends are arcs,
    /// which nobody can make, or where two given ports leave nothing to choose.
    pub fn route(&self, x: &[f64]) -> Option<Route> {
        let shape = Shape::new(self, x);
        let ends = self.ends_in_job(&shape)?;
        let (start, end, corners) = self.corners_in_job(x, &ends)?;
        let directions = [ends[0].1, -ends[1].1];
        let mut legs = vec![directions[0]];
        for pair in corners.windows(2) {
            legs.push(Direction::try_new(pair[1] - pair[0], f64::MIN_POSITIVE)?);
        }
        legs.push(directions[1]);
        let bend = |i: usize| {
            let turn = angle_between(&legs[i], &legs[i + 1]);
            let make = match self.choice().bends[i] {
                Making::Arc { .. } => return None,
                Making::Pies { joints, .. } => Make::Pies { joints },
                Making::Stock { item, .. } => Make::Stock { item },
            };
            (turn.radians() >= LEAST_TURN).then_some(Bend {
                corner: corners[i],
                incoming: legs[i],
                outgoing: legs[i + 1],
                turn,
                clr: self.field().length(shape.radii[i]),
                make,
            })
        };
        Some(Route {
            start,
            end,
            bends: (0..self.bends()).map(bend).collect::<Option<_>>()?,
        })
    }

    /// Both ports' centers and outward directions in the job's frame; exactly as given
    /// where they are fixed.
    fn ends_in_job(&self, shape: &Shape) -> Option<[(Point, Direction); 2]> {
        let task = self.field().task;
        let end = |i: usize, port: &crate::run::Port| {
            if self.field().ends[i].is_fixed() {
                return Some((port.center, port.outward));
            }
            let outward = self.field().job_from_frame * shape.outward[i];
            let leans = self.field().ends[i].lean > 0.0;
            let outward = if leans {
                Direction::try_new(outward, 0.5)?
            } else {
                port.outward
            };
            Some((self.field().in_job(&shape.centers[i]), outward))
        };
        Some([end(0, &task.start)?, end(1, &task.end)?])
    }

    /// First and last point and the corners between. With one bend or none, the end that
    /// is free is moved by what the search left open, so that the run closes exactly.
    fn corners_in_job(
        &self,
        x: &[f64],
        [(start, out), (end, back)]: &[(Point, Direction); 2],
    ) -> Option<(Point, Point, Vec<Point>)> {
        let unit = self.field().unit;
        let first = start + out.into_inner() * (x[0] * unit);
        let last = end + back.into_inner() * (x[1] * unit);
        let end_is_free = !self.field().ends[1].is_fixed();
        if !end_is_free && self.field().ends[0].is_fixed() && self.bends() < 2 {
            return None;
        }
        match self.bends() {
            0 => {
                let facing = angle_between(out, &-back.into_inner()).radians() <= CUT_TOLERANCE;
                facing.then_some((*start, first, Vec::new()))
            }
            1 if end_is_free => Some((
                *start,
                first - back.into_inner() * (x[1] * unit),
                vec![first],
            )),
            1 => Some((last - out.into_inner() * (x[0] * unit), *end, vec![last])),
            k => {
                let between = x[2..2 + 3 * (k - 2)]
                    .chunks_exact(3)
                    .map(|c| self.field().in_job(&Vector::new(c[0], c[1], c[2])));
                let corners = std::iter::once(first).chain(between).chain([last]);
                Some((*start, *end, corners.collect()))
            }
        }
    }
}

/// Perimeter of an ellipse of semi-axes `long` and 1, and its slope over `long`.
///
/// P = π·(a + b)·(1 + h/4 + h²/64 + h³/256), h = ((a − b)/(a + b))²; to 1e-9 up to cuts of
/// 45° (from memory; checked against [`crate::geometry::ellipse_perimeter`]).
fn ellipse_round(long: f64) -> (f64, f64) {
    use std::f64::consts::PI;
    let sum = long + 1.0;
    let root = (long - 1.0) / sum;
    let h = root * root;
    let series = 1.0 + h * (1.0 / 4.0 + h * (1.0 / 64.0 + h / 256.0));
    let series_slope = 1.0 / 4.0 + h * (1.0 / 32.0 + h * (3.0 / 256.0));
    let h_slope = 4.0 * root / (sum * sum);
    (
        PI * sum * series,
        PI * (series + sum * series_slope * h_slope),
    )
}

#[cfg(test)]
mod tests {
    use super::ellipse_round;
    use crate::geometry::ellipse_perimeter;

    #[test]
    fn the_weld_of_the_search_is_the_weld_of_the_cost() {
        for degrees in [2.0_f64, 5.0, 11.25, 22.5, 44.0] {
            let long = 1.0 / degrees.to_radians().cos();
            let (perimeter, slope) = ellipse_round(long);
            let exact = |long: f64| ellipse_perimeter(long, 1.0);
            assert!((perimeter / exact(long) - 1.0).abs() < 1e-8, "{degrees}");
            let difference = (exact(long + 1e-5) - exact(long - 1e-5)) / 2e-5;
            assert!((slope - difference).abs() < 1e-6, "{degrees}");
        }
    }
}
