//! [`Plan`]: a job and its solved runs.

use super::facing::wrong_way;
use super::failure::failure;
use crate::geometry::{Point, Vector, angle_between};
use crate::job::{Job, Problem};
use crate::route::{Solution, Task, solve};
use crate::run::{Clearance, Run, clearance_between};
use crate::shop::SawSheet;
use crate::units::{Angle, Length};

/// Cuts smaller than this cannot be set on a saw: the joint is an artifact of ports
/// that almost line up.
const UNSETTABLE_CUT: Angle = Angle::from_degrees(0.25);

/// Rounding between a run's direction and its port's.
const AS_MEASURED: Angle = Angle::from_degrees(1e-7);

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
        warnings.extend(off_axis(planned, &run.task));
        warnings.extend(wrong_way(&planned.name, &planned.solution.best, &run.task));
    }
    warnings.extend(check_clearances(job, &mut runs));
    Ok(Plan {
        job: job.clone(),
        runs,
        warnings,
    })
}

/// Warns of ports that line up to within a hair and were taken to line up.
fn off_axis(planned: &PlannedRun, task: &Task) -> Option<Problem> {
    let directions = planned.run().centerline().directions();
    let ends = [
        (&task.start, *directions.first()?),
        (&task.end, -*directions.last()?),
    ];
    let (port, angle) = ends
        .map(|(port, direction)| (port, angle_between(&direction, &port.outward)))
        .into_iter()
        .max_by(|a, b| a.1.radians().total_cmp(&b.1.radians()))?;
    (angle > AS_MEASURED).then(|| {
        Problem::of_file(
            format!(
                "run '{}': the ports line up to within a hair and are taken to; the run leaves '{}' {:.4}° off its axis",
                planned.name,
                port.name,
                angle.degrees(),
            ),
            "nothing to do: no saw or jig shows it",
        )
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
