//! Whole pages at true size: patterns, clock tapes, cradles.

use super::Packet;
use super::data::PictureData;
use crate::export::flat::{PaperSize, Sheet};
use crate::export::paper::{RunOnPaper, clock_tape_sheets, cradle_sheets, pattern_sheets};
use crate::plan::PlanFile;

impl Packet {
    /// The pages of every run in order.
    pub(super) fn sheets(&self, plan: &PlanFile, page: PaperSize) -> Vec<PictureData> {
        let of_run = |(i, file): (usize, &crate::plan::FileRun)| {
            let on_paper = RunOnPaper {
                run: &file.run,
                name: &file.name,
                stem: &i.to_string(),
                style: plan.style,
                paper: self.paper,
                seams: &[],
            };
            let mut sheets = pattern_sheets(&on_paper, page);
            sheets.extend(clock_tape_sheets(&on_paper, page));
            sheets.extend(cradle_sheets(&on_paper, self.card, page));
            sheets
        };
        let sheets = plan.runs.iter().enumerate().flat_map(of_run);
        sheets.map(|sheet| PictureData::from(&sheet)).collect()
    }
}

impl From<&Sheet> for PictureData {
    fn from(sheet: &Sheet) -> Self {
        Self {
            svg: sheet.svg(),
            width_mm: sheet.width.mm(),
            height_mm: sheet.height.mm(),
        }
    }
}
