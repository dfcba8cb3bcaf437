//! The table of a run's pieces, and what its stock bends are.

use super::text::{indented, paragraph, table};
use crate::export::bend_row::{BENDS, BendRow};
use crate::export::piece_row::{PIECES, PieceRow};
use crate::run::Run;
use crate::shop::Longer;
use crate::units::Style;
use std::fmt::Write;

/// How far in the cuts of a stock bend stand.
const CUT: usize = 4;

/// The section of one run, which is number `number`.
pub(super) fn pieces(
    out: &mut String,
    (number, run): (usize, &Run),
    (bends, longer): (&[BendRow], &[Longer]),
    style: Style,
) -> std::fmt::Result {
    writeln!(out, "\n  PIECES")?;
    paragraph(out, PIECES)?;
    // Before the notes, which come last.
    let exact = PieceRow::HEADER.len() - 1;
    let rows = PieceRow::all((number, run), bends, longer, style).into_iter();
    let rows = rows.map(|row| {
        let center_exact = row.center_exact.clone();
        let mut cells = row.cells().to_vec();
        cells.insert(exact, center_exact);
        cells
    });
    let mut header = PieceRow::HEADER.to_vec();
    header.insert(exact, "center exact");
    table(out, &header, rows.collect())?;
    stock_bends(out, bends)
}

/// Each stock bend, and every cut that is made on it.
fn stock_bends(out: &mut String, bends: &[BendRow]) -> std::fmt::Result {
    if bends.is_empty() {
        return Ok(());
    }
    writeln!(out, "\n  STOCK BENDS")?;
    paragraph(out, BENDS)?;
    for bend in bends {
        paragraph(out, &format!("piece {}: {}", bend.piece, bend.full()))?;
        for (i, cut) in bend.cuts.iter().enumerate() {
            indented(out, &format!("cut {}: {cut}", i + 1), CUT)?;
        }
        if bend.cuts.is_empty() && !bend.made.is_empty() {
            writeln!(out, "    {}: nothing is sawn off", bend.made)?;
        }
    }
    Ok(())
}
