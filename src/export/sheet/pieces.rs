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
    // Before the notes, which come last.
    let exact = PieceRow::HEADER.len() - 1;
    let rows = run.pieces().iter().enumerate().map(|(i, placed)| {
        let row = PieceRow::new(i + 1, placed, style);
        let center_exact = row.center_exact.clone();
        let mut cells = row.cells().to_vec();
        cells.insert(exact, center_exact);
        cells
    });
    let mut header = PieceRow::HEADER.to_vec();
    header.insert(exact, "center exact");
    table(out, &header, rows.collect())
}
