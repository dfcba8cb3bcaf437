//! Marks on the pieces: where their clocks are counted from, and what meets at a joint.

use super::labels::{at, plate};
use super::look::ink;
use crate::eye::Pane;
use crate::palette;
use crate::state::Session;
use egui::{Stroke, Ui, vec2};
use kiss3d::egui;
use runwright::geometry::{Point, Vector};
use runwright::run::Run;
use runwright::shop::MatchMark;
use runwright::units::Angle;

/// Length of a mark along its piece, in radii of the tube.
const MARK: f64 = 1.1;
/// How far marks stand off the tube, as a part of its radius, so that it does not hide them.
const OFF: f64 = 1.012;

/// A mark as a line on the tube's outside, from the joint on along its piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MarkLine {
    /// At the joint.
    pub from: Point,
    /// Along the piece.
    pub to: Point,
    /// Out of the tube.
    pub side: Vector,
}

/// Where a mark stands: on the outside of its piece where the joint's plane cuts it.
pub fn mark_line(run: &Run, joint: usize, mark: &MatchMark) -> Option<MarkLine> {
    let index = mark.piece.checked_sub(1)?;
    let placed = run.pieces().get(index)?;
    let plane = run.joints().get(joint)?.plane;
    let (axis, onto) = if joint == index {
        (placed.axis.into_inner(), 1.0)
    } else {
        (placed.end_axis().into_inner(), -1.0)
    };
    let radius = run.tube().radius().mm();
    let side = mark.side.into_inner();
    let out = side * (radius * OFF);
    let lean = plane.normal.dot(&axis);
    let along = axis * (plane.normal.dot(&out) / lean);
    let from = plane.point + out - along;
    let length = (radius * MARK).min(placed.edge.mm() * 0.6);
    Some(MarkLine {
        from,
        to: from + axis * (onto * length),
        side,
    })
}

/// Draws those of the joint at hand, or of both joints of the piece that is chosen.
pub fn draw(ui: &Ui, session: &Session, pane: &Pane) {
    let Some(run) = session.shown.run(session.run) else {
        return;
    };
    let step = session.step_at_hand();
    let piece = match step {
        Some(step) => step
            .subject
            .and_then(|(own, piece)| (own == session.run).then_some(piece)),
        None => session.piece,
    };
    let joint = step.and_then(|step| step.joint);
    for line in [joint.and_then(|joint| joint.checked_sub(1)), joint, piece] {
        long_side(ui, session, pane, run, line);
    }
    let joints = match (step, joint, piece) {
        (_, Some(joint), _) => joint..joint + 1,
        (None, None, Some(piece)) => piece..piece + 2,
        _ => return,
    };
    let Some(tack_up) = session.shown.tack_up(session.run) else {
        return;
    };
    for tack in tack_up
        .steps
        .iter()
        .filter(|tack| joints.contains(&tack.joint))
    {
        let own = |mark: &&MatchMark| joint.is_some() || piece == Some(mark.piece - 1);
        let marks = [&tack.marks.before, &tack.marks.after];
        for mark in marks.into_iter().flatten().filter(own) {
            if let Some(line) = mark_line(run, tack.joint, mark) {
                let name = session.shown.label(session.run, mark.piece - 1);
                let text = if mark.clock == Angle::ZERO && step.is_none() {
                    // Its line says that already.
                    String::new()
                } else if mark.clock == Angle::ZERO {
                    format!("{name}: its line")
                } else {
                    format!("{name}: {}", session.shown.style().clock(mark.clock))
                };
                show(ui, session, pane, &line, &text);
            }
        }
    }
}

fn show(ui: &Ui, session: &Session, pane: &Pane, line: &MarkLine, text: &str) {
    let (Some(a), Some(b)) = (at(session, pane, &line.from), at(session, pane, &line.to)) else {
        return;
    };
    let is_near = faces(session, &line.from, &line.side);
    let painter = ui.painter();
    if is_near {
        painter.line_segment([a, b], Stroke::new(7.0, ink(palette::PAPER)));
        painter.line_segment([a, b], Stroke::new(4.0, ink(palette::TIGHT)));
        painter.circle_filled(a, 5.0, ink(palette::TIGHT));
    } else {
        // On the far side: seen through the tube.
        painter.line_segment([a, b], Stroke::new(1.5, ink(palette::TIGHT)));
    }
    if text.is_empty() {
        return;
    }
    let away = (b - a).normalized() * 26.0;
    let text = if is_near {
        text.to_owned()
    } else {
        format!("{text}, behind")
    };
    let paper = palette::PAPER;
    plate(
        ui,
        b + away + vec2(0.0, 2.0),
        &text,
        15.0,
        paper,
        palette::TIGHT,
    );
}

/// Whether a side of the tube is turned to the eye.
fn faces(session: &Session, point: &Point, side: &Vector) -> bool {
    let eye = &session.view.eye;
    let toward = if eye.parallel {
        eye.axes()[0]
    } else {
        eye.place() - point
    };
    side.dot(&toward) > 0.0
}

/// The line along the long side of a piece: where its clocks are counted from.
fn long_side(ui: &Ui, session: &Session, pane: &Pane, run: &Run, piece: Option<usize>) {
    let Some(i) = piece else { return };
    let (Some(placed), Some(joint)) = (run.pieces().get(i), run.joints().get(i)) else {
        return;
    };
    if placed.arc.is_some() {
        return;
    }
    let out = placed.zero.into_inner() * (run.tube().radius().mm() * OFF);
    let from = joint.plane.point + out;
    // On the far side it would be seen through the tube.
    if !faces(session, &from, &out) {
        return;
    }
    let to = from + placed.axis.into_inner() * placed.edge.mm();
    if let (Some(a), Some(b)) = (at(session, pane, &from), at(session, pane, &to)) {
        ui.painter()
            .line_segment([a, b], Stroke::new(2.5, ink(palette::INK)));
        ui.painter().text(
            a + (b - a) * 0.5 + vec2(6.0, 0.0),
            egui::Align2::LEFT_CENTER,
            "0°",
            egui::FontId::proportional(15.0),
            ink(palette::INK),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::job::read_job;
    use runwright::plan::plan;

    /// Marks that are to meet do: both begin at one place of the joint, on the outside of
    /// both tubes, and run along their own.
    #[test]
    fn marks_meet_at_their_joint() {
        for text in [
            include_str!("../../../examples/stack.json"),
            include_str!("../../../examples/duct.json"),
            include_str!("../../../examples/bay.json"),
        ] {
            let plan = plan(&read_job(text.as_bytes(), "job").job.unwrap()).unwrap();
            let run = plan.runs[0].run();
            let radius = run.tube().radius().mm() * OFF;
            for tack in &plan.runs[0].tack_up.steps {
                let marks = [tack.marks.before, tack.marks.after];
                let lines = marks.map(|mark| Some(mark_line(run, tack.joint, &mark?).unwrap()));
                if let [Some(a), Some(b)] = lines {
                    assert!((a.from - b.from).norm() < 1e-6, "joint {}", tack.joint);
                }
                let center = run.joints()[tack.joint].plane.point;
                for line in lines.into_iter().flatten() {
                    let along = (line.to - line.from).normalize();
                    let off = line.from - center;
                    let square = off - along * off.dot(&along);
                    assert!((square.norm() - radius).abs() < 1e-6);
                    assert!(square.normalize().dot(&line.side) > 1.0 - 1e-9);
                }
            }
        }
    }
}
