//! Job files: what the user writes, checked and turned into the solver's terms.
//!
//! Three steps, each with types of its own: `tree` reads strict JSON; `file` and the
//! others that end in `_file` hold the types that the file format and its schema are made
//! of; `build` checks everything at once, part by part (`tube`, `ports`, `shop`, `runs`,
//! `scene` …), and produces a [`Job`] (`job`).

mod accuracy;
mod build;
mod built;
mod built_file;
mod buried;
mod copy;
mod either;
mod file;
mod file_kind;
mod file_values;
#[allow(clippy::module_inception)]
mod job;
mod load;
mod loaded;
mod measured;
mod measured_file;
mod parse;
mod path;
mod ports;
mod problem;
mod quoting;
mod rates_file;
mod rules;
mod run_file;
mod runs;
mod scan;
mod scan_file;
mod scan_marks;
mod scan_rims;
mod scan_unit;
mod scene;
mod scene_file;
mod schema;
mod seams;
mod shop;
mod shop_file;
mod starter;
mod stick_file;
mod sticks;
mod stock;
mod surveyed;
mod tree;
mod tube;
mod values;
mod words;

pub use built::{Built, BuiltCut, BuiltEndSurvey, BuiltOrder, Opening, Welded, read_built};
pub use built_file::built_schema;
pub use copy::JobCopy;
pub use file::schema;
pub use file_kind::FileKind;
pub use job::{Job, JobRun};
pub use loaded::LoadedScan;
pub use parse::{Checked, MAX_JOB_BYTES, read_job};
pub use path::{Path, Step};
pub use problem::Problem;
pub use scan::{ScanOrder, Zone};
pub use scene::DEFAULT_CLEARANCE;
pub use starter::{Starter, StarterPort};
pub use surveyed::PortSurvey;
pub use tree::parse as parse_json;
pub use words::{kind, nearest};
