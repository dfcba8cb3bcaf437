//! Whole pages at true size: patterns, clock tapes, cradles.

use super::Packet;
use super::data::PictureData;
use crate::export::flat::{PaperSize, Sheet};
use crate::export::paper::{RunOnPaper, clock_tape_sheets, cradle_sheets, pattern_sheets};
use crate::plan::{FileRun, PlanFile};
use crate::shop::{Longer, SeamPlan, StickLayout};

impl Packet {
    /// The pages of every run in order.
    pub(super) fn sheets(
        &self,
        plan: &PlanFile,
        layouts: &[StickLayout],
        seams: &[Option<SeamPlan>],
        page: PaperSize,
    ) -> Vec<PictureData> {
        let (list, longer) = (plan.cut_list(layouts), plan.longer());
        let of_run = |(i, file): (usize, &FileRun)| {
            let pieces = file.run.pieces().len();
            let seams = seams.get(i).and_then(Option::as_ref);
            let seams = seams.map_or(Vec::new(), |seams| seams.clocks(pieces));
            let on_paper = RunOnPaper {
                run: &file.run,
                name: &file.name,
                stem: &i.to_string(),
                style: plan.style,
                paper: self.paper,
                cuts: &list.cuts_of(i),
                longer: Longer::in_run(&longer, i),
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

impl From<&Sheet> for PictureData {
    fn from(sheet: &Sheet) -> Self {
        Self {
            svg: sheet.svg(),
            width_mm: sheet.width.mm(),
            height_mm: sheet.height.mm(),
        }
    }
}
