//! Quick looks: whether there is any route, and about what one costs.

use super::Task;
use super::choice::{Choice, Making};
use super::control::{Control, Effort};
use super::field::Field;
use super::layout::Guess;
use super::solver::Solver;

/// `task` from the port that comes first, see [`Task::is_turned`].
pub(super) fn ordered(task: &Task) -> Task {
    if task.is_turned() {
        task.reversed()
    } else {
        task.clone()
    }
}

/// About what the cheapest route of one or two bends for `task` costs, after a quick
/// look; `None` if there seems to be none.
pub fn glance(task: &Task) -> Option<f64> {
    let ordered = ordered(task);
    let field = Field::new(&ordered);
    let control = Control {
        effort: Effort::Quick,
        ..Control::default()
    };
    let mut solver = Solver::new(&field, &control);
    solver.budget.bends = 2;
    solver.first_only = true;
    solver.run();
    Some(solver.best_rank()).filter(|rank| rank.is_finite())
}

/// A route that worked for a task much like this one.
#[derive(Clone, Debug)]
pub(super) struct Hint {
    choice: Choice,
    guess: Guess,
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

/// Whether any route exists for `task`: how it is made, to begin with next time. Looks
/// `probes` times as long as usual.
pub(super) fn find_any(
    task: &Task,
    hint: Option<&Hint>,
    control: &Control<'_>,
    probes: u32,
) -> Option<Hint> {
    let ordered = ordered(task);
    let field = Field::new(&ordered);
    let quiet = Control {
        watch: None,
        ..*control
    };
    let mut solver = Solver::new(&field, &quiet);
    solver.first_only = true;
    solver.budget.probes *= probes;
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
