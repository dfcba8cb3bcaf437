//! Trying one choice: the local search, and what is built of it.

use super::bounds::least_cost;
use super::choice::Choice;
use super::correction::Errors;
use super::layout::{Aim, Guess, Layout, Worth};
use super::search::{EXACT, Found, ROUGH, minimize, minimize_again, minimize_while};
use super::seeds::best_of;
use super::solver::Solver;
use super::waiting::{Bound, Waiting};
use super::{Candidate, Rejection};
use crate::units::{Angle, Length};

/// First guesses of its own for a choice while no route has been found at all.
const FIRST_OWN_SEEDS: usize = 6;
/// The same among scans.
const FIRST_OWN_SEEDS_AMONG_SCANS: usize = 2;

/// Rounds of correction by exact distances from scans.
const MOST_CORRECTIONS: usize = 6;
/// Violation, in units, that will do for what is corrected and searched again.
const TO_CORRECT: f64 = 1e-5;
/// How far, in cells, the map may be off: what it refuses by less may do.
const NEARLY: f64 = 0.1;
/// Room that may be short by the exact distances: within what the check allows.
const SHORT: Length = Length::from_mm(9e-4);
/// Room that may be left over where a scan holds the search back: nothing to a shop.
const SPARE: Length = Length::from_mm(0.1);
/// What corrections after the first are on the safe side.
const RESERVE: Length = Length::from_mm(0.02);

/// What trying a choice came to.
pub(super) struct Attempt {
    pub outcome: Outcome,
    /// Where the search ended.
    pub guess: Guess,
    pub turns: Vec<Angle>,
    pub searches: u32,
}

pub(super) enum Outcome {
    /// A route that can be built.
    Built(Box<Candidate>),
    /// A route that would cost more than is known, about this much; not worth the last
    /// digits.
    TooDear(f64),
    /// No route near any guess; or why one cannot be built.
    Failed(Option<Rejection>),
}

impl Solver<'_> {
    /// Tries one choice that worked for a task much like this one.
    pub(super) fn try_hint(&mut self, choice: &Choice, guess: &Guess) {
        let layout = Layout::new(self.field, choice.clone(), self.aim());
        let attempt = self.attempt_from(&layout, guess, &|_| true);
        self.searches += attempt.searches;
        self.keep_outcome(choice, attempt.guess, attempt.outcome);
    }

    pub(super) fn keep_outcome(&mut self, choice: &Choice, guess: Guess, outcome: Outcome) {
        match outcome {
            Outcome::Built(candidate) => self.keep(choice, guess, Ok(*candidate)),
            Outcome::Failed(rejection) => self.keep(choice, guess, Err(rejection)),
            Outcome::TooDear(_) => false,
        };
    }

    /// What the final search makes least: tube, weld and kerf, and what a length off the
    /// wished one costs beside them.
    pub(super) fn aim(&self) -> Aim {
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
            let weight = rates.off_length_weight.metric() / 1000.0 / rates.per_mm();
            (self.field.units(wish), weight)
        });
        Aim {
            per_radian: 0.0,
            wish,
            making,
        }
    }

    /// The best route of a choice near its guess, or near a first guess of its own.
    pub(super) fn attempt(&self, waiting: &Waiting, bound: &Bound, none_yet: bool) -> Attempt {
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
        let count = match (&self.field.chart, many) {
            // Another guess is hardly ever on the right side of every wall.
            (Some(_), false) => 0,
            (Some(_), true) => FIRST_OWN_SEEDS_AMONG_SCANS,
            (None, true) => FIRST_OWN_SEEDS.max(self.budget.own_seeds),
            (None, false) => self.budget.own_seeds.max(1),
        };
        let pool = self
            .pools
            .get(&waiting.choice.course())
            .map_or(&[][..], Vec::as_slice);
        for guess in best_of(&layout, pool, count) {
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

    pub(super) fn attempt_from(
        &self,
        layout: &Layout<'_>,
        guess: &Guess,
        worth_it: &dyn Fn(&Found) -> bool,
    ) -> Attempt {
        let tolerance = if self.field.chart.is_some() {
            TO_CORRECT
        } else {
            EXACT
        };
        let found = minimize_while(layout, layout.pack(guess), tolerance, worth_it);
        let (corrected, found, searches) = self.corrected(layout, found, worth_it);
        let layout = &corrected;
        let mut attempt = self.outcome(layout, &found, worth_it);
        attempt.searches += searches;
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
            attempt.searches += 1;
        }
        attempt
    }

    /// What was found among scans by the map, searched again with what the map is off
    /// there, until it is off no more; and how many searches that took.
    fn corrected<'a>(
        &self,
        layout: &Layout<'a>,
        found: Found,
        worth_it: &dyn Fn(&Found) -> bool,
    ) -> (Layout<'a>, Found, u32) {
        let mut layout = layout.clone();
        let mut found = found;
        let mut searches = 0;
        let Some(chart) = &self.field.chart else {
            return (layout, found, searches);
        };
        let nearly = NEARLY * chart.map.lattice.cell / self.field.unit;
        if !found.is_feasible(ROUGH.max(nearly)) || !worth_it(&found) {
            return (layout, found, searches);
        }
        let units = |length: Length| self.field.units(length);
        for round in 0..MOST_CORRECTIONS {
            let errors = Errors::of(&layout, &found.x);
            let is_right = errors.short <= units(SHORT) && errors.spare <= units(SPARE);
            if is_right && found.is_feasible(EXACT) {
                break;
            }
            if !is_right {
                // The first time as it is; then a little on the safe side, and where
                // parts of a scan take turns, never back again: so that it ends.
                let reserve = if round == 0 { Length::ZERO } else { RESERVE };
                errors.correct(&mut layout, units(reserve), round >= MOST_CORRECTIONS / 2);
            }
            let tolerance = if is_right || round > 0 {
                EXACT
            } else {
                TO_CORRECT
            };
            found = minimize_again(&layout, found, tolerance);
            searches += 1;
            if !found.is_feasible(tolerance.max(TO_CORRECT)) {
                break;
            }
        }
        (layout, found, searches)
    }

    fn outcome(
        &self,
        layout: &Layout<'_>,
        found: &Found,
        worth_it: &dyn Fn(&Found) -> bool,
    ) -> Attempt {
        let outcome = if found.is_feasible(EXACT) {
            match layout
                .route(&found.x)
                .map(|route| self.field.task.candidate(route))
            {
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
}
