//! Files that other people and programs read: one exporter a format.
//!
//! An exporter turns a [`Plan`] into named bytes and decides nothing. To add a
//! format, write one file with an [`Exporter`] and list it in [`PlanFiles`] or in the
//! command that offers it.

mod bend_row;
mod clearance_csv;
mod clearance_ply;
mod closing;
mod csv_file;
mod cut_row;
mod drawing;
pub mod flat;
mod jigs;
mod json;
mod packet;
pub mod paper;
mod patterns;
mod piece_row;
mod pieces;
mod plan_files;
mod port_line;
mod scarce;
mod sheet;
mod stl;
pub mod view;
mod write;

pub use bend_row::BendRow;
pub use clearance_csv::{ClearanceRow, clearance_csv};
pub use clearance_ply::clearance_ply;
pub use closing::{
    advice_text, against_text, closing_json, closing_patterns, closing_plan_json, closing_sheet,
    closing_stls, closure_schema,
};
pub use drawing::Drawing;
pub use flat::PaperSize;
pub use jigs::Jigs;
pub use json::{PlanJson, plan_schema};
pub use packet::{DEFAULT_TEMPLATE, Packet, PacketError, TemplateError};
pub use patterns::Patterns;
pub use pieces::Pieces;
pub use plan_files::PlanFiles;
pub use port_line::{marks_turn, port_line, port_sides};
pub use sheet::{Sheet, copied_table};
pub use stl::{PieceStls, RunStl, envelope_stl};
pub use write::{WriteError, write_all};

use crate::plan::Plan;
use std::collections::BTreeSet;

/// One output file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OutFile {
    /// Name, relative to the output folder; may hold one folder.
    pub name: String,
    /// Contents.
    pub bytes: Vec<u8>,
}

impl OutFile {
    /// From a name and contents.
    pub fn new(name: impl Into<String>, bytes: impl Into<Vec<u8>>) -> Self {
        Self {
            name: name.into(),
            bytes: bytes.into(),
        }
    }
}

/// Something that turns a plan into files.
pub trait Exporter {
    /// The files for `plan`; the same bytes for the same plan.
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError>;
}

/// Why a file could not be made.
#[derive(Debug, thiserror::Error)]
#[error("cannot make {file}: {reason}")]
pub struct ExportError {
    /// The file's name.
    pub file: String,
    /// The library's reason.
    pub reason: String,
}

impl ExportError {
    fn new(file: &str, reason: impl ToString) -> Self {
        Self {
            file: file.to_owned(),
            reason: reason.to_string(),
        }
    }
}

/// The runs' names as parts of file names: letters, digits, dashes and underscores, no
/// two alike (also where letter case does not count).
fn file_stems(plan: &Plan) -> Vec<String> {
    let plain = |c: char| {
        if c.is_alphanumeric() || c == '-' || c == '_' {
            c
        } else {
            '-'
        }
    };
    let mut taken = BTreeSet::new();
    plan.runs
        .iter()
        .map(|run| {
            let stem: String = run.name.chars().map(plain).take(60).collect();
            let numbered = (2..).map(|n| format!("{stem}-{n}"));
            let mut tries = std::iter::once(stem.clone()).chain(numbered);
            // The tries never end, so one is free.
            let free = tries.find(|stem| taken.insert(stem.to_lowercase()));
            free.unwrap_or(stem)
        })
        .collect()
}
