//! `runwright close`.

use super::message::{Failure, note, print, warn};
use super::plan::{refused, thickness, tolerance};
use super::progress::watched;
use super::read;
use crate::export::{
    ExportError, OutFile, advice_text, closing_json, closing_patterns, closing_plan_json,
    closing_sheet, closing_stls, write_all,
};
use crate::job::{Built, Job, MAX_JOB_BYTES, Path as Place, Problem, parse_json, read_built};
use crate::plan::{
    Advice, Closing, FileRun, Found, MAX_PLAN_BYTES, PlannedGap, as_built, close, read_plan,
};
use crate::route::Effort;
use crate::units::Length;
use clap::Args;
use std::path::{Path, PathBuf};

/// Close the gap that is left in a run, from what was really built.
///
/// Reads a file with what was measured of the two built ends, or of the gap between them,
/// and says how to close it: one straight piece to the ends as they are, or to ends that
/// are cut again, joints to turn, or several pieces; and which of these to take. With -o,
/// writes closure.txt (sizes and tables for marking by hand), closure.svg and .dxf (wrap
/// patterns at true size), closure.stl (a mock-up to print), closure-in-place.stl (the
/// same in the job's frame), closure.json (for programs) and, with a plan, plan.json as
/// the run was built and closed.
///
/// Example: runwright close examples/stack-built.json --plan results/plan.json -o closing
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub(super) struct CloseArguments {
    /// The file that says what was built.
    built: PathBuf,
    /// The plan.json that the run was built from, if the file does not name it.
    #[arg(long, value_name = "FILE")]
    plan: Option<PathBuf>,
    /// The job that the run was planned from, if the file does not name it.
    #[arg(long, value_name = "FILE")]
    job: Option<PathBuf>,
    /// Folder for the results; made if it is not there.
    #[arg(short, long = "out", value_name = "DIR")]
    out: Option<PathBuf>,
    /// Replace files that are there already.
    #[arg(long, requires = "out")]
    force: bool,
    /// Also look for several pieces where one does.
    #[arg(long)]
    pieces: bool,
    /// How far a flat in the STL may lie inside the true circle; mm unless said.
    #[arg(long, value_name = "LENGTH", default_value = "0.05 mm", value_parser = tolerance)]
    chord_tolerance: Length,
    /// Thickness of the paper that patterns are printed on; mm unless said.
    #[arg(long, value_name = "LENGTH", default_value = "0.1 mm", value_parser = thickness)]
    paper: Length,
}

/// What was read.
struct Inputs {
    built: Built,
    plan: Option<PlannedGap>,
    /// The plan's file as it is, to be written again.
    plan_value: Option<serde_json::Value>,
    /// Every file that was read.
    sources: Vec<PathBuf>,
}

pub(super) fn run(arguments: &CloseArguments) -> Result<(), Failure> {
    let file = arguments.built.display().to_string();
    let inputs = read(arguments)?;
    let closing = watched(Effort::Normal, 0, |control| {
        close(
            &inputs.built,
            inputs.plan.clone(),
            arguments.pieces,
            control,
        )
    })
    .map_err(|problems| Failure::of(&file, problems))?;
    warn(&file, &closing.warnings);
    let unexpected =
        |error: ExportError| Failure::unexpected(error, "please report this with the file");
    let sheet = closing_sheet(&closing).map_err(unexpected)?;
    match &arguments.out {
        None => print(&String::from_utf8_lossy(&sheet.bytes))?,
        Some(out) => {
            let mut files = vec![sheet];
            files.extend(drawn(&closing, arguments).map_err(unexpected)?);
            files.extend(updated(&file, &closing, &inputs).map_err(unexpected)?);
            let sources = inputs.sources.iter().map(PathBuf::as_path);
            write_all(out, &files, sources, arguments.force).map_err(|error| refused(&error))?;
            if let Found::Ends(between) = &closing.found {
                note(&advice_text(&closing, between));
            }
            note(&format!("wrote {} files to {}", files.len(), out.display()));
        }
    }
    if closing.is_closed() {
        return Ok(());
    }
    Err(Failure::one(
        file,
        "nothing that was tried closes the gap",
        "see what speaks against each way, in closure.txt or above",
    ))
}

fn drawn(closing: &Closing, arguments: &CloseArguments) -> Result<Vec<OutFile>, ExportError> {
    let mut files = vec![closing_json(closing)?];
    files.extend(closing_patterns(closing, arguments.paper)?);
    files.extend(closing_stls(closing, arguments.chord_tolerance)?);
    Ok(files)
}

/// The plan again, as it was built and closed.
fn updated(file: &str, closing: &Closing, inputs: &Inputs) -> Result<Option<OutFile>, ExportError> {
    let (Some(value), Some(plan), Found::Ends(between)) =
        (&inputs.plan_value, &closing.plan, &closing.found)
    else {
        return Ok(None);
    };
    if between.advice == Advice::Nothing {
        return Ok(None);
    }
    match as_built(plan, between, plan.run.allowance) {
        Some(run) => closing_plan_json(value, closing, &run).map(Some),
        None => {
            let problem = Problem::of_file(
                "no plan.json of the run as built is written: what is built is no run of true miters and square stock bends",
                "check its clearance by closure-in-place.stl: runwright clear DIR/closure-in-place.stl --units mm --job JOB",
            );
            warn(file, &[problem]);
            Ok(None)
        }
    }
}

fn read(arguments: &CloseArguments) -> Result<Inputs, Failure> {
    let path = arguments.built.as_path();
    let file = read::shown(path);
    let bytes = read::bytes(path, MAX_JOB_BYTES)?;
    let order = read_built(&bytes).map_err(|problems| Failure::of(&file, problems))?;
    let mut sources = vec![path.to_path_buf()];
    let named = |given: &Option<PathBuf>, name: &Option<String>| {
        let beside = || name.as_ref().map(|name| read::beside(path, name));
        given.clone().or_else(beside)
    };
    let job: Option<Job> = match named(&arguments.job, &order.job) {
        Some(place) => {
            is_there(&file, "job", &place)?;
            let job = read::job(&place)?;
            sources.extend(read::sources(&place, &job));
            Some(job)
        }
        None => None,
    };
    let plan = match named(&arguments.plan, &order.plan) {
        Some(place) => {
            is_there(&file, "plan", &place)?;
            let bytes = read::bytes(&place, MAX_PLAN_BYTES)?;
            let name = place.display().to_string();
            let plan = read_plan(&bytes).map_err(|problems| Failure::of(&name, problems))?;
            let (value, _) =
                parse_json(&bytes).map_err(|problem| Failure::of(&name, vec![problem]))?;
            sources.push(place);
            Some((plan, value))
        }
        None => None,
    };
    let (built, warnings) = order.build(job.as_ref());
    warn(&file, &warnings);
    let built = built.map_err(|problems| Failure::of(&file, problems))?;
    let (runs, plan_value) = match plan {
        Some((plan, value)) => (Some(plan.runs), Some(value)),
        None => (None, None),
    };
    let plan = match runs {
        Some(runs) => Some(planned(&file, runs, &built)?),
        None => None,
    };
    Ok(Inputs {
        built,
        plan,
        plan_value,
        sources,
    })
}

/// That a file which is named is there.
fn is_there(file: &str, key: &str, place: &Path) -> Result<(), Failure> {
    if place.is_file() {
        return Ok(());
    }
    let problem = Problem::at(
        &Place::root().key(key),
        format!("names {}, which is no file", place.display()),
        format!("name one beside {file}, or give it with --{key} FILE"),
    );
    Err(Failure::of(file, vec![problem]))
}

/// The planned run that was built, and its piece that was left for last.
fn planned(file: &str, runs: Vec<FileRun>, built: &Built) -> Result<PlannedGap, Failure> {
    let one = |path: &str, message: String, help: String| {
        let problem = Problem {
            path: path.to_owned(),
            message,
            help,
        };
        Err(Failure::of(file, vec![problem]))
    };
    let names: Vec<String> = runs.iter().map(|run| run.name.clone()).collect();
    let named = match &built.run {
        Some(name) => runs.into_iter().find(|run| run.name == *name),
        None if runs.len() == 1 => runs.into_iter().next(),
        None => {
            let help = format!("add \"run\": one of {}", names.join(", "));
            return one(
                "run",
                "is missing: the plan has several runs".to_owned(),
                help,
            );
        }
    };
    let Some(run) = named else {
        let name = built.run.clone().unwrap_or_default();
        let help = format!("it has {}", names.join(", "));
        return one(
            "run",
            format!("there is no run named '{name}' in the plan"),
            help,
        );
    };
    let count = run.run.pieces().len();
    match built.piece.or(run.left_for_last) {
        Some(piece) if (1..=count).contains(&piece) => Ok(PlannedGap { run, piece }),
        Some(piece) => one(
            "piece",
            format!("is {piece}, but the plan's last piece is {count}"),
            "give the number of the piece that closes the gap, as the sheet has it".to_owned(),
        ),
        None => one(
            "piece",
            "is missing: the plan does not say which piece to leave for last".to_owned(),
            "add the number of the piece that closes the gap, as the sheet has it".to_owned(),
        ),
    }
}
