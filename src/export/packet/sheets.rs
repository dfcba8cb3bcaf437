//! Whole pages at true size: patterns, clock tapes, cradles.

use super::Packet;
use super::data::PictureData;
use crate::export::flat::{PaperSize, Sheet};
use crate::export::paper::{RunOnPaper, clock_tape_sheets, cradle_sheets, pattern_sheets};
use crate::plan::{FileRun, PlanFile};
use crate::shop::SeamPlan;
use crate::units::Angle;

impl Packet {
    /// The pages of every run in order.
    pub(super) fn sheets(
        &self,
        plan: &PlanFile,
        seams: &[Option<SeamPlan>],
        page: PaperSize,
    ) -> Vec<PictureData> {
        let of_run = |(i, file): (usize, &FileRun)| {
            let seams = clocks(file, seams.get(i).and_then(Option::as_ref));
            let on_paper = RunOnPaper {
                run: &file.run,
                name: &file.name,
                stem: &i.to_string(),
                style: plan.style,
                paper: self.paper,
                seams: &seams,
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

/// Clock of the seam in each piece, by the piece's own clock.
fn clocks(file: &FileRun, plan: Option<&SeamPlan>) -> Vec<Option<Angle>> {
    let mut seams = vec![None; file.run.pieces().len()];
    for seam in plan.iter().flat_map(|plan| &plan.pieces) {
        let index = seam.number.checked_sub(1);
        if let Some(place) = index.and_then(|index| seams.get_mut(index)) {
            *place = seam.clock;
        }
    }
    seams
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
