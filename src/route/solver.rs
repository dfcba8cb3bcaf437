//! [`Solver`]: one search, what it has found and what it may still spend.

use super::choice::Choice;
use super::control::{Budget, Control, Progress};
use super::field::Field;
use super::layout::{Guess, Layout};
use super::search::{Found, ROUGH};
use super::{Candidate, Constraint, Rejection, Task};
use crate::units::Length;
use std::collections::BTreeMap;

/// Candidates that are kept.
const MAX_KEPT: usize = 200;

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
    /// There was no search: the run is copied from a tube.
    Copied,
}

impl Stop {
    /// A stable name for files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::StraightTube => "straight-tube",
            Self::ChoicesTried => "choices-tried",
            Self::SearchesSpent => "searches-spent",
            Self::Interrupted => "interrupted",
            Self::Copied => "copied",
        }
    }
}

/// The least-violated layout of few bends seen: which constraints, and by how much.
pub(super) struct Nearest {
    pub(super) constraints: Vec<(Constraint, Length)>,
    pub(super) bends: usize,
    worst_margin: f64,
}

impl Nearest {
    /// The same, with ends and bends named as `task` has them.
    pub(super) fn seen_from(mut self, task: &Task) -> Self {
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
    pub(super) choice: Choice,
    pub(super) guess: Guess,
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
    pub(super) nearest: Option<Nearest>,
    pub(super) rejection: Option<Rejection>,
    /// Whether any route at all will do.
    pub(super) first_only: bool,
    pub(super) straight: bool,
}

impl<'a> Solver<'a> {
    pub(super) fn new(field: &'a Field<'a>, control: &'a Control<'a>) -> Self {
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
    pub(super) fn note_nearest(&mut self, layout: &Layout<'_>, found: &Found) {
        let is_plain = layout.choice().pass_legs.is_empty() && self.field.chart.is_none();
        let few = if is_plain { 2 } else { 4 };
        let nearer = layout.bends() <= few
            && self
                .nearest
                .as_ref()
                .is_none_or(|nearest| found.worst_margin > nearest.worst_margin);
        if nearer && !found.is_feasible(ROUGH) {
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

    pub(super) fn stop(&self) -> Stop {
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

    pub(super) fn best_rank(&self) -> f64 {
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
