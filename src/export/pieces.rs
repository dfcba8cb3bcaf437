//! `pieces.csv`: one row a piece, for a spreadsheet.

use super::{ExportError, Exporter, OutFile};
use crate::plan::Plan;
use crate::run::Placed;
use crate::units::Style;

const FILE: &str = "pieces.csv";

/// Writes `pieces.csv`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pieces;

const HEADER: [&str; 14] = [
    "run",
    "piece",
    "from_joint",
    "to_joint",
    "length_mm",
    "cut_length_mm",
    "long_side_mm",
    "short_side_mm",
    "start_cut_deg",
    "end_cut_deg",
    "clock_deg",
    "cut_length",
    "long_side",
    "short_side",
];

impl Exporter for Pieces {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let failed = |error: csv::Error| ExportError::new(FILE, error);
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(HEADER).map_err(failed)?;
        for planned in &plan.runs {
            for (i, placed) in planned.run().pieces().iter().enumerate() {
                let row = row(&planned.name, i + 1, placed, plan.job.style);
                writer.write_record(row).map_err(failed)?;
            }
        }
        let bytes = writer
            .into_inner()
            .map_err(|error| ExportError::new(FILE, error))?;
        Ok(vec![OutFile::new(FILE, bytes)])
    }
}

fn row(run: &str, number: usize, placed: &Placed, style: Style) -> [String; 14] {
    let piece = &placed.piece;
    let mm = |length: crate::units::Length| format!("{:.3}", length.mm());
    let deg = |angle: crate::units::Angle| format!("{:.3}", angle.degrees());
    [
        run.to_owned(),
        number.to_string(),
        (number - 1).to_string(),
        number.to_string(),
        mm(placed.edge),
        mm(piece.length()),
        mm(piece.long_side()),
        mm(piece.short_side()),
        deg(piece.start().angle),
        deg(piece.end().angle),
        deg(piece.clock()),
        style.length(piece.length()),
        style.length(piece.long_side()),
        style.length(piece.short_side()),
    ]
}
