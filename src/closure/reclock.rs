//! [`Reclock`]: joints that are not welded yet, turned so that one piece closes the gap.

use super::{Axis, BuiltEnd, Closure, FitUp, Rim, Side};
use crate::geometry::{Direction, Plane, angle_between};
use crate::tube::Tube;
use crate::units::{Angle, Length};
use argmin::core::{CostFunction, Error, Executor};
use argmin::solver::neldermead::NelderMead;
use nalgebra::{Rotation3, Unit};
use std::f64::consts::PI;

/// Most joints that are looked at: those nearest the gap.
pub const MOST_JOINTS: usize = 8;
/// Turns that are tried of one joint: every 5°, and of two: every 15°.
const STEPS: [i32; 2] = [36, 12];
/// Side of the simplex that goes on from the best of these, rad.
const SIMPLEX: f64 = 0.05;
/// Change over the simplex at which it ends, in parts of what may be welded.
const SETTLED: f64 = 1e-9;
/// Most rounds of the simplex.
const ROUNDS: u64 = 400;
/// Sides round each rim at which the mismatch is looked at in the search.
const SIDES: usize = 24;
/// What may be welded is kept with this much to spare where it can be.
const MARGIN: f64 = 0.5;
/// What a half turn counts against a good fit: of two that are good, the smaller turn.
const PER_HALF_TURN: f64 = 0.05;
/// What counts for ends that no piece goes between.
const HOPELESS: f64 = 1e3;
/// Sides of a joint at which two ellipses are compared.
const ROUND: u32 = 180;

/// A joint on the way to the gap that can still be turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LooseJoint {
    /// Its number in the run.
    pub joint: usize,
    /// On which side of the gap.
    pub side: Side,
    /// The plane its faces lie on, its normal downstream.
    pub plane: Plane,
    /// The saw angle of its faces; zero where they are square.
    pub cut: Angle,
    /// Whether it is tacked: the tacks must be broken.
    pub tacked: bool,
}

/// Joints to turn, and the piece that then closes the gap.
///
/// A joint turns in its own plane: what is between it and the gap goes round the plane's
/// normal. Square faces mate at any turn. Mitered ones are ellipses with semi-axes
/// r/cos κ and r, which then stand apart by up to r·(1/cos κ − 1): at 9° by 1.2 % of r.
#[derive(Clone, Debug, PartialEq)]
pub struct Reclock {
    /// Which joints, by how much (clockwise looking downstream, of the part on the gap's
    /// side), and the step from wall to wall that it leaves there.
    pub turns: Vec<Turn>,
    /// The built ends, as they then stand.
    pub ends: [BuiltEnd; 2],
    /// The piece.
    pub closure: Closure,
    /// Minutes for the joints and the piece.
    pub minutes: f64,
}

/// A joint that is turned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// The joint.
    pub joint: LooseJoint,
    /// Clockwise looking downstream, of the part on the gap's side.
    pub by: Angle,
    /// Step from wall to wall that it leaves at the joint.
    pub high_low: Length,
}

impl Reclock {
    /// One joint, or else two, turned so that a piece of `tube` closes the gap with both
    /// ends as they are cut; `None` where that does not help. The joint that takes the
    /// fewest minutes, and of those the best fit.
    pub fn new(
        tube: &Tube,
        ends: [&BuiltEnd; 2],
        loose: &[LooseJoint],
        fit_up: &FitUp,
    ) -> Option<Self> {
        let loose = &loose[..loose.len().min(MOST_JOINTS)];
        let one = (0..loose.len()).map(|i| vec![loose[i]]).collect();
        let two = (0..loose.len())
            .flat_map(|i| (i + 1..loose.len()).map(move |j| (i, j)))
            .map(|(i, j)| vec![loose[i], loose[j]])
            .collect();
        let all: [Vec<Vec<LooseJoint>>; 2] = [one, two];
        all.into_iter().find_map(|some| {
            let found = some.into_iter().filter_map(|joints| {
                Search {
                    tube,
                    ends,
                    joints,
                    fit_up,
                }
                .best()
            });
            found.min_by(|a, b| {
                let fit = |one: &Self| (one.minutes, one.closure.high_low().mm());
                let (a, b) = (fit(a), fit(b));
                a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
            })
        })
    }
}

/// Which turns of some joints fit best.
#[derive(Clone)]
struct Search<'a> {
    tube: &'a Tube,
    ends: [&'a BuiltEnd; 2],
    joints: Vec<LooseJoint>,
    fit_up: &'a FitUp,
}

impl Search<'_> {
    fn best(&self) -> Option<Reclock> {
        let start = self.grid();
        let mut simplex = vec![start.clone()];
        for i in 0..start.len() {
            let mut corner = start.clone();
            corner[i] += SIMPLEX;
            simplex.push(corner);
        }
        let solver = NelderMead::new(simplex).with_sd_tolerance(SETTLED).ok()?;
        let found = Executor::new(self.clone(), solver)
            .configure(|state| state.max_iters(ROUNDS))
            .run()
            .ok()?;
        self.made(found.state.best_param.as_ref()?)
    }

    /// The best of evenly spread turns.
    fn grid(&self) -> Vec<f64> {
        let steps = STEPS[self.joints.len() - 1];
        let turn = |step: i32| PI * f64::from(step) / f64::from(steps);
        let mut turns: Vec<Vec<f64>> = vec![Vec::new()];
        for _ in &self.joints {
            turns = turns
                .iter()
                .flat_map(|before| {
                    (1 - steps..=steps).map(move |step| {
                        let mut turns = before.clone();
                        turns.push(turn(step));
                        turns
                    })
                })
                .collect();
        }
        let scored = turns.into_iter().map(|turns| (self.score(&turns), turns));
        let best = scored.min_by(|a, b| a.0.total_cmp(&b.0));
        best.map_or_else(|| vec![0.0; self.joints.len()], |(_, turns)| turns)
    }

    /// Ends after turns; joints are in order from the ports to the gap or the other way
    /// round, so the ones nearest the gap turn first.
    fn turned(&self, turns: &[f64]) -> [BuiltEnd; 2] {
        let mut ends = self.ends.map(BuiltEnd::clone);
        let mut order: Vec<usize> = (0..turns.len()).collect();
        order.sort_by_key(|&i| match self.joints[i].side {
            Side::Before => std::cmp::Reverse(self.joints[i].joint as i64),
            Side::After => std::cmp::Reverse(-(self.joints[i].joint as i64)),
        });
        for i in order {
            let joint = &self.joints[i];
            let end = &mut ends[joint.side as usize];
            *end = turned(end, &joint.plane, turns[i]);
        }
        ends
    }

    /// The worst of what is asked for, in parts of what may be; and a little for the
    /// turns.
    fn score(&self, turns: &[f64]) -> f64 {
        let most = self.fit_up.high_low.mm();
        let steps = self.joints.iter().zip(turns);
        let joints = steps.map(|(joint, by)| step(joint.cut, *by, self.tube.radius()).mm() / most);
        let worst = joints.fold(self.misfit(&self.turned(turns)), f64::max);
        let turned: f64 = turns.iter().map(|by| wrapped(*by).abs() / PI).sum();
        worst.max(MARGIN) + PER_HALF_TURN * turned
    }

    /// The same of the ends alone: a quick look with the line through both centers.
    fn misfit(&self, ends: &[BuiltEnd; 2]) -> f64 {
        let radius = self.tube.radius();
        let Some(axis) = Axis::between(ends[0].center, ends[1].center) else {
            return HOPELESS;
        };
        let mut worst: f64 = 0.0;
        let mut room = (ends[1].center - ends[0].center).norm();
        for (i, end) in ends.iter().enumerate() {
            let normal: Direction = if i == 0 { end.normal() } else { -end.normal() };
            let cut = angle_between(&normal, &axis.along);
            if cut >= Angle::QUARTER {
                return HOPELESS;
            }
            let points = end.rim_points(radius, SIDES);
            let steps = points
                .iter()
                .map(|p| (axis.out(p).norm() - radius.mm()).abs());
            worst = worst.max(steps.fold(0.0, f64::max) / self.fit_up.high_low.mm());
            worst = worst.max(cut / self.fit_up.most_cut);
            room -= radius.mm() * cut.tan();
        }
        let missing = self.fit_up.short_side.mm() - room;
        worst.max(1.0 + missing / radius.mm())
    }

    /// The turns as they are made, if the piece then fits.
    fn made(&self, turns: &[f64]) -> Option<Reclock> {
        let ends = self.turned(turns);
        let closure = Closure::new(self.tube, [&ends[0], &ends[1]], [false; 2], self.fit_up)
            .ok()
            .filter(Closure::is_good)?;
        let turns: Vec<Turn> = self
            .joints
            .iter()
            .zip(turns)
            .map(|(joint, &by)| Turn {
                joint: *joint,
                by: Angle::from_radians(wrapped(by)),
                high_low: step(joint.cut, by, self.tube.radius()),
            })
            .collect();
        if turns
            .iter()
            .any(|turn| turn.high_low > self.fit_up.high_low)
        {
            return None;
        }
        let rates = &self.fit_up.rates;
        let again = turns.iter().filter(|turn| turn.joint.tacked).count() as f64;
        let marked = turns.len() as f64;
        let minutes = closure.minutes + again * rates.fit_up_minutes + marked * rates.clock_minutes;
        Some(Reclock {
            turns,
            ends,
            closure,
            minutes,
        })
    }
}

impl CostFunction for Search<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, turns: &Self::Param) -> Result<Self::Output, Error> {
        Ok(self.score(turns))
    }
}

/// `end` turned about a plane's normal.
fn turned(end: &BuiltEnd, plane: &Plane, by: f64) -> BuiltEnd {
    let rotation = Rotation3::from_axis_angle(&plane.normal, by);
    let place = |point: &crate::geometry::Point| plane.point + rotation * (point - plane.point);
    let turn = |direction: &Direction| Unit::new_normalize(rotation * direction.into_inner());
    BuiltEnd {
        center: place(&end.center),
        axis: turn(&end.axis),
        rim: match &end.rim {
            Rim::Flat(normal) => Rim::Flat(turn(normal)),
            Rim::Ragged { zero, edge } => Rim::Ragged {
                zero: turn(zero),
                edge: edge.clone(),
            },
        },
        mark: end
            .mark
            .as_ref()
            .map(|(at, name)| (place(at), name.clone())),
        ..end.clone()
    }
}

/// Step between two equal ellipses of which one is turned by `by`, in the joint's plane:
/// ρ(t) = r/√(cos²κ·cos² t + sin² t).
fn step(cut: Angle, by: f64, radius: Length) -> Length {
    let cos = cut.cos();
    let reach = |clock: f64| 1.0 / (cos * clock.cos()).hypot(clock.sin());
    let steps = (0..ROUND).map(|i| {
        let clock = PI * f64::from(i) / f64::from(ROUND);
        (reach(clock) - reach(clock - by)).abs()
    });
    radius * steps.fold(0.0, f64::max)
}

/// Within half a turn.
fn wrapped(turn: f64) -> f64 {
    let wrapped = Angle::from_radians(turn).wrapped().radians();
    if wrapped > PI {
        wrapped - 2.0 * PI
    } else {
        wrapped
    }
}
