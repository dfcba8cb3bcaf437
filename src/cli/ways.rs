//! Taking other ways than the cheapest, as `--way` asks for them.

use super::message::Failure;
use crate::plan::Plan;
use crate::units::counted;

/// The plan with the ways taken that are asked for, each `NUMBER` or `RUN=NUMBER`, counted
/// from 1 as `sheet.txt` lists them.
pub(super) fn take_ways(mut plan: Plan, asked: &[String]) -> Result<Plan, Failure> {
    let mut taken: Vec<usize> = Vec::new();
    for text in asked {
        let (run, number) = meant(&plan, text)?;
        if taken.contains(&run) {
            let name = &plan.runs[run].name;
            let what = format!("is given twice for run '{name}'");
            return Err(Failure::one("--way", what, "say once which way to take"));
        }
        taken.push(run);
        let Some(other) = number.checked_sub(1).and_then(|way| plan.taking(run, way)) else {
            return Err(no_such_way(&plan, run, text));
        };
        plan = other;
    }
    Ok(plan)
}

/// Which run and which of its ways, from 1, a text means.
fn meant(plan: &Plan, text: &str) -> Result<(usize, usize), Failure> {
    let (name, number) = match text.rsplit_once('=') {
        Some((name, number)) => (Some(name), number),
        None => (None, text),
    };
    let run = match name {
        Some(name) => plan.runs.iter().position(|planned| planned.name == name),
        None => (plan.runs.len() == 1).then_some(0),
    };
    let Some(run) = run else {
        let names: Vec<String> = plan
            .runs
            .iter()
            .map(|run| format!("'{}'", run.name))
            .collect();
        let help = format!(
            "write RUN=NUMBER, with one of the runs {}",
            names.join(", ")
        );
        return Err(Failure::one(
            "--way",
            format!("'{text}' names no run"),
            &help,
        ));
    };
    match number.trim().parse() {
        Ok(number) => Ok((run, number)),
        Err(_) => Err(no_such_way(plan, run, text)),
    }
}

fn no_such_way(plan: &Plan, run: usize, text: &str) -> Failure {
    let found = counted(plan.ways(run), "way");
    let what = format!(
        "'{text}' is no way: {found} found for run '{}'",
        plan.runs[run].name
    );
    let help = "plan without --way and choose a number from OTHER WAYS in sheet.txt";
    Failure::one("--way", what, help)
}
