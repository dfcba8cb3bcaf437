//! [`open`]: what a file is, by what it holds.

use super::document::Document;
use runwright::job::{MAX_JOB_BYTES, Problem, parse_json};
use runwright::plan::{FORMAT, MAX_PLAN_BYTES, read_plan};
use runwright::run::Run;
use runwright::shop::{SawSheet, SawStep};
use runwright::units::{Length, Style};
use serde_json::Value;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// A file that was opened.
#[derive(Debug)]
pub enum Opened {
    /// A job, good or not.
    Job(Box<Document>),
    /// A plan.
    Plan(Box<Kept>),
    /// What was built; its gap is still to be closed.
    Built(PathBuf, Vec<u8>),
}

/// Runs that are kept as they are: nothing of them is planned again.
#[derive(Clone, Debug)]
pub struct Kept {
    /// What is shown as its name.
    pub name: String,
    /// How numbers are written.
    pub style: Style,
    /// Its runs.
    pub runs: Vec<KeptRun>,
    /// What is to be known of it, a line each.
    pub notes: Vec<String>,
}

/// One of them.
#[derive(Clone, Debug)]
pub struct KeptRun {
    /// Its name.
    pub name: String,
    /// Pieces and joints.
    pub run: Run,
    /// How it is cut from one stick, as far as that is known.
    pub saw: Vec<SawStep>,
    /// The piece that closes the gap, from 1.
    pub closing: Option<usize>,
}

/// Reads a file, or says why it cannot be.
pub fn open(path: &Path) -> Result<Opened, Vec<Problem>> {
    let bytes = read(path).map_err(|problem| vec![problem])?;
    let value = parse_json(&bytes).map_or(Value::Null, |(value, _)| value);
    if value.get("format").is_some() {
        return plan(&bytes, &value).map(|kept| Opened::Plan(Box::new(kept)));
    }
    let is_built = ["before", "after", "gap"]
        .iter()
        .any(|key| value.get(key).is_some());
    if is_built {
        return Ok(Opened::Built(path.to_path_buf(), bytes));
    }
    Ok(Opened::Job(Box::new(Document::new(
        path.to_path_buf(),
        bytes,
    ))))
}

fn read(path: &Path) -> Result<Vec<u8>, Problem> {
    let failed = |error: std::io::Error| {
        Problem::of_file(
            format!("{}: {error}", path.display()),
            "check the name and that you may read it",
        )
    };
    if path.is_dir() {
        let message = format!("{} is a folder", path.display());
        return Err(Problem::of_file(
            message,
            "open a job, a plan or what was built: a file that ends in .json",
        ));
    }
    let most = MAX_JOB_BYTES.max(MAX_PLAN_BYTES);
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(failed)?;
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    if bytes.len() as u64 > most {
        let message = format!("{} is too large for a job or a plan", path.display());
        return Err(Problem::of_file(
            message,
            "a scan is named in a job: see the README, 'A scan of the bay'",
        ));
    }
    Ok(bytes)
}

fn plan(bytes: &[u8], value: &Value) -> Result<Kept, Vec<Problem>> {
    let plan = read_plan(bytes)?;
    let runs = plan.runs.into_iter().enumerate().map(|(i, run)| KeptRun {
        saw: saw(value, i, &run.run),
        name: run.name,
        run: run.run,
        closing: run.left_for_last,
    });
    Ok(Kept {
        name: plan.job,
        style: plan.style,
        runs: runs.collect(),
        notes: vec![format!(
            "a plan ({FORMAT}): shown as it is; open its job to change it"
        )],
    })
}

/// The saw sheet of a run, with the kerf that the plan was made for; none where it does
/// not say.
fn saw(value: &Value, index: usize, run: &Run) -> Vec<SawStep> {
    let kerf = value.pointer(&format!("/runs/{index}/rates/kerf_mm"));
    let kerf = kerf
        .and_then(Value::as_f64)
        .filter(|kerf| *kerf >= 0.0 && kerf.is_finite());
    kerf.map_or_else(Vec::new, |kerf| {
        SawSheet::new(run, Length::from_mm(kerf)).steps
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::export::{Exporter, PlanJson};
    use runwright::job::read_job;
    use std::fs;

    #[test]
    fn a_file_is_what_it_holds_and_a_bad_one_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let write = |name: &str, bytes: &[u8]| {
            let path = folder.path().join(name);
            fs::write(&path, bytes).unwrap();
            path
        };
        let job_bytes = include_bytes!("../../../examples/stack.json");
        assert!(matches!(
            open(&write("a.json", job_bytes)),
            Ok(Opened::Job(_))
        ));
        let job = read_job(job_bytes, "stack").job.unwrap();
        let plan = runwright::plan::plan(&job).unwrap();
        let bytes = &PlanJson.files(&plan).unwrap()[0].bytes;
        let Ok(Opened::Plan(kept)) = open(&write("p.json", bytes)) else {
            panic!("a plan")
        };
        let (read, planned) = (&kept.runs[0], &plan.runs[0]);
        assert_eq!(read.saw.len(), planned.saw.steps.len());
        for (a, b) in read.saw.iter().zip(&planned.saw.steps) {
            assert!(a.piece == b.piece && (a.feed - b.feed).abs().mm() < 1e-6);
            assert!((a.rotate - b.rotate).abs().degrees() < 1e-6);
        }
        let built = include_bytes!("../../../examples/stack-built.json");
        assert!(matches!(
            open(&write("b.json", built)),
            Ok(Opened::Built(..))
        ));
        for bytes in [b"".as_slice(), b"{", b"\xff\xfe\x00", b"[1]", b"solid x"] {
            // No JSON is a job with problems: they are shown where it is edited.
            assert!(matches!(
                open(&write("bad.json", bytes)),
                Ok(Opened::Job(_))
            ));
        }
        assert!(open(&write("f.json", b"{\"format\": 3}")).is_err());
        assert!(open(folder.path()).is_err() && open(&folder.path().join("none")).is_err());
    }
}
