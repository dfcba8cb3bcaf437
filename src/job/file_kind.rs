//! [`FileKind`]: which of this program's files a tree is, so that one given for another is
//! called by its name.

use super::problem::Problem;
use serde_json::Value;

/// A file that people hand to the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FileKind {
    /// What the user asks for.
    Job,
    /// What was really built.
    Built,
    /// What `runwright plan` wrote.
    Plan,
}

impl FileKind {
    /// Which one `value` is, as far as its first keys tell.
    pub fn of(value: &Value) -> Option<Self> {
        let has = |key: &str| value.get(key).is_some();
        let format = value.get("format").and_then(Value::as_str);
        match format {
            Some(format) if format.starts_with("runwright-plan") => Some(Self::Plan),
            Some(_) => None,
            None if has("runs") && has("ports") && has("tube") => Some(Self::Job),
            None if has("runs") => None,
            None if has("before") || has("after") || has("gap") => Some(Self::Built),
            None => None,
        }
    }

    /// What there is to say where this was given and `wanted` was asked for; nothing where
    /// that is the same.
    pub fn in_place_of(self, wanted: Self) -> Option<Problem> {
        let help = match (self, wanted) {
            (Self::Job, Self::Job) | (Self::Built, Self::Built) | (Self::Plan, Self::Plan) => {
                return None;
            }
            (Self::Job, Self::Plan) => {
                "plan it with: runwright plan JOB -o DIR; then give the plan.json in there"
            }
            (Self::Job, Self::Built) => "name it in the file of what was built: \"job\": …",
            (Self::Built, _) => {
                "close its gap with: runwright close FILE -o DIR; or give the file that it names"
            }
            (Self::Plan, Self::Job) => "give the job that it was planned from",
            (Self::Plan, Self::Built) => "name it in the file of what was built: \"plan\": …",
        };
        let message = format!("is {}, not {}", self.words(), wanted.words());
        Some(Problem::of_file(message, help))
    }

    const fn words(self) -> &'static str {
        match self {
            Self::Job => "a job",
            Self::Built => "what was built of a run",
            Self::Plan => "a plan",
        }
    }
}

/// What bytes are that are no text of ours, by how they begin.
pub(super) fn foreign(bytes: &[u8]) -> Option<&'static str> {
    let begins = |magic: &[u8]| bytes.starts_with(magic);
    if begins(b"solid") || is_binary_stl(bytes) {
        return Some("an STL file");
    }
    if begins(b"ply\n") || begins(b"ply\r") {
        return Some("a PLY file");
    }
    if begins(b"%PDF") {
        return Some("a PDF");
    }
    begins(&[0x1f, 0x8b]).then_some("packed with gzip")
}

/// Whether a count stands after 80 bytes that goes with the length: 50 bytes a triangle.
fn is_binary_stl(bytes: &[u8]) -> bool {
    let count = bytes.get(80..84).and_then(|four| four.try_into().ok());
    let count = count.map(u32::from_le_bytes);
    count.is_some_and(|count| 84 + 50 * u64::from(count) == bytes.len() as u64)
}
