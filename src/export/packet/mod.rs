//! `packet.pdf`: the shop packet, the paper that goes to the saw.
//!
//! It is made from what `plan.json` holds and from nothing else, also by `runwright plan`,
//! so that the same plan makes the same packet whoever asks. On the way: a [`PlanFile`] →
//! [`data`], texts ready to print and pictures at true size → a template
//! (`packet.typ`, or the user's own) → [`typeset`] → the bytes of a PDF.

mod cover;
mod data;
mod pieces;
mod quote;
mod saw;
mod seams;
mod sheets;
mod tack_up;
mod typeset;
mod world;

pub use typeset::TemplateError;

use super::bend_row::{BENDS, BendRow};
use super::cut_row::STEPS;
use super::flat::PaperSize;
use super::piece_row::PIECES;
use super::{ExportError, OutFile};
use crate::job::Problem;
use crate::plan::{FileRun, PlanFile};
use crate::shop::{Caution, Longer, SeamPlan};
use crate::tube::Evidence;
use crate::units::Length;
use data::{CautionData, PacketData, PageData, RunData, WarningData, WordsData};
use thiserror::Error;

const FILE: &str = "packet.pdf";

/// The template that is used where no other is given.
pub const DEFAULT_TEMPLATE: &str = include_str!("packet.typ");

/// Stands at the foot of every page.
const FOOT: &str = "Geometry only: not a pressure-piping design. Follow your local codes. Measure a printed check bar, cut one piece, and try it before you cut the rest.";

/// How a packet is to be made.
#[derive(Clone, Debug)]
pub struct Packet {
    /// The paper's size; what goes with the job's unit where nothing is said.
    pub page: Option<PaperSize>,
    /// Thickness of the paper that is wrapped round the tube.
    pub paper: Length,
    /// Thickness of the card or sheet that cradles are cut from.
    pub card: Length,
    /// A template in place of [`DEFAULT_TEMPLATE`].
    pub template: Option<String>,
}

/// Common office paper of 80 g/m² (common practice, no source).
const OFFICE_PAPER: Length = Length::from_mm(0.1);

impl Default for Packet {
    fn default() -> Self {
        Self {
            page: None,
            paper: OFFICE_PAPER,
            card: Length::ZERO,
            template: None,
        }
    }
}

/// Most pieces of all runs: some 700 pages, which take about 1.3 GB while they are set.
const MOST_PIECES: usize = 1000;

/// Why there is no packet.
#[derive(Debug, Error)]
pub enum PacketError {
    /// The template is wrong, in each of these places.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Template(Vec<TemplateError>),
    /// More pieces than a packet is made of.
    #[error("the plan has {pieces} pieces: a packet is made of {MOST_PIECES} at most")]
    TooManyPieces {
        /// Of all runs.
        pieces: usize,
    },
    /// The plan that was just written cannot be read back.
    #[error("plan.json cannot be read back: {0}")]
    NotRead(String),
    /// A picture or the data could not be written.
    #[error(transparent)]
    Export(#[from] ExportError),
}

impl Packet {
    /// The packet of `plan`.
    pub fn of(&self, plan: &PlanFile) -> Result<OutFile, PacketError> {
        let pieces = plan.runs.iter().map(|file| file.run.pieces().len()).sum();
        if pieces > MOST_PIECES {
            return Err(PacketError::TooManyPieces { pieces });
        }
        let data = serde_json::to_vec(&self.data(plan)).map_err(|e| ExportError::new(FILE, e))?;
        let template = self
            .template
            .clone()
            .unwrap_or_else(|| DEFAULT_TEMPLATE.to_owned());
        let ident = format!("runwright packet {}", plan.job);
        let bytes = typeset::typeset(template, data, &ident).map_err(PacketError::Template)?;
        Ok(OutFile::new(FILE, bytes))
    }

    fn data(&self, plan: &PlanFile) -> PacketData {
        let style = plan.style;
        let page = self.page.unwrap_or_else(|| PaperSize::usual(style.unit));
        let layouts = plan.layouts();
        let seams = plan.seam_plans(&layouts);
        let (sticks, sticks_note) = saw::sticks(plan, &layouts, &seams);
        let longer = plan.longer();
        let runs = plan.runs.iter().zip(&seams).enumerate();
        let runs = runs.map(|(i, (file, seams))| run(plan, (i, file), seams.as_ref(), &longer));
        PacketData {
            job: plan.job.clone(),
            made_by: concat!("runwright ", env!("CARGO_PKG_VERSION")).to_owned(),
            foot: FOOT.to_owned(),
            page: PageData {
                width_mm: page.size().0.mm(),
                height_mm: page.size().1.mm(),
            },
            cover: cover::cover(plan, page),
            warnings: plan.warnings.iter().map(WarningData::from).collect(),
            words: WordsData {
                pieces: PIECES.to_owned(),
                bends: BENDS.to_owned(),
                saw: STEPS.map(str::to_owned).to_vec(),
            },
            runs: runs.collect(),
            quote: quote::quote(plan),
            sticks,
            sticks_note,
            sheets: self.sheets(plan, &layouts, &seams, page),
            cautions: plan.cautions().into_iter().map(CautionData::from).collect(),
        }
    }
}

/// What is said of one run.
fn run(
    plan: &PlanFile,
    (number, file): (usize, &FileRun),
    seam_plan: Option<&SeamPlan>,
    longer: &[Longer],
) -> RunData {
    let style = plan.style;
    let bends = BendRow::all(&file.run, &file.bends, style);
    let tube = file.run.tube();
    RunData {
        name: file.name.clone(),
        facts: match plan.runs.len() {
            1 => Vec::new(),
            _ => pieces::facts(file, style),
        },
        pieces: pieces::pieces((number, &file.run), &bends, longer, style),
        alike: pieces::alike((number, &file.run), longer, style),
        seams: seam_plan.and_then(|seam_plan| seams::seams(seam_plan, tube, style)),
        tack_up: tack_up::tack_up(plan, file, &bends),
        bends,
        beside: quote::beside(plan, file),
    }
}

impl From<&'static Caution> for CautionData {
    fn from(caution: &'static Caution) -> Self {
        Self {
            text: caution.text.to_owned(),
            source: match (caution.source.text, caution.source.evidence) {
                ("", evidence) => evidence.words().to_owned(),
                (text, Evidence::Memory) => format!("{text}, from memory"),
                (text, _) => text.to_owned(),
            },
        }
    }
}

impl From<&Problem> for WarningData {
    fn from(problem: &Problem) -> Self {
        Self {
            message: problem.placed_message(),
            help: problem.help.clone(),
        }
    }
}
