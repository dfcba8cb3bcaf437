//! What `runwright clear` reads.

use super::message::Failure;
use super::read;
use crate::clear::Rule;
use crate::job::{DEFAULT_CLEARANCE, Job, JobRun, Problem, nearest};
use crate::plan::{FileRun, MAX_PLAN_BYTES, read_plan};
use crate::run::Outside;
use crate::scan::{Mesh, Reading, Surface, Wanted, read_mesh};
use crate::scene::{Body, Obstacle, Side};
use crate::units::{Length, LengthUnit, Style};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Bytes of a file that are looked at to tell a plan from a mesh.
const HEAD: u64 = 64;

/// What the command line says about the files.
pub(super) struct Ask<'a> {
    pub units: Option<LengthUnit>,
    pub run: Option<&'a str>,
    pub scan_units: Option<LengthUnit>,
    pub keep: &'a [String],
    pub drop: &'a [String],
    pub clearance: Option<Length>,
}

/// What is checked.
pub(super) enum Made {
    /// Runs of a plan.
    Plan {
        runs: Vec<FileRun>,
        unit: LengthUnit,
    },
    /// Any mesh.
    Mesh { mesh: Mesh, unit: LengthUnit },
}

/// Where what is in the way stands.
pub(super) enum Way<'a> {
    Job(&'a Path),
    Scan(&'a Path),
}

/// What is in the way.
pub(super) struct InTheWay {
    /// For each run of the plan; for a mesh one list.
    pub rules: Vec<Vec<Rule>>,
    /// How the job writes numbers.
    pub style: Option<Style>,
    pub warnings: Vec<Problem>,
    /// The files that it was read from.
    pub sources: Vec<PathBuf>,
}

/// Reads a plan or a mesh, whichever it is.
pub(super) fn read_made(path: &Path, ask: &Ask<'_>) -> Result<Made, Failure> {
    let file = path.display().to_string();
    let (head, rest) = open(path)?;
    let source = head.as_slice().chain(rest);
    if is_plan(&head, path) {
        return read_runs(&file, source, ask);
    }
    let Some(unit) = ask.units else {
        let help = "say it with --units mm (or in, cm, m, ft)";
        return Err(Failure::one(file, "does not say what unit it is in", help));
    };
    let wanted = Wanted::all(Length::from_unit(1.0, unit));
    let mesh = mesh(path, source, &wanted)?.mesh;
    Ok(Made::Mesh { mesh, unit })
}

/// The first bytes of a file, and the file after them.
fn open(path: &Path) -> Result<(Vec<u8>, File), Failure> {
    let failed = |error: std::io::Error| {
        let file = path.display().to_string();
        Failure::one(file, error, "check the name and that you may read it")
    };
    let mut file = File::open(path).map_err(failed)?;
    let mut head = Vec::new();
    (&mut file)
        .take(HEAD)
        .read_to_end(&mut head)
        .map_err(failed)?;
    Ok((head, file))
}

/// A plan is JSON: by its name, or by its first sign.
fn is_plan(head: &[u8], path: &Path) -> bool {
    let named = path
        .extension()
        .is_some_and(|end| end.eq_ignore_ascii_case("json"));
    let head = head.strip_prefix(b"\xef\xbb\xbf").unwrap_or(head);
    named || head.trim_ascii_start().first() == Some(&b'{')
}

fn read_runs(file: &str, source: impl Read, ask: &Ask<'_>) -> Result<Made, Failure> {
    if ask.units.is_some() {
        let help = "leave out --units: it is for meshes, and a plan has its own";
        return Err(Failure::one(
            file,
            "is a plan, which says its units itself",
            help,
        ));
    }
    let mut bytes = Vec::new();
    // One byte more than allowed is enough to see that it is too much.
    source
        .take(MAX_PLAN_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| Failure::one(file, error, "check that you may read it"))?;
    let plan = read_plan(&bytes).map_err(|problems| Failure::of(file, problems))?;
    let mut runs = plan.runs;
    if let Some(name) = ask.run {
        let names: Vec<String> = runs.iter().map(|run| run.name.clone()).collect();
        runs.retain(|run| run.name == name);
        if runs.is_empty() {
            return Err(no_run(file, name, &names));
        }
    }
    Ok(Made::Plan {
        runs,
        unit: plan.style.unit,
    })
}

fn no_run(file: &str, name: &str, known: &[String]) -> Failure {
    let message = format!("there is no run named '{}'", name.escape_debug());
    Failure::one(file, message, &nearest(name, known))
}

/// Reads what is in the way of what was made.
pub(super) fn read_way(way: &Way<'_>, made: &Made, ask: &Ask<'_>) -> Result<InTheWay, Failure> {
    match way {
        Way::Job(path) => {
            let job = read::job(path)?;
            let file = path.display().to_string();
            let rules = match made {
                Made::Plan { runs, .. } => rules_of_plan(&file, &job, runs, ask.clearance)?,
                Made::Mesh { .. } => vec![rules_of_job(&file, &job, ask)?],
            };
            if rules.iter().any(Vec::is_empty) {
                let help = "add keep_out to the job's scene, or check against a mesh with --scan";
                return Err(Failure::one(file, "has nothing in the way", help));
            }
            Ok(InTheWay {
                rules,
                style: Some(job.style),
                warnings: Vec::new(),
                sources: read::sources(path, &job),
            })
        }
        Way::Scan(path) => scan(path, made, ask),
    }
}

/// For each run, what is in the way of the job's run of that name.
fn rules_of_plan(
    file: &str,
    job: &Job,
    runs: &[FileRun],
    clearance: Option<Length>,
) -> Result<Vec<Vec<Rule>>, Failure> {
    let found = runs.iter().map(|run| {
        let same = job.runs.iter().find(|other| other.name == run.name);
        same.map(|same| rules_of(same, clearance))
            .ok_or_else(|| no_run(file, &run.name, &names(job)))
    });
    found.collect()
}

/// What is in the way of one run of the job, or of all.
fn rules_of_job(file: &str, job: &Job, ask: &Ask<'_>) -> Result<Vec<Rule>, Failure> {
    let name = ask.run;
    let asked = |run: &&JobRun| name.is_none_or(|name| run.name == name);
    let runs: Vec<&JobRun> = job.runs.iter().filter(asked).collect();
    if runs.is_empty() {
        return Err(no_run(file, name.unwrap_or_default(), &names(job)));
    }
    let mut rules: Vec<Rule> = Vec::new();
    let rules_of = |run| rules_of(run, ask.clearance);
    for rule in runs.into_iter().flat_map(rules_of) {
        if !rules.iter().any(|known| known.obstacle == rule.obstacle) {
            rules.push(rule);
        }
    }
    Ok(rules)
}

fn names(job: &Job) -> Vec<String> {
    job.runs.iter().map(|run| run.name.clone()).collect()
}

/// What is in the way of a run, with the distance that is asked for in place of the job's.
fn rules_of(run: &JobRun, clearance: Option<Length>) -> Vec<Rule> {
    let obstacles = run.task.obstacles.iter();
    obstacles
        .map(|obstacle| {
            let obstacle = Obstacle {
                clearance: clearance.unwrap_or(obstacle.clearance),
                ..obstacle.clone()
            };
            Rule {
                outside: run.task.outside(&obstacle),
                obstacle,
            }
        })
        .collect()
}

/// A scan as the only obstacle.
fn scan(path: &Path, made: &Made, ask: &Ask<'_>) -> Result<InTheWay, Failure> {
    let wanted = Wanted {
        unit: Length::from_unit(1.0, ask.scan_units.unwrap_or(LengthUnit::Mm)),
        keep: ask.keep.to_vec(),
        drop: ask.drop.to_vec(),
    };
    let (head, rest) = open(path)?;
    let reading = mesh(path, head.as_slice().chain(rest), &wanted)?;
    let unused = reading.unused_patterns.iter().map(|pattern| {
        let file = path.display();
        let message = format!("'{}' fits no group of {file}", pattern.escape_debug());
        Problem::of_file(message, "check its spelling; * stands for any characters")
    });
    let warnings = unused.collect();
    let clearance = ask.clearance.unwrap_or(DEFAULT_CLEARANCE);
    let obstacle = Obstacle {
        name: stem(path),
        body: Body::Scan(Arc::new(Surface::new(reading.mesh))),
        side: Side::KeepOut,
        clearance,
        reach: Length::ZERO,
    };
    let rule = |radius: Length| {
        vec![Rule {
            obstacle: obstacle.clone(),
            outside: Outside {
                wrap: Length::ZERO,
                exempt: radius + clearance,
            },
        }]
    };
    let rules = match made {
        Made::Plan { runs, .. } => runs
            .iter()
            .map(|run| rule(run.run.tube().radius()))
            .collect(),
        Made::Mesh { .. } => vec![rule(Length::ZERO)],
    };
    Ok(InTheWay {
        rules,
        style: None,
        warnings,
        sources: vec![path.to_path_buf()],
    })
}

fn mesh(path: &Path, source: impl Read, wanted: &Wanted) -> Result<Reading, Failure> {
    let name = path.to_string_lossy();
    read_mesh(&name, source, wanted)
        .map_err(|error| Failure::one(path.display().to_string(), &error, error.help()))
}

/// The name of a file without its folders and endings.
fn stem(path: &Path) -> String {
    let stem = path.file_stem().unwrap_or(path.as_os_str());
    stem.to_string_lossy().replace(char::is_control, "?")
}
