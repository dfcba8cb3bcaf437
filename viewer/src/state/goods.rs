//! [`Goods`]: what can be exported, and the files that it makes: all that the command line
//! writes of it.

use runwright::export::{
    ExportError, OutFile, PacketError, PlanFiles, closing_json, closing_patterns,
    closing_plan_json, closing_sheet, closing_stls,
};
use runwright::job::Problem;
use runwright::plan::{Closing, Plan, PlanFile};
use runwright::run::Run;
use serde_json::Value;
use std::path::PathBuf;
use std::sync::Arc;

/// What can be exported.
#[derive(Clone, Debug)]
pub enum Goods {
    /// A plan with the ways that are taken: what `runwright plan` writes.
    Plan(Arc<Plan>),
    /// A plan's file: what `runwright packet` writes.
    File(Box<PlanFile>, PathBuf),
    /// A gap that was closed: what `runwright close` writes.
    Closed(Box<ClosedGap>),
}

/// A gap that was closed, and what its files come from.
#[derive(Clone, Debug)]
pub struct ClosedGap {
    /// What came of it.
    pub closing: Closing,
    /// The plan as it was, and the run as it was built and closed.
    pub rebuilt: Option<(Value, Run)>,
    /// All files that were read.
    pub sources: Vec<PathBuf>,
}

impl Goods {
    /// The files; the same bytes as the command line's.
    pub fn files(&self, how: &PlanFiles) -> Result<Vec<OutFile>, Vec<Problem>> {
        match self {
            Self::Plan(plan) => how.files(plan).map_err(of_packet),
            Self::File(plan, _) => how
                .packet
                .of(plan)
                .map(|file| vec![file])
                .map_err(of_packet),
            Self::Closed(closed) => closed.files(how).map_err(|error| {
                let help = "please report this with the file";
                vec![Problem::of_file(error.to_string(), help)]
            }),
        }
    }

    /// What is written, in words.
    pub const fn words(&self) -> &'static str {
        match self {
            Self::Plan(_) => "sheets, packet, patterns, drawings and models of the plan",
            Self::File(..) => "the packet of this plan; open its job for all else",
            Self::Closed(_) => "sheet, patterns and models of the piece that closes the gap",
        }
    }

    /// Whether there is a packet, with paper and template to choose.
    pub const fn has_packet(&self) -> bool {
        !matches!(self, Self::Closed(_))
    }

    /// Files that nothing may be written over, beside the open job's.
    pub fn sources(&self) -> Vec<PathBuf> {
        match self {
            Self::Plan(_) => Vec::new(),
            Self::File(_, path) => vec![path.clone()],
            Self::Closed(closed) => closed.sources.clone(),
        }
    }
}

impl ClosedGap {
    fn files(&self, how: &PlanFiles) -> Result<Vec<OutFile>, ExportError> {
        let closing = &self.closing;
        let mut files = vec![closing_sheet(closing)?, closing_json(closing)?];
        files.extend(closing_patterns(closing, how.packet.paper)?);
        files.extend(closing_stls(closing, how.chord_tolerance)?);
        if let Some((plan, run)) = &self.rebuilt {
            files.push(closing_plan_json(plan, closing, run)?);
        }
        Ok(files)
    }
}

fn of_packet(error: PacketError) -> Vec<Problem> {
    match error {
        PacketError::Template(errors) => {
            let help = "see what 'runwright template' prints, and what it reads from packet.json";
            let told = errors.into_iter().map(|error| Problem {
                path: "template".to_owned(),
                message: error.to_string(),
                help: help.to_owned(),
            });
            told.collect()
        }
        error => vec![Problem::of_file(
            error.to_string(),
            "please report this with the plan",
        )],
    }
}
