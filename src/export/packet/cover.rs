//! The cover: pictures, main sizes, cost line.

use super::data::{CoverData, PictureData};
use super::pieces::{facts, table};
use crate::export::ExportError;
use crate::plan::PlanFile;
use crate::units::counted;

const CAUTION: &str = "Read the cautions on the last page before you cut.";

pub(super) fn cover(plan: &PlanFile) -> Result<CoverData, ExportError> {
    let style = plan.style;
    let blank = || {
        PictureData { svg: "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"180mm\" height=\"80mm\" viewBox=\"0 0 180 80\"/>".to_owned(), width_mm: 180.0, height_mm: 80.0 }
    };
    let row = |file: &crate::plan::FileRun| {
        let run = &file.run;
        [
            file.name.clone(),
            format!(
                "{} × {} {}",
                style.decimal(run.tube().od()),
                style.decimal(run.tube().wall()),
                run.tube().material()
            ),
            counted(run.pieces().len(), "piece"),
            style.length(run.length()),
            style.length(run.weld_length()),
        ]
    };
    let only = if let [file] = plan.runs.as_slice() {
        facts(file, style)
    } else {
        Vec::new()
    };
    Ok(CoverData {
        isometric: blank(),
        views: blank(),
        table: table(
            ["run", "tube", "pieces", "centerline", "weld"],
            plan.runs.iter().map(row).collect(),
        ),
        facts: only,
        cost: String::new(),
        caution: CAUTION.to_owned(),
    })
}
