//! What a packet's template knows: `packet.json`.
//!
//! Texts are ready to print, in the shop's own units; sizes of pictures are millimeters
//! on paper. A template decides how things look, nothing else.

use crate::export::bend_row::BendRow;
use crate::export::cut_row::CutRow;
use serde::Serialize;

/// All of it.
#[derive(Debug, Serialize)]
pub(super) struct PacketData {
    pub job: String,
    pub made_by: String,
    /// Stands at the foot of every page.
    pub foot: String,
    pub page: PageData,
    pub cover: CoverData,
    pub warnings: Vec<WarningData>,
    pub words: WordsData,
    pub runs: Vec<RunData>,
    pub quote: Option<QuoteData>,
    pub sticks: Vec<StickData>,
    pub sticks_note: String,
    /// Whole pages at true size: patterns, clock tape, cradle.
    pub sheets: Vec<PictureData>,
    pub cautions: Vec<CautionData>,
}

/// The paper.
#[derive(Debug, Serialize)]
pub(super) struct PageData {
    pub width_mm: f64,
    pub height_mm: f64,
}

/// A picture at true size.
#[derive(Debug, Serialize)]
pub(super) struct PictureData {
    pub svg: String,
    pub width_mm: f64,
    pub height_mm: f64,
}

/// Rows under a head.
#[derive(Debug, Default, Serialize)]
pub(super) struct TableData {
    pub header: Vec<String>,
    pub rows: Vec<Vec<String>>,
}

/// A label and what it says.
pub(super) type Fact = (String, String);

#[derive(Debug, Serialize)]
pub(super) struct CoverData {
    pub isometric: PictureData,
    pub views: PictureData,
    /// One row a run.
    pub table: TableData,
    /// Of the only run, where there is one.
    pub facts: Vec<Fact>,
    pub cost: String,
    pub caution: String,
    /// The first warnings, each in a line or two.
    pub warnings: Vec<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct WarningData {
    pub message: String,
    pub help: String,
}

/// How to read the tables.
#[derive(Debug, Serialize)]
pub(super) struct WordsData {
    pub pieces: String,
    pub bends: String,
    pub saw: Vec<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct RunData {
    pub name: String,
    pub facts: Vec<Fact>,
    pub pieces: TableData,
    /// Its stock bends, with every cut that is made on them.
    pub bends: Vec<BendRow>,
    pub alike: TableData,
    pub seams: Option<SeamsData>,
    pub tack_up: Option<TackUpData>,
    pub beside: BesideData,
}

#[derive(Debug, Serialize)]
pub(super) struct SeamsData {
    pub rule: String,
    #[serde(flatten)]
    pub table: TableData,
    pub how: String,
}

/// One stick, drawn and cut.
#[derive(Debug, Serialize)]
pub(super) struct StickData {
    pub title: String,
    pub note: String,
    pub length_mm: f64,
    pub parts: Vec<StickPartData>,
    pub cuts: Vec<CutRow>,
}

/// A piece on a stick: where its axis begins and ends, and how far its upper edge is off
/// that at either end.
#[derive(Debug, Serialize)]
pub(super) struct StickPartData {
    pub label: String,
    pub from_mm: f64,
    pub to_mm: f64,
    pub from_slant_mm: f64,
    pub to_slant_mm: f64,
}

#[derive(Debug, Serialize)]
pub(super) struct TackUpData {
    pub how: String,
    pub places: Vec<Fact>,
    pub steps: Vec<StepData>,
    /// A title and paragraphs about the piece that is left for last.
    pub close: Vec<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct StepData {
    pub title: String,
    pub angle: String,
    pub marks: String,
    pub checks: Vec<CheckData>,
}

#[derive(Debug, Serialize)]
pub(super) struct CheckData {
    pub from: String,
    pub to: String,
    pub distance: String,
    pub tolerance: String,
}

#[derive(Debug, Serialize)]
pub(super) struct QuoteData {
    pub currency: String,
    pub runs: Vec<QuoteRunData>,
    /// What the runs share: what, quantity, rate, money.
    pub job: Vec<[String; 4]>,
    pub totals: Vec<Fact>,
    pub notes: Vec<String>,
}

#[derive(Debug, Serialize)]
pub(super) struct QuoteRunData {
    pub name: String,
    /// What, quantity, rate, money.
    pub lines: Vec<[String; 4]>,
    pub money: String,
    /// Flange welds that are not counted.
    pub apart: Vec<[String; 4]>,
    pub notes: Vec<String>,
}

/// What stands beside a run's quote.
#[derive(Debug, Serialize)]
pub(super) struct BesideData {
    pub compare: TableData,
    pub compare_notes: Vec<String>,
    pub growth: Vec<String>,
    /// Whether the first sentence of it is a warning.
    pub growth_warns: bool,
    pub mass: String,
}

#[derive(Debug, Serialize)]
pub(super) struct CautionData {
    pub text: String,
    pub source: String,
}
