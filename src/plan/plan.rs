//! [`Plan`]: a job and its solved runs.

use super::failure::failure;
use crate::job::{Job, Problem};
use crate::route::{Solution, solve};
use crate::run::{Clearance, Run, clearance_between};
use crate::shop::SawSheet;
use crate::units::{Angle, Length};

/// Cuts smaller than this cannot be set on a saw: the joint is an artifact of ports
/// that almost line up.
const UNSETTABLE_CUT: Angle = Angle::from_degrees(0.25);

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
    let mut warnings: Vec<Problem> = runs.iter().flat_map(tiny_cuts).collect();
    warnings.extend(check_clearances(job, &mut runs));
    Ok(Plan {
        job: job.clone(),
        runs,
        warnings,
    })
}

fn tiny_cuts(planned: &PlannedRun) -> Vec<Problem> {
    let joints = planned.run().joints().iter().enumerate();
    let tiny =
        joints.filter(|(_, joint)| joint.cut() > Angle::ZERO && joint.cut() < UNSETTABLE_CUT);
    tiny.map(|(number, joint)| {
        Problem::of_file(
            format!(
                "run '{}': joint {number} is cut at only {:.3}°, finer than a saw can be set",
                planned.name,
                joint.cut().degrees(),
            ),
            "the ports almost line up: move one by that little, or leave the joint out and let the fit-up take it",
        )
    })
    .collect()
}

/// Fills in each run's clearance to the others, and warns where runs collide.
fn check_clearances(job: &Job, runs: &mut [PlannedRun]) -> Vec<Problem> {
    let mut warnings = Vec::new();
    for i in 0..runs.len() {
        for j in i + 1..runs.len() {
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
