//! What is written over the picture: numbers of pieces, names of ports, distances.

use super::desk::Desk;
use super::look::ink;
use crate::eye::Pane;
use crate::palette::{self, Color};
use crate::scene::{Stage, ports as ports_of};
use crate::state::Session;
use egui::{Align2, FontId, Pos2, Rect, Stroke, Ui, pos2, vec2};
use kiss3d::egui;
use runwright::geometry::{Point, Vector};

/// The part of the picture that no tool covers.
pub fn free(pane: &Pane, tools: f64) -> Pane {
    Pane {
        y: pane.y + tools,
        height: (pane.height - tools).max(1.0),
        ..*pane
    }
}

/// How far the target goes so that what is fitted into [`free`] is in its middle.
pub fn shift(session: &Session, pane: &Pane, tools: f64) -> Vector {
    let eye = &session.view.eye;
    let [x, y] = pane.center();
    let there = eye.on_plane([x, y - tools / 2.0], &eye.target, pane);
    there - eye.target
}

/// Writes them.
pub fn draw(ui: &Ui, session: &Session, stage: &Stage, desk: &mut Desk, pane: &Pane) {
    pieces(ui, session, stage, desk, pane);
    ports(ui, session, pane);
    if session.step.is_none() {
        tightest(ui, session, pane);
    }
    long_side(ui, session, pane);
    measured(ui, session, pane);
    axes(ui, session, pane);
    if session.shown.count() == 0 && stage.bodies.list.is_empty() {
        let at = pos2(
            (pane.x + pane.width / 2.0) as f32,
            (pane.y + pane.height / 2.0) as f32,
        );
        let text = match (session.is_busy(), &session.document) {
            (true, _) => "planning …",
            (false, Some(_)) => "no run yet: see on the left what is to be put right",
            (false, None) => "drop a job here, or press Open",
        };
        ui.painter().text(
            at,
            Align2::CENTER_CENTER,
            text,
            FontId::proportional(24.0),
            ink(palette::SOFT_INK),
        );
    }
}

fn at(session: &Session, pane: &Pane, point: &Point) -> Option<Pos2> {
    let ([x, y], _) = session.view.eye.project(point, pane)?;
    Some(pos2(x as f32, y as f32))
}

/// A text on a plate of its own.
fn plate(ui: &Ui, at: Pos2, text: &str, size: f32, paper: Color, color: Color) -> Rect {
    let galley =
        ui.painter()
            .layout_no_wrap(text.to_owned(), FontId::proportional(size), ink(color));
    let rect = Rect::from_center_size(at, galley.size() + vec2(12.0, 5.0));
    ui.painter().rect_filled(rect, 5.0, ink(paper));
    ui.painter().rect_stroke(
        rect,
        5.0,
        Stroke::new(1.0, ink(palette::FRAME)),
        egui::StrokeKind::Inside,
    );
    ui.painter()
        .galley(rect.min + vec2(6.0, 2.5), galley, ink(color));
    rect
}

fn pieces(ui: &Ui, session: &Session, stage: &Stage, desk: &mut Desk, pane: &Pane) {
    let Some(run) = session.shown.run(session.run) else {
        return;
    };
    let count = run.pieces().len();
    let now = session.step.map(|step| step % count.max(1));
    let mut taken: Vec<Rect> = Vec::new();
    for (i, (placed, joints)) in run.pieces().iter().zip(run.joints().windows(2)).enumerate() {
        if now.is_some_and(|now| now != i) {
            continue;
        }
        let middle = match placed.arc {
            Some(arc) => arc.at(arc.turn() / 2.0).0,
            None => nalgebra::center(&joints[0].plane.point, &joints[1].plane.point),
        };
        if session
            .view
            .section
            .is_some_and(|section| !section.leaves(&middle, stage.extent()))
        {
            continue;
        }
        let Some(place) = at(session, pane, &middle) else {
            continue;
        };
        // Where a click meets this piece.
        desk.mark(
            format!("in picture {}", i + 1),
            Rect::from_center_size(place, vec2(2.0, 2.0)),
        );
        let is_chosen = session.piece == Some(i) || now.is_some();
        if taken.iter().any(|rect| rect.distance_to_pos(place) < 13.0) && !is_chosen {
            continue;
        }
        let (paper, size) = if is_chosen {
            (palette::CHOSEN, 19.0)
        } else {
            (palette::PAPER, 15.0)
        };
        taken.push(plate(
            ui,
            place,
            &(i + 1).to_string(),
            size,
            paper,
            palette::INK,
        ));
    }
}

fn ports(ui: &Ui, session: &Session, pane: &Pane) {
    for port in ports_of(session) {
        let radius = session
            .shown
            .run(session.run)
            .map_or(20.0, |run| run.tube().radius().mm());
        let back = port.center - port.outward.into_inner() * (radius * 0.9);
        if let Some(place) = at(session, pane, &back) {
            plate(ui, place, &port.name, 15.0, palette::PORT, palette::PAPER);
        }
    }
}

fn tightest(ui: &Ui, session: &Session, pane: &Pane) {
    if !session.view.tightest || session.view.hide_scene {
        return;
    }
    let Some((place, name)) = session
        .nearness
        .as_ref()
        .and_then(|nearness| nearness.tightest())
    else {
        return;
    };
    let (Some(a), Some(b)) = (
        at(session, pane, &place.on_part),
        at(session, pane, &place.on_obstacle),
    ) else {
        return;
    };
    let text = format!("{} to {name}", session.shown.style().length(place.clear));
    dimension(ui, a, b, &text, palette::TIGHT);
}

/// A line between two places with what it measures.
fn dimension(ui: &Ui, a: Pos2, b: Pos2, text: &str, color: Color) {
    let painter = ui.painter();
    painter.line_segment([a, b], Stroke::new(6.0, ink(palette::PAPER)));
    painter.line_segment([a, b], Stroke::new(3.0, ink(color)));
    for end in [a, b] {
        painter.circle_filled(end, 5.5, ink(palette::PAPER));
        painter.circle_filled(end, 4.0, ink(color));
    }
    let middle = a + (b - a) * 0.5;
    let away = if (b - a).length() > 90.0 {
        vec2(0.0, -16.0)
    } else {
        vec2(0.0, 26.0)
    };
    plate(ui, middle + away, text, 15.5, palette::PAPER, color);
}

fn measured(ui: &Ui, session: &Session, pane: &Pane) {
    let style = session.shown.style();
    for (a, b, length) in session.view.measure.distances() {
        if let (Some(from), Some(to)) = (at(session, pane, &a), at(session, pane, &b)) {
            let parts = style.point((b - a).abs().into());
            dimension(
                ui,
                from,
                to,
                &format!("{}  {}", style.length(length), style.decimal(length)),
                palette::MEASURED,
            );
            let below = from
                + (to - from) * 0.5
                + vec2(
                    0.0,
                    if (to - from).length() > 90.0 {
                        14.0
                    } else {
                        54.0
                    },
                );
            plate(
                ui,
                below,
                &format!("along x, y, z: {parts}"),
                13.0,
                palette::PAPER,
                palette::SOFT_INK,
            );
        }
    }
    if session.view.measure.points.len() % 2 == 1
        && let Some(place) = session
            .view
            .measure
            .points
            .last()
            .and_then(|point| at(session, pane, point))
    {
        ui.painter().circle_filled(place, 6.0, ink(palette::PAPER));
        ui.painter()
            .circle_filled(place, 4.5, ink(palette::MEASURED));
        plate(
            ui,
            place + vec2(0.0, 24.0),
            "to where?",
            14.0,
            palette::PAPER,
            palette::MEASURED,
        );
    }
}

/// The line along the long side of the piece at hand: where clocks are counted from.
fn long_side(ui: &Ui, session: &Session, pane: &Pane) {
    let Some(run) = session.shown.run(session.run) else {
        return;
    };
    let count = run.pieces().len().max(1);
    let Some(i) = session.step.map(|step| step % count).or(session.piece) else {
        return;
    };
    let (Some(placed), Some(joint)) = (run.pieces().get(i), run.joints().get(i)) else {
        return;
    };
    if placed.arc.is_some() {
        return;
    }
    let out = placed.zero.into_inner() * (run.tube().radius().mm() * 1.01);
    let from = joint.plane.point + out;
    let to = from + placed.axis.into_inner() * placed.edge.mm();
    // On the far side it would be seen through the tube.
    if out.dot(&session.view.eye.axes()[0]) < 0.0 {
        return;
    }
    if let (Some(a), Some(b)) = (at(session, pane, &from), at(session, pane, &to)) {
        ui.painter()
            .line_segment([a, b], Stroke::new(2.5, ink(palette::INK)));
        ui.painter().text(
            b + vec2(6.0, 0.0),
            Align2::LEFT_CENTER,
            "0°",
            FontId::proportional(15.0),
            ink(palette::INK),
        );
    }
}

/// Which way the job's axes point.
fn axes(ui: &Ui, session: &Session, pane: &Pane) {
    let middle = pos2((pane.x + 52.0) as f32, (pane.y + pane.height - 52.0) as f32);
    let [_, right, up] = session.view.eye.axes();
    for (axis, name) in [Vector::x(), Vector::y(), Vector::z()]
        .iter()
        .zip(["x", "y", "z"])
    {
        let tip = vec2(axis.dot(&right) as f32, -axis.dot(&up) as f32) * 30.0;
        ui.painter()
            .line_segment([middle, middle + tip], Stroke::new(2.5, ink(palette::INK)));
        ui.painter().text(
            middle + tip * 1.35,
            Align2::CENTER_CENTER,
            name,
            FontId::proportional(15.0),
            ink(palette::INK),
        );
    }
}
