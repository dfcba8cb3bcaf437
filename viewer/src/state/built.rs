//! What was built, and the piece that closes its gap, by the library's `close`.

use super::opened::{Kept, KeptRun};
use runwright::export::{Exporter, PlanJson, advice_text};
use runwright::job::{Job, Path as Place, Problem, read_built, read_job};
use runwright::plan::{
    FileRun, Found, PlanFile, PlannedGap, as_built, close, plan_with, read_plan,
};
use runwright::route::Control;
use runwright::route::Rates;
use runwright::shop::SawSheet;
use std::fs::{self, File};
use std::path::Path;

/// Closes the gap of what the file says was built. Where the file names no plan, its job
/// is planned first.
pub fn close_gap(path: &Path, bytes: &[u8], control: &Control<'_>) -> Result<Kept, Vec<Problem>> {
    let order = read_built(bytes)?;
    let folder = path.parent().unwrap_or_else(|| Path::new(""));
    let job = match &order.job {
        Some(name) => Some(job(folder, name)?),
        None => None,
    };
    let runs = match (&order.plan, &job) {
        (Some(name), _) => Some(plan_file(folder, name)?.runs),
        (None, Some(job)) => Some(planned(job, control)?),
        (None, None) => None,
    };
    let kerf = job.as_ref().and_then(|job| job.runs.first());
    let kerf = kerf.map_or(Rates::default().kerf, |run| run.task.rates.kerf);
    let (built, _) = order.build(job.as_ref());
    let built = built?;
    let gap = runs
        .map(|runs| gap(runs, built.run.as_deref(), built.piece))
        .transpose()?;
    let closing = close(&built, gap, false, control)?;
    let mut notes: Vec<String> = closing
        .warnings
        .iter()
        .map(Problem::placed_message)
        .collect();
    let (Found::Ends(between), Some(plan)) = (&closing.found, &closing.plan) else {
        return Err(vec![nothing_to_show()]);
    };
    notes.insert(0, advice_text(&closing, between));
    let run =
        as_built(plan, between, built.task.allowance).ok_or_else(|| vec![nothing_to_show()])?;
    let saw = SawSheet::new(&run, kerf).steps;
    Ok(Kept {
        name: format!("{} as built", plan.run.name),
        style: closing.style,
        runs: vec![KeptRun {
            name: plan.run.name.clone(),
            run,
            saw,
            closing: Some(plan.piece),
        }],
        notes,
    })
}

fn nothing_to_show() -> Problem {
    Problem::of_file(
        "what was built and its closing piece make no run of true miters that can be shown",
        "see it on paper: runwright close FILE -o DIR",
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

fn plan_file(folder: &Path, name: &str) -> Result<PlanFile, Vec<Problem>> {
    read_plan(&read(folder, name, "plan")?)
}

/// The job's runs as a plan's file would have them.
fn planned(job: &Job, control: &Control<'_>) -> Result<Vec<FileRun>, Vec<Problem>> {
    let plan = plan_with(job, control)?;
    let unexpected = |_| vec![nothing_to_show()];
    let files = PlanJson.files(&plan).map_err(unexpected)?;
    let file = files.first().ok_or_else(|| vec![nothing_to_show()])?;
    Ok(read_plan(&file.bytes)?.runs)
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
mod tests {
    use super::*;

    #[test]
    fn the_examples_gap_is_closed_and_its_piece_named() {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/stack-built.json");
        let kept = close_gap(&path, &fs::read(&path).unwrap(), &Control::default()).unwrap();
        let run = &kept.runs[0];
        // The README's example: piece 4 closes it.
        assert_eq!(run.closing, Some(4));
        assert!(kept.notes[0].contains("piece"), "{}", kept.notes[0]);
        assert!(run.run.pieces().len() >= 7);
    }

    #[test]
    fn what_is_missing_is_told() {
        let path = Path::new("nowhere.json");
        let text = b"{ \"job\": \"none.json\", \"before\": {} }";
        let problems = close_gap(path, text, &Control::default()).unwrap_err();
        assert_eq!(problems[0].path, "job");
    }
}
