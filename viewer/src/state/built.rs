//! What was built, and the piece that closes its gap, by the library's `close`.

use super::closing_steps::closing_steps;
use super::goods::{ClosedGap, Goods};
use super::loose::Loose;
use super::opened::{Kept, KeptRun};
use runwright::closure::Side;
use runwright::export::{Exporter, PlanJson, advice_text, against_text};
use runwright::job::{Job, Path as Place, Problem, parse_json, read_built, read_job};
use runwright::plan::{
    Advice, BetweenEnds, Closing, FileRun, Found, PlanFile, PlannedGap, as_built, close, plan_with,
    read_plan,
};
use runwright::route::Control;
use runwright::run::Run;
use runwright::units::Angle;
use serde_json::Value;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

/// A plan and its own text's values, to be written again.
struct Planned {
    runs: Vec<FileRun>,
    value: Value,
}

/// Closes the gap of what the file says was built. Where the file names no plan, its job
/// is planned first.
pub fn close_gap(path: &Path, bytes: &[u8], control: &Control<'_>) -> Result<Kept, Vec<Problem>> {
    let order = read_built(bytes)?;
    let folder = path.parent().unwrap_or_else(|| Path::new(""));
    let mut sources = vec![path.to_path_buf()];
    let job = match &order.job {
        Some(name) => {
            sources.push(folder.join(name));
            Some(job(folder, name)?)
        }
        None => None,
    };
    if let Some(job) = &job {
        sources.extend(job.loaded.iter().map(|scan| folder.join(&scan.file)));
    }
    let planned = match (&order.plan, &job) {
        (Some(name), _) => {
            sources.push(folder.join(name));
            Some(plan_file(folder, name)?)
        }
        (None, Some(job)) => Some(planned(job, control)?),
        (None, None) => None,
    };
    let (built, mut warnings) = order.build(job.as_ref());
    let built = built?;
    let (runs, value) = match planned {
        Some(planned) => (Some(planned.runs), Some(planned.value)),
        None => (None, None),
    };
    let gap = runs
        .map(|runs| gap(runs, built.run.as_deref(), built.piece))
        .transpose()?;
    let closing = close(&built, gap, false, control)?;
    warnings.extend(closing.warnings.iter().cloned());
    Ok(kept(closing, value, sources, &warnings))
}

/// What is shown of a closed gap: the run as it was built where that is one, or else what
/// closes it between the ends.
fn kept(
    closing: Closing,
    value: Option<Value>,
    sources: Vec<PathBuf>,
    warnings: &[Problem],
) -> Kept {
    let run = rebuilt(&closing);
    let mut shown = match &run {
        Some(run) => in_run(&closing, run),
        None => by_itself(&closing),
    };
    let named = closing.plan.as_ref().map(|plan| plan.run.name.clone());
    shown.name = named.unwrap_or_else(|| "gap".to_owned());
    if let Some(plan) = &closing.plan {
        shown.ports = plan.run.ports.each_ref().map(|port| port.name.clone());
    }
    let steps = closing_steps(&closing, shown.closing.first().map(|(piece, _)| *piece));
    shown.steps = Some(steps);
    let mut notes = said(&closing);
    if run.is_none() {
        notes.push(unshown(&closing).to_owned());
    }
    notes.extend(warnings.iter().map(Problem::placed_message));
    Kept {
        name: format!("{} as built", shown.name),
        style: closing.style,
        runs: vec![shown],
        cutting: Vec::new(),
        notes,
        goods: Goods::Closed(Box::new(ClosedGap {
            rebuilt: value.zip(run),
            closing,
            sources,
        })),
    }
}

fn rebuilt(closing: &Closing) -> Option<Run> {
    match (&closing.found, &closing.plan) {
        (Found::Ends(between), Some(plan)) if between.advice != Advice::Nothing => {
            as_built(plan, between, plan.run.allowance)
        }
        _ => None,
    }
}

/// What to do, and what speaks against it.
fn said(closing: &Closing) -> Vec<String> {
    let style = closing.style;
    match &closing.found {
        Found::Ends(between) => {
            let mut said = vec![advice_text(closing, between)];
            if let (None, Advice::Nothing) = (between.closure(), between.advice) {
                let ways = between
                    .ways
                    .list
                    .iter()
                    .filter_map(|way| way.closure.as_ref().ok());
                let against = ways.flat_map(|closure| &closure.against);
                said.extend(against.map(|one| against_text(one, style)));
            }
            said
        }
        Found::Widths { gap, against, .. } => {
            let mut said = vec![format!(
                "One piece from the gap's widths: {} long at its center, {} at its axis from rim to rim. How far the ends stand beside each other widths do not show.",
                style.length(gap.sleeve.length()),
                style.decimal(gap.width),
            )];
            said.extend(
                against
                    .iter()
                    .map(|one| format!("against it: {}", against_text(one, style))),
            );
            said
        }
    }
}

/// Why there is no run to show.
const fn unshown(closing: &Closing) -> &'static str {
    match (&closing.found, &closing.plan) {
        (Found::Widths { .. }, _) => {
            "Shown by itself, on its start: widths give it no place in the job."
        }
        (Found::Ends(_), None) => {
            "Shown between the two built ends; name the job and the plan in the file to see the run."
        }
        (Found::Ends(_), Some(_)) => {
            "Shown between the two built ends: what is built is no run of true miters."
        }
    }
}

/// The run as it was built, its closing pieces named as the sheet names them.
fn in_run(closing: &Closing, run: &Run) -> KeptRun {
    let (Found::Ends(between), Some(plan)) = (&closing.found, &closing.plan) else {
        return KeptRun::default();
    };
    let count = run.pieces().len();
    let before = match between.ends[0].port {
        Some(_) => 0,
        None => plan.piece - 1,
    };
    let after = match between.ends[1].port {
        Some(_) => 0,
        None => plan.run.run.pieces().len() - plan.piece,
    };
    let last = count.saturating_sub(after).max(before + 1).min(count);
    let own = closing.closure().map(|closure| &closure.sleeve);
    let numbers = own.map_or(Vec::new(), |sleeve| {
        super::loose::sleeve_numbers(sleeve, closing.style)
    });
    let closes = before..last;
    let label = |i: usize| match i {
        i if i < before => (i + 1).to_string(),
        i if i >= last => (plan.piece + 1 + i - last).to_string(),
        _ if closes.len() == 1 => plan.piece.to_string(),
        i => closing.piece_name(i - before),
    };
    KeptRun {
        labels: (0..count).map(label).collect(),
        closing: (before..last).map(|i| (i, numbers.clone())).collect(),
        labeled: turned(between, closing),
        run: Some(run.clone()),
        ..KeptRun::default()
    }
}

/// Joints that are to be turned, where they stand.
fn turned(between: &BetweenEnds, closing: &Closing) -> Vec<(runwright::geometry::Point, String)> {
    let Some(reclock) = between
        .reclock
        .as_ref()
        .filter(|_| between.advice == Advice::Reclock)
    else {
        return Vec::new();
    };
    let turns = reclock.turns.iter();
    let told = turns.map(|turn| {
        let by = closing.style.angle(turn.by.abs());
        let way = if turn.by > Angle::ZERO {
            "clockwise"
        } else {
            "counterclockwise"
        };
        (
            turn.joint.plane.point,
            format!("turn joint {} by {by} {way}", turn.joint.joint),
        )
    });
    told.collect()
}

/// What closes the gap, between the ends, or all alone.
fn by_itself(closing: &Closing) -> KeptRun {
    let style = closing.style;
    let name = |i: usize, count: usize| match (count, &closing.plan) {
        (1, Some(plan)) => plan.piece.to_string(),
        (1, None) => "closes".to_owned(),
        _ => closing.piece_name(i),
    };
    let between = match &closing.found {
        Found::Widths { gap, .. } => {
            return KeptRun {
                loose: vec![Loose::of_gap(&name(0, 1), gap, style)],
                ..KeptRun::default()
            };
        }
        Found::Ends(between) => between,
    };
    let mut loose: Vec<Loose> = Vec::new();
    if let Some(closure) = between.closure() {
        loose.push(Loose::of_closure(&name(0, 1), closure, style));
    } else if let Some(Ok(several)) = &between.several {
        let meshes = several.meshes(super::loose::facets(&closing.tube));
        let count = meshes.len();
        for (i, (mesh, placed)) in meshes.into_iter().zip(several.pieces()).enumerate() {
            let piece = &placed.piece;
            let row = |name: &str, value: String| (name.to_owned(), value);
            let numbers = vec![
                row("long side", style.length(piece.long_side())),
                row("center", style.length(piece.length())),
                row("short side", style.length(piece.short_side())),
                row("cut at its start", style.angle(piece.start().angle)),
                row("cut at its end", style.angle(piece.end().angle)),
                row("clock, long side to long side", style.clock(piece.clock())),
            ];
            loose.push(Loose::new(name(i, count), mesh, numbers));
        }
    }
    let ends = match (between.advice, &between.reclock) {
        (Advice::Reclock, Some(reclock)) => reclock.ends.each_ref(),
        _ => between.ends.each_ref().map(|end| &end.built),
    };
    let stubs = Side::BOTH.into_iter().zip(ends);
    loose.extend(stubs.filter_map(|(side, end)| Loose::of_end(end, side, &closing.tube)));
    KeptRun {
        loose,
        labeled: turned(between, closing),
        ..KeptRun::default()
    }
}

fn nothing_to_show() -> Problem {
    Problem::of_file(
        "the job's own plan cannot be read back",
        "please report this with the file",
    )
}

fn read(folder: &Path, name: &str, key: &str) -> Result<Vec<u8>, Vec<Problem>> {
    fs::read(folder.join(name)).map_err(|error| {
        let place = Place::root().key(key);
        vec![Problem::at(
            &place,
            format!("'{name}': {error}"),
            "it is looked for beside the file that names it",
        )]
    })
}

fn job(folder: &Path, name: &str) -> Result<Job, Vec<Problem>> {
    let checked = read_job(&read(folder, name, "job")?, name);
    let mut job = checked.job.ok_or(checked.errors)?;
    job.load_scans(|scan| File::open(folder.join(scan)))?;
    Ok(job)
}

fn plan_file(folder: &Path, name: &str) -> Result<Planned, Vec<Problem>> {
    of_bytes(&read(folder, name, "plan")?)
}

fn of_bytes(bytes: &[u8]) -> Result<Planned, Vec<Problem>> {
    let PlanFile { runs, .. } = read_plan(bytes)?;
    let (value, _) = parse_json(bytes).map_err(|problem| vec![problem])?;
    Ok(Planned { runs, value })
}

/// The job's runs as a plan's file would have them.
fn planned(job: &Job, control: &Control<'_>) -> Result<Planned, Vec<Problem>> {
    let plan = plan_with(job, control)?;
    let unexpected = |_| vec![nothing_to_show()];
    let files = PlanJson.files(&plan).map_err(unexpected)?;
    let file = files.first().ok_or_else(|| vec![nothing_to_show()])?;
    of_bytes(&file.bytes)
}

fn gap(
    runs: Vec<FileRun>,
    name: Option<&str>,
    piece: Option<usize>,
) -> Result<PlannedGap, Vec<Problem>> {
    let one = |key: &str, message: &str| {
        vec![Problem::at(
            &Place::root().key(key),
            message,
            "say in the file which run, and which piece closes it",
        )]
    };
    let run = match name {
        Some(name) => runs.into_iter().find(|run| run.name == name),
        None if runs.len() == 1 => runs.into_iter().next(),
        None => None,
    };
    let run = run.ok_or_else(|| one("run", "names no run of the plan"))?;
    let piece = piece
        .or(run.left_for_last)
        .filter(|piece| (1..=run.run.pieces().len()).contains(piece));
    let piece = piece.ok_or_else(|| one("piece", "is no piece of the plan"))?;
    Ok(PlannedGap { run, piece })
}

#[cfg(test)]
mod tests;
