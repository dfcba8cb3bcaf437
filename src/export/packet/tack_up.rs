//! The tack-up sheet.

use super::data::{CheckData, Fact, StepData, TackUpData};
use crate::export::bend_row::BendRow;
use crate::export::{marks_turn, port_line, port_sides};
use crate::plan::{FileRun, PlanFile};
use crate::run::{JointKind, Run};
use crate::shop::{Fixed, MatchMark, Origin, TackGap, TackStep, TackUp, Tape, marked_trim};
use crate::units::{Length, Style};

/// Runs of one piece have nothing to tack.
const LEAST_PIECES: usize = 2;

/// How one run is put together; nothing to do with a single piece.
pub(super) fn tack_up(plan: &PlanFile, file: &FileRun, bends: &[BendRow]) -> Option<TackUpData> {
    if file.run.pieces().len() < LEAST_PIECES {
        return None;
    }
    let style = plan.style;
    let tack_up = plan.tack_up(file);
    Some(TackUpData {
        how: how(&tack_up, file, style),
        places: places(plan, &tack_up),
        steps: tack_up
            .steps
            .iter()
            .map(|step| one(step, (file, bends), style))
            .collect(),
        close: tack_up
            .gap
            .as_ref()
            .map_or(Vec::new(), |gap| close(gap, style)),
    })
}

fn how(tack_up: &TackUp, file: &FileRun, style: Style) -> String {
    let trim = file.trim.map(|trim| marked_trim(trim, style.unit));
    let order = match &tack_up.gap {
        Some(gap) => {
            let longer = trim.map_or(String::new(), |trim| {
                format!(
                    " It is sawn {} longer than planned for that.",
                    style.length(trim)
                )
            });
            format!(
                "Tack up from both ports toward piece {}, which is left for last and cut to the gap.{longer}",
                gap.piece
            )
        }
        None => format!("Tack up in order from '{}'.", file.ports[0].name),
    };
    let sides = port_sides(tack_up).join("; ");
    let turning = if marks_turn(tack_up) {
        " Marks on a port's rim turn with the piece on it, so they do not show whether that is on at the right clock: pins do, or a second look."
    } else {
        ""
    };
    format!(
        "{order} Bring the marks of both pieces together: a mark is so far round from its own piece's long side, clockwise looking downstream. A piece that is square at both ends has none: scribe a line anywhere along it. At a port: {sides}.{turning} Then check with a tape, pulled straight, while all is tacked: the sides of a face are named from its long side. Give or take is {} standard deviations of what was built so far; the tape's own error is not in it.",
        tack_up.deviations
    )
}

/// The fixed places that the tapes are held at.
fn places(plan: &PlanFile, tack_up: &TackUp) -> Vec<Fact> {
    let mut places: Vec<Fact> = Vec::new();
    let tapes = tack_up.steps.iter().flat_map(|step| &step.tapes);
    for tape in tapes {
        let label = tape.from.words();
        if places.iter().any(|(known, _)| *known == label) {
            continue;
        }
        let at = plan.style.point(tape.from_at.into());
        let said = match &tape.from {
            Fixed::Pin(_) => format!("the pin at {at}"),
            Fixed::Rim { port, clock } => format!(
                "a mark on the tube's outside at the face of '{port}', {} from the line of the piece that is put on there; at {at}",
                plan.style.clock(*clock)
            ),
        };
        places.push((label, said));
    }
    places
}

fn one(step: &TackStep, (file, bends): (&FileRun, &[BendRow]), style: Style) -> StepData {
    StepData {
        title: title(step, file, bends),
        angle: match file.run.joints().get(step.joint).map(|joint| joint.kind) {
            Some(JointKind::Miter) => format!("bends {}", style.angle(step.deflection)),
            Some(JointKind::Square) => "square".to_owned(),
            _ => String::new(),
        },
        marks: marks(step, &file.run, style),
        checks: step.tapes.iter().map(|tape| check(tape, style)).collect(),
    }
}

fn title(step: &TackStep, file: &FileRun, bends: &[BendRow]) -> String {
    let bend = |piece: usize| match bends.iter().find(|bend| bend.piece == piece) {
        Some(bend) if bend.name.is_empty() => ", the stock bend,".to_owned(),
        Some(bend) => format!(", stock bend {},", bend.name),
        None => String::new(),
    };
    let port = &file.ports[step.origin.index()].name;
    let at_port = file
        .run
        .joints()
        .get(step.joint)
        .is_some_and(|joint| joint.kind == JointKind::Flange);
    match step.piece {
        Some(piece) if at_port => {
            format!(
                "Piece {piece}{} on '{port}', joint {}",
                bend(piece),
                step.joint
            )
        }
        Some(piece) => {
            let on = match step.origin {
                Origin::First => piece.saturating_sub(1),
                Origin::Last => piece + 1,
            };
            format!(
                "Piece {piece}{} on piece {on}, joint {}",
                bend(piece),
                step.joint
            )
        }
        None if at_port => format!("The end on '{}', joint {}", file.ports[1].name, step.joint),
        None => format!("Close joint {}", step.joint),
    }
}

/// What is brought together.
fn marks(step: &TackStep, run: &Run, style: Style) -> String {
    let mark = |mark: &MatchMark| {
        format!(
            "{} ({} round) on piece {}",
            style.clock(mark.clock),
            style.length(mark.round),
            mark.piece
        )
    };
    match (&step.marks.before, &step.marks.after) {
        (Some(_), Some(_)) if step.marks.are_together() => {
            let miter = run
                .joints()
                .get(step.joint)
                .is_some_and(|joint| joint.kind == JointKind::Miter);
            if miter {
                "Long sides together.".to_owned()
            } else {
                "Lines together.".to_owned()
            }
        }
        (Some(before), Some(after)) => {
            format!("Bring {} to {}.", mark(before), mark(after))
        }
        _ => step.port.map_or(String::new(), |port| {
            format!(
                "Turn the piece: {}, looking downstream.",
                port_line(&port, style)
            )
        }),
    }
}

fn check(tape: &Tape, style: Style) -> CheckData {
    CheckData {
        from: tape.from.words(),
        to: if tape.free {
            tape.to.word().to_owned()
        } else {
            format!("{} (through the tube)", tape.to.word())
        },
        distance: style.length(tape.distance),
        tolerance: tolerance(tape.tolerance, style),
    }
}

fn tolerance(tolerance: Length, style: Style) -> String {
    format!("± {}", style.tolerance(tolerance))
}

fn close(gap: &TackGap, style: Style) -> Vec<String> {
    let widths = gap.widths.iter().map(|width| {
        format!(
            "{} {} {}",
            width.spot.word(),
            style.length(width.distance),
            tolerance(width.tolerance, style)
        )
    });
    let widths: Vec<String> = widths.collect();
    vec![
        format!("The gap for piece {}, before it is cut", gap.piece),
        format!(
            "From end to end: {}. Sides are the piece's own, seen looking downstream.",
            widths.join("; ")
        ),
        "Measure both built ends and let 'runwright close' cut the piece to them, or cut it to the gap that is there.".to_owned(),
    ]
}
