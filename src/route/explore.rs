//! The exploration of one family of routes: so many bends, of one CLR or stock bend to
//! begin with, through the passes on given legs.
//!
//! Shortest arcs first: a lower bound, and good first guesses. They call for certain
//! joints at each bend, or stock bends in their place; each such choice is a smooth
//! problem for [`minimize`]. Neighboring choices follow (a joint less, a joint moved, one
//! saw setting for all, another CLR or a stock bend at one place) as long as what they
//! must cost leaves hope. Choices are tried in waves of a fixed size, side by side, so
//! that the answer does not depend on the number of cores.

use super::attempt::{Attempt, Outcome};
use super::bounds::{least_cost, least_joints};
use super::choice::{Choice, CutRule, Making};
use super::layout::{Aim, Guess, Layout};
use super::search::{Found, ROUGH, minimize};
use super::seeds::seeds;
use super::solver::Solver;
use super::waiting::{Bound, Waiting};
use crate::units::Angle;
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
/// First guesses that are kept for choices whose own guess fails.
const POOL: usize = 60;
/// Arcs of one CLR that the search for those of another begins with.
const MAX_KNOWN: usize = 6;

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
            queue.sort_by_cached_key(|waiting| {
                Key(self.promise(&waiting.choice, &bound), self.strain(waiting))
            });
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
                self.note_nearest(&layout, &found);
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
        let course = choice.course();
        let known = self.known_arcs.entry(course).or_default();
        if known.is_empty() {
            known.extend(arcs.iter().take(MAX_KNOWN).map(|(guess, _)| guess.clone()));
        }
        arcs
    }

    /// First guesses for arcs: those that another CLR or stock bend has come to, or else
    /// the most promising of many. The pool keeps more of these for the choices.
    fn starts(&mut self, choice: &Choice) -> Vec<Guess> {
        let course = choice.course();
        if let Some(known) = self
            .known_arcs
            .get(&course)
            .filter(|known| !known.is_empty())
        {
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
        let count = count
            * match (goes_round, &self.field.chart) {
                (false, _) => 1,
                (true, None) => 2,
                // Each side of each wall is a basin of its own.
                (true, Some(_)) => 6,
            };
        let layout = Layout::new(self.field, choice.clone(), Aim::default());
        let pool = seeds(&layout, count.max(POOL), scatter, self.control.seed);
        let ways = self
            .field
            .chart
            .as_ref()
            .map_or(0, |chart| chart.ways.len());
        let starts = pool[..(ways + count).min(pool.len())].to_vec();
        self.pools.insert(course, pool);
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

    /// Whether no choice of a family can undercut what is known.
    fn is_family_hopeless(&self, family: &Family) -> bool {
        // Stock bends may take the place of pies.
        let (Making::Arc { radius }, true) = (family.base, self.field.task.stock.is_empty()) else {
            return false;
        };
        let joints = least_joints(self.field, family.bends);
        let mut spread = vec![1; family.bends];
        spread[0] += joints.saturating_sub(u32::try_from(family.bends).unwrap_or(0));
        let cheapest = Choice::alike(family.base, family.bends, &family.pass_legs).with_pies(
            &spread,
            radius,
            CutRule::Free,
        );
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
