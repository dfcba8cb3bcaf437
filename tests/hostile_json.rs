//! Job, plan and built files that are wrong on purpose: they are read or refused with
//! what to do, and what is accepted is planned, printed and closed, all without a panic,
//! a hang or a full memory.
//!
//! The cases are the same in each run, because one in some thousands takes minutes to plan.
//! `PROPTEST_CASES` takes the place of how many are read and draws others each time; a
//! fiftieth of that many are carried on to a plan, a packet or a closing piece.

#[path = "support/json_spoil.rs"]
mod json_spoil;
#[path = "support/watchdog.rs"]
mod watchdog;

use json_spoil::{Bite, Spoil, apply, bite, bitten, spoil, text};
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed};
use runwright::export::{
    Packet, PlanFiles, closing_json, closing_patterns, closing_sheet, closing_stls,
};
use runwright::job::{Built, Job, Problem, read_built, read_job};
use runwright::plan::{Plan, PlanFile, PlannedGap, close, plan_with, read_plan};
use runwright::route::{Control, Effort};
use runwright::units::Length;
use serde_json::Value;
use std::sync::LazyLock;
use std::time::Duration;
use watchdog::watched;

/// Files that are read.
const READ: u32 = 200;
/// What the usual cases are drawn from.
const SEED: u64 = 20;
/// So many times as many are read as are carried on.
const CARRIED_ON: u32 = 50;
/// Longest time that reading one may take, fits of measurements and all.
const READING: Duration = Duration::from_secs(300);
/// Longest time that planning one may take, with the reasons why there is no run.
const PLANNING: Duration = Duration::from_secs(300);
/// Most runs of a job that is planned here; a thousand take as long as they take.
const MOST_RUNS: usize = 6;
/// Longest message or place in a file, in bytes.
const LONGEST: usize = 12_000;

const STACK: &str = include_str!("../examples/stack.json");
const SCAN: &str = include_str!("hostile/bay.obj");

const JOBS: [&str; 8] = [
    STACK,
    include_str!("../examples/bay.json"),
    include_str!("../examples/duct.json"),
    include_str!("../examples/jig.json"),
    include_str!("../examples/tight.json"),
    include_str!("../examples/charge.json"),
    include_str!("../examples/copy.json"),
    include_str!("hostile/everything.json"),
];

/// So many of them are planned when spoiled. The last one has no route, and saying why
/// takes its time.
const PLANNED: usize = JOBS.len() - 1;

const BUILT: [&str; 3] = [
    include_str!("../examples/stack-built.json"),
    include_str!("hostile/built.json"),
    include_str!("hostile/gap.json"),
];

fn cases(divisor: u32) -> Config {
    let asked = std::env::var("PROPTEST_CASES").ok();
    let asked: Option<u32> = asked.and_then(|cases| cases.parse().ok());
    Config {
        failure_persistence: None,
        rng_seed: asked.map_or(RngSeed::Fixed(SEED), |_| RngSeed::Random),
        ..Config::with_cases(asked.unwrap_or(READ).div_ceil(divisor))
    }
}

fn quick() -> Control<'static> {
    Control {
        effort: Effort::Quick,
        ..Control::default()
    }
}

/// Reads a job and its scans.
fn job(bytes: &[u8]) -> Result<Job, Vec<Problem>> {
    let checked = read_job(bytes, "job");
    well_told(&checked.warnings);
    let mut job = checked.job.ok_or(checked.errors)?;
    well_told(&job.load_scans(|_| Ok(SCAN.as_bytes()))?);
    Ok(job)
}

fn built(bytes: &[u8], job: &Job) -> Result<Built, Vec<Problem>> {
    let order = read_built(bytes)?;
    let job = order.job.is_some().then_some(job);
    let (built, warnings) = order.build(job);
    well_told(&warnings);
    built
}

fn planned(text: &str) -> Plan {
    let job = job(text.as_bytes()).expect("a right job");
    plan_with(&job, &quick()).expect("a plan")
}

fn plan_json(text: &str) -> Vec<u8> {
    let files = PlanFiles {
        with_packet: false,
        ..PlanFiles::default()
    };
    let files = files.files(&planned(text)).expect("files");
    let plan = files.into_iter().find(|file| file.name == "plan.json");
    plan.expect("plan.json").bytes
}

static SHOP: LazyLock<Job> = LazyLock::new(|| job(STACK.as_bytes()).expect("a right job"));
/// Plans of both kinds of bends, of a copy, and of two runs.
static PLANS: LazyLock<Vec<Value>> = LazyLock::new(|| {
    let plans = [JOBS[0], JOBS[2], JOBS[6], JOBS[5]]
        .into_iter()
        .map(plan_json);
    plans
        .map(|bytes| serde_json::from_slice(&bytes).expect("JSON"))
        .collect()
});

/// That problems say what is wrong and what to do, on lines that a terminal can show.
#[track_caller]
fn well_told(problems: &[Problem]) {
    for problem in problems {
        let Problem {
            path,
            message,
            help,
        } = problem;
        assert!(!message.trim().is_empty(), "no message: {problem:?}");
        assert!(!help.trim().is_empty(), "no help: {problem:?}");
        for text in [path, message, help] {
            assert!(text.len() < LONGEST, "too long: {text:.200}");
            assert!(
                !text.contains(|c: char| c.is_control()),
                "control characters: {text:?}"
            );
        }
    }
}

#[track_caller]
fn refused<T>(result: Result<T, Vec<Problem>>) -> Option<T> {
    match result {
        Ok(value) => Some(value),
        Err(problems) => {
            assert!(!problems.is_empty(), "refused without a reason");
            well_told(&problems);
            None
        }
    }
}

/// A file's text, spoiled as a tree and then, in one of four, as bytes.
fn spoiled(tree: &Value, spoils: &[Spoil], bites: &[Bite]) -> Vec<u8> {
    let mut tree = tree.clone();
    for spoil in spoils {
        apply(spoil, &mut tree);
    }
    let mut bytes = text(&tree).into_bytes();
    bitten(bites, &mut bytes);
    bytes
}

fn tree(text: &str) -> Value {
    serde_json::from_str(text).expect("JSON")
}

fn spoils(most: usize) -> impl Strategy<Value = Vec<Spoil>> {
    prop::collection::vec(spoil(), 1..=most)
}

fn bites() -> impl Strategy<Value = Vec<Bite>> {
    prop_oneof![
        3 => Just(Vec::new()),
        1 => prop::collection::vec(bite(), 1..4),
    ]
}

fn files_of(plan: &Plan) {
    let files = PlanFiles {
        pieces: true,
        ..PlanFiles::default()
    };
    well_told(&plan.warnings);
    if let Err(error) = files.files(plan) {
        panic!("a plan that cannot be written: {error}");
    }
}

fn packet_of(plan: &PlanFile) {
    well_told(&plan.warnings);
    if let Err(error) = Packet::default().of(plan) {
        panic!("a plan that cannot be printed: {error}");
    }
}

fn carried_on(built: &Built, plan: Option<PlannedGap>) {
    let Some(closing) = refused(close(built, plan, false, &quick())) else {
        return;
    };
    well_told(&closing.warnings);
    let chord = Length::from_mm(0.5);
    closing_sheet(&closing).expect("a sheet");
    closing_json(&closing).expect("JSON");
    closing_patterns(&closing, Length::ZERO).expect("patterns");
    closing_stls(&closing, chord).expect("meshes");
}

/// The run that `built` closes, as `runwright close` takes it.
fn gap(plan: PlanFile, built: &Built) -> Option<PlannedGap> {
    let run = plan.runs.into_iter().next()?;
    let piece = built.piece.or(run.left_for_last)?;
    (1..=run.run.pieces().len())
        .contains(&piece)
        .then_some(PlannedGap { run, piece })
}

#[test]
fn what_is_not_spoiled_is_accepted() {
    for text in JOBS {
        assert!(
            job(text.as_bytes()).is_ok(),
            "{:?}",
            job(text.as_bytes()).err()
        );
    }
    for text in BUILT {
        let built = built(text.as_bytes(), &SHOP);
        assert!(built.is_ok(), "{:?}", built.err());
    }
    for plan in PLANS.iter() {
        assert!(read_plan(plan.to_string().as_bytes()).is_ok());
    }
}

proptest! {
    #![proptest_config(cases(1))]

    #[test]
    fn spoiled_jobs_are_read_or_refused(which in 0..JOBS.len(), spoils in spoils(4), bites in bites()) {
        let bytes = spoiled(&tree(JOBS[which]), &spoils, &bites);
        watched(&bytes, READING, || refused(job(&bytes)));
    }

    #[test]
    fn spoiled_plans_are_read_or_refused(which in 0..4_usize, spoils in spoils(4), bites in bites()) {
        let bytes = spoiled(&PLANS[which], &spoils, &bites);
        watched(&bytes, READING, || refused(read_plan(&bytes)));
    }

    #[test]
    fn spoiled_measurements_are_read_or_refused(which in 0..BUILT.len(), spoils in spoils(4), bites in bites()) {
        let bytes = spoiled(&tree(BUILT[which]), &spoils, &bites);
        watched(&bytes, READING, || refused(built(&bytes, &SHOP)));
    }
}

proptest! {
    #![proptest_config(cases(CARRIED_ON))]

    #[test]
    fn spoiled_jobs_that_are_accepted_are_planned(which in 0..PLANNED, spoils in spoils(2)) {
        let bytes = spoiled(&tree(JOBS[which]), &spoils, &[]);
        watched(&bytes, PLANNING, || {
            if let Some(job) = refused(job(&bytes))
                && job.runs.len() <= MOST_RUNS
                && let Some(plan) = refused(plan_with(&job, &quick()))
            {
                files_of(&plan);
            }
        });
    }

    #[test]
    fn spoiled_plans_that_are_accepted_are_printed(which in 0..4_usize, spoils in spoils(2)) {
        let bytes = spoiled(&PLANS[which], &spoils, &[]);
        watched(&bytes, PLANNING, || {
            if let Some(plan) = refused(read_plan(&bytes)) && plan.runs.len() <= MOST_RUNS {
                packet_of(&plan);
            }
        });
    }

    #[test]
    fn spoiled_measurements_that_are_accepted_are_closed(
        which in 0..BUILT.len(),
        spoils in spoils(2),
        plan_spoils in prop::collection::vec(spoil(), 0..2),
    ) {
        let bytes = spoiled(&tree(BUILT[which]), &spoils, &[]);
        watched(&bytes, PLANNING, || {
            if let Some(built) = refused(built(&bytes, &SHOP)) {
                let plan = built.has_job.then(|| spoiled(&PLANS[0], &plan_spoils, &[]));
                let plan = plan.and_then(|bytes| refused(read_plan(&bytes)));
                let gap = plan.and_then(|plan| gap(plan, &built));
                carried_on(&built, gap);
            }
        });
    }
}

#[test]
fn a_copy_with_wrong_points_in_several_pieces_is_refused_in_time() {
    let bytes = include_bytes!("hostile/several_wrong_points.json");
    watched(bytes, Duration::from_secs(20), || refused(job(bytes)));
}
