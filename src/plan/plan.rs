//! [`Plan`]: a job and its solved runs.

use super::comparison::other_ways;
use super::copied::broken;
use super::facing::wrong_way;
use super::failure::failure;
use super::growing::{grows, grows_unknown};
use super::off_the_sticks::off_the_sticks;
use super::seam_plans::seam_plans;
use crate::geometry::{Point, Vector, angle_between};
use crate::job::{Job, JobRun, Problem};
use crate::route::{Control, Solution, Stop, Task, solve_with};
use crate::run::{Clearance, Run, Standoff, clearance_between};
use crate::shop::{
    BoughtBend, CutList, Longer, OtherWay, SawSheet, SeamPlan, Seams, StackUp, StickLayout, TackUp,
    Tacking, lay_out, marked_trim,
};
use crate::units::{Angle, Length, Style};

/// Cuts smaller than this cannot be set on a saw: the joint is an artifact of ports
/// that almost line up.
pub(super) const UNSETTABLE_CUT: Angle = Angle::from_degrees(0.25);

/// Lengths this near are equal: what a fit-up takes.
const OFF_LENGTH: Length = Length::from_mm(0.5);

/// Runs without a route whose reasons are looked into; the others wait for these.
const MAX_EXPLAINED: usize = 10;

/// Rounding between a run's direction and its port's.
const AS_MEASURED: Angle = Angle::from_degrees(1e-7);

/// A job, its runs, and what is odd about them.
#[derive(Clone, Debug)]
pub struct Plan {
    /// What was asked for, defaults filled in.
    pub job: Job,
    /// One a run of the job, in the same order.
    pub runs: Vec<PlannedRun>,
    /// Which sticks all runs are cut from, one layout a tube; none where the shop has no
    /// sticks of it.
    pub sticks: Vec<StickLayout>,
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
    /// The tightest place to each of the task's obstacles.
    pub standings: Vec<Standing>,
    /// The length that was wished for.
    pub wish: Option<Length>,
    /// How far off it may end, and which piece to leave for last.
    pub stack_up: StackUp,
    /// The same ports joined by bends of another kind.
    pub others: Vec<OtherWay>,
    /// In which order to put it together, and what a tape should read.
    pub tack_up: TackUp,
    /// Where the tube's weld seam comes to lie, cut from the plan's sticks or in order from
    /// one; none in seamless tube.
    pub seams: Option<SeamPlan>,
}

/// How near a run comes to an obstacle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standing {
    /// Which of the task's obstacles.
    pub obstacle: usize,
    /// Length of centerline at each port along which it is not asked about.
    pub exempt: Length,
    /// Where, and what room is left beyond the clearance that is asked for.
    pub nearest: Standoff,
}

impl Plan {
    /// Every stick that comes to the saw.
    pub fn cut_list(&self) -> CutList<'_> {
        let runs: Vec<&Run> = self.runs.iter().map(PlannedRun::run).collect();
        CutList::new(&runs, self.job.kerf(), &self.sticks, &self.longer())
    }

    /// Pieces that are left for last and cut longer than planned.
    pub fn longer(&self) -> Vec<Longer> {
        longer(&self.job, &self.runs)
    }

    /// What the stock bends of run number `run`, from 0, are made from.
    pub fn bought_bends(&self, run: usize) -> Vec<BoughtBend> {
        let own = self.runs.get(run).zip(self.job.runs.get(run));
        own.map_or(Vec::new(), |(planned, job_run)| {
            let best = &planned.solution.best;
            BoughtBend::all(&best.run, &best.route.bends, &job_run.task.stock)
        })
    }

    /// Names of all runs, in order.
    pub fn run_names(&self) -> Vec<&str> {
        self.runs.iter().map(|run| run.name.as_str()).collect()
    }
}

impl PlannedRun {
    /// Run number `number` of `job`, from 0, whose task may ask for more than the job's own.
    pub(super) fn new(job: &Job, number: usize, task: &Task, solution: Solution) -> Self {
        let run = &solution.best.run;
        let ports = [&task.start, &task.end];
        let least_short_side = task.limits.min_short_side;
        let stack_up = StackUp::new(run, ports, &job.accuracy, least_short_side);
        let saw = SawSheet::new(number, run, task.rates.kerf);
        let tacking = Tacking {
            run,
            ports,
            accuracy: &job.accuracy,
            allowance: task.allowance,
            pins: job.pins(),
            closure: stack_up.closing.map(|closing| closing.piece),
            level: job.level(),
        };
        let standings = task
            .obstacles
            .iter()
            .enumerate()
            .filter_map(|(obstacle, rule)| {
                let outside = task.outside(rule);
                Some(Standing {
                    obstacle,
                    exempt: outside.exempt,
                    nearest: run.clearance_to(rule, outside)?,
                })
            });
        Self {
            name: job.runs[number].name.clone(),
            clearance: run.self_clearance().map(|c| c.distance),
            standings: standings.collect(),
            wish: task.wish,
            tack_up: TackUp::new(&tacking),
            saw,
            stack_up,
            seams: None,
            others: Vec::new(),
            solution,
        }
    }

    /// Pieces and joints of the chosen route.
    pub const fn run(&self) -> &Run {
        &self.solution.best.run
    }
}

/// Plans every run of `job` with the usual effort; else every run that has no route, and
/// why.
pub fn plan(job: &Job) -> Result<Plan, Vec<Problem>> {
    plan_with(job, &Control::default())
}

/// Plans every run of `job`; else every run that has no route, and why.
pub fn plan_with(job: &Job, control: &Control<'_>) -> Result<Plan, Vec<Problem>> {
    let mut runs = Vec::new();
    let mut failures = Vec::new();
    for (i, run) in job.runs.iter().enumerate() {
        let control = Control {
            explain: failures.len() < MAX_EXPLAINED,
            ..*control
        };
        if let Some(copied) = copied(i, run, job) {
            match copied {
                Ok(planned) => runs.push(planned),
                Err(problem) => failures.push(problem),
            }
            continue;
        }
        match solve_with(&run.task, &control) {
            Ok(solution) => runs.push(PlannedRun::new(job, i, &run.task, solution)),
            Err(reason) => failures.push(failure(i, run, &reason, job.style, control.explain)),
        }
    }
    if !failures.is_empty() {
        return Err(failures);
    }
    equal_lengths(job, &mut runs, control);
    compare(job, &mut runs, control);
    Ok(checked(job, runs))
}

/// The plan of `runs`, one a run of `job`, with its warnings and clearances.
pub(super) fn checked(job: &Job, mut runs: Vec<PlannedRun>) -> Plan {
    let mut warnings: Vec<Problem> = runs.iter().filter_map(tiny_cuts).collect();
    warnings.extend(
        runs.iter()
            .filter_map(|planned| off_length(planned, job.style)),
    );
    warnings.extend(runs.iter().filter_map(interrupted));
    for (i, (planned, run)) in runs.iter().zip(&job.runs).enumerate() {
        warnings.extend(broken(i, planned, run, job.style));
        warnings.extend(grows(i, planned, run, job.style));
        warnings.extend(grows_unknown(i, planned, run));
        if run.copied.is_some() {
            continue;
        }
        warnings.extend(off_axis(planned, &run.task));
        warnings.extend(wrong_way(&planned.name, &planned.solution.best, &run.task));
    }
    warnings.extend(check_clearances(job, &mut runs));
    let sticks = sticks(job, &runs);
    lay_seams(job, &mut runs, &sticks);
    warnings.extend(off_the_sticks(&sticks, &runs, job));
    Plan {
        job: job.clone(),
        runs,
        sticks,
        warnings,
    }
}

/// Fills in where weld seams come to lie.
fn lay_seams(job: &Job, runs: &mut [PlannedRun], sticks: &[StickLayout]) {
    let wishes = job.runs.iter().map(|run| run.seams);
    let pairs: Vec<(&Run, Option<Seams>)> = runs.iter().map(PlannedRun::run).zip(wishes).collect();
    let found = seam_plans(&pairs, sticks);
    for (planned, seams) in runs.iter_mut().zip(found) {
        planned.seams = seams;
    }
}

/// Pieces that are left for last and cut longer than planned.
fn longer(job: &Job, runs: &[PlannedRun]) -> Vec<Longer> {
    let of = |(run, planned): (usize, &PlannedRun)| {
        let closing = planned.stack_up.closing?;
        Some(Longer {
            run,
            piece: closing.piece,
            by: marked_trim(closing.trim, job.style.unit),
        })
    };
    runs.iter().enumerate().filter_map(of).collect()
}

/// All runs on the shop's sticks.
fn sticks(job: &Job, runs: &[PlannedRun]) -> Vec<StickLayout> {
    let longer = longer(job, runs);
    let runs: Vec<&Run> = runs.iter().map(PlannedRun::run).collect();
    lay_out(&runs, job.kerf(), &job.stick_stock, &longer)
}

/// A run that is copied, not searched for.
fn copied(index: usize, run: &JobRun, job: &Job) -> Option<Result<PlannedRun, Problem>> {
    let copy = run.copied.as_ref()?;
    let solution = run.task.copied(&copy.traced.vertices);
    let planned = solution.map(|solution| PlannedRun::new(job, index, &run.task, solution));
    Some(planned.map_err(|_| Problem {
        path: format!("runs[{index}].copy"),
        message: format!("run '{}' cannot be made of its tube", run.name),
        help: "check the tube's outside diameter".to_owned(),
    }))
}

/// Stretches the shorter runs of each group to the length of the longest.
fn equal_lengths(job: &Job, runs: &mut [PlannedRun], control: &Control<'_>) {
    for group in &job.equal_length {
        let lengths = group.iter().map(|&i| runs[i].run().length());
        let Some(longest) = lengths.reduce(Length::max) else {
            continue;
        };
        for &i in group {
            if longest - runs[i].run().length() <= OFF_LENGTH {
                continue;
            }
            if job.runs[i].copied.is_some() {
                runs[i].wish = Some(longest);
                continue;
            }
            let task = Task {
                wish: Some(longest),
                ..job.runs[i].task.clone()
            };
            if let Ok(solution) = solve_with(&task, control) {
                runs[i] = PlannedRun::new(job, i, &task, solution);
            }
        }
    }
}

/// Sets beside each run what it would take with bends of another kind.
fn compare(job: &Job, runs: &mut [PlannedRun], control: &Control<'_>) {
    for (planned, run) in runs.iter_mut().zip(&job.runs) {
        let task = Task {
            wish: planned.wish,
            ..run.task.clone()
        };
        planned.others = other_ways(run, &task, &planned.solution, &job.mandrel_bend, control);
    }
}

/// Warns of a run that is not as long as wished.
fn off_length(planned: &PlannedRun, style: Style) -> Option<Problem> {
    let wish = planned.wish?;
    let help = match planned.solution.stop {
        Stop::Copied => {
            "a copy is as long as its tube: leave the run out of equal_length, or do not copy it"
        }
        _ => {
            "give the run another CLR, or raise shop.rates.off_length_per_meter if it may cost more"
        }
    };
    let off = planned.run().length() - wish;
    (off.abs() > OFF_LENGTH).then(|| {
        Problem::of_file(
            format!(
                "run '{}' is {} {} than the {} that is wished for",
                planned.name,
                style.length(off.abs()),
                if off > Length::ZERO {
                    "longer"
                } else {
                    "shorter"
                },
                style.length(wish),
            ),
            help,
        )
    })
}

fn interrupted(planned: &PlannedRun) -> Option<Problem> {
    (planned.solution.stop == Stop::Interrupted).then(|| {
        Problem::of_file(
            format!(
                "run '{}' is the best found before the search was stopped",
                planned.name
            ),
            "plan again and wait for a cheaper one",
        )
    })
}

/// Warns of ports that line up to within a hair and were taken to line up.
fn off_axis(planned: &PlannedRun, task: &Task) -> Option<Problem> {
    let ends = planned.run().centerline().ends();
    let (port, angle) = [&task.start, &task.end]
        .into_iter()
        .zip(ends)
        .filter(|(port, _)| port.freedom.is_none())
        .map(|(port, (_, direction))| (port, angle_between(&direction, &port.outward)))
        .max_by(|a, b| a.1.radians().total_cmp(&b.1.radians()))?;
    (angle > AS_MEASURED).then(|| {
        Problem::of_file(
            format!(
                "run '{}': the ports line up so nearly that they are taken to be in line; the run leaves '{}' {:.4}° off its axis",
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
            let Some(mut clearance) = clearance_between(runs[i].run(), runs[j].run()) else {
                continue;
            };
            clearance.distance -= job.runs[i].task.wrap + job.runs[j].task.wrap;
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
