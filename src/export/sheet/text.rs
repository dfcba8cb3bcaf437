//! What text sheets are put together from: tables, wrapped lines, warnings.

use crate::job::Problem;
use crate::tube::Tube;
use crate::units::Style;
use std::fmt::Write;

/// What the user should know before cutting.
pub(in crate::export) fn warnings<'a>(
    out: &mut String,
    warnings: impl Iterator<Item = &'a Problem>,
) -> std::fmt::Result {
    for warning in warnings {
        writeln!(
            out,
            "\nWARNING  {}\n         {}",
            warning.placed_message(),
            warning.help
        )?;
    }
    Ok(())
}

/// The stock.
pub(in crate::export) fn tube_line(
    out: &mut String,
    tube: &Tube,
    style: Style,
) -> std::fmt::Result {
    writeln!(
        out,
        "  tube {} OD × {} wall, {}; circumference {}",
        style.decimal(tube.od()),
        style.decimal(tube.wall()),
        tube.material(),
        style.decimal(tube.circumference()),
    )
}

/// Columns two spaces apart, indented by two; all but the last right-aligned.
pub(super) fn table(out: &mut String, header: &[&str], rows: Vec<Vec<String>>) -> std::fmt::Result {
    let header: Vec<String> = header.iter().map(|&cell| cell.to_owned()).collect();
    let width = |column: usize| {
        let cells = rows
            .iter()
            .chain([&header])
            .map(|row| row[column].chars().count());
        cells.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..header.len()).map(width).collect();
    for row in std::iter::once(&header).chain(&rows) {
        let last = row.len().saturating_sub(1);
        let cells = row.iter().zip(&widths).enumerate();
        let line: String = cells
            .map(|(i, (cell, width))| match i == last {
                // Words read from the left.
                true => format!("  {cell}"),
                false => format!("  {cell:>width$}"),
            })
            .collect();
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}

/// Longest line of a paragraph, in characters: what a page of A4 or Letter holds in type that
/// is read at arm's length.
const LINE: usize = 92;

/// A paragraph, indented by two, broken between words; its first word, such as a number,
/// stands out.
pub(in crate::export) fn paragraph(out: &mut String, said: &str) -> std::fmt::Result {
    indented(out, said, 2)
}

/// A paragraph further in.
pub(super) fn indented(out: &mut String, said: &str, by: usize) -> std::fmt::Result {
    let hang = match said.split_once(". ") {
        Some((number, _)) if number.parse::<u32>().is_ok() => number.chars().count() + 4,
        _ => by,
    };
    let mut line = " ".repeat(by);
    for word in said.split_whitespace() {
        let room = line.chars().count() + 1 + word.chars().count() <= LINE;
        if line.trim().is_empty() {
            line.push_str(word);
        } else if room {
            line.push(' ');
            line.push_str(word);
        } else {
            writeln!(out, "{line}")?;
            line = format!("{}{word}", " ".repeat(hang));
        }
    }
    writeln!(out, "{line}")
}
