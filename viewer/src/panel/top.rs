//! The bar on top: the file, its changes, planning, and what one is doing.

use super::desk::{Browse, Desk};
use super::look::{ink, main_button, region, soft, toggle};
use crate::palette;
use crate::state::{Ask, Document, Progress, Session, Shown};
use egui::{Align, Button, Context, Label, Layout, Rect, RichText, Ui};
use kiss3d::egui;

/// Draws it.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, rect: Rect) {
    region(ctx, "top", rect, |ui| {
        ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
            file(ui, session, desk);
            ui.separator();
            changes(ui, session, desk);
            ui.separator();
            planning(ui, session, desk);
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                modes(ui, session, desk)
            });
        });
    });
    if let Some((what, path)) = desk.chosen() {
        match what {
            Browse::Open => session.open(&path),
            Browse::SaveAs => session.ask = Some(Ask::SaveAs(path.display().to_string(), None)),
            Browse::Folder => {
                session.ask_folder();
                if let Some(Ask::Export(wish)) = &mut session.ask {
                    wish.folder = path.display().to_string();
                }
            }
        }
    }
}

fn file(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    let button = ui.button("Open");
    desk.mark("open", button.rect);
    if button
        .on_hover_text("a job, a plan or what was built (Ctrl+O); or drop the file here")
        .clicked()
    {
        session.ask = Some(Ask::Open(String::new()));
    }
    let is_dirty = session.document.as_ref().is_some_and(Document::is_dirty);
    let button = ui.add_enabled(is_dirty, Button::new("Save"));
    desk.mark("save", button.rect);
    if button
        .on_hover_text("the job, never over another's change (Ctrl+S)")
        .clicked()
    {
        session.save(false);
    }
    let button = ui.add_enabled(session.document.is_some(), Button::new("Save as"));
    if button.clicked() {
        session.ask_name(None);
    }
    exporting(ui, session, desk);
    let name = session.file_name();
    let name = if is_dirty {
        format!("{name}, not saved")
    } else {
        name
    };
    ui.add(Label::new(RichText::new(name).strong()).truncate());
}

fn exporting(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    if session.is_exporting() {
        ui.spinner();
        let button = ui.button("Stop exporting");
        desk.mark("stop export", button.rect);
        if button.clicked() {
            session.cancel_export();
        }
        return;
    }
    let why = session.goods().err();
    let button = ui.add_enabled(why.is_none(), Button::new("Export"));
    desk.mark("export", button.rect);
    let button = button
        .on_hover_text("sheets, packet, patterns, drawings and models for the shop")
        .on_disabled_hover_text(why.unwrap_or_default());
    if button.clicked() {
        session.ask_folder();
    }
}

fn changes(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    let undoes = session
        .document
        .as_ref()
        .and_then(Document::undoes)
        .map(str::to_owned);
    let redoes = session
        .document
        .as_ref()
        .and_then(Document::redoes)
        .map(str::to_owned);
    let button = ui.add_enabled(undoes.is_some(), Button::new("Undo"));
    desk.mark("undo", button.rect);
    if button
        .on_hover_text(format!("{} (Ctrl+Z)", undoes.unwrap_or_default()))
        .clicked()
    {
        session.undo();
    }
    let button = ui.add_enabled(redoes.is_some(), Button::new("Redo"));
    desk.mark("redo", button.rect);
    if button
        .on_hover_text(format!("{} (Ctrl+Y)", redoes.unwrap_or_default()))
        .clicked()
    {
        session.redo();
    }
}

fn planning(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    if let Some(progress) = session.progress() {
        ui.spinner();
        ui.label(match progress {
            Progress::Reading(0) => "Planning".to_owned(),
            Progress::Reading(bytes) => format!("Reading the scan: {:.1} MB", bytes as f64 / 1e6),
            Progress::Planning(made, most, best) if best.is_finite() => {
                format!("Planning: {made} of at most {most} searches, best {best:.2}")
            }
            Progress::Planning(made, _, _) => format!("Planning: {made} searches, no run yet"),
        });
        let button = ui.button("Take best so far");
        desk.mark("stop", button.rect);
        if button.clicked() {
            session.stop();
        }
        let button = ui.button("Cancel");
        desk.mark("cancel", button.rect);
        if button.clicked() {
            session.cancel();
        }
        return;
    }
    match &session.shown {
        Shown::Nothing if session.document.is_none() => {
            ui.label(soft("Open a job to begin."));
        }
        Shown::Nothing | Shown::Plan(_)
            if session.is_stale || matches!(session.shown, Shown::Nothing) =>
        {
            let count = session.problems.len();
            let before = if session.is_stale {
                "; the run shown is the one before"
            } else {
                ""
            };
            let text = match count {
                0 => "Not planned since the last change.".to_owned(),
                1 => format!("1 thing to put right{before}."),
                _ => format!("{count} things to put right{before}."),
            };
            ui.label(RichText::new(text).color(ink(palette::WRONG)).strong());
            let button = ui.button("Plan");
            desk.mark("plan", button.rect);
            if button.clicked() {
                session.plan();
            }
        }
        Shown::Nothing | Shown::Plan(_) => {
            ui.label(soft(format!("Planned in {:.2} s.", session.seconds)));
        }
        Shown::Kept(kept) => {
            ui.label(soft(format!("{}: to look at.", kept.name)));
        }
    }
}

fn modes(ui: &mut Ui, session: &mut Session, desk: &mut Desk) {
    let has_run = !session.steps().is_empty();
    if session.step.is_some() {
        let button = main_button(ui, "Back to planning");
        desk.mark("to-plan", button.rect);
        if button.clicked() {
            session.step = None;
            session.view.wants_fit = true;
        }
    } else if has_run {
        let button = main_button(ui, "Build it step by step");
        desk.mark("to-build", button.rect);
        if button.clicked() {
            session.step = Some(0);
            session.view.wants_fit = true;
        }
    }
    if session.shown.count() > 1 {
        for run in (0..session.shown.count()).rev() {
            let name = session.shown.name(run).to_owned();
            if toggle(ui, run == session.run, &name).clicked() {
                session.look_at(run);
            }
        }
    }
}
