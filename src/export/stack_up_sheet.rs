//! What `sheet.txt` says of how far off a run may end, and of the piece to leave for
//! last.

use crate::job::Job;
use crate::plan::PlannedRun;
use crate::run::Port;
use crate::shop::{Accuracy, Closing, StackUp};
use crate::units::{Length, Style, line_text};
use std::fmt::Write;

/// Causes that are named one by one.
const NAMED: usize = 3;

/// Parts that are less than this are not worth a word.
const LEAST_PART: f64 = 0.005;

/// What trims are rounded up to: what is marked at a glance.
const TRIM_STEPS: [Length; 2] = [Length::from_mm(1.0), Length::from_inches(1.0 / 16.0)];

/// Part of a step by which a trim may pass it and still be taken as that step: rounding.
const ROUNDING: f64 = 1e-6;

/// The section of one run.
pub(super) fn stack_up(
    out: &mut String,
    planned: &PlannedRun,
    [start, end]: [&Port; 2],
    job: &Job,
) -> std::fmt::Result {
    let (stack_up, style) = (&planned.stack_up, job.style);
    if stack_up.shares.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n  HOW FAR OFF IT MAY END at '{}', tacked up in order from '{}'.",
        end.name, start.name
    )?;
    writeln!(
        out,
        "  Along each line two builds in three end within this; one in twenty is off by more than twice."
    )?;
    gap(out, stack_up, style)?;
    causes(out, stack_up, style)?;
    ports(out, stack_up, style)?;
    taken(out, &job.accuracy, style)?;
    match &stack_up.closing {
        Some(closing) => {
            closure(out, closing, planned, style)?;
            others(out, closing, stack_up, style)
        }
        None if planned.run().pieces().len() == 1 => writeln!(
            out,
            "  One piece: cut it longer than listed, and trim it to both ends."
        ),
        None => writeln!(
            out,
            "  No piece is long enough to be left for last and cut to fit: leave a flange loose."
        ),
    }
}

/// The ellipsoid and the leans.
fn gap(out: &mut String, stack_up: &StackUp, style: Style) -> std::fmt::Result {
    for (size, direction) in stack_up.gap.ellipsoid() {
        let (size, toward) = (style.decimal(size), line_text(direction.into_inner()));
        writeln!(out, "    {size:>9} {toward}")?;
    }
    let [most, least] = stack_up.gap.leans(&stack_up.axis);
    writeln!(
        out,
        "    {:>9} between the faces, leaning {}; {} square to that",
        style.angle(most.0),
        line_text(most.1.into_inner()),
        style.angle(least.0),
    )
}

/// What makes it so.
fn causes(out: &mut String, stack_up: &StackUp, style: Style) -> std::fmt::Result {
    let first = stack_up.shares.iter().take(NAMED);
    let first: Vec<String> = first
        .map(|share| named(&share.cause.words(style), share.fraction))
        .collect();
    writeln!(out, "  most of it: {}", first.join(", "))?;
    let kinds = stack_up.kinds();
    let kinds = kinds.iter().filter(|(_, fraction)| *fraction >= LEAST_PART);
    let kinds: Vec<String> = kinds.map(|(words, part)| named(words, *part)).collect();
    writeln!(out, "  by kind: {}", kinds.join(", "))
}

fn named(words: &str, fraction: f64) -> String {
    format!("{words} ({:.0} %)", fraction * 100.0)
}

/// How much the making alone would leave, where ports count.
fn ports(out: &mut String, stack_up: &StackUp, style: Style) -> std::fmt::Result {
    if stack_up.gap == stack_up.built {
        return Ok(());
    }
    writeln!(
        out,
        "  were both ports exactly known, {} at worst",
        style.decimal(stack_up.built.ellipsoid()[0].0),
    )
}

/// What it rests on.
fn taken(out: &mut String, accuracy: &Accuracy, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "  taken: saw cuts good to {}, settings {}, lengths {}, clocks {}, stock bends {}",
        style.angle(accuracy.cut),
        style.angle(accuracy.setting),
        style.decimal(accuracy.length),
        style.angle(accuracy.clock),
        style.angle(accuracy.bend),
    )
}

fn closure(
    out: &mut String,
    closing: &Closing,
    planned: &PlannedRun,
    style: Style,
) -> std::fmt::Result {
    let number = closing.piece;
    let trim = rounded_up(closing.trim, style);
    let long = planned.run().pieces()[number - 1].piece.long_side() + trim;
    let rows = &planned.saw.steps;
    let feed = rows.iter().find(|step| step.piece == number);
    let feed = feed.map_or(Length::ZERO, |step| step.feed);
    writeln!(
        out,
        "  LEAVE PIECE {number} FOR LAST and cut it {} longer than listed: at its row feed {} in place of",
        style.length(trim),
        style.length(feed + trim),
    )?;
    writeln!(
        out,
        "  {} (long side {}, stick {} in all); every other row stays. Tack up what comes before it",
        style.length(feed),
        style.length(long),
        style.length(planned.saw.stick() + trim),
    )?;
    writeln!(
        out,
        "  from the first port and what comes after it from the last, then cut piece {number} to the gap that is"
    )?;
    writeln!(
        out,
        "  left. The extra is for three deviations along the piece; what is off sideways goes into its end"
    )?;
    writeln!(
        out,
        "  cuts, some {} off those listed.",
        style.angle(closing.askew[0].max(closing.askew[1])),
    )?;
    if closing.trim_by_making < closing.trim {
        let making = style.length(rounded_up(closing.trim_by_making, style));
        writeln!(out, "  Were both ports exactly known, {making} would do.")?;
    }
    Ok(())
}

/// Other pieces that could be left, and why not.
fn others(out: &mut String, taken: &Closing, stack_up: &StackUp, style: Style) -> std::fmt::Result {
    let others = stack_up.could_close.iter();
    let mut others: Vec<&Closing> = others.filter(|other| other.piece != taken.piece).collect();
    if others.is_empty() {
        return Ok(());
    }
    others.sort_by(|a, b| a.worse().radians().total_cmp(&b.worse().radians()));
    writeln!(out, "  Of the others, those that stand least askew:")?;
    for other in others.into_iter().take(NAMED) {
        let short = if other.left > Length::ZERO {
            format!("keeps {} of short side", style.decimal(other.left))
        } else {
            "may come out too short to hold".to_owned()
        };
        let askew = style.angle(other.worse());
        writeln!(out, "    piece {}: {askew} askew, {short}", other.piece)?;
    }
    Ok(())
}

/// The next step that is no less.
pub(in crate::export) fn rounded_up(length: Length, style: Style) -> Length {
    let step = TRIM_STEPS[usize::from(style.unit.is_imperial())];
    step * (length / step - ROUNDING).ceil().max(0.0)
}
