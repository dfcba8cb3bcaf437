//! What `sheet.txt` says of putting a run together, and of its weld seams.

use super::text::table;
use crate::export::{marks_turn, port_sides};
use crate::plan::PlannedRun;
use crate::run::Port;
use crate::shop::{MatchMark, Origin, SeamPlan, TackStep, Tape};
use crate::units::{Angle, Length, Style};
use std::fmt::Write;

/// The seam's line under the saw's table.
pub(super) fn seams(
    out: &mut String,
    plan: &SeamPlan,
    circumference: Length,
    style: Style,
) -> std::fmt::Result {
    let Some(worst) = &plan.worst else {
        return Ok(());
    };
    let sticks = plan.sticks();
    for (stick, offset) in &sticks {
        // From the seam to the line that is scribed: the other way round.
        let line = -*offset;
        let of = match sticks.len() {
            1 => String::new(),
            _ => format!("of stick {} ", stick + 1),
        };
        writeln!(
            out,
            "  SEAM  scribe the line {of}{} clockwise from the weld seam ({} with a tape round the tube): seams then",
            style.clock(line),
            style.length(circumference * (line.wrapped() / Angle::FULL)),
        )?;
    }
    writeln!(
        out,
        "  keep {} or more off the inside and outside of every bend (piece {} at joint {} least){}",
        style.angle(worst.margin),
        worst.piece,
        worst.joint,
        turned(plan),
    )
}

fn turned(plan: &SeamPlan) -> String {
    let turned = plan.pieces.iter().filter(|seam| seam.turned);
    let numbers: Vec<String> = turned.map(|seam| seam.number.to_string()).collect();
    if numbers.is_empty() {
        return String::new();
    }
    format!("; turn end for end: {}", numbers.join(", "))
}

/// The section of one run.
pub(super) fn tack_up(
    out: &mut String,
    planned: &PlannedRun,
    ports: [&Port; 2],
    style: Style,
) -> std::fmt::Result {
    let tack_up = &planned.tack_up;
    writeln!(
        out,
        "\n  TACK UP in this order. Bring the marks of both pieces together: clocks from each piece's own"
    )?;
    writeln!(
        out,
        "  long side, clockwise looking downstream, and round the outside with a tape. A piece that is square"
    )?;
    writeln!(
        out,
        "  at both ends has none: scribe a line anywhere along it. On a port clocks go from the port's own"
    )?;
    writeln!(out, "  side to the piece's line:")?;
    for side in port_sides(tack_up) {
        writeln!(out, "    {side}")?;
    }
    let rows = tack_up.steps.iter().map(|step| row(step, ports, style));
    let header = [
        "joint", "put on", "from", "mark", "round", "meets", "round", "bend",
    ];
    table(out, &header, rows.collect())?;
    writeln!(
        out,
        "  A TAPE THEN READS, straight to the newest face while all is tacked (± {} standard deviations):",
        tack_up.deviations,
    )?;
    if marks_turn(tack_up) {
        writeln!(
            out,
            "  (degrees at a port are marks on its rim, counted from the line of the piece on it. They turn with that piece:"
        )?;
        writeln!(
            out,
            "  that it is on at the right clock shows from pins alone, so give the job three pins or more, or check it twice)"
        )?;
    }
    for step in tack_up.steps.iter().filter(|step| !step.tapes.is_empty()) {
        let tapes: Vec<String> = step.tapes.iter().map(|tape| words(tape, style)).collect();
        let piece = step.piece.unwrap_or_default();
        writeln!(out, "    piece {piece}: {}", tapes.join("; "))?;
    }
    if let Some(gap) = &tack_up.gap {
        let widths = gap.widths.iter().map(|width| {
            let distance = style.length(width.distance);
            let tolerance = style.tolerance(width.tolerance);
            format!("{} {distance} ±{tolerance}", width.spot.word())
        });
        let widths: Vec<String> = widths.collect();
        writeln!(
            out,
            "    gap for piece {}: {}",
            gap.piece,
            widths.join("; ")
        )?;
    }
    Ok(())
}

fn row(step: &TackStep, ports: [&Port; 2], style: Style) -> Vec<String> {
    let mark = |mark: Option<MatchMark>| match mark {
        Some(mark) => [
            format!("{}: {}", mark.piece, style.clock(mark.clock)),
            style.length(mark.round),
        ],
        None => match &step.port {
            Some(port) => [
                format!("{}: {}", port.from.word(), style.clock(port.clock)),
                style.length(port.round),
            ],
            None => ["port".to_owned(), String::new()],
        },
    };
    let [before, before_round] = mark(step.marks.before);
    let [after, after_round] = mark(step.marks.after);
    let put_on = match step.piece {
        Some(piece) => format!("piece {piece}"),
        None => "close".to_owned(),
    };
    let from = match step.origin {
        Origin::First => ports[0],
        Origin::Last => ports[1],
    };
    vec![
        step.joint.to_string(),
        put_on,
        from.name.clone(),
        before,
        before_round,
        after,
        after_round,
        match step.deflection > Angle::ZERO {
            true => style.angle(step.deflection),
            false => "–".to_owned(),
        },
    ]
}

fn words(tape: &Tape, style: Style) -> String {
    format!(
        "{} to {} {} ±{}{}",
        tape.from.words(),
        tape.to.word(),
        style.length(tape.distance),
        style.tolerance(tape.tolerance),
        if tape.free { "" } else { " (through the tube)" },
    )
}
