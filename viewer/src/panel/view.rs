//! The picture itself: turning it, choosing in it, and what is written over it.

use super::desk::{Desk, Wanted};
use super::{corners, labels};
use crate::eye::Pane;
use crate::scene::{Part, Stage, pick};
use crate::state::{Session, Tool};
use egui::{Area, Context, Id, Order, PointerButton, Rect, Response, Sense};
use kiss3d::egui;

/// How much one notch of the wheel goes nearer.
const NOTCH: f64 = 0.0022;

/// Takes in what is done in the picture, and writes over it.
pub fn draw(
    ctx: &Context,
    session: &mut Session,
    stage: &Stage,
    desk: &mut Desk,
    picture: Rect,
    pane: &Pane,
) {
    let area = Area::new(Id::new("picture"))
        .fixed_pos(picture.min)
        .order(Order::Background)
        .constrain(false);
    area.show(ctx, |ui| {
        ui.set_clip_rect(picture);
        let response = ui.allocate_rect(picture, Sense::click_and_drag());
        desk.mark("picture", picture);
        see(session, stage, desk, pane);
        let is_held =
            session.view.tool == Tool::Corners && corners::drag(ui, session, desk, pane, &response);
        if !is_held {
            turn(session, pane, &response);
            click(session, stage, pane, &response);
        }
        labels::draw(ui, session, stage, desk, pane);
        if session.view.tool == Tool::Corners {
            corners::draw(ui, session, desk, pane);
        }
    });
}

/// What was asked for of the eye.
fn see(session: &mut Session, stage: &Stage, desk: &mut Desk, pane: &Pane) {
    let wanted = desk.wanted.take();
    if let Some(Wanted::Look(side)) = &wanted {
        session.view.eye.look_from(*side);
    }
    if (wanted.is_some() || session.view.wants_fit) && !stage.bodies.list.is_empty() {
        session
            .view
            .eye
            .fit(stage.bodies.bounds, &labels::free(pane, desk.tools));
        session.view.eye.target += labels::shift(session, pane, desk.tools);
        session.view.wants_fit = false;
    }
}

fn turn(session: &mut Session, pane: &Pane, response: &Response) {
    let moved = response.drag_delta();
    let (dx, dy) = (f64::from(moved.x), f64::from(moved.y));
    let eye = &mut session.view.eye;
    if response.dragged_by(PointerButton::Primary) {
        eye.turn(dx, dy);
    } else if response.dragged_by(PointerButton::Secondary)
        || response.dragged_by(PointerButton::Middle)
    {
        eye.pan(dx, dy, pane);
    }
    if let Some(at) = response.hover_pos() {
        let wheel = response.ctx.input(|input| input.smooth_scroll_delta().y);
        if wheel != 0.0 {
            eye.zoom(
                (-f64::from(wheel) * NOTCH).exp(),
                [f64::from(at.x), f64::from(at.y)],
                pane,
            );
        }
    }
}

fn click(session: &mut Session, stage: &Stage, pane: &Pane, response: &Response) {
    if !response.clicked() {
        return;
    }
    let Some(at) = response.interact_pointer_pos() else {
        return;
    };
    let (from, along) = session
        .view
        .eye
        .ray([f64::from(at.x), f64::from(at.y)], pane);
    let view = &session.view;
    let is_measuring = view.tool == Tool::Measure;
    // What is seen through is chosen through, too; but it can be measured.
    let is_solid = |part: Part| match part {
        Part::Piece { .. } | Part::Loose { .. } | Part::Port(_) => true,
        Part::InTheWay(_) | Part::Scan(_) => {
            !view.hide_scene && (is_measuring || !view.see_through)
        }
        Part::Room(_) | Part::Heat => false,
    };
    let is_left = |point: &runwright::geometry::Point| {
        view.section
            .is_none_or(|section| section.leaves(point, stage.extent()))
    };
    let mut hit = pick(&stage.bodies, &from, &along, is_solid);
    if hit.is_some_and(|hit| !is_left(&hit.at)) {
        // Cut away: look on from behind the plane.
        let section = view.section.map(|section| section.plane(stage.extent()));
        hit = section.and_then(|plane| {
            let go = (plane.point - from).dot(&plane.normal) / along.dot(&plane.normal);
            let start = from + along * go.max(0.0);
            let mut hit = pick(&stage.bodies, &start, &along, is_solid)?;
            hit.distance += go.max(0.0);
            is_left(&(hit.at + along * 1e-6)).then_some(hit)
        });
    }
    match (session.view.tool, hit) {
        (Tool::Measure, Some(hit)) => session.view.measure.pick(hit.at),
        (Tool::Measure, None) => {}
        (_, Some(hit)) => {
            if let Part::Piece { run, piece } = hit.part {
                session.look_at(run);
                session.piece = Some(piece);
            }
        }
        (_, None) => session.piece = None,
    }
}
