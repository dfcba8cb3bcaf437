//! Over the picture: from where to look, and what to show.

use super::desk::{Desk, Wanted};
use super::look::{ink, region, soft, toggle};
use crate::eye::Side;
use crate::palette;
use crate::scene::Stage;
use crate::state::{SectionAxis, SectionPlane, Session, Tool};
use egui::{Align2, Context, FontId, Rect, Slider, Ui, pos2, vec2};
use kiss3d::egui;
use runwright::units::Length;

/// Height of a row of tools.
const ROW: f32 = 50.0;

/// Draws them.
pub fn draw(ctx: &Context, session: &mut Session, stage: &Stage, desk: &mut Desk, picture: Rect) {
    let rows = if session.view.section.is_some() {
        3.0
    } else {
        2.0
    };
    let place = Rect::from_min_size(
        picture.min,
        vec2(picture.width(), ROW * rows - 10.0 * (rows - 1.0)),
    );
    region(ctx, "tools", place, |ui| {
        ui.spacing_mut().item_spacing.x = 5.0;
        ui.spacing_mut().button_padding = vec2(9.0, 5.0);
        ui.horizontal(|ui| sides(ui, session, desk));
        ui.horizontal(|ui| shows(ui, session, desk));
        if session.view.section.is_some() {
            ui.horizontal(|ui| section(ui, session, stage));
        }
    });
    if session.view.heat && session.nearness.is_some() && session.step.is_none() {
        legend(ctx, session, stage, picture);
    }
}

fn sides(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    ui.label(soft("from"));
    for (name, side) in Side::ALL {
        let button = ui.button(name);
        desk.mark(format!("side {name}"), button.rect);
        if button.clicked() {
            desk.wanted = Some(Wanted::Look(side));
        }
    }
    let button = ui.button("Fit all");
    desk.mark("fit", button.rect);
    if button.on_hover_text("F").clicked() {
        desk.wanted = Some(Wanted::Fit);
    }
    if toggle(ui, session.view.eye.parallel, "Parallel")
        .on_hover_text("without perspective")
        .clicked()
    {
        session.view.eye.parallel = !session.view.eye.parallel;
    }
}

fn shows(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    for (name, tool, hint) in [
        ("Choose", Tool::Choose, "click a piece for its numbers"),
        (
            "Measure",
            Tool::Measure,
            "click two places: their distance; Esc clears",
        ),
        (
            "Drag corners",
            Tool::Corners,
            "drag a corner of the route: the run is planned again through there",
        ),
    ] {
        if tool == Tool::Corners && (session.step.is_some() || session.document.is_none()) {
            continue;
        }
        let button = toggle(ui, session.view.tool == tool, name).on_hover_text(hint);
        desk.mark(format!("tool {name}"), button.rect);
        if button.clicked() {
            session.view.tool = tool;
        }
    }
    ui.separator();
    let has_room = session.nearness.is_some();
    if has_room {
        let button = toggle(ui, session.view.heat, "Room")
            .on_hover_text("color the run by the room that it has (H)");
        desk.mark("heat", button.rect);
        if button.clicked() {
            session.view.heat = !session.view.heat;
        }
    }
    let button = toggle(ui, session.view.section.is_some(), "Section").on_hover_text("cut it open");
    desk.mark("section", button.rect);
    if button.clicked() {
        session.view.section = match session.view.section {
            Some(_) => None,
            None => Some(SectionPlane::before(&session.view.eye)),
        };
    }
    if session
        .task()
        .is_some_and(|task| !task.obstacles.is_empty())
    {
        let view = &mut session.view;
        if toggle(ui, view.see_through && !view.hide_scene, "See through")
            .on_hover_text("scans and bodies in the way")
            .clicked()
        {
            (view.see_through, view.hide_scene) = (!view.see_through || view.hide_scene, false);
        }
        if toggle(ui, view.hide_scene, "Hide")
            .on_hover_text("scans and bodies in the way")
            .clicked()
        {
            view.hide_scene = !view.hide_scene;
        }
    }
}

fn section(ui: &mut Ui, session: &mut Session, stage: &Stage) {
    let style = session.shown.style();
    let Some(section) = &mut session.view.section else {
        return;
    };
    ui.label(soft("square to"));
    for (axis, name) in ["x", "y", "z"].into_iter().enumerate() {
        if toggle(ui, section.axis == SectionAxis::Axis(axis), name).clicked() {
            section.axis = SectionAxis::Axis(axis);
        }
    }
    ui.spacing_mut().slider_width = (ui.available_width() - 270.0).clamp(80.0, 400.0);
    ui.add(Slider::new(&mut section.part, 0.0..=1.0).show_value(false));
    let SectionAxis::Axis(axis) = section.axis;
    let (low, high) = stage.extent();
    let at = low[axis] + (high[axis] - low[axis]) * section.part;
    ui.label(format!("at {}", style.length(Length::from_mm(at))));
    if ui.button("Other side").clicked() {
        section.flipped = !section.flipped;
    }
}

/// What the heat map's colors mean.
fn legend(ctx: &Context, session: &Session, stage: &Stage, picture: Rect) {
    let style = session.shown.style();
    let place = Rect::from_min_size(
        pos2(picture.right() - 250.0, picture.bottom() - 82.0),
        vec2(240.0, 72.0),
    );
    region(ctx, "legend", place, |ui| {
        ui.label(soft("room beyond the clearance"));
        let (bar, _) =
            ui.allocate_exact_size(vec2(ui.available_width(), 14.0), egui::Sense::hover());
        for i in 0..60 {
            let part = f64::from(i) / 59.0;
            let left = bar.left() + bar.width() * i as f32 / 60.0;
            let cell = Rect::from_min_size(
                pos2(left, bar.top()),
                vec2(bar.width() / 60.0 + 0.5, bar.height()),
            );
            ui.painter()
                .rect_filled(cell, 0.0, ink(palette::heat(part)));
        }
        let font = FontId::proportional(14.0);
        ui.painter().text(
            bar.left_bottom(),
            Align2::LEFT_TOP,
            "none",
            font.clone(),
            ink(palette::INK),
        );
        let plenty = format!(
            "{} or more",
            style.length(Length::from_mm(stage.bodies.plenty))
        );
        ui.painter().text(
            bar.right_bottom(),
            Align2::RIGHT_TOP,
            plenty,
            font,
            ink(palette::INK),
        );
    });
}
