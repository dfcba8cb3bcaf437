//! The search over families of routes.
//!
//! 1. A straight tube, where the ports face each other on one axis.
//! 2. One bend, where the axes cross ahead of both ports.
//! 3. Two corners, then three. Shortest arcs first (a lower bound and good first
//!    guesses), then choices of joints per bend: the turn that a bend may take is
//!    limited by its joints, so each choice is a smooth problem for [`minimize`].
//!
//! Choices are explored from those that the shortest arcs call for, a joint less or
//! a joint moved at a time, as long as what they must cost leaves hope: so many joints,
//! and no less tube than the shortest arcs.

use super::layout::Joints;
use super::reason::{self, NoRoute};
use super::seeds::seeds;
use super::task::Rejection;
use super::{Bend, Candidate, EXACT, Found, Layout, Limits, Making, ROUGH, Route, Task, minimize};
use crate::geometry::{Direction, Point, angle_between};
use crate::run::Port;
use crate::units::{Angle, Length};
use std::collections::{BTreeSet, VecDeque};

/// Axes that miss each other by less than this are taken to cross: a tenth of what any
/// jig or flange is true to. The run still meets both faces' centers exactly.
const HAIR: Length = Length::from_mm(0.01);
/// Angle by which a run may then leave a port off its measured axis.
const HAIR_ANGLE: Angle = Angle::from_degrees(0.01);
/// Squared sine below which two axes are parallel.
const PARALLEL: f64 = 1e-12;
/// Rounding, mm, when a bend fills the room that it has.
const ROOM_TOLERANCE: f64 = 1e-9;
/// First guesses when looking for the best arcs of two corners, which have at most
/// four minima (each end may turn either way)…
const TWO_CORNER_SEEDS: usize = 4;
/// …and of three, whose middle corner may go anywhere.
const THREE_CORNER_SEEDS: usize = 6;
/// First guesses of their own for each choice of joints, beside the shortest arcs.
const PIE_SEEDS: usize = 1;
/// The same for three corners while no route has been found at all.
const FIRST_PIE_SEEDS: usize = 6;
/// Local searches after which the solver gives the best so far…
const MAX_SEARCHES: u32 = 1500;
/// …or gives up looking for a first route…
const MAX_FRUITLESS: u32 = 400;
/// …or for whether there is one at all.
const MAX_PROBES: u32 = 80;
/// Choices of joints that fail, for one number of corners, whose neighbors are tried.
const MAX_FAILURES: u32 = 6;
/// Choices of joints that are looked at for one number of corners.
const MAX_CHOICES: usize = 400;
/// Single CLRs searched across a range before the range as a whole.
const RANGE_STEPS: u32 = 5;
/// CLRs tried across a range for a single bend.
const CLR_STEPS: u32 = 32;
/// Objectives within this part of each other count as the same arcs: several times
/// what rough searches differ by.
const SAME_OBJECTIVE: f64 = 1e-3;
/// Alternatives that are kept.
const MAX_ALTERNATIVES: usize = 4;

/// Why the solver stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The ports face each other on one axis: straight tube, nothing to choose.
    StraightTube,
    /// Every choice of joints that promised to be cheaper has been tried.
    ChoicesTried,
    /// The allowance of local searches was spent; the best so far is given.
    SearchesSpent,
}

impl Stop {
    /// A stable name for files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::StraightTube => "straight-tube",
            Self::ChoicesTried => "choices-tried",
            Self::SearchesSpent => "searches-spent",
        }
    }
}

/// What the solver found.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The cheapest.
    pub best: Candidate,
    /// Others that can be built, cheapest first, each with another number of bends
    /// or other joints.
    pub alternatives: Vec<Candidate>,
    /// Why the search ended.
    pub stop: Stop,
    /// Local searches made.
    pub searches: u32,
}

/// The cheapest route for `task`, or why there is none.
///
/// Deterministic. Bounded by a fixed number of local searches.
pub fn solve(task: &Task) -> Result<Solution, NoRoute> {
    let ordered = ordered(task);
    let mut solver = Solver::new(&ordered);
    solver.run();
    let (stop, searches) = (solver.stop(), solver.searches);
    let mut found = std::mem::take(&mut solver.candidates);
    let (nearest, rejection) = (solver.nearest, solver.rejection);
    if task.is_turned() {
        let back = |candidate: Candidate| task.reverse_of(&candidate);
        found = found.into_iter().filter_map(back).collect();
    }
    found.sort_by(|a, b| a.cost.money.total_cmp(&b.cost.money));
    found.truncate(1 + MAX_ALTERNATIVES);
    if found.is_empty() {
        let nearest = nearest.map(|nearest| nearest.seen_from(task));
        return Err(reason::explain(task, nearest.as_ref(), rejection));
    }
    let best = found.remove(0);
    Ok(Solution {
        best,
        alternatives: found,
        stop,
        searches,
    })
}

/// Cost of the cheapest route for `task`, without a word about why there is none.
pub fn cheapest(task: &Task) -> Option<f64> {
    let ordered = ordered(task);
    let mut solver = Solver::new(&ordered);
    solver.run();
    Some(solver.best_money()).filter(|money| money.is_finite())
}

/// `task` from the port that comes first, see [`Task::is_turned`].
fn ordered(task: &Task) -> Task {
    if task.is_turned() {
        task.reversed()
    } else {
        task.clone()
    }
}

/// Whether any route exists for `task`.
pub(super) fn is_feasible(task: &Task) -> bool {
    let ordered = ordered(task);
    let mut solver = Solver::new(&ordered);
    solver.first_only = true;
    solver.run();
    !solver.candidates.is_empty()
}

/// Length of the shortest route of true arcs at CLR `limits.clr_min` with `corners`
/// corners; `None` if there is none. The lower bound for anything built of pies.
pub fn shortest(start: &Port, end: &Port, limits: &Limits, corners: usize) -> Option<Length> {
    let making = Making::Arcs {
        per_radian: Length::ZERO,
    };
    let layout = Layout::new(start, end, limits, Length::ZERO, corners, making);
    seeds(&layout, start, end, arc_seeds(corners))
        .into_iter()
        .map(|seed| minimize(&layout, seed, EXACT))
        .filter(|found| found.is_feasible(EXACT))
        .map(|found| layout.unit() * found.objective)
        .min_by(|a, b| a.mm().total_cmp(&b.mm()))
}

/// The least-violated layout of two bends seen: which constraints, and by how much.
pub(super) struct Nearest {
    pub(super) constraints: Vec<(super::Constraint, Length)>,
    worst_margin: f64,
}

impl Nearest {
    /// The same, with ends and bends named as `task` has them.
    fn seen_from(mut self, task: &Task) -> Self {
        if task.is_turned() {
            for (constraint, _) in &mut self.constraints {
                *constraint = constraint.reversed(2);
            }
        }
        self
    }
}

struct Solver<'a> {
    task: &'a Task,
    limits: Limits,
    candidates: Vec<Candidate>,
    nearest: Option<Nearest>,
    rejection: Option<Rejection>,
    searches: u32,
    first_only: bool,
    straight: bool,
}

impl<'a> Solver<'a> {
    fn new(task: &'a Task) -> Self {
        Self {
            task,
            limits: task.search_limits(),
            candidates: Vec::new(),
            nearest: None,
            rejection: None,
            searches: 0,
            first_only: false,
            straight: false,
        }
    }

    fn run(&mut self) {
        self.try_straight();
        if self.straight {
            return;
        }
        self.try_one_corner();
        let asked = self.limits;
        for limits in self.clr_choices() {
            self.limits = limits;
            for corners in 2..=3 {
                if self.is_done() {
                    return;
                }
                self.try_corners(corners);
            }
        }
        self.limits = asked;
    }

    /// The limits to search with. A CLR range is searched at some single CLRs first:
    /// each is a simpler search, and a wider range must not do worse than one inside.
    fn clr_choices(&self) -> Vec<Limits> {
        let limits = self.limits;
        let radius = self.task.tube.radius();
        let least = limits
            .clr_min
            .max(limits.least_pie_clr(radius))
            .min(limits.clr_max);
        let choice = |clr_min, clr_max| Limits {
            clr_min,
            clr_max,
            ..limits
        };
        if limits.clr_min == limits.clr_max {
            return vec![limits];
        }
        let steps = (0..RANGE_STEPS).map(|i| {
            let part = f64::from(i) / f64::from(RANGE_STEPS - 1);
            let clr = Length::from_mm(least.mm().powf(1.0 - part) * limits.clr_max.mm().powf(part));
            let clr = clr.max(least).min(limits.clr_max);
            choice(clr, clr)
        });
        steps.chain([choice(least, limits.clr_max)]).collect()
    }

    fn stop(&self) -> Stop {
        if self.straight {
            Stop::StraightTube
        } else if self.is_done() {
            Stop::SearchesSpent
        } else {
            Stop::ChoicesTried
        }
    }

    fn is_done(&self) -> bool {
        match (self.candidates.is_empty(), self.first_only) {
            (true, true) => self.searches >= MAX_PROBES,
            (true, false) => self.searches >= MAX_FRUITLESS,
            (false, true) => true,
            (false, false) => self.searches >= MAX_SEARCHES,
        }
    }

    fn best_money(&self) -> f64 {
        let money = self.candidates.iter().map(|candidate| candidate.cost.money);
        money.fold(f64::INFINITY, f64::min)
    }

    /// Builds `route` and keeps it, the cheapest of its number of joints per bend.
    /// False if it cannot be built.
    fn offer(&mut self, route: Route) -> bool {
        self.keep(self.task.candidate(route))
    }

    fn keep(&mut self, candidate: Result<Candidate, Rejection>) -> bool {
        let candidate = match candidate {
            Ok(candidate) => candidate,
            Err(rejection) => {
                self.rejection = Some(rejection);
                return false;
            }
        };
        let joints =
            |c: &Candidate| -> Vec<u32> { c.route.bends.iter().map(|b| b.joints).collect() };
        let same = |other: &&mut Candidate| joints(other) == joints(&candidate);
        match self.candidates.iter_mut().find(same) {
            Some(known) if candidate.cost.money < known.cost.money => *known = candidate,
            Some(_) => {}
            None => self.candidates.push(candidate),
        }
        true
    }

    /// Straight tube, if the ports face each other to within a hair.
    fn try_straight(&mut self) {
        let (start, end) = (&self.task.start, &self.task.end);
        let Some(chord) = Direction::try_new(end.center - start.center, f64::MIN_POSITIVE) else {
            return;
        };
        if is_hair(&chord, &start.outward) && is_hair(&-chord, &end.outward) {
            let route = Route {
                start: start.center,
                end: end.center,
                bends: Vec::new(),
            };
            self.straight = self.offer_along(route, chord, -chord);
        }
    }

    /// One bend, if the axes cross to within a hair ahead of both ports.
    fn try_one_corner(&mut self) {
        let (start, end) = (&self.task.start, &self.task.end);
        let Some(corner) = axes_cross(start, end) else {
            return;
        };
        let (to, back) = (corner - start.center, corner - end.center);
        let (s, t) = (Length::from_mm(to.norm()), Length::from_mm(back.norm()));
        let (incoming, outward) = (Direction::new_normalize(to), Direction::new_normalize(back));
        if !(is_hair(&incoming, &start.outward) && is_hair(&outward, &end.outward)) {
            return;
        }
        let outgoing = -outward;
        let turn = angle_between(&incoming, &outgoing);
        let tan = (turn / 2.0).tan();
        let room = (s - start.straight).min(t - end.straight);
        let least = self.limits.clr_min;
        let range = self.limits.clr_max.min(room / tan).max(least) - least;
        let steps = if range > Length::ZERO { CLR_STEPS } else { 0 };
        let (from, into) = (start.center, end.center);
        for step in 0..=steps {
            let clr = least + range * (f64::from(step) / f64::from(steps.max(1)));
            if clr * tan - room > Length::from_mm(ROOM_TOLERANCE) {
                continue;
            }
            let Some(joints) = self.limits.joints_for(turn, clr, self.task.tube.radius()) else {
                continue;
            };
            let bend = Bend {
                corner,
                incoming,
                outgoing,
                turn,
                clr,
                joints,
            };
            let route = Route {
                start: from,
                end: into,
                bends: vec![bend],
            };
            self.offer_along(route, incoming, outward);
        }
    }

    /// Offers a route that leaves its ports along `start` and `end`, a hair off what was
    /// measured.
    fn offer_along(&mut self, route: Route, start: Direction, end: Direction) -> bool {
        let mut task = self.task.clone();
        (task.start.outward, task.end.outward) = (start, end);
        self.keep(task.candidate(route))
    }

    fn try_corners(&mut self, corners: usize) {
        let task = self.task;
        let limits = self.limits;
        let radius = task.tube.radius();
        let layout = |per_radian| {
            let making = Making::Arcs { per_radian };
            Layout::new(&task.start, &task.end, &limits, radius, corners, making)
        };
        let chord = Length::from_mm((task.end.center - task.start.center).norm());
        if self.least_money(corners, self.least_joints(corners), chord) >= self.best_money() {
            return;
        }
        let mut arcs = Vec::new();
        if corners > 2 {
            // Where corners are free, few joints and short tube are far apart.
            arcs = self.best_arcs(&layout(task.rates.length_per_radian(&limits, radius)));
        }
        let layout = layout(Length::ZERO);
        let short_arcs = self.best_arcs(&layout);
        arcs.extend(short_arcs);
        let lengths = arcs
            .iter()
            .map(|arc| layout.length(&arc.x) * (1.0 - SAME_OBJECTIVE));
        let shortest = lengths.reduce(Length::min).unwrap_or(chord);
        // Choices of joints still to be tried, each with a first guess.
        let mut waiting: VecDeque<(Joints, Vec<f64>)> = self.split_bends(&layout).into();
        waiting.extend(
            arcs.iter()
                .map(|arc| (layout.joints(&arc.x), arc.x.clone())),
        );
        let mut seen: BTreeSet<Joints> = waiting.iter().map(|(joints, _)| *joints).collect();
        let mut failures = 0;
        while let Some((joints, guess)) = waiting.pop_front() {
            if self.is_done() {
                return;
            }
            let total = joints[..corners].iter().sum();
            let hopeless = self.least_money(corners, total, shortest) >= self.best_money();
            // Too many joints to be cheapest: go on from here with fewer.
            let (from, nearby) = if hopeless {
                (guess, fewer(&joints, corners))
            } else if let Some(found) = self.try_joints(&layout, joints, guess.clone()) {
                (found.x, neighbors(&joints, corners))
            } else if self.candidates.is_empty() && failures < MAX_FAILURES {
                // Nothing at all yet: look on both sides of what failed.
                failures += 1;
                (guess, one_off(&joints, corners))
            } else {
                continue;
            };
            if seen.len() > MAX_CHOICES {
                continue;
            }
            for next in nearby {
                if seen.insert(next) {
                    waiting.push_back((next, from.clone()));
                }
            }
        }
    }

    /// The best route so far with one of its bends made as two, if that gives the
    /// layout's number of corners: room to save a joint by twisting the bend.
    fn split_bends(&self, layout: &Layout<'_>) -> Vec<(Joints, Vec<f64>)> {
        let money = |candidate: &&Candidate| candidate.cost.money;
        let best = self
            .candidates
            .iter()
            .min_by(|a, b| money(a).total_cmp(&money(b)));
        let bends = best.map_or(&[][..], |candidate| &candidate.route.bends);
        if bends.len() + 1 != layout.corners() {
            return Vec::new();
        }
        let split = |at: usize| {
            let mut halves = bends.to_vec();
            halves.splice(at..=at, bends[at].halves());
            let between: Vec<_> = halves[1..halves.len() - 1]
                .iter()
                .map(|b| b.corner)
                .collect();
            let (first, last) = (halves.first()?, halves.last()?);
            let out =
                |port: &Port, bend: &Bend| Length::from_mm((bend.corner - port.center).norm());
            let x = layout.variables_at(
                out(&self.task.start, first),
                out(&self.task.end, last),
                &between,
            );
            Some((joints_of(&halves), x))
        };
        (0..bends.len())
            .filter(|&i| bends[i].joints > 1)
            .filter_map(split)
            .collect()
    }

    /// Local minima of an arc layout, best first, each once.
    fn best_arcs(&mut self, layout: &Layout<'_>) -> Vec<Found> {
        let mut arcs: Vec<Found> = Vec::new();
        for seed in seeds(
            layout,
            &self.task.start,
            &self.task.end,
            arc_seeds(layout.corners()),
        ) {
            if self.is_done() {
                break;
            }
            let found = self.search(layout, seed, ROUGH);
            let known = |arc: &Found| {
                (arc.objective - found.objective).abs() <= SAME_OBJECTIVE * arc.objective
            };
            if found.is_feasible(ROUGH) && !arcs.iter().any(known) {
                arcs.push(found);
            }
        }
        arcs.sort_by(|a, b| a.objective.total_cmp(&b.objective));
        arcs
    }

    fn search(&mut self, layout: &Layout<'_>, seed: Vec<f64>, tolerance: f64) -> Found {
        self.searches += 1;
        let found = minimize(layout, seed, tolerance);
        // With three corners something always nearly fits, far from what was meant:
        // what two bends lack is what the user can understand.
        let nearer = layout.corners() == 2
            && self
                .nearest
                .as_ref()
                .is_none_or(|nearest| found.worst_margin > nearest.worst_margin);
        if nearer && !found.is_feasible(tolerance) {
            self.nearest = Some(Nearest {
                constraints: layout.constraints(&found.x),
                worst_margin: found.worst_margin,
            });
        }
        found
    }

    /// The shortest route with these joints at each bend near `guess`, or near a
    /// first guess of its own.
    fn try_joints(&mut self, arcs: &Layout<'_>, joints: Joints, guess: Vec<f64>) -> Option<Found> {
        let layout = arcs.with_making(Making::Pies(joints));
        self.try_guess(&layout, guess).or_else(|| {
            let count = if self.candidates.is_empty() && layout.corners() > 2 {
                FIRST_PIE_SEEDS
            } else {
                PIE_SEEDS
            };
            let own = seeds(&layout, &self.task.start, &self.task.end, count);
            own.into_iter()
                .find_map(|seed| self.try_guess(&layout, seed))
        })
    }

    fn try_guess(&mut self, layout: &Layout<'_>, guess: Vec<f64>) -> Option<Found> {
        let found = self.search(layout, guess, EXACT);
        let route = found
            .is_feasible(EXACT)
            .then(|| layout.route(&found.x))
            .flatten();
        route
            .is_some_and(|route| self.offer(route))
            .then_some(found)
    }

    /// A lower bound on the joints of a route with `corners` bends.
    ///
    /// Its total turn is at least ∠(d₀, e) + ∠(e, −d₁) for the chord direction e: the
    /// directions along a route are a path on the sphere whose convex hull holds e,
    /// and the shortest such path runs through e itself.
    fn least_joints(&self, corners: usize) -> u32 {
        let (start, end) = (&self.task.start, &self.task.end);
        let chord = end.center - start.center;
        let turn = angle_between(&start.outward, &chord)
            + angle_between(&chord, &-end.outward.into_inner());
        let radius = self.task.tube.radius();
        // One joint alone may take the greatest cut; more take less each.
        let greatest = self.limits.greatest_turn(1, self.limits.clr_min, radius);
        // Rounding of exact multiples.
        let slack = 1e-6;
        ((turn / greatest - slack).ceil().max(0.0) as u32).max(corners as u32)
    }

    /// What a route with `corners` bends and `total` joints that is no shorter than
    /// `length` must be expected to cost.
    ///
    /// A lower bound, but for one thing: every bend is charged a saw setting of its own.
    /// A route whose bends share one may cost less; it is taken where it is met, but a
    /// further bend is not tried for that alone.
    fn least_money(&self, corners: usize, total: u32, length: Length) -> f64 {
        let rates = &self.task.rates;
        let settings = rates.setup_minutes * (corners + 1) as f64;
        let gaps = self.task.allowance.gap * f64::from(total + 2);
        let square_cuts = rates.cut_minutes * 2.0;
        rates.labor(settings + square_cuts)
            + rates.tube((length + rates.kerf * 2.0 - gaps).max(Length::ZERO))
            + rates.least_per_joint(self.task.tube.radius()) * f64::from(total)
    }
}

const fn arc_seeds(corners: usize) -> usize {
    if corners == 2 {
        TWO_CORNER_SEEDS
    } else {
        THREE_CORNER_SEEDS
    }
}

fn joints_of(bends: &[Bend]) -> Joints {
    let mut joints = Joints::default().map(|_| 1);
    for (slot, bend) in joints.iter_mut().zip(bends) {
        *slot = bend.joints;
    }
    joints
}

/// Choices with one joint less at one bend.
fn fewer(joints: &Joints, corners: usize) -> Vec<Joints> {
    let less = |i: usize| {
        let mut fewer = *joints;
        fewer[i] -= 1;
        fewer
    };
    (0..corners).filter(|&i| joints[i] > 1).map(less).collect()
}

/// Choices with a joint less or a joint more at one bend.
fn one_off(joints: &Joints, corners: usize) -> Vec<Joints> {
    let mut choices = fewer(joints, corners);
    for i in 0..corners {
        let mut more = *joints;
        more[i] += 1;
        choices.push(more);
    }
    choices
}

/// Choices one step away: a joint less at one bend, or moved from one bend to
/// another.
fn neighbors(joints: &Joints, corners: usize) -> Vec<Joints> {
    let mut neighbors = Vec::new();
    for fewer in fewer(joints, corners) {
        neighbors.push(fewer);
        for to in (0..corners).filter(|&to| fewer[to] == joints[to]) {
            let mut moved = fewer;
            moved[to] += 1;
            neighbors.push(moved);
        }
    }
    neighbors
}

/// Where both ports' axes cross ahead of them, to within a hair; `None` if they miss,
/// run parallel or cross behind a port.
fn axes_cross(start: &Port, end: &Port) -> Option<Point> {
    let (a, b) = (start.outward.into_inner(), end.outward.into_inner());
    let chord = end.center - start.center;
    let cross = a.cross(&b);
    let square = cross.norm_squared();
    if square < PARALLEL {
        return None;
    }
    let s = chord.cross(&b).dot(&cross) / square;
    let t = chord.cross(&a).dot(&cross) / square;
    let (p, q) = (start.center + a * s, end.center + b * t);
    let crosses = s > 0.0 && t > 0.0 && (q - p).norm() <= HAIR.mm();
    crosses.then(|| nalgebra::center(&p, &q))
}

/// Whether a direction is a measured one to within what no jig shows.
fn is_hair(direction: &Direction, measured: &Direction) -> bool {
    angle_between(direction, measured) <= HAIR_ANGLE
}
