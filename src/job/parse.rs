//! Bytes to a checked job: all problems at once.

use super::build::build;
use super::file::{JobFile, schema};
use super::file_kind::FileKind;
use super::job::Job;
use super::path::{Path, Step};
use super::problem::Problem;
use super::schema::{allows_list, known_keys};
use super::tree;
use super::words::{kind, nearest};
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Largest job file that is read, in bytes: thousands of runs.
pub const MAX_JOB_BYTES: u64 = 8 * 1024 * 1024;

/// Most values in a job file: twice a thousand runs of a hundred values each. What the
/// largest of them is made into takes 2 kB, so that they stay below half a gigabyte.
pub(super) const MOST_JOB_VALUES: usize = 200_000;

/// Rounds of repair: each names one value of the wrong shape.
const MAX_REPAIRS: usize = 200;

/// A job, or everything that is wrong with it; warnings either way.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The job, if nothing was wrong.
    pub job: Option<Job>,
    /// What is wrong.
    pub errors: Vec<Problem>,
    /// What is odd, but can be worked with.
    pub warnings: Vec<Problem>,
}

/// Reads a job file's bytes. `name` is what the job is called unless it says so.
pub fn read_job(bytes: &[u8], name: &str) -> Checked {
    let failed = |problem| Checked {
        job: None,
        errors: vec![problem],
        warnings: Vec::new(),
    };
    if bytes.len() as u64 > MAX_JOB_BYTES {
        return failed(Problem::of_file(
            format!("is {} bytes: too large for a job", bytes.len()),
            format!(
                "a job has at most {MAX_JOB_BYTES} bytes; is this a scan? A job names its scans: see the README, 'A scan of the bay'"
            ),
        ));
    }
    let (mut value, mut errors) = match tree::parse_up_to(bytes, MOST_JOB_VALUES) {
        Ok(parsed) => parsed,
        Err(problem) => return failed(problem),
    };
    if !value.is_object() {
        return failed(Problem::of_file(
            format!("holds {}, not a job", kind(&value)),
            "a job is a JSON object: { \"units\": …, \"tube\": …, \"ports\": …, \"runs\": … }",
        ));
    }
    let other = FileKind::of(&value).and_then(|kind| kind.in_place_of(FileKind::Job));
    if let Some(problem) = other {
        return failed(problem);
    }
    let (file, known_bad) = shape::<JobFile>(&mut value, &mut errors);
    errors.extend(unknown_keys(&schema(), &value, &Path::root()));
    let built = build(&file, name, &known_bad);
    errors.extend(built.errors);
    let mut job = built.job.filter(|_| errors.is_empty());
    if let Some(job) = &mut job {
        job.warnings.clone_from(&built.warnings);
    }
    Checked {
        job,
        errors,
        warnings: built.warnings,
    }
}

/// Fits `value` to the file's types. Values of the wrong shape are reported, put
/// out of the way, and their places returned so that nobody reports them missing.
pub(super) fn shape<T: DeserializeOwned + Default>(
    value: &mut Value,
    errors: &mut Vec<Problem>,
) -> (T, Vec<Path>) {
    let mut bad: Vec<Path> = Vec::new();
    for _ in 0..MAX_REPAIRS {
        let error = match serde_path_to_error::deserialize::<_, T>(&*value) {
            Ok(file) => return (file, bad),
            Err(error) => error,
        };
        let path = path_of(error.path());
        let Some(place) = find(value, &path) else {
            break;
        };
        if bad.contains(&path) {
            // Setting it aside did not help: nothing may be empty there.
            *place = Value::Object(serde_json::Map::new());
            continue;
        }
        let reason = error.inner().to_string();
        let wanted = wanted(reason.rsplit("expected ").next().unwrap_or_default());
        errors.push(Problem::at(
            &path,
            format!("is {}, but must be {wanted}", kind(place)),
            format!("write {wanted} here"),
        ));
        *place = Value::Null;
        bad.push(path);
    }
    // Too much is wrong to say what is missing as well.
    (T::default(), vec![Path::root()])
}

/// What must stand there, from the reader's word for it.
fn wanted(expected: &str) -> &'static str {
    if expected.contains("sequence") {
        "a list, [ … ]"
    } else if expected.contains("string") {
        "text in double quotes"
    } else {
        "an object, { … }"
    }
}

fn path_of(path: &serde_path_to_error::Path) -> Path {
    use serde_path_to_error::Segment;
    path.iter()
        .fold(Path::root(), |path, segment| match segment {
            Segment::Seq { index } => path.index(*index),
            Segment::Map { key } => path.key(key),
            Segment::Enum { variant } => path.key(variant),
            Segment::Unknown => path,
        })
}

fn find<'a>(value: &'a mut Value, path: &Path) -> Option<&'a mut Value> {
    path.steps()
        .iter()
        .try_fold(value, |node, step| match step {
            Step::Key(key) => node.get_mut(key),
            Step::Index(index) => node.get_mut(index),
        })
}

/// Keys that the schema does not have, with the nearest that it has; and lists where
/// it has an object, which the reader would take for one by position.
pub(super) fn unknown_keys(schema: &Value, value: &Value, path: &Path) -> Vec<Problem> {
    match value {
        Value::Array(values)
            if !known_keys(schema, path.steps()).is_empty()
                && !allows_list(schema, path.steps()) =>
        {
            let message = format!("is a list of {}, but must be an object", values.len());
            vec![Problem::at(
                path,
                message,
                "write each value with its name: { \"name\": value, … }",
            )]
        }
        Value::Array(values) => {
            let children = values.iter().enumerate();
            children
                .flat_map(|(i, child)| unknown_keys(schema, child, &path.index(i)))
                .collect()
        }
        Value::Object(object) => {
            let known = known_keys(schema, path.steps());
            let mut problems = Vec::new();
            for (key, child) in object {
                let here = path.key(key);
                if known.is_empty() || known.contains(key) {
                    problems.extend(unknown_keys(schema, child, &here));
                } else {
                    problems.push(Problem::at(
                        &here,
                        "is not a known key",
                        nearest(key, &known),
                    ));
                }
            }
            problems
        }
        _ => Vec::new(),
    }
}
