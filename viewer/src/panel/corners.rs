//! Corners of the route, to be dragged.

use super::desk::Desk;
use super::look::ink;
use crate::eye::Pane;
use crate::palette;
use crate::state::Session;
use egui::{Align2, FontId, PointerButton, Pos2, Response, Shape, Stroke, Ui, pos2, vec2};
use kiss3d::egui;
use runwright::geometry::Point;

/// How near, in points, the pointer must be to take hold.
const REACH: f32 = 16.0;

/// Takes hold, drags and lets go; whether a corner is held.
pub fn drag(
    ui: &Ui,
    session: &mut Session,
    desk: &mut Desk,
    pane: &Pane,
    response: &Response,
) -> bool {
    let pointer = ui.input(|input| input.pointer.press_origin());
    if response.drag_started_by(PointerButton::Primary) {
        let near = session.corners().into_iter().find(|corner| {
            let seen = place(session, pane, &corner.at);
            seen.zip(pointer)
                .is_some_and(|(seen, pointer)| seen.distance(pointer) <= REACH)
        });
        desk.held = near;
    }
    let Some(held) = desk.held else { return false };
    if response.dragged_by(PointerButton::Primary)
        && let Some(pointer) = response.interact_pointer_pos()
    {
        let to =
            session
                .view
                .eye
                .on_plane([f64::from(pointer.x), f64::from(pointer.y)], &held.at, pane);
        session.drag_corner(held, to);
    }
    if response.drag_stopped() {
        desk.held = None;
        session.drop_corner();
    }
    true
}

fn place(session: &Session, pane: &Pane, point: &Point) -> Option<Pos2> {
    let ([x, y], _) = session.view.eye.project(point, pane)?;
    Some(pos2(x as f32, y as f32))
}

/// Draws the corners, and the route that is being dragged.
pub fn draw(ui: &Ui, session: &Session, desk: &mut Desk, pane: &Pane) {
    let pointer = ui.input(|input| input.pointer.hover_pos());
    let corners = session.corners();
    for corner in &corners {
        let Some(seen) = place(session, pane, &corner.at) else {
            continue;
        };
        desk.mark(
            format!("corner {}", corner.index + 1),
            egui::Rect::from_center_size(seen, vec2(2.0, 2.0)),
        );
        let is_near = pointer.is_some_and(|pointer| seen.distance(pointer) <= REACH);
        let size = if is_near { 11.0 } else { 9.0 };
        let diamond = [
            vec2(0.0, -size),
            vec2(size, 0.0),
            vec2(0.0, size),
            vec2(-size, 0.0),
        ];
        let points = diamond.iter().map(|to| seen + *to).collect();
        let fill = if is_near {
            palette::CHOSEN
        } else {
            palette::PAPER
        };
        ui.painter().add(Shape::convex_polygon(
            points,
            ink(fill),
            Stroke::new(2.0, ink(palette::INK)),
        ));
    }
    if corners.is_empty() {
        let at = pos2(
            (pane.x + pane.width / 2.0) as f32,
            (pane.y + pane.height - 30.0) as f32,
        );
        ui.painter().text(
            at,
            Align2::CENTER_CENTER,
            "This route has no corner that could be moved.",
            FontId::proportional(16.0),
            ink(palette::INK),
        );
    }
    if let Some(drag) = &session.drag {
        route(ui, session, pane, drag);
    }
}

fn route(ui: &Ui, session: &Session, pane: &Pane, drag: &crate::state::Drag) {
    let color = if drag.result.is_ok() {
        palette::ACTION
    } else {
        palette::WRONG
    };
    let corners = drag.route.bends.iter().map(|bend| bend.corner);
    let line: Vec<Point> = match &drag.result {
        Ok(candidate) => candidate.run.centerline().points().to_vec(),
        Err(_) => std::iter::once(drag.route.start)
            .chain(corners)
            .chain([drag.route.end])
            .collect(),
    };
    let seen: Vec<Pos2> = line
        .iter()
        .filter_map(|point| place(session, pane, point))
        .collect();
    ui.painter().add(Shape::line(
        seen.clone(),
        Stroke::new(7.0, ink(palette::PAPER)),
    ));
    ui.painter()
        .add(Shape::line(seen, Stroke::new(4.0, ink(color))));
    let said = match &drag.result {
        Ok(candidate) => format!(
            "can be built: {}, {:.0} min; let go to plan through here",
            session.shown.style().length(candidate.run.length()),
            candidate.cost.minutes,
        ),
        Err(why) => format!("as dragged: {why}; let go to have the nearest run planned"),
    };
    let at = pos2(
        (pane.x + pane.width / 2.0) as f32,
        (pane.y + pane.height - 28.0) as f32,
    );
    let galley = ui
        .painter()
        .layout_no_wrap(said, FontId::proportional(16.0), ink(color));
    let rect = egui::Rect::from_center_size(at, galley.size() + vec2(16.0, 8.0));
    ui.painter().rect_filled(rect, 5.0, ink(palette::PAPER));
    ui.painter()
        .galley(rect.min + vec2(8.0, 4.0), galley, ink(color));
}
