//! `runwright plan`.

use super::message::{Failure, note, warn};
use super::packet::PaperArguments;
use super::progress::watched;
use super::read;
use super::ways::take_ways;
use crate::export::{OutFile, PlanFiles, WriteError, write_all};
use crate::job::Problem;
use crate::plan::{Plan, PlannedRun, plan_with};
use crate::route::Effort;
use crate::units::{Length, LengthUnit, counted, parse_length};
use clap::{Args, ValueEnum};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// Route every run of a job and write what the shop needs.
///
/// Writes packet.pdf (the paper that goes to the saw), plan.json (for programs), sheet.txt
/// (pieces and saw settings), pieces.csv, patterns.svg and .dxf (wrap patterns at true
/// size), card.svg and .dxf (the same to cut out of card or sheet), clock-tape.svg and
/// cradle.svg and .dxf (for marking and holding the tube), run.svg and views.svg (pictures)
/// and run.stl (for checking clearance).
///
/// Example: runwright plan examples/stack.json -o results
#[derive(Debug, Args)]
#[command(verbatim_doc_comment)]
pub(super) struct PlanArguments {
    /// The job file.
    job: PathBuf,
    /// Folder for the results; made if it is not there.
    #[arg(short, long = "out", value_name = "DIR")]
    out: PathBuf,
    /// Replace files that are there already.
    #[arg(long)]
    force: bool,
    /// How hard to look for a cheaper route.
    #[arg(long, value_enum, default_value_t)]
    effort: EffortArgument,
    /// Where the search's scattered first guesses come from; the same job, effort and
    /// seed give the same plan.
    #[arg(long, value_name = "NUMBER", default_value_t = 0)]
    seed: u64,
    /// Make run.stl a full rod instead of a wall with its bore.
    #[arg(long)]
    solid: bool,
    /// Make a run in another of the ways that sheet.txt lists: its number there, as
    /// RUN=NUMBER where the job has several runs.
    #[arg(long = "way", value_name = "[RUN=]NUMBER")]
    ways: Vec<String>,
    /// Write one STL for each piece too, into DIR/pieces.
    #[arg(long)]
    pieces: bool,
    /// How far a flat in an STL may lie inside the true circle; mm unless said.
    #[arg(long, value_name = "LENGTH", default_value = "0.05 mm", value_parser = tolerance)]
    chord_tolerance: Length,
    /// Leave packet.pdf out: all else is written in a fraction of the time.
    #[arg(long)]
    no_packet: bool,
    #[command(flatten)]
    paper: PaperArguments,
}

/// [`Effort`], as it is written on the command line.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
enum EffortArgument {
    /// A first look.
    Quick,
    /// What a shop waits for without noticing.
    #[default]
    Normal,
    /// Seconds; up to five bends where fewer will do.
    Thorough,
    /// Minutes; the yardstick for the others.
    Exhaustive,
}

impl From<EffortArgument> for Effort {
    fn from(effort: EffortArgument) -> Self {
        match effort {
            EffortArgument::Quick => Self::Quick,
            EffortArgument::Normal => Self::Normal,
            EffortArgument::Thorough => Self::Thorough,
            EffortArgument::Exhaustive => Self::Exhaustive,
        }
    }
}

/// Finest chord tolerance, mm; finer only makes files large.
const FINEST_CHORD: f64 = 1e-4;
/// Thickest sheet that still wraps, mm.
const THICKEST_PAPER: f64 = 3.0;

pub(super) fn tolerance(text: &str) -> Result<Length, String> {
    let length = parse_length(text, LengthUnit::Mm).map_err(|e| e.to_string())?;
    if length.mm() >= FINEST_CHORD {
        Ok(length)
    } else {
        Err(format!("must be {FINEST_CHORD} mm or more"))
    }
}

pub(super) fn thickness(text: &str) -> Result<Length, String> {
    let length = parse_length(text, LengthUnit::Mm).map_err(|e| e.to_string())?;
    if (0.0..=THICKEST_PAPER).contains(&length.mm()) {
        Ok(length)
    } else {
        Err(format!("must be 0 to {THICKEST_PAPER} mm"))
    }
}

pub(super) fn run(arguments: &PlanArguments) -> Result<(), Failure> {
    let file = arguments.job.display().to_string();
    let job = read::job(&arguments.job)?;
    let packet = arguments.paper.packet()?;
    let effort = Effort::from(arguments.effort);
    let plan = watched(effort, arguments.seed, |control| plan_with(&job, control))
        .map_err(|problems| Failure::of(&file, problems))?;
    let plan = take_ways(plan, &arguments.ways)?;
    warn(&file, &plan.warnings);
    let outputs = PlanFiles {
        chord_tolerance: arguments.chord_tolerance,
        solid: arguments.solid,
        pieces: arguments.pieces,
        packet,
        with_packet: !arguments.no_packet,
    };
    let files = outputs
        .files(&plan)
        .map_err(|error| arguments.paper.failure(error))?;
    let mut sources = read::sources(&arguments.job, &job);
    sources.extend(arguments.paper.source().map(Path::to_path_buf));
    write_all(
        &arguments.out,
        &files,
        sources.iter().map(PathBuf::as_path),
        arguments.force,
    )
    .map_err(|error| refused(&error))?;
    warn_stale(&arguments.out, &files);
    for planned in &plan.runs {
        note(&summary(&plan, planned));
    }
    note(&format!(
        "wrote {} files to {}",
        files.len(),
        arguments.out.display()
    ));
    Ok(())
}

/// Warns of piece files that an earlier plan left in the folder.
fn warn_stale(out: &Path, files: &[OutFile]) {
    let written: BTreeSet<PathBuf> = files.iter().map(|file| out.join(&file.name)).collect();
    let Ok(entries) = std::fs::read_dir(out.join("pieces")) else {
        return;
    };
    let stale = entries
        .flatten()
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|end| end == "stl") && !written.contains(path));
    let stale = stale.count();
    if stale > 0 {
        let problem = Problem::of_file(
            format!("{} in 'pieces' not of this plan", counted(stale, "file")),
            "they are left from an earlier plan: delete them before you cut",
        );
        warn(&out.display().to_string(), &[problem]);
    }
}

/// What the shop wants to know first.
fn summary(plan: &Plan, planned: &PlannedRun) -> String {
    let style = plan.job.style;
    let (run, cost) = (planned.run(), &planned.solution.best.cost);
    format!(
        "{}: {}, {}, centerline {}; about {:.0} minutes; labor, tube and bends {:.2}{}",
        planned.name,
        counted(run.pieces().len(), "piece"),
        counted(cost.joints as usize, "joint"),
        style.length(run.length()),
        cost.minutes,
        cost.money,
        plan.job.quote_rates.behind_amount(),
    )
}

pub(super) fn refused(error: &WriteError) -> Failure {
    let help = match error {
        WriteError::Exists(_) => "choose another folder with -o, or add --force to replace them",
        WriteError::NotAFolder(_) | WriteError::IsAFolder(_) | WriteError::IsInput(_) => {
            "choose another folder with -o"
        }
        WriteError::Io { .. } => "check that the folder may be written to and the disk has room",
    };
    Failure::one("runwright", error, help)
}
