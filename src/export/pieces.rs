//! `pieces.csv`: one row a piece, for a spreadsheet.

use super::csv_file::{csv_file, thousandths};
use super::{ExportError, Exporter, OutFile};
use crate::plan::Plan;
use crate::run::Placed;
use crate::shop::{BoughtBend, Longer};
use crate::tube::{BentPiece, StockBend};
use crate::units::{Angle, Length, Style};

const FILE: &str = "pieces.csv";

/// Writes `pieces.csv`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Pieces;

/// Columns of a row; those of stock bends are empty for straight pieces, and where it is
/// not known which bend it is.
const COLUMNS: usize = 25;
const HEADER: [&str; COLUMNS] = [
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
    "kind",
    "tube_od_mm",
    "tube_wall_mm",
    "sawn_longer_mm",
    "stock",
    "clr_mm",
    "turn_deg",
    "start_leg_mm",
    "end_leg_mm",
    "bought_turn_deg",
    "bought_leg_mm",
];

impl Exporter for Pieces {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let longer = plan.longer();
        let of_run = |number: usize| {
            let planned = &plan.runs[number];
            let bought = plan.bought_bends(number);
            let pieces = planned.run().pieces().iter().enumerate();
            let rows = pieces.map(|(i, placed)| {
                let row = Row {
                    run: &planned.name,
                    number: i + 1,
                    placed,
                    stock: BoughtBend::of(&bought, i + 1),
                    longer: Longer::of(&longer, number, i + 1),
                };
                row.cells(plan.job.style)
            });
            rows.collect::<Vec<_>>()
        };
        let rows = (0..plan.runs.len()).flat_map(of_run);
        Ok(vec![csv_file(FILE, HEADER, rows)?])
    }
}

/// One piece, and what there is to know of it.
struct Row<'a> {
    run: &'a str,
    number: usize,
    placed: &'a Placed,
    /// What it is made from.
    stock: Option<&'a StockBend>,
    /// What it is sawn longer.
    longer: Length,
}

impl Row<'_> {
    fn cells(&self, style: Style) -> [String; COLUMNS] {
        let piece = &self.placed.piece;
        let bent = piece.bent();
        let of_bend = |value: fn(&BentPiece) -> String| bent.map_or(String::new(), value);
        let of_stock = |value: fn(&StockBend) -> String| self.stock.map_or(String::new(), value);
        [
            self.run.to_owned(),
            self.number.to_string(),
            (self.number - 1).to_string(),
            self.number.to_string(),
            mm(self.placed.edge),
            mm(piece.length()),
            mm(piece.long_side()),
            mm(piece.short_side()),
            deg(piece.start().angle),
            deg(piece.end().angle),
            deg(piece.clock()),
            style.length(piece.length()),
            style.length(piece.long_side()),
            style.length(piece.short_side()),
            piece.name().to_owned(),
            mm(piece.tube().od()),
            mm(piece.tube().wall()),
            mm(self.longer),
            of_stock(|stock| stock.name.clone()),
            of_bend(|bent| mm(bent.clr)),
            of_bend(|bent| deg(bent.turn)),
            of_bend(|bent| mm(bent.legs[0])),
            of_bend(|bent| mm(bent.legs[1])),
            of_stock(|stock| deg(stock.turn)),
            of_stock(|stock| mm(stock.leg)),
        ]
    }
}

fn mm(length: Length) -> String {
    thousandths(length.mm())
}

fn deg(angle: Angle) -> String {
    thousandths(angle.degrees())
}
