//! Reading files from disk.

use super::message::{Failure, warn};
use crate::job::{Job, MAX_JOB_BYTES, read_job};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// The job in the file at `path`; warnings are shown, problems returned.
pub(super) fn job(path: &Path) -> Result<Job, Failure> {
    let file = shown(path);
    let bytes = bytes(path, MAX_JOB_BYTES)?;
    let name = match path.file_stem() {
        Some(stem) if !is_stdin(path) => stem.to_string_lossy().into_owned(),
        _ => file.clone(),
    };
    let checked = read_job(&bytes, &name);
    warn(&file, &checked.warnings);
    let Some(mut job) = checked.job else {
        return Err(Failure::of(file, checked.errors));
    };
    match job.load_scans(|name| File::open(beside(path, name))) {
        Ok(warnings) => {
            warn(&file, &warnings);
            Ok(job)
        }
        Err(errors) => Err(Failure::of(file, errors)),
    }
}

/// Whether a file stands for what comes in on standard input.
fn is_stdin(path: &Path) -> bool {
    path == Path::new("-")
}

/// How messages call a file.
pub(super) fn shown(path: &Path) -> String {
    if is_stdin(path) {
        "standard input".to_owned()
    } else {
        path.display().to_string()
    }
}

/// The bytes of a file, or of standard input for `-`; of one that is larger than `most`, one
/// byte more than that, which is enough to see that it is too much.
pub(super) fn bytes(path: &Path, most: u64) -> Result<Vec<u8>, Failure> {
    let failed = |error: std::io::Error| {
        Failure::one(
            shown(path),
            error,
            "check the name and that you may read it",
        )
    };
    let source: Box<dyn Read> = if is_stdin(path) {
        Box::new(std::io::stdin())
    } else {
        Box::new(File::open(path).map_err(failed)?)
    };
    let mut bytes = Vec::new();
    source
        .take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(failed)?;
    Ok(bytes)
}

/// A file that the job at `path` names.
pub(super) fn beside(path: &Path, name: &str) -> PathBuf {
    let folder = path.parent().unwrap_or_else(|| Path::new(""));
    folder.join(name)
}

/// The files that `job` was read from: itself, at `path`, and its scans.
pub(super) fn sources(path: &Path, job: &Job) -> Vec<PathBuf> {
    let scans = job.loaded.iter().map(|scan| beside(path, &scan.file));
    std::iter::once(path.to_path_buf()).chain(scans).collect()
}
