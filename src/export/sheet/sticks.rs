//! Sticks on the sheet: which pieces are cut from which.

use super::saw::{rows, steps};
use super::text::table;
use crate::export::scarce::scarce;
use crate::plan::Plan;
use crate::shop::{CutList, Drops, Longer, SawCut, Stick, StickChoice, StickLayout, StickSource};
use crate::units::{Length, Style, counted};
use std::fmt::Write;

/// Writes all layouts of a plan.
pub(super) fn sticks(
    out: &mut String,
    plan: &Plan,
    list: &CutList<'_>,
    (names, longer): (&[&str], &[Longer]),
) -> std::fmt::Result {
    for layout in &plan.sticks {
        one(out, layout, plan)?;
    }
    let laid_out = list.sticks.iter().filter_map(|stick| match stick.choice {
        StickChoice::Layout {
            number,
            stick: laid,
            ..
        } => Some((number, laid, stick)),
        StickChoice::Run { .. } => None,
    });
    let mut laid_out = laid_out.peekable();
    if laid_out.peek().is_none() {
        return Ok(());
    }
    let style = plan.job.style;
    writeln!(
        out,
        "\nSAW  stick by stick; kerf {}",
        style.decimal(plan.job.kerf())
    )?;
    steps(out)?;
    for (number, laid, stick) in laid_out {
        writeln!(
            out,
            "\n  stick {}: {} of {} OD × {} wall",
            number + 1,
            style.length(laid.length),
            style.decimal(stick.tube.od()),
            style.decimal(stick.tube.wall()),
        )?;
        rows(out, &stick.cuts, stick.tube, (names, longer), style)?;
    }
    Ok(())
}

const LEGEND: &str =
    "  Pieces in the order in which they come off; r: turned end for end; |: two cuts with a
  wedge of waste between them; all others share one cut. Left: at the shortest side.
";

fn one(out: &mut String, layout: &StickLayout, plan: &Plan) -> std::fmt::Result {
    let style = plan.job.style;
    writeln!(
        out,
        "\nSTICKS  tube {} OD × {} wall, {}",
        style.decimal(layout.tube.od()),
        style.decimal(layout.tube.wall()),
        layout.tube.material(),
    )?;
    out.push_str(LEGEND);
    let rows = layout.sticks.iter().enumerate().map(|(i, stick)| {
        let left = style.length(stick.remnant);
        vec![
            (i + 1).to_string(),
            source(stick.source).to_owned(),
            style.length(stick.length),
            style.length(stick.used()),
            style.length(stick.kerf_loss() + stick.wedge_loss()),
            left,
            if stick.kept { "keep" } else { "scrap" }.to_owned(),
            pieces(stick, plan),
        ]
    });
    let header = [
        "stick", "from", "length", "used", "lost", "left", "", "pieces",
    ];
    table(out, &header, rows.collect())?;
    for (i, stick) in layout.sticks.iter().enumerate() {
        if let Some(warning) = scarce(stick, &plan.job.accuracy, style) {
            writeln!(out, "  stick {}: {warning}", i + 1)?;
        }
    }
    totals(out, layout, style)
}

fn totals(out: &mut String, layout: &StickLayout, style: Style) -> std::fmt::Result {
    let new = layout
        .sticks
        .iter()
        .filter(|stick| !stick.source.is_shelf());
    let money = match layout.priced {
        true => format!(" for {:.2}", layout.found.money),
        false => String::new(),
    };
    write!(
        out,
        "  {} to buy, {}{money}",
        counted(new.count(), "stick"),
        style.length(layout.bought()),
    )?;
    if layout.found.touched > Length::ZERO {
        write!(
            out,
            "; {} from the shelf",
            style.length(layout.found.touched)
        )?;
    }
    writeln!(out, "; wasted {}", style.length(layout.waste()))?;
    if layout.is_proven() {
        return writeln!(out, "  no layout buys less, or takes less off the shelf");
    }
    if layout.buys_least() {
        let more = layout.found.touched - layout.least.touched;
        return writeln!(
            out,
            "  no layout buys less; one might take up to {} less off the shelf",
            style.length(more.max(Length::ZERO)),
        );
    }
    writeln!(
        out,
        "  the best found; another might save up to {:.1} % of what is bought",
        layout.gap() * 100.0,
    )
}

const fn source(source: StickSource) -> &'static str {
    match source {
        StickSource::New { .. } => "new",
        StickSource::Shelf { .. } => "shelf",
        StickSource::Missing => "MISSING",
    }
}

/// Numbers of a stick's pieces; with more than one run after the run's name, once for all
/// that follow each other.
fn pieces(stick: &Stick, plan: &Plan) -> String {
    let mut words: Vec<String> = Vec::new();
    let mut last = None;
    for SawCut { drops, .. } in &stick.cuts {
        let Drops::Piece { run, piece, turned } = *drops else {
            if *drops == Drops::Wedge {
                words.push("|".to_owned());
            }
            continue;
        };
        if plan.runs.len() > 1 && last != Some(run) {
            let name = plan.runs.get(run).map_or("", |run| run.name.as_str());
            words.push(format!("{name}:"));
        }
        last = Some(run);
        words.push(format!("{piece}{}", if turned { "r" } else { "" }));
    }
    words.join(" ")
}
