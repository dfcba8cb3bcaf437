//! The search over families of routes.
//!
//! 1. A straight tube, where the ports face each other on one axis.
//! 2. One bend, where the axes cross ahead of both ports.
//! 3. Families of two bends, then three, each explored as `explore` says, for every CLR
//!    of the job and every stock bend; four and five where fewer do not do.

use super::answer::{Reason, choose};
use super::choice::{Choice, Making};
use super::control::{Budget, Control};
use super::field::Field;
use super::layout::{Aim, Layout};
use super::probe::ordered;
use super::reason::{self, NoRoute};
use super::search::{EXACT, Found, minimize};
use super::seeds::seeds;
use super::solver::{Solver, Stop};
use super::{Candidate, Limits, Task};
use crate::run::Port;
use crate::tube::Tube;
use crate::units::Length;
use rayon::prelude::*;

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
