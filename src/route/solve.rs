//! The search over families of routes.
//!
//! 1. A straight tube, where the ports face each other on one axis.
//! 2. One bend, where the axes cross ahead of both ports.
//! 3. Families of two bends, then three, each explored as `explore` says, for every CLR
//!    of the job and every stock bend; four and five where fewer do not do.

use super::answer::{Reason, choose};
use super::choice::{Choice, Making};
use super::control::{Budget, Control, Progress};
use super::direct;
use super::explore::Family;
use super::field::Field;
use super::layout::{Aim, Guess, Layout};
use super::reason::{self, NoRoute};
use super::search::{EXACT, Found, minimize};
use super::seeds::seeds;
use super::task::Rejection;
use super::{Candidate, Limits, Task};
use crate::run::Port;
use crate::tube::Tube;
use crate::units::Length;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Candidates that are kept.
const MAX_KEPT: usize = 200;
/// Ways to share passes out to legs that are looked at.
const MAX_PASS_LEGS: usize = 40;

/// Why the solver stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// The ports face each other on one axis: straight tube, nothing to choose.
    StraightTube,
    /// Every choice that promised to be cheaper has been tried.
    ChoicesTried,
    /// The allowance of local searches was spent; the best so far is given.
    SearchesSpent,
    /// Somebody stopped it; the best so far is given.
    Interrupted,
}

impl Stop {
    /// A stable name for files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::StraightTube => "straight-tube",
            Self::ChoicesTried => "choices-tried",
            Self::SearchesSpent => "searches-spent",
            Self::Interrupted => "interrupted",
        }
    }
}

/// What the solver found.
#[derive(Clone, Debug)]
pub struct Solution {
    /// The cheapest.
    pub best: Candidate,
    /// Why one would take it.
    pub reasons: Vec<Reason>,
    /// Others that can be built and are really different, cheapest first.
    pub alternatives: Vec<(Candidate, Vec<Reason>)>,
    /// Why the search ended.
    pub stop: Stop,
    /// Local searches made.
    pub searches: u32,
}

/// The cheapest route for `task`, or why there is none, with the usual effort.
pub fn solve(task: &Task) -> Result<Solution, NoRoute> {
    solve_with(task, &Control::default())
}

/// The cheapest route for `task`, or why there is none.
///
/// Deterministic for a task, effort and seed. Bounded by a fixed number of local
/// searches, each bounded itself.
pub fn solve_with(task: &Task, control: &Control<'_>) -> Result<Solution, NoRoute> {
    let ordered = ordered(task);
    let field = Field::new(&ordered);
    let mut solver = Solver::new(&field, control);
    solver.run();
    let (stop, searches) = (solver.stop(), solver.searches);
    let (nearest, rejection) = (solver.nearest, solver.rejection);
    let mut found: Vec<Candidate> = solver
        .candidates
        .into_iter()
        .map(|kept| kept.candidate)
        .collect();
    if task.is_turned() {
        let back = |candidate: &Candidate| task.reverse_of(candidate);
        found = found.iter().filter_map(back).collect();
    }
    let mut chosen = choose(found, task.tube.od());
    if chosen.is_empty() {
        let nearest = nearest.map(|nearest| nearest.seen_from(task));
        return Err(reason::explain(task, nearest.as_ref(), rejection, control));
    }
    let (best, reasons) = chosen.remove(0);
    Ok(Solution {
        best,
        reasons,
        alternatives: chosen,
        stop,
        searches,
    })
}

/// About what the cheapest route of one or two bends for `task` costs, after a quick
/// look; `None` if there seems to be none.
pub fn glance(task: &Task) -> Option<f64> {
    let ordered = ordered(task);
    let field = Field::new(&ordered);
    let control = Control {
        effort: super::Effort::Quick,
        ..Control::default()
    };
    let mut solver = Solver::new(&field, &control);
    solver.budget.bends = 2;
    solver.first_only = true;
    solver.run();
    Some(solver.best_rank()).filter(|rank| rank.is_finite())
}

/// `task` from the port that comes first, see [`Task::is_turned`].
fn ordered(task: &Task) -> Task {
    if task.is_turned() {
        task.reversed()
    } else {
        task.clone()
    }
}

/// A route that worked for a task much like this one.
#[derive(Clone, Debug)]
pub(super) struct Hint {
    choice: Choice,
    guess: Guess,
}

/// Whether any route exists for `task`: how it is made, to begin with next time.
pub(super) fn find_any(task: &Task, hint: Option<&Hint>, control: &Control<'_>) -> Option<Hint> {
    let ordered = ordered(task);
    let field = Field::new(&ordered);
    let quiet = Control {
        watch: None,
        ..*control
    };
    let mut solver = Solver::new(&field, &quiet);
    solver.first_only = true;
    if let Some(hint) = hint.filter(|hint| hint.fits(&field)) {
        solver.try_hint(&hint.choice, &hint.guess);
    }
    if solver.candidates.is_empty() {
        solver.run();
    }
    solver.candidates.pop().map(|kept| Hint {
        choice: kept.choice,
        guess: kept.guess,
    })
}

impl Hint {
    /// Whether the field has as many variables as the guess, and what the choice names.
    fn fits(&self, field: &Field<'_>) -> bool {
        let known = |making: &Making| match *making {
            Making::Arc { radius } | Making::Pies { radius, .. } => radius < field.radii.len(),
            Making::Stock { item, .. } => item < field.task.stock.len(),
        };
        let ends = self.guess.ends.iter().zip(&field.ends);
        !self.choice.bends.is_empty()
            && self.choice.bends.iter().all(known)
            && self.guess.between.len() == self.choice.bends.len().saturating_sub(2)
            && ends
                .into_iter()
                .all(|(guess, end)| guess.len() == end.variables())
    }
}

/// Length of the shortest route of true arcs at CLR `limits.clr_min` with `bends` bends;
/// `None` if there is none. The lower bound for anything built of pies.
pub fn shortest(start: &Port, end: &Port, limits: &Limits, bends: usize) -> Option<Length> {
    // Arcs know nothing of the tube; any will do.
    let tube = Tube::new(limits.clr_min, limits.clr_min / 4.0, "any").ok()?;
    let task = Task {
        limits: Limits {
            clr_max: limits.clr_min,
            ..*limits
        },
        ..Task::new(tube, start.clone(), end.clone())
    };
    let field = Field::new(&task);
    let choice = Choice::alike(Making::Arc { radius: 0 }, bends, &[]);
    let layout = Layout::new(&field, choice, Aim::default());
    let count = if bends <= 2 {
        Budget::EXACT_SEEDS.0
    } else {
        Budget::EXACT_SEEDS.1
    };
    seeds(&layout, count, 0, 0)
        .par_iter()
        .map(|guess| minimize(&layout, layout.pack(guess), EXACT))
        .collect::<Vec<Found>>()
        .into_iter()
        .filter(|found| found.is_feasible(EXACT))
        .map(|found| field.length(layout.length_at(&found.x)))
        .min_by(|a, b| a.mm().total_cmp(&b.mm()))
}

/// The least-violated layout of few bends seen: which constraints, and by how much.
pub(super) struct Nearest {
    pub(super) constraints: Vec<(super::Constraint, Length)>,
    pub(super) bends: usize,
    worst_margin: f64,
}

impl Nearest {
    /// The same, with ends and bends named as `task` has them.
    fn seen_from(mut self, task: &Task) -> Self {
        if task.is_turned() {
            for (constraint, _) in &mut self.constraints {
                *constraint = constraint.reversed(self.bends, task.passes.len());
            }
        }
        self
    }
}

/// A candidate and the choice that led to it.
pub(super) struct Kept {
    choice: Choice,
    guess: Guess,
    pub(super) candidate: Candidate,
}

pub(super) struct Solver<'a> {
    pub(super) field: &'a Field<'a>,
    pub(super) control: &'a Control<'a>,
    pub(super) budget: Budget,
    pub(super) candidates: Vec<Kept>,
    pub(super) searches: u32,
    /// Arcs found, by number of bends and legs of passes: good first guesses for the
    /// same with another CLR.
    pub(super) known_arcs: BTreeMap<(usize, Vec<usize>), Vec<Guess>>,
    /// First guesses, likewise, the most promising first.
    pub(super) pools: BTreeMap<(usize, Vec<usize>), Vec<Guess>>,
    /// From port to port, less what slides may take off.
    pub(super) chord: Length,
    nearest: Option<Nearest>,
    rejection: Option<Rejection>,
    /// Whether any route at all will do.
    pub(super) first_only: bool,
    straight: bool,
}

impl<'a> Solver<'a> {
    fn new(field: &'a Field<'a>, control: &'a Control<'a>) -> Self {
        let task = field.task;
        let slides = [&task.start, &task.end]
            .into_iter()
            .flat_map(|port| &port.freedom.slides);
        let slack: Length = slides.map(|slide| slide.back.max(slide.ahead)).sum();
        let chord = Length::from_mm((task.end.center - task.start.center).norm());
        Self {
            field,
            control,
            budget: control.budget(),
            candidates: Vec::new(),
            searches: 0,
            known_arcs: BTreeMap::new(),
            pools: BTreeMap::new(),
            chord: (chord - slack).max(Length::ZERO),
            nearest: None,
            rejection: None,
            first_only: false,
            straight: false,
        }
    }

    fn run(&mut self) {
        let task = self.field.task;
        if let Some(straight) = direct::straight(task) {
            self.straight = self.keep_direct(straight);
            if self.straight {
                return;
            }
        }
        for one in direct::one_bend(task) {
            self.keep_direct(one);
        }
        let is_free = self.field.ends.iter().any(|end| !end.is_fixed());
        let fewest = if is_free { 0 } else { 2 };
        for base in self.bases() {
            for bends in fewest..=self.budget.bends.min(task.most_bends) {
                self.explore_all(base, bends);
            }
        }
        for bends in self.budget.bends + 1..=task.most_bends {
            for base in self.bases() {
                if self.candidates.is_empty() {
                    self.explore_all(base, bends);
                }
            }
        }
    }

    /// Ways to make arcs that families begin with.
    fn bases(&self) -> Vec<Making> {
        let task = self.field.task;
        let radii = if task.pies { self.field.radii.len() } else { 0 };
        let arcs = (0..radii).map(|radius| Making::Arc { radius });
        let stock = (0..task.stock.len()).map(|item| Making::Stock { item, whole: false });
        arcs.chain(stock).collect()
    }

    fn explore_all(&mut self, base: Making, bends: usize) {
        for pass_legs in pass_legs(self.field.task.passes.len(), bends) {
            let on_axes = pass_legs.iter().enumerate();
            if !on_axes
                .into_iter()
                .all(|(pass, &leg)| self.may_pass(pass, leg, bends))
            {
                continue;
            }
            if self.is_done() {
                return;
            }
            self.explore(&Family {
                base,
                bends,
                pass_legs,
            });
        }
    }

    /// Whether a pass can be on a leg: the first and the last leg lie on their ports'
    /// axes, which may miss it.
    fn may_pass(&self, pass: usize, leg: usize, bends: usize) -> bool {
        let end = match leg {
            0 => &self.field.ends[0],
            leg if leg == bends => &self.field.ends[1],
            _ => return true,
        };
        let opening = &self.field.passes[pass];
        let off = (opening.center - end.center).cross(&end.outward).norm();
        // Across a panel at a slant, the place may be farther off than the hole is wide.
        !end.is_fixed() || off <= opening.radius
    }

    fn keep_direct(&mut self, built: Result<Candidate, Rejection>) -> bool {
        let choice = match &built {
            Ok(candidate) => choice_of(candidate),
            Err(_) => Choice::alike(Making::Arc { radius: 0 }, 1, &[]),
        };
        self.keep(&choice, Guess::default(), built.map_err(Some))
    }

    /// Keeps a candidate, the cheapest of its choice and way round. False if it cannot be
    /// built.
    pub(super) fn keep(
        &mut self,
        choice: &Choice,
        guess: Guess,
        built: Result<Candidate, Option<Rejection>>,
    ) -> bool {
        let candidate = match built {
            Ok(candidate) => candidate,
            Err(rejection) => {
                self.rejection = rejection.or(self.rejection.take());
                return false;
            }
        };
        let od = self.field.task.tube.od();
        let same = |kept: &&mut Kept| {
            kept.choice == *choice && kept.candidate.route.is_near(&candidate.route, od)
        };
        match self.candidates.iter_mut().find(same) {
            Some(kept) if candidate.cost.rank < kept.candidate.cost.rank => {
                kept.candidate = candidate
            }
            Some(_) => {}
            None => {
                if self.candidates.len() == MAX_KEPT {
                    self.candidates
                        .sort_by(|a, b| a.candidate.cost.rank.total_cmp(&b.candidate.cost.rank));
                    self.candidates.pop();
                }
                self.candidates.push(Kept {
                    choice: choice.clone(),
                    guess,
                    candidate,
                });
            }
        }
        true
    }

    /// Remembers what fails in the nearest layout of few bends. With three bends
    /// something always nearly fits, far from what was meant: what two lack is what the
    /// user can understand.
    pub(super) fn note_nearest(&mut self, layout: &Layout<'_>, found: &Found, tolerance: f64) {
        let fewest = 2.max(if layout.choice().pass_legs.is_empty() {
            2
        } else {
            4
        });
        let nearer = layout.bends() <= fewest
            && self
                .nearest
                .as_ref()
                .is_none_or(|nearest| found.worst_margin > nearest.worst_margin);
        if nearer && !found.is_feasible(tolerance) {
            self.nearest = Some(Nearest {
                constraints: layout.constraints(&found.x),
                bends: layout.bends(),
                worst_margin: found.worst_margin,
            });
        }
    }

    pub(super) fn tell(&self) {
        self.control.tell(Progress {
            searches: self.searches,
            most: self.budget.searches,
            best: self.best_rank(),
        });
    }

    fn stop(&self) -> Stop {
        if self.straight {
            Stop::StraightTube
        } else if self.control.is_stopped() {
            Stop::Interrupted
        } else if self.is_done() {
            Stop::SearchesSpent
        } else {
            Stop::ChoicesTried
        }
    }

    pub(super) fn is_done(&self) -> bool {
        if self.control.is_stopped() {
            return true;
        }
        match (self.candidates.is_empty(), self.first_only) {
            (true, true) => self.searches >= self.budget.probes,
            (true, false) => self.searches >= self.budget.fruitless,
            (false, true) => true,
            (false, false) => self.searches >= self.budget.searches,
        }
    }

    fn best_rank(&self) -> f64 {
        let ranks = self.candidates.iter().map(|kept| kept.candidate.cost.rank);
        ranks.fold(f64::INFINITY, f64::min)
    }

    /// Cost of the best so far that is made in the way that `choice` is.
    pub(super) fn best_of_method(&self, choice: &Choice) -> f64 {
        let method = method(choice);
        let same = self
            .candidates
            .iter()
            .filter(|kept| self::method(&kept.choice) == method);
        same.map(|kept| kept.candidate.cost.rank)
            .fold(f64::INFINITY, f64::min)
    }
}

/// What tells methods apart: whether there are pies, whether there are stock bends, and
/// whether one saw setting is asked of all miters.
fn method(choice: &Choice) -> (bool, bool, bool) {
    let stock = choice.bends.len() > choice.pie_bends();
    (choice.pie_bends() > 0, stock, choice.is_shared())
}

/// The choice that a direct candidate stands for.
fn choice_of(candidate: &Candidate) -> Choice {
    let making = |bend: &super::Bend| match bend.make {
        super::Make::Pies { joints } => Making::Pies {
            radius: 0,
            joints,
            cut: super::choice::CutRule::Free,
        },
        super::Make::Stock { item } => Making::Stock { item, whole: false },
    };
    Choice {
        bends: candidate.route.bends.iter().map(making).collect(),
        pass_legs: Vec::new(),
    }
}

/// Ways to share `passes`, in order, out to the legs of `bends` bends.
fn pass_legs(passes: usize, bends: usize) -> Vec<Vec<usize>> {
    let mut ways: Vec<Vec<usize>> = vec![Vec::new()];
    for _ in 0..passes {
        ways = ways
            .into_iter()
            .flat_map(|way| {
                let from = way.last().copied().unwrap_or(0);
                (from..=bends).map(move |leg| [way.as_slice(), &[leg]].concat())
            })
            .take(MAX_PASS_LEGS)
            .collect();
    }
    ways
}
