//! The cuts of a stick.

use super::text::{paragraph, table};
use crate::export::cut_row::{STEPS, cut_rows};
use crate::shop::{CutList, Longer, SawCut, StickChoice};
use crate::tube::Tube;
use crate::units::{Length, Style};
use std::fmt::Write;

/// The section of one run, which is number `run`: its stick, or that it has none of its own.
pub(super) fn saw(
    out: &mut String,
    run: usize,
    list: &CutList<'_>,
    (names, longer): (&[&str], &[Longer]),
    kerf: Length,
    style: Style,
) -> std::fmt::Result {
    let own =
        |choice: &StickChoice<'_>| matches!(choice, StickChoice::Run { run: of } if *of == run);
    let Some(stick) = list.sticks.iter().find(|stick| own(&stick.choice)) else {
        let laid_out = list.sticks.iter().any(|stick| stick.cuts_run(run));
        return match laid_out {
            true => writeln!(out, "\n  SAW  from the shop's sticks: see STICKS below"),
            false => Ok(()),
        };
    };
    writeln!(
        out,
        "\n  SAW  the whole run from one stick; kerf {}",
        style.decimal(kerf)
    )?;
    steps(out)?;
    rows(out, &stick.cuts, stick.tube, (names, longer), style)?;
    writeln!(out, "  stick: {} in all", style.length(stick.taken()))
}

/// How to read the rows.
pub(super) fn steps(out: &mut String) -> std::fmt::Result {
    STEPS
        .iter()
        .enumerate()
        .try_for_each(|(i, step)| paragraph(out, &format!("{}. {step}", i + 1)))
}

/// The rows of one piece by itself.
pub(in crate::export) fn cut_table(
    out: &mut String,
    cuts: &[SawCut],
    tube: &Tube,
    style: Style,
) -> std::fmt::Result {
    rows(out, cuts, tube, (&[], &[]), style)
}

/// One row a cut.
pub(super) fn rows(
    out: &mut String,
    cuts: &[SawCut],
    tube: &Tube,
    (names, longer): (&[&str], &[Longer]),
    style: Style,
) -> std::fmt::Result {
    let rows = cut_rows(cuts, tube, names, longer, style).into_iter();
    let rows = rows.map(|row| {
        vec![
            row.piece,
            row.feed,
            row.feed_exact,
            row.stop,
            row.rotate,
            row.angle,
            row.mark,
            row.round,
            row.so_far,
            row.note,
        ]
    });
    let header = [
        "piece",
        "feed",
        "feed exact",
        "stop",
        "rotate",
        "angle",
        "mark",
        "round",
        "so far",
        "",
    ];
    table(out, &header, rows.collect())
}
