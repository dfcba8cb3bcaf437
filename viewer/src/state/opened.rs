//! [`open`]: what a file is, by what it holds.

use super::cutting::Cutting;
use super::document::Document;
use super::goods::Goods;
use super::loose::Loose;
use super::step::Step;
use runwright::geometry::Point;
use runwright::job::{MAX_JOB_BYTES, Problem, parse_json};
use runwright::plan::{FORMAT, MAX_PLAN_BYTES, read_plan};
use runwright::run::Run;
use runwright::shop::{BoughtBend, TackUp};
use runwright::units::Style;
use serde_json::Value;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// A file that was opened.
#[derive(Debug)]
pub enum Opened {
    /// A job, good or not.
    Job(Box<Document>),
    /// A plan; still to be read.
    Plan(PathBuf, Vec<u8>),
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
    /// How they are cut, one a run; none where that is not to be done again.
    pub cutting: Vec<Cutting>,
    /// What is to be known of it, a line each.
    pub notes: Vec<String>,
    /// What can be exported of it.
    pub goods: Goods,
}

/// One of them.
#[derive(Clone, Debug, Default)]
pub struct KeptRun {
    /// Its name.
    pub name: String,
    /// Pieces and joints; none where there are only pieces that make no run.
    pub run: Option<Run>,
    /// Names of its ports.
    pub ports: [String; 2],
    /// What its stock bends are made from, as far as that is known.
    pub bends: Vec<BoughtBend>,
    /// Pieces that close the gap, from 0, with their own numbers where they are cut to it.
    pub closing: Vec<(usize, Vec<(String, String)>)>,
    /// What its pieces are called, where that is not just their number.
    pub labels: Vec<String>,
    /// In which order it is tacked up.
    pub tack_up: Option<TackUp>,
    /// What is to be done, where that is not to build all of it.
    pub steps: Option<Vec<Step>>,
    /// Pieces and built ends by themselves.
    pub loose: Vec<Loose>,
    /// What is written at places of it.
    pub labeled: Vec<(Point, String)>,
}

/// Reads a file, or says why it cannot be.
pub fn open(path: &Path) -> Result<Opened, Vec<Problem>> {
    let bytes = read(path).map_err(|problem| vec![problem])?;
    let value = parse_json(&bytes).map_or(Value::Null, |(value, _)| value);
    if value.get("format").is_some() {
        return Ok(Opened::Plan(path.to_path_buf(), bytes));
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

/// A plan's runs as its file has them.
pub fn kept_plan(path: &Path, bytes: &[u8]) -> Result<Kept, Vec<Problem>> {
    let plan = read_plan(bytes)?;
    let runs = plan.runs.iter().map(|file| KeptRun {
        name: file.name.clone(),
        run: Some(file.run.clone()),
        ports: file.ports.each_ref().map(|port| port.name.clone()),
        closing: file
            .left_for_last
            .map(|number| (number.saturating_sub(1), Vec::new()))
            .into_iter()
            .collect(),
        bends: file.bends.clone(),
        tack_up: Some(plan.tack_up(file)),
        ..KeptRun::default()
    });
    Ok(Kept {
        name: plan.job.clone(),
        style: plan.style,
        runs: runs.collect(),
        cutting: Cutting::of_file(&plan),
        notes: vec![format!(
            "a plan ({FORMAT}): shown as it is; open its job to change it"
        )],
        goods: Goods::File(Box::new(plan), path.to_path_buf()),
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
        let Ok(Opened::Plan(path, read)) = open(&write("p.json", bytes)) else {
            panic!("a plan")
        };
        let kept = kept_plan(&path, &read).unwrap();
        let planned = Cutting::of_plan(&plan);
        for (a, b) in kept.cutting[0].sticks[0]
            .cuts
            .iter()
            .zip(&planned[0].sticks[0].cuts)
        {
            assert!(a.off == b.off && (a.feed - b.feed).abs().mm() < 1e-6);
            assert!((a.rotate - b.rotate).abs().degrees() < 1e-6);
        }
        let steps = |tack_up: &TackUp| tack_up.steps.iter().map(|step| step.joint).collect();
        let order: Vec<usize> = steps(kept.runs[0].tack_up.as_ref().unwrap());
        assert_eq!(order, steps(&plan.runs[0].tack_up));
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
        assert!(kept_plan(Path::new(""), b"{\"format\": 3}").is_err());
        assert!(open(folder.path()).is_err() && open(&folder.path().join("none")).is_err());
    }
}
