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
    super::marks::draw(ui, session, pane);
    loose(ui, session, pane);
    tapes(ui, session, pane);
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

pub(super) fn at(session: &Session, pane: &Pane, point: &Point) -> Option<Pos2> {
    let ([x, y], _) = session.view.eye.project(point, pane)?;
    Some(pos2(x as f32, y as f32))
}

/// A text on a plate of its own.
pub(super) fn plate(ui: &Ui, at: Pos2, text: &str, size: f32, paper: Color, color: Color) -> Rect {
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
    let step = session.step_at_hand();
    let subject = step.and_then(|step| step.subject);
    let mut taken: Vec<Rect> = Vec::new();
    for (i, (placed, joints)) in run.pieces().iter().zip(run.joints().windows(2)).enumerate() {
        let is_now = subject == Some((session.run, i));
        let meets = |joint: usize| joint == i || joint == i + 1;
        if step.is_some_and(|step| !is_now && !step.joint.is_some_and(meets)) {
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
        let is_chosen = is_now || (step.is_none() && session.piece == Some(i));
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
            &session.shown.label(session.run, i),
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

/// Names of what stands by itself, and what is to be done at places of the run.
fn loose(ui: &Ui, session: &Session, pane: &Pane) {
    for piece in session.shown.loose(session.run) {
        if let Some(place) = at(session, pane, &piece.middle) {
            let paper = if piece.is_new {
                palette::CHOSEN
            } else {
                palette::PAPER
            };
            plate(ui, place, &piece.name, 16.0, paper, palette::INK);
        }
    }
    for (point, text) in session.shown.labeled(session.run) {
        if let Some(place) = at(session, pane, point) {
            let place = place + vec2(0.0, 34.0);
            plate(ui, place, text, 16.0, palette::CHOSEN_PAPER, palette::INK);
        }
    }
}

/// Tapes that are pulled in this step, each with what it reads at the end that is held, away
/// from the others.
fn tapes(ui: &Ui, session: &Session, pane: &Pane) {
    let Some(step) = session.step_at_hand() else {
        return;
    };
    let ends = step.tapes.iter().filter_map(|(from, to, text)| {
        let (from, to) = (at(session, pane, from)?, at(session, pane, to)?);
        Some((from, to, text))
    });
    let ends: Vec<(Pos2, Pos2, &String)> = ends.collect();
    let count = (2 * ends.len()).max(1) as f32;
    let sum = ends.iter().fold(egui::Vec2::ZERO, |sum, (a, b, _)| {
        sum + a.to_vec2() + b.to_vec2()
    });
    let middle = (sum / count).to_pos2();
    for (from, to, _) in &ends {
        let painter = ui.painter();
        painter.line_segment([*from, *to], Stroke::new(6.0, ink(palette::PAPER)));
        painter.line_segment([*from, *to], Stroke::new(3.0, ink(palette::MEASURED)));
        for end in [*from, *to] {
            painter.circle_filled(end, 4.5, ink(palette::MEASURED));
        }
    }
    let seen = Rect::from_min_size(
        pos2(pane.x as f32, pane.y as f32),
        vec2(pane.width as f32, pane.height as f32),
    );
    let seen = seen.shrink(50.0);
    let mut taken: Vec<Rect> = Vec::new();
    for (from, to, text) in &ends {
        let mut away = (*from - middle).normalized() * 40.0;
        if away == egui::Vec2::ZERO {
            away = vec2(0.0, 40.0);
        }
        let mut place = *from + away;
        if !seen.contains(place) {
            // Held out of view: beside the face, then.
            place = *to + (*from - *to).normalized() * 75.0;
        }
        // Below those that are there already.
        while taken
            .iter()
            .any(|rect| rect.expand2(vec2(40.0, 11.0)).contains(place))
        {
            place.y += 6.0;
        }
        taken.push(plate(
            ui,
            place,
            text,
            15.5,
            palette::PAPER,
            palette::MEASURED,
        ));
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
