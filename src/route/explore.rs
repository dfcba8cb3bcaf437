//! The exploration of one family of routes: so many bends, of one CLR or stock bend to
//! begin with, through the passes on given legs.
//!
//! Shortest arcs first: a lower bound, and good first guesses. They call for certain
//! joints at each bend, or stock bends in their place; each such choice is a smooth
//! problem for [`minimize`]. Neighboring choices follow (a joint less, a joint moved, one
//! saw setting for all, another CLR or a stock bend at one place) as long as what they
//! must cost leaves hope. Choices are tried in waves of a fixed size, side by side, so
//! that the answer does not depend on the number of cores.

use super::bounds::least_cost;
use super::choice::{Choice, CutRule, Making};
use super::field::Field;
use super::layout::{Aim, Guess, Layout, Worth};
use super::search::{EXACT, Found, ROUGH, minimize, minimize_while};
use super::seeds::{best_of, seeds};
use super::solve::Solver;
use super::{Candidate, Rejection};
use crate::units::{Angle, Length};
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// Choices tried side by side before their neighbors are looked at.
const WAVE: usize = 4;
/// Objectives within this part of each other count as the same arcs: several times
/// what rough searches differ by.
const SAME_OBJECTIVE: f64 = 1e-3;
/// Choices of joints that fail, for one family, whose neighbors are tried.
const MAX_FAILURES: u32 = 6;
/// First guesses of its own for a choice while no route has been found at all.
const FIRST_OWN_SEEDS: usize = 6;
/// Numbers of joints at the bend that turns most, above the fewest, from which shared cut
/// angles are tried.
const SHARED_STEPS: u32 = 2;
/// Listed cuts looked at for each bend.
const LISTED_TRIED: usize = 3;
/// Choices of listed cuts that a family begins with.
const LISTED_CHOICES: usize = 30;
/// First guesses that are kept for choices whose own guess fails.
const POOL: usize = 60;
/// Arcs of one CLR that the search for those of another begins with.
const MAX_KNOWN: usize = 6;
/// Turn by which a bend may differ from that of a whole stock bend that is tried for it.
const WHOLE_REACH: Angle = Angle::from_degrees(40.0);

/// A family of routes.
#[derive(Clone, Debug)]
pub(super) struct Family {
    /// How its arcs are made.
    pub base: Making,
    pub bends: usize,
    pub pass_legs: Vec<usize>,
}

/// What the queue is sorted by: first the promise, then the strain.
#[derive(Clone, Copy, PartialEq)]
struct Key(f64, f64);

impl From<(f64, f64)> for Key {
    fn from((promise, strain): (f64, f64)) -> Self {
        Self(promise, strain)
    }
}

impl Eq for Key {}

impl PartialOrd for Key {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Key {
    fn cmp(&self, other: &Self) -> Ordering {
        self.0.total_cmp(&other.0).then(self.1.total_cmp(&other.1))
    }
}

/// A choice to be tried, with a first guess.
struct Waiting {
    choice: Choice,
    guess: Guess,
    /// Bends' turns at the guess.
    turns: Vec<Angle>,
}

/// What trying a choice came to.
struct Attempt {
    outcome: Outcome,
    /// Where the search ended.
    guess: Guess,
    turns: Vec<Angle>,
    searches: u32,
}

enum Outcome {
    /// A route that can be built.
    Built(Box<Candidate>),
    /// A route that would cost more than is known, about this much; not worth the last
    /// digits.
    TooDear(f64),
    /// No route near any guess; or why one cannot be built.
    Failed(Option<Rejection>),
}

impl Solver<'_> {
    /// Explores one family; keeps every route it finds.
    pub(super) fn explore(&mut self, family: &Family) {
        let field = self.field;
        let arcs_choice = Choice::alike(family.base, family.bends, &family.pass_legs);
        if family.bends > 1 && self.is_family_hopeless(family) {
            return;
        }
        let arcs = self.best_arcs(&arcs_choice);
        let plain = Layout::new(field, arcs_choice.clone(), Aim::default());
        let lengths = arcs.iter().map(|arc| plain.length_at(&plain.pack(&arc.0)));
        let shortest = lengths.fold(f64::INFINITY, f64::min) * (1.0 - SAME_OBJECTIVE);
        let bound = Bound {
            family: if shortest.is_finite() {
                field.length(shortest)
            } else {
                self.chord
            },
            base: family.base,
            chord: self.chord,
        };
        let mut queue: Vec<Waiting> = self.split_bends(&arcs_choice);
        for (guess, turns) in arcs {
            for choice in self.first_choices(&arcs_choice, &turns, &guess) {
                queue.push(Waiting {
                    choice,
                    guess: guess.clone(),
                    turns: turns.clone(),
                });
            }
        }
        let mut seen: BTreeSet<Choice> =
            queue.iter().map(|waiting| waiting.choice.clone()).collect();
        let mut failures = 0;
        let mut levels = Levels::default();
        while !queue.is_empty() && !self.is_done() {
            // The most promising first, for something to measure the others by.
            let key =
                |waiting: &Waiting| (self.promise(&waiting.choice, &bound), self.strain(waiting));
            queue.sort_by_cached_key(|waiting| Key::from(key(waiting)));
            let wave: Vec<Waiting> = queue.drain(..WAVE.min(queue.len())).collect();
            let (hopeless, hopeful): (Vec<_>, Vec<_>) = wave
                .into_iter()
                .partition(|waiting| self.is_hopeless(&waiting.choice, &bound));
            let hopeful: Vec<Waiting> = hopeful
                .into_iter()
                .filter(|waiting| !levels.is_barren(&waiting.choice, self.budget.level_failures))
                .collect();
            let mut nearby: Vec<Waiting> = Vec::new();
            for waiting in hopeless {
                // Too many joints to be cheapest: go on from here with fewer.
                nearby.extend(waiting.with_choices(waiting.choice.fewer()));
            }
            let none_yet = self.candidates.is_empty();
            let attempts: Vec<Attempt> = hopeful
                .par_iter()
                .map(|waiting| self.attempt(waiting, &bound, none_yet))
                .collect();
            for (waiting, attempt) in hopeful.into_iter().zip(attempts) {
                self.searches += attempt.searches;
                let rank = match &attempt.outcome {
                    Outcome::Built(candidate) => Some(candidate.cost.rank),
                    Outcome::TooDear(rank) => Some(*rank),
                    Outcome::Failed(_) => None,
                };
                levels.note(&waiting.choice, rank.is_some());
                self.keep_outcome(&waiting.choice, attempt.guess.clone(), attempt.outcome);
                match rank {
                    Some(rank)
                        if rank
                            <= self.best_of_method(&waiting.choice) * self.budget.worth_more =>
                    {
                        let found = Waiting {
                            choice: waiting.choice,
                            guess: attempt.guess,
                            turns: attempt.turns,
                        };
                        nearby.extend(
                            found.with_choices(self.neighbors(&found.choice, &found.turns)),
                        );
                    }
                    None if none_yet && failures < MAX_FAILURES => {
                        // Nothing at all yet: look on both sides of what failed.
                        failures += 1;
                        nearby.extend(waiting.with_choices(waiting.choice.one_off()));
                    }
                    Some(_) | None => {}
                }
            }
            for waiting in nearby {
                if seen.len() <= self.budget.choices && seen.insert(waiting.choice.clone()) {
                    queue.push(waiting);
                }
            }
            self.tell();
        }
    }

    /// Tries one choice that worked for a task much like this one.
    pub(super) fn try_hint(&mut self, choice: &Choice, guess: &Guess) {
        let layout = Layout::new(self.field, choice.clone(), self.aim());
        let attempt = self.attempt_from(&layout, guess, &|_| true);
        self.searches += attempt.searches;
        self.keep_outcome(choice, attempt.guess, attempt.outcome);
    }

    fn keep_outcome(&mut self, choice: &Choice, guess: Guess, outcome: Outcome) {
        match outcome {
            Outcome::Built(candidate) => self.keep(choice, guess, Ok(*candidate)),
            Outcome::Failed(rejection) => self.keep(choice, guess, Err(rejection)),
            Outcome::TooDear(_) => false,
        };
    }

    /// Local minima of arcs, best first, each once, as guesses with the bends' turns.
    fn best_arcs(&mut self, choice: &Choice) -> Vec<(Guess, Vec<Angle>)> {
        let mut aims = vec![Aim::default()];
        if choice.bends.len() > 2 {
            // Where corners are free, few joints and short tube are far apart.
            aims.insert(0, self.priced_turns());
        }
        let starts = self.starts(choice);
        let mut arcs = Vec::new();
        let mut near_misses = Vec::new();
        for aim in aims {
            if self.is_done() {
                break;
            }
            let layout = Layout::new(self.field, choice.clone(), aim);
            let found: Vec<Found> = starts
                .par_iter()
                .map(|guess| minimize(&layout, layout.pack(guess), ROUGH))
                .collect();
            self.searches += u32::try_from(found.len()).unwrap_or(u32::MAX);
            let mut minima: Vec<Found> = Vec::new();
            let nearly = found
                .iter()
                .max_by(|a, b| a.worst_margin.total_cmp(&b.worst_margin));
            near_misses.extend(nearly.map(|arc| (layout.unpack(&arc.x), layout.turns_at(&arc.x))));
            for found in found {
                self.note_nearest(&layout, &found, ROUGH);
                let known = |arc: &Found| {
                    (arc.objective - found.objective).abs() <= SAME_OBJECTIVE * arc.objective
                };
                if found.is_feasible(ROUGH) && !minima.iter().any(known) {
                    minima.push(found);
                }
            }
            minima.sort_by(|a, b| a.objective.total_cmp(&b.objective));
            let guesses = minima
                .into_iter()
                .map(|arc| (layout.unpack(&arc.x), layout.turns_at(&arc.x)));
            arcs.extend(guesses);
        }
        if arcs.is_empty() && self.candidates.is_empty() {
            // What is built may fit where its arcs do not quite.
            arcs = near_misses;
        }
        let key = (choice.bends.len(), choice.pass_legs.clone());
        let known = self.known_arcs.entry(key).or_default();
        if known.is_empty() {
            known.extend(arcs.iter().take(MAX_KNOWN).map(|(guess, _)| guess.clone()));
        }
        arcs
    }

    /// First guesses for arcs: those that another CLR or stock bend has come to, or else
    /// the most promising of many. The pool keeps more of these for the choices.
    fn starts(&mut self, choice: &Choice) -> Vec<Guess> {
        let key = (choice.bends.len(), choice.pass_legs.clone());
        if let Some(known) = self.known_arcs.get(&key).filter(|known| !known.is_empty()) {
            return known.clone();
        }
        let budget = self.budget;
        let count = if choice.bends.len() <= 2 {
            budget.two_seeds
        } else {
            budget.more_seeds
        };
        let is_crowded = !self.field.task.obstacles.is_empty();
        let scatter = if is_crowded { budget.scatter } else { 0 };
        let goes_round = is_crowded || !choice.pass_legs.is_empty();
        let count = if goes_round { 2 * count } else { count };
        let layout = Layout::new(self.field, choice.clone(), Aim::default());
        let pool = seeds(&layout, count.max(POOL), scatter, self.control.seed);
        let starts = pool[..count.min(pool.len())].to_vec();
        self.pools.insert(key, pool);
        starts
    }

    /// The aim that prices a radian of turn as the joints that make it.
    fn priced_turns(&self) -> Aim {
        let task = self.field.task;
        let per_radian = task
            .rates
            .length_per_radian(&self.field.limits, task.tube.radius());
        Aim {
            per_radian: self.field.units(per_radian),
            ..Aim::default()
        }
    }

    /// What the final search makes least: tube, weld and kerf, and what a length off the
    /// wished one costs beside them.
    fn aim(&self) -> Aim {
        let (rates, allowance) = (&self.field.task.rates, &self.field.task.allowance);
        let radius = self.field.task.tube.radius();
        let weld = rates.labor(radius / rates.weld_per_minute) / rates.per_mm();
        let tube = rates.tube(Length::from_mm(1.0)) / rates.per_mm();
        let making = Worth {
            weld: weld / self.field.unit,
            joint: self
                .field
                .units(rates.kerf - allowance.gap + allowance.shrinkage)
                * tube,
            stock: tube,
        };
        let wish = self.field.task.wish.map(|wish| {
            let weight = rates.off_length_per_meter / 1000.0 / rates.per_mm();
            (self.field.units(wish), weight)
        });
        Aim {
            per_radian: 0.0,
            wish,
            making,
        }
    }

    /// The choices that arcs of these turns call for.
    fn first_choices(&self, arcs: &Choice, turns: &[Angle], guess: &Guess) -> Vec<Choice> {
        let radius = match arcs.bends.first() {
            Some(Making::Stock { .. }) => return vec![arcs.clone()],
            Some(Making::Arc { radius }) => *radius,
            // Arcs are not made; no bend at all is.
            _ => return vec![arcs.clone()],
        };
        let task = self.field.task;
        if !task.pies {
            return Vec::new();
        }
        let mut choices = Vec::new();
        if task.saw_angles.is_empty() {
            let joints: Vec<u32> = turns
                .iter()
                .enumerate()
                .map(|(i, turn)| self.joints_for(*turn, guess.radii.get(i).copied()))
                .collect();
            let free = arcs.with_bends(pies(&joints, radius, CutRule::Free));
            if !task.one_setting {
                choices.push(free);
            }
            if turns.len() > 1 && (task.one_setting || self.shares_settings()) {
                choices.extend(
                    shared_joints(self.field, turns)
                        .into_iter()
                        .map(|joints| arcs.with_bends(pies(&joints, radius, CutRule::Shared))),
                );
            } else if task.one_setting {
                choices.push(arcs.with_bends(pies(&joints, radius, CutRule::Free)));
            }
        } else {
            choices.extend(self.listed_choices(arcs, turns, radius));
        }
        choices
    }

    /// Whether one setting for all miters is worth looking for by itself.
    fn shares_settings(&self) -> bool {
        self.field.task.rates.setup_minutes > 0.0 && !self.first_only
    }

    /// Joints for a turn: by the limits at the CLR there or at the greatest, or else as
    /// many as the usual cut takes.
    fn joints_for(&self, turn: Angle, radius: Option<f64>) -> u32 {
        let limits = &self.field.limits;
        let tube = self.field.task.tube.radius();
        if limits.least_pie_cut(limits.clr_max, tube) > limits.max_cut {
            // No pie keeps its short side: only single joints are left.
            return 1;
        }
        let turn = turn.min(super::shape::MAX_TURN);
        let usual = (turn / (limits.usual_cut * 2.0)).ceil().max(1.0) as u32;
        let at = |clr| limits.joints_for(turn, clr, tube);
        let here = radius.and_then(|radius| at(self.field.length(radius)));
        here.or_else(|| at(limits.clr_max)).unwrap_or(usual)
    }

    /// Choices of listed cuts nearest to the turns, nearest first.
    fn listed_choices(&self, arcs: &Choice, turns: &[Angle], radius: usize) -> Vec<Choice> {
        let task = self.field.task;
        let options = |turn: &Angle| -> Vec<(f64, usize, u32)> {
            let mut options: Vec<(f64, usize, u32)> = task
                .saw_angles
                .iter()
                .enumerate()
                .flat_map(|(listed, cut)| {
                    let joints = *turn / (*cut * 2.0);
                    [joints.floor(), joints.ceil()].map(|joints| {
                        let joints = joints.max(1.0);
                        (
                            (*turn - *cut * (2.0 * joints)).abs().radians(),
                            listed,
                            joints as u32,
                        )
                    })
                })
                .collect();
            options.sort_by(|a, b| a.0.total_cmp(&b.0));
            options.dedup_by(|a, b| (a.1, a.2) == (b.1, b.2));
            options
        };
        let each: Vec<_> = turns.iter().map(options).collect();
        let mut choices: Vec<(f64, Vec<(usize, u32)>)> = vec![(0.0, Vec::new())];
        for options in &each {
            choices = choices
                .iter()
                .flat_map(|(off, made)| {
                    let same_saw = |listed: usize| {
                        !task.one_setting || made.first().is_none_or(|first| first.0 == listed)
                    };
                    options
                        .iter()
                        .filter(move |option| same_saw(option.1))
                        .take(LISTED_TRIED)
                        .map(move |option| {
                            (
                                off + option.0,
                                [made.as_slice(), &[(option.1, option.2)]].concat(),
                            )
                        })
                        .collect::<Vec<_>>()
                })
                .collect();
        }
        choices.sort_by(|a, b| a.0.total_cmp(&b.0));
        choices.truncate(LISTED_CHOICES);
        let bends = |made: Vec<(usize, u32)>| {
            let pies = made.into_iter().map(|(listed, joints)| Making::Pies {
                radius,
                joints,
                cut: CutRule::Listed(listed),
            });
            arcs.with_bends(pies.collect())
        };
        choices.into_iter().map(|(_, made)| bends(made)).collect()
    }

    /// Choices one step away from one that works.
    fn neighbors(&self, choice: &Choice, turns: &[Angle]) -> Vec<Choice> {
        let task = self.field.task;
        let mut neighbors = choice.nearby();
        let all_free = choice
            .bends
            .iter()
            .all(|making| !matches!(making, Making::Pies { cut, .. } if *cut != CutRule::Free));
        if all_free && choice.pie_bends() > 1 && self.shares_settings() {
            neighbors.push(choice.shared());
        }
        for (i, turn) in turns.iter().enumerate() {
            neighbors.extend(self.other_stock(choice, i, *turn));
            if let Making::Pies {
                radius,
                joints,
                cut,
            } = choice.bends[i]
            {
                let others = (0..task.clrs.len()).filter(|&other| other != radius);
                neighbors.extend(others.map(|radius| {
                    choice.with_bend(
                        i,
                        Making::Pies {
                            radius,
                            joints,
                            cut,
                        },
                    )
                }));
            } else if task.pies && task.saw_angles.is_empty() && !task.one_setting {
                let making = Making::Pies {
                    radius: 0,
                    joints: self.joints_for(*turn, None),
                    cut: CutRule::Free,
                };
                neighbors.push(choice.with_bend(i, making));
            }
        }
        neighbors
    }

    /// The choice with another stock bend at bend `i`, whole or cut down.
    fn other_stock(&self, choice: &Choice, i: usize, turn: Angle) -> Vec<Choice> {
        let stock = self.field.task.stock.iter().enumerate();
        let fits = stock.flat_map(|(item, stock)| {
            let cut_down = (turn <= stock.turn).then_some(Making::Stock { item, whole: false });
            let is_near = (turn - stock.turn).abs() <= WHOLE_REACH && choice.bends.len() > 2;
            let whole = is_near.then_some(Making::Stock { item, whole: true });
            [cut_down, whole].into_iter().flatten()
        });
        fits.filter(|making| *making != choice.bends[i])
            .map(|making| choice.with_bend(i, making))
            .collect()
    }

    /// The best route so far with one of its bends made as two, if that gives the right
    /// number of bends: room to save a joint by twisting the bend.
    fn split_bends(&self, arcs: &Choice) -> Vec<Waiting> {
        let (Some(&Making::Arc { radius }), true) = (arcs.bends.first(), arcs.pass_legs.is_empty())
        else {
            return Vec::new();
        };
        let best = self
            .candidates
            .iter()
            .map(|kept| &kept.candidate)
            .min_by(|a, b| a.cost.rank.total_cmp(&b.cost.rank));
        let Some(best) = best else {
            return Vec::new();
        };
        let bends = &best.route.bends;
        let is_pies = bends.iter().all(|bend| bend.stock().is_none());
        if bends.len() + 1 != arcs.bends.len()
            || !is_pies
            || !self.field.task.saw_angles.is_empty()
            || self.field.task.one_setting
        {
            return Vec::new();
        }
        let split = |at: usize| {
            let corners = bends.iter().enumerate().flat_map(|(i, bend)| {
                if i == at {
                    bend.half_corners().to_vec()
                } else {
                    vec![bend.corner]
                }
            });
            let corners: Vec<_> = corners.map(|corner| self.field.in_frame(&corner)).collect();
            let joints = bends.iter().enumerate().flat_map(|(i, bend)| {
                let joints = bend.joints();
                if i == at {
                    vec![joints.div_ceil(2), (joints / 2).max(1)]
                } else {
                    vec![joints]
                }
            });
            let turns = bends.iter().enumerate().flat_map(|(i, bend)| {
                if i == at {
                    vec![bend.turn / 2.0; 2]
                } else {
                    vec![bend.turn]
                }
            });
            let ends = &self.field.ends;
            let guess = Guess {
                reaches: [
                    (corners[0] - ends[0].center).norm(),
                    (corners[corners.len() - 1] - ends[1].center).norm(),
                ],
                between: corners[1..corners.len() - 1].to_vec(),
                radii: Vec::new(),
                cut: self.field.limits.usual_cut.radians(),
                ends: [0, 1].map(|end| vec![0.0; ends[end].variables()]),
            };
            Waiting {
                choice: arcs.with_bends(pies(&joints.collect::<Vec<_>>(), radius, CutRule::Free)),
                guess,
                turns: turns.collect(),
            }
        };
        (0..bends.len())
            .filter(|&i| bends[i].joints() > 1)
            .map(split)
            .collect()
    }

    /// The best route of a choice near its guess, or near a first guess of its own.
    fn attempt(&self, waiting: &Waiting, bound: &Bound, none_yet: bool) -> Attempt {
        let layout = Layout::new(self.field, waiting.choice.clone(), self.aim());
        let enough = self.best_of_method(&waiting.choice) * self.budget.promise;
        let cost = |length: f64| {
            let length = self.field.length(length).max(bound.chord);
            least_cost(self.field, &waiting.choice, length)
        };
        let worth_it = |found: &Found| cost(layout.length_at(&found.x)) < enough;
        let mut attempt = self.attempt_from(&layout, &waiting.guess, &worth_it);
        if !matches!(attempt.outcome, Outcome::Failed(_)) {
            return attempt;
        }
        let many = none_yet && layout.bends() > 2;
        let least = if many { FIRST_OWN_SEEDS } else { 1 };
        let key = (layout.bends(), waiting.choice.pass_legs.clone());
        let pool = self.pools.get(&key).map_or(&[][..], Vec::as_slice);
        for guess in best_of(&layout, pool, least.max(self.budget.own_seeds)) {
            let mut next = self.attempt_from(&layout, &guess, &worth_it);
            next.searches += attempt.searches;
            let says_more = !matches!(next.outcome, Outcome::Failed(None));
            if says_more {
                attempt = next;
            } else {
                attempt.searches = next.searches;
            }
            if !matches!(attempt.outcome, Outcome::Failed(_)) {
                break;
            }
        }
        attempt
    }

    fn attempt_from(
        &self,
        layout: &Layout<'_>,
        guess: &Guess,
        worth_it: &dyn Fn(&Found) -> bool,
    ) -> Attempt {
        let found = minimize_while(layout, layout.pack(guess), EXACT, worth_it);
        let mut attempt = self.outcome(layout, &found, worth_it);
        if matches!(
            attempt.outcome,
            Outcome::Failed(Some(Rejection::Collides(_)))
        ) {
            // Only now is it worth the time to keep the run off itself.
            let clear = layout.clone().clear_of_itself();
            let found = minimize(&clear, clear.pack(&attempt.guess), EXACT);
            let again = self.outcome(&clear, &found, &|_| true);
            if matches!(again.outcome, Outcome::Built(_)) {
                attempt = again;
            }
            attempt.searches = 2;
        }
        attempt
    }

    fn outcome(
        &self,
        layout: &Layout<'_>,
        found: &Found,
        worth_it: &dyn Fn(&Found) -> bool,
    ) -> Attempt {
        let route = || layout.route(&found.x);
        let outcome = if found.is_feasible(EXACT) {
            match route().map(|route| self.field.task.candidate(route)) {
                Some(Ok(candidate)) => Outcome::Built(Box::new(candidate)),
                Some(Err(rejection)) => Outcome::Failed(Some(rejection)),
                None => Outcome::Failed(None),
            }
        } else if found.is_feasible(ROUGH) && !worth_it(found) {
            let length = self.field.length(layout.length_at(&found.x));
            Outcome::TooDear(least_cost(self.field, layout.choice(), length))
        } else {
            Outcome::Failed(None)
        };
        Attempt {
            outcome,
            guess: layout.unpack(&found.x),
            turns: layout.turns_at(&found.x),
            searches: 1,
        }
    }

    /// Whether no choice of a family can undercut what is known.
    fn is_family_hopeless(&self, family: &Family) -> bool {
        let joints = match family.base {
            Making::Stock { .. } => return false,
            _ => super::bounds::least_joints(self.field, family.bends),
        };
        let Making::Arc { radius } = family.base else {
            return false;
        };
        // Stock bends may take the place of pies.
        if !self.field.task.stock.is_empty() {
            return false;
        }
        let mut spread = vec![1; family.bends];
        spread[0] += joints.saturating_sub(u32::try_from(family.bends).unwrap_or(0));
        let cheapest = Choice::alike(family.base, family.bends, &family.pass_legs)
            .with_bends(pies(&spread, radius, CutRule::Free));
        let bound = Bound {
            family: self.chord,
            base: family.base,
            chord: self.chord,
        };
        self.is_hopeless(&cheapest, &bound) && self.is_hopeless(&cheapest.shared(), &bound)
    }

    /// Whether a choice cannot undercut the best of its method.
    fn is_hopeless(&self, choice: &Choice, bound: &Bound) -> bool {
        self.promise(choice, bound) >= self.best_of_method(choice) * self.budget.promise
    }

    /// How far, rad, the turns at a choice's guess are beyond what its joints and stock
    /// bends can make.
    fn strain(&self, waiting: &Waiting) -> f64 {
        let bends = waiting.choice.bends.iter().zip(&waiting.turns);
        let beyond = bends.map(|(making, turn)| {
            let most = match *making {
                Making::Arc { .. } => f64::INFINITY,
                Making::Pies { radius, joints, .. } => self
                    .field
                    .greatest_turn(joints, self.field.radii[radius].least()),
                Making::Stock { item, .. } => self.field.task.stock[item].turn.radians(),
            };
            (turn.radians() - most).max(0.0)
        });
        beyond.sum()
    }

    /// What a choice must be expected to cost at least.
    fn promise(&self, choice: &Choice, bound: &Bound) -> f64 {
        let of_family = choice
            .bends
            .iter()
            .all(|making| match (making, bound.base) {
                (Making::Pies { radius, .. }, Making::Arc { radius: base }) => *radius == base,
                (Making::Stock { item, .. }, Making::Stock { item: base, .. }) => *item == base,
                _ => false,
            });
        let length = if of_family { bound.family } else { bound.chord };
        least_cost(self.field, choice, length)
    }
}

/// How choices of each method and number of joints have fared: where so many fail and
/// none works, the others will fail too.
#[derive(Default)]
struct Levels(BTreeMap<(bool, u32), Level>);

#[derive(Default)]
struct Level {
    failures: u32,
    successes: u32,
}

impl Levels {
    fn note(&mut self, choice: &Choice, works: bool) {
        let level = self.0.entry(Self::key(choice)).or_default();
        if works {
            level.successes += 1;
        } else {
            level.failures += 1;
        }
    }

    fn is_barren(&self, choice: &Choice, enough: u32) -> bool {
        let level = self.0.get(&Self::key(choice));
        choice.joints() > 0
            && level.is_some_and(|level| level.successes == 0 && level.failures >= enough)
    }

    fn key(choice: &Choice) -> (bool, u32) {
        (choice.is_shared(), choice.joints())
    }
}

/// What a family's routes are no shorter than.
struct Bound {
    /// Its own shortest arcs.
    family: Length,
    base: Making,
    /// The straight line between the ports.
    chord: Length,
}

impl Waiting {
    fn with_choices(&self, choices: Vec<Choice>) -> Vec<Self> {
        let with = |choice| Self {
            choice,
            guess: self.guess.clone(),
            turns: self.turns.clone(),
        };
        choices.into_iter().map(with).collect()
    }
}

fn pies(joints: &[u32], radius: usize, cut: CutRule) -> Vec<Making> {
    let pies = joints.iter().map(|&joints| Making::Pies {
        radius,
        joints,
        cut,
    });
    pies.collect()
}

/// Joints in the proportion of the turns, for cuts shared by all bends: from the fewest
/// at the bend that turns most, some more each time.
fn shared_joints(field: &Field<'_>, turns: &[Angle]) -> BTreeSet<Vec<u32>> {
    let most = turns.iter().copied().fold(Angle::ZERO, Angle::max);
    let (limits, radius) = (&field.limits, field.task.tube.radius());
    let usual = (most / (limits.usual_cut * 2.0) - 1e-6).ceil().max(1.0) as u32;
    let fewest = limits
        .joints_for(most, limits.clr_max, radius)
        .map_or(usual, |joints| joints.min(usual));
    (fewest..=fewest + SHARED_STEPS)
        .map(|joints| {
            let each = most / f64::from(joints);
            turns
                .iter()
                .map(|turn| (*turn / each).round().max(1.0) as u32)
                .collect()
        })
        .collect()
}
