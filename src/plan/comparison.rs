//! Pie cuts against stock bends: every planned run beside the same ports joined by bends
//! of the other kind.

use crate::job::JobRun;
use crate::route::{Candidate, Control, Effort, Solution, Stop, Task, solve_with};
use crate::shop::{Made, MandrelBend, OtherWay, Work, made_of};
use crate::tube::StockBend;
use crate::units::Angle;

/// What an assumed mandrel bend is called.
const MANDREL_BEND: &str = "90° mandrel bend";

/// Ways to make `solution`'s run that it is not made in: of pies alone, of stock bends
/// alone. None for straight tube and for a copy, where there is nothing to choose.
///
/// Taken from the solver's alternatives where one is made so; else searched for once more,
/// at a glance, with that kind alone: what is found may not be the cheapest of its kind. `task` is what was solved.
pub(super) fn other_ways(
    run: &JobRun,
    task: &Task,
    solution: &Solution,
    mandrel_bend: &MandrelBend,
    control: &Control<'_>,
) -> Vec<OtherWay> {
    let (pies, stock) = made_of(&solution.best);
    let is_fixed = matches!(solution.stop, Stop::Copied | Stop::Interrupted);
    if is_fixed || !(pies || stock) {
        return Vec::new();
    }
    let mut ways = Vec::new();
    if stock {
        let task = Task {
            pies: true,
            stock: Vec::new(),
            ..task.clone()
        };
        let known = alternative(solution, (true, false)).map(|c| Work::of(c, &[]));
        ways.push(OtherWay {
            made: Made::Pies,
            work: known.or_else(|| searched(&task, control).map(|c| Work::of(&c, &[]))),
        });
    }
    if pies {
        ways.push(of_bends(run, task, solution, mandrel_bend, control));
    }
    ways
}

/// The run of stock bends alone: those of the shop, else assumed mandrel bends.
fn of_bends(
    run: &JobRun,
    task: &Task,
    solution: &Solution,
    mandrel_bend: &MandrelBend,
    control: &Control<'_>,
) -> OtherWay {
    if let Some(known) = alternative(solution, (false, true)) {
        return OtherWay {
            made: Made::StockBends,
            work: Some(Work::of(known, &task.stock)),
        };
    }
    let is_listed = !run.shelf.is_empty();
    let (made, stock) = if is_listed {
        (Made::StockBends, run.shelf.clone())
    } else {
        let bend = assumed(task, mandrel_bend);
        let (clr, leg) = (bend.clr, bend.leg);
        (Made::MandrelBends { clr, leg }, vec![bend])
    };
    let only = Task {
        pies: false,
        one_setting: false,
        stock,
        ..task.clone()
    };
    let mut work = searched(&only, control).map(|found| Work::of(&found, &only.stock));
    if !is_listed {
        for kind in work.iter_mut().flat_map(|work| &mut work.bought) {
            kind.price = mandrel_bend.price;
        }
    }
    OtherWay { made, work }
}

/// A mandrel bend of the least CLR that the run's pies may have.
fn assumed(task: &Task, mandrel_bend: &MandrelBend) -> StockBend {
    StockBend {
        name: MANDREL_BEND.to_owned(),
        od: task.tube.od(),
        clr: task.limits.clr_min,
        turn: Angle::QUARTER,
        leg: mandrel_bend.leg,
        price: mandrel_bend.price.unwrap_or(0.0),
        count: None,
    }
}

/// The cheapest of what the solver found that has pies and stock bends as `wanted` says.
fn alternative(solution: &Solution, wanted: (bool, bool)) -> Option<&Candidate> {
    let mut found = solution.alternatives.iter().map(|(found, _)| found);
    found.find(|candidate| made_of(candidate) == wanted)
}

/// The best run for `task` at a glance.
fn searched(task: &Task, control: &Control<'_>) -> Option<Candidate> {
    if control.is_stopped() {
        return None;
    }
    let control = Control {
        effort: Effort::Glance,
        explain: false,
        watch: None,
        ..*control
    };
    solve_with(task, &control).ok().map(|found| found.best)
}
