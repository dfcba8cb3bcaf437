//! Builds a planned run with a shop's usual errors, up to the piece that is left for last,
//! and measures both ends: a file for `runwright close`, to stdout.
//!
//! `cargo run --example simulate_build -- examples/stack.json results/plan.json SEED`

#[path = "../tests/support/bench.rs"]
mod bench;
#[path = "../tests/support/built.rs"]
mod built;
#[path = "../tests/support/mod.rs"]
mod support;

use runwright::geometry::Point;
use runwright::job::read_job;
use runwright::plan::read_plan;
use runwright::run::Port;
use serde_json::{Value, json};
use std::process::ExitCode;

/// How well a point is touched, mm.
const SIGMA: f64 = 0.5;
/// Points on the rim, and on the outside behind it.
const POINTS: (usize, usize) = (8, 6);

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [job, plan, seed] = &arguments[..] else {
        eprintln!("usage: simulate_build JOB PLAN SEED");
        return ExitCode::from(2);
    };
    match simulate(job, plan, seed) {
        Ok(file) => {
            println!("{file}");
            ExitCode::SUCCESS
        }
        Err(reason) => {
            eprintln!("simulate_build: {reason}");
            ExitCode::FAILURE
        }
    }
}

pub(crate) fn simulate(job_file: &str, plan_file: &str, seed: &str) -> Result<String, String> {
    let read = |file: &str| std::fs::read(file).map_err(|error| format!("{file}: {error}"));
    let seed: u64 = seed
        .parse()
        .map_err(|_| "the seed must be a number".to_owned())?;
    let job = read_job(&read(job_file)?, "job")
        .job
        .ok_or("the job has errors")?;
    let plan = read_plan(&read(plan_file)?).map_err(|_| "the plan has errors".to_owned())?;
    let planned = &plan.runs[0];
    let piece = planned
        .left_for_last
        .ok_or("the plan leaves no piece for last")?;
    let mut numbers = support::Numbers::new(seed);
    // As the run meets them: they may have been free to move.
    let met = planned.run.centerline().ends();
    let ports = met.map(|(center, outward)| Port::new("", center, outward));
    let ports = [&ports[0], &ports[1]];
    let ends = built::ends(&planned.run, ports, piece, &job.accuracy, &mut numbers);
    let radius = planned.run.tube().radius().mm();
    let unit = job.style.unit.mm();
    let [before, after] = ends.map(|end| {
        let touched = built::touch(&end, radius, POINTS, SIGMA, &mut numbers);
        json!({ "measured": {
            "rim": list(&touched.rim, unit),
            "outside": list(&touched.outside, unit),
        } })
    });
    let name = std::path::Path::new(job_file)
        .file_name()
        .map(|name| name.to_string_lossy());
    let file = json!({ "job": name, "run": planned.name, "before": before, "after": after });
    serde_json::to_string_pretty(&file).map_err(|error| error.to_string())
}

/// To a thousandth of an inch, as a height gauge reads.
fn list(points: &[Point], unit: f64) -> Vec<Value> {
    let number = |value: f64| (value / unit * 1000.0).round() / 1000.0;
    points
        .iter()
        .map(|at| json!([number(at.x), number(at.y), number(at.z)]))
        .collect()
}
