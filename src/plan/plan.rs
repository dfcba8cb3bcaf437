//! [`Plan`]: a job and its solved runs.

use super::failure::failure;
use crate::geometry::{Point, Vector};
use crate::job::{Job, Problem};
use crate::route::{Solution, Task, cheapest, solve};
use crate::run::{Clearance, Run, clearance_between};
use crate::shop::SawSheet;
use crate::units::{Angle, Length};

/// Cuts smaller than this cannot be set on a saw: the joint is an artifact of ports
/// that almost line up.
const UNSETTABLE_CUT: Angle = Angle::from_degrees(0.25);

/// Total turn that makes one ask whether a port faces the wrong way.
const SUSPICIOUS_TURN: Angle = Angle::from_degrees(185.0);
/// Part of the cost that is left if a port is reversed, below which it probably should
/// have been.
const SUSPICIOUS_SAVING: f64 = 0.65;

/// A job, its runs, and what is odd about them.
#[derive(Clone, Debug)]
pub struct Plan {
    /// What was asked for, defaults filled in.
    pub job: Job,
    /// One a run of the job, in the same order.
    pub runs: Vec<PlannedRun>,
    /// What the user should know before cutting.
    pub warnings: Vec<Problem>,
}

/// A run as planned.
#[derive(Clone, Debug)]
pub struct PlannedRun {
    /// The run's name.
    pub name: String,
    /// The cheapest route, the others, and why the solver stopped.
    pub solution: Solution,
    /// How to cut it from one stick.
    pub saw: SawSheet,
    /// The tightest place to another run or to itself; `None` with nothing near.
    pub clearance: Option<Length>,
}

impl PlannedRun {
    /// Pieces and joints of the chosen route.
    pub const fn run(&self) -> &Run {
        &self.solution.best.run
    }
}

/// Plans every run of `job`; else every run that has no route, and why.
pub fn plan(job: &Job) -> Result<Plan, Vec<Problem>> {
    let mut runs = Vec::new();
    let mut failures = Vec::new();
    for (i, run) in job.runs.iter().enumerate() {
        match solve(&run.task) {
            Ok(solution) => runs.push(PlannedRun {
                name: run.name.clone(),
                saw: SawSheet::new(&solution.best.run, run.task.rates.kerf),
                clearance: solution.best.run.self_clearance().map(|c| c.distance),
                solution,
            }),
            Err(reason) => failures.push(failure(i, run, &reason, job.style)),
        }
    }
    if !failures.is_empty() {
        return Err(failures);
    }
    let mut warnings: Vec<Problem> = runs.iter().filter_map(tiny_cuts).collect();
    for (planned, run) in runs.iter().zip(&job.runs) {
        warnings.extend(wrong_way(planned, &run.task));
    }
    warnings.extend(check_clearances(job, &mut runs));
    Ok(Plan {
        job: job.clone(),
        runs,
        warnings,
    })
}

fn tiny_cuts(planned: &PlannedRun) -> Option<Problem> {
    let joints = planned.run().joints().iter().enumerate();
    let tiny: Vec<String> = joints
        .filter(|(_, joint)| joint.cut() > Angle::ZERO && joint.cut() < UNSETTABLE_CUT)
        .map(|(number, joint)| format!("joint {number} at {:.3}°", joint.cut().degrees()))
        .collect();
    (!tiny.is_empty()).then(|| {
        Problem::of_file(
            format!("run '{}': cuts finer than a saw can be set: {}", planned.name, tiny.join(", ")),
            "the ports almost line up: move one by that little, or leave such joints out and let the fit-up take it",
        )
    })
}

/// Warns of a run that goes a long way round a port that seems to face the wrong way.
fn wrong_way(planned: &PlannedRun, task: &Task) -> Option<Problem> {
    let best = &planned.solution.best;
    if best.route.total_turn() < SUSPICIOUS_TURN {
        return None;
    }
    let (port, cheaper) = facing_back(task)?;
    (cheaper < best.cost.money * SUSPICIOUS_SAVING).then(|| {
        Problem::of_file(
            format!("run '{}' goes a long way round: does '{port}' point into its flange?", planned.name),
            format!("'outward' points from the face into free space; with that of '{port}' reversed the run would cost {cheaper:.2} instead of {:.2}", best.cost.money),
        )
    })
}

/// The port whose reversal gives the cheapest route, and what that costs.
pub(super) fn facing_back(task: &Task) -> Option<(String, f64)> {
    let mut start = task.clone();
    start.start.outward = -start.start.outward;
    let mut end = task.clone();
    end.end.outward = -end.end.outward;
    [(start, &task.start), (end, &task.end)]
        .into_iter()
        .filter_map(|(turned, port)| Some((port.name.clone(), cheapest(&turned)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Fills in each run's clearance to the others, and warns where runs collide.
fn check_clearances(job: &Job, runs: &mut [PlannedRun]) -> Vec<Problem> {
    let mut warnings = Vec::new();
    let boxes: Vec<_> = runs.iter().map(|planned| planned.run().bounds()).collect();
    for i in 0..runs.len() {
        for j in i + 1..runs.len() {
            // Boxes that are farther apart than either run's tightest place tell nothing.
            let apart = box_distance(boxes[i], boxes[j]);
            let known = |k: usize| runs[k].clearance.is_some_and(|c| c < apart);
            if known(i) && known(j) {
                continue;
            }
            let Some(clearance) = clearance_between(runs[i].run(), runs[j].run()) else {
                continue;
            };
            for k in [i, j] {
                let known = runs[k].clearance.unwrap_or(clearance.distance);
                runs[k].clearance = Some(known.min(clearance.distance));
            }
            if clearance.distance < Length::ZERO {
                warnings.push(collision(job, &runs[i].name, &runs[j].name, &clearance));
            }
        }
    }
    warnings
}

/// Least distance between two boxes, each by its least and greatest corner.
fn box_distance(a: (Point, Point), b: (Point, Point)) -> Length {
    let gap = (b.0 - a.1).sup(&(a.0 - b.1)).sup(&Vector::zeros());
    Length::from_mm(gap.norm())
}

fn collision(job: &Job, first: &str, second: &str, clearance: &Clearance) -> Problem {
    let style = job.style;
    Problem::of_file(
        format!(
            "runs '{first}' and '{second}' run into each other by {} at {}: piece {} of '{first}' and piece {} of '{second}'",
            style.length(-clearance.distance),
            style.point(clearance.at.into()),
            clearance.first_piece,
            clearance.second_piece,
        ),
        "give one of them another CLR or longer straights, or move a port",
    )
}
