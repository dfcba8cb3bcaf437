//! The table of a run's pieces.

use super::text::{paragraph, table};
use crate::export::piece_row::{PIECES, PieceRow};
use crate::run::Run;
use crate::units::Style;
use std::fmt::Write;

/// The section of one run.
pub(super) fn pieces(out: &mut String, run: &Run, style: Style) -> std::fmt::Result {
    writeln!(out, "\n  PIECES")?;
    paragraph(out, PIECES)?;
    let rows = run.pieces().iter().enumerate().map(|(i, placed)| {
        let row = PieceRow::new(i + 1, placed, style);
        vec![
            row.piece,
            row.joints,
            row.long,
            row.center,
            row.short,
            row.start_cut,
            row.end_cut,
            row.clock,
            row.center_exact,
            row.note,
        ]
    });
    let header = [
        "piece",
        "joints",
        "long",
        "center",
        "short",
        "start cut",
        "end cut",
        "clock",
        "center exact",
        "",
    ];
    table(out, &header, rows.collect())
}
