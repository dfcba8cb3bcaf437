//! Questions and news, over everything else.

use super::desk::{Browse, Desk};
use super::look::{ink, main_button, problem, soft, wrong};
use crate::palette;
use crate::state::{Ask, Choices, Notice, Page, Session, Wish};
use egui::{Align2, Context, Id, Key, Label, Order, Rect, RichText, TextEdit, Ui, Window, vec2};
use kiss3d::egui;
use std::path::{Path, PathBuf};

/// Width of news, however narrow the picture.
const NARROWEST: f32 = 320.0;

/// Draws what there is.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, picture: Rect) {
    notice(ctx, session, desk, picture);
    let Some(ask) = session.ask.take() else {
        return;
    };
    let title = match &ask {
        Ask::Open(_) => "Open a job, a plan or what was built",
        Ask::SaveAs(..) => "Save the job",
        Ask::Changed => "Somebody else changed this job",
        Ask::Export(..) => "Export everything for the shop",
        Ask::Unsaved(_) => "Changes are not saved",
    };
    let mut next = Some(ask.clone());
    Window::new(RichText::new(title).heading())
        .collapsible(false)
        .resizable(false)
        .order(Order::Foreground)
        .anchor(Align2::CENTER_CENTER, vec2(0.0, 0.0))
        .show(ctx, |ui| {
            ui.set_width(640.0);
            next = match ask {
                Ask::Open(path) => open(ui, session, desk, path),
                Ask::SaveAs(path, reason) => save_as(ui, session, desk, path, reason),
                Ask::Changed => changed(ui, session, desk),
                Ask::Export(wish) => export(ui, session, desk, *wish),
                Ask::Unsaved(then) => unsaved(ui, session, desk, then),
            };
            if ui.input(|input| input.key_pressed(Key::Escape)) {
                next = None;
            }
        });
    // What was pressed may have asked something else.
    if session.ask.is_none() {
        session.ask = next;
    }
}

/// A line to type a path in; whether it was ended with Enter.
fn path_line(ui: &mut Ui, desk: &mut Desk, path: &mut String, what: Browse) -> bool {
    let mut is_done = false;
    ui.horizontal(|ui| {
        let id = Id::new("path");
        let editor = TextEdit::singleline(path)
            .id(id)
            .desired_width(500.0)
            .margin(egui::Margin::symmetric(6, 6));
        let response = ui.add(editor);
        desk.mark("path", response.rect);
        is_done = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if ui.memory(|memory| memory.focused().is_none()) && !is_done {
            response.request_focus();
        }
        if ui.button("Browse").clicked() {
            desk.browse(what);
        }
    });
    is_done
}

fn open(ui: &mut Ui, session: &mut Session, desk: &mut Desk, mut path: String) -> Option<Ask> {
    ui.label(soft(
        "its file, by name or by browsing; a file may also be dropped on the window",
    ));
    let mut is_done = path_line(ui, desk, &mut path, Browse::Open);
    let mut is_left = false;
    ui.horizontal(|ui| {
        let button = main_button(ui, "Open");
        desk.mark("yes", button.rect);
        is_done |= button.clicked();
        is_left = ui.button("Cancel").clicked();
    });
    if is_done && !path.trim().is_empty() {
        session.open(Path::new(path.trim()));
        return None;
    }
    (!is_left).then_some(Ask::Open(path))
}

fn save_as(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    mut path: String,
    reason: Option<String>,
) -> Option<Ask> {
    if let Some(reason) = &reason {
        ui.label(wrong(reason));
    }
    let mut is_done = path_line(ui, desk, &mut path, Browse::SaveAs);
    let mut is_left = false;
    ui.horizontal(|ui| {
        let button = main_button(ui, "Save");
        desk.mark("yes", button.rect);
        is_done |= button.clicked();
        is_left = ui.button("Cancel").clicked();
    });
    if is_done && !path.trim().is_empty() {
        session.save_as(Path::new(path.trim()));
        return None;
    }
    (!is_left).then_some(Ask::SaveAs(path, reason))
}

fn changed(ui: &mut Ui, session: &mut Session, desk: &mut Desk) -> Option<Ask> {
    ui.add(Label::new("The file is not what it was when it was opened. Nothing was saved.").wrap());
    let mut is_left = false;
    ui.horizontal(|ui| {
        let button = main_button(ui, "Save mine under another name");
        desk.mark("other name", button.rect);
        if button.clicked() {
            session.ask_name(None);
        }
        if ui.button("Drop mine, read theirs").clicked() {
            session.reload();
            is_left = true;
        }
    });
    ui.horizontal(|ui| {
        if ui.button(wrong("Write mine over theirs")).clicked() {
            session.save(true);
            is_left = true;
        }
        let button = ui.button("Cancel");
        desk.mark("leave", button.rect);
        is_left |= button.clicked();
    });
    (!is_left).then_some(Ask::Changed)
}

fn export(ui: &mut Ui, session: &mut Session, desk: &mut Desk, mut wish: Wish) -> Option<Ask> {
    let goods = session.goods();
    let words = goods
        .as_ref()
        .map_or_else(|why| *why, |goods| goods.words());
    ui.label(soft(format!(
        "{words}, into a folder; made if it is not there"
    )));
    if !wish.taken.is_empty() {
        let few: Vec<&str> = wish.taken.iter().take(4).map(String::as_str).collect();
        let more = if wish.taken.len() > few.len() {
            ", …"
        } else {
            ""
        };
        ui.add(Label::new(wrong(format!("Already there: {}{more}", few.join(", ")))).wrap());
    }
    let mut is_done = path_line(ui, desk, &mut wish.folder, Browse::Folder);
    told(ui, &wish, &["folder", ""]);
    let has_packet = goods.as_ref().is_ok_and(|goods| goods.has_packet());
    let is_plan = matches!(goods, Ok(crate::state::Goods::Plan(_)));
    choices(ui, &mut wish, has_packet, is_plan);
    let (mut is_left, mut is_forced) = (false, false);
    ui.horizontal(|ui| {
        let button = main_button(ui, "Export");
        desk.mark("yes", button.rect);
        is_done |= button.clicked();
        is_forced = !wish.taken.is_empty() && ui.button(wrong("Replace them")).clicked();
        is_left = ui.button("Cancel").clicked();
    });
    if (is_done || is_forced) && !wish.folder.trim().is_empty() {
        session.export(wish, is_forced);
        return None;
    }
    (!is_left).then(|| Ask::Export(Box::new(wish)))
}

/// What stands in the way of an export, at the field that it is about.
fn told(ui: &mut Ui, wish: &Wish, keys: &[&str]) {
    for found in wish
        .problems
        .iter()
        .filter(|one| keys.contains(&one.path.as_str()))
    {
        problem(ui, "", &found.message, &found.help);
    }
}

/// What may be chosen: paper and card, template, models.
fn choices(ui: &mut Ui, wish: &mut Wish, has_packet: bool, is_plan: bool) {
    let Choices {
        page,
        paper,
        card,
        template,
        chord,
        packet,
        pieces,
        solid,
    } = &mut wish.choices;
    let mut lines: Vec<(&str, &str, &mut String)> = vec![("paper", "paper is thick", paper)];
    if has_packet {
        if is_plan {
            ui.checkbox(packet, "the packet for the saw (packet.pdf)");
        }
        ui.horizontal(|ui| {
            ui.label("page");
            for (name, own) in Page::ALL {
                ui.selectable_value(page, own, name);
            }
        });
        lines.push(("card", "card is thick", card));
        lines.push(("template", "own template", template));
    }
    if is_plan {
        ui.horizontal(|ui| {
            ui.checkbox(pieces, "one STL a piece");
            ui.checkbox(solid, "run.stl as a full rod");
        });
    }
    if is_plan || !has_packet {
        lines.push(("chord", "facets of STL within", chord));
    }
    let mut wrong_keys = Vec::new();
    for (key, label, text) in lines {
        ui.horizontal(|ui| {
            ui.allocate_ui(vec2(170.0, 30.0), |ui| {
                ui.set_min_width(170.0);
                ui.label(label);
            });
            let hint = if key == "template" {
                "a file; empty for the usual one"
            } else {
                "mm unless said"
            };
            ui.add(
                TextEdit::singleline(text)
                    .desired_width(if key == "template" { 380.0 } else { 120.0 })
                    .hint_text(hint),
            );
        });
        wrong_keys.push(key);
    }
    told(ui, wish, &wrong_keys);
}

fn unsaved(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    then: Option<PathBuf>,
) -> Option<Ask> {
    let mut is_left = false;
    ui.horizontal(|ui| {
        let button = main_button(ui, "Save first");
        desk.mark("save first", button.rect);
        if button.clicked() {
            session.save(false);
            if session.ask.is_none() {
                go(session, then.as_deref());
            }
            is_left = true;
        }
        let button = ui.button(wrong("Drop the changes"));
        desk.mark("drop", button.rect);
        if button.clicked() {
            go(session, then.as_deref());
            is_left = true;
        }
        is_left |= ui.button("Cancel").clicked();
    });
    (!is_left).then_some(Ask::Unsaved(then))
}

fn go(session: &mut Session, then: Option<&Path>) {
    match then {
        Some(path) => session.open_now(path),
        None => session.wants_close = true,
    }
}

/// News at the foot of the picture, where they cover nothing that is pressed.
fn notice(ctx: &Context, session: &mut Session, desk: &mut Desk, picture: Rect) {
    if session.notice.as_ref().is_some_and(Notice::is_old) {
        session.notice = None;
    }
    let Some(notice) = session.notice.clone() else {
        return;
    };
    let color = if notice.is_bad {
        palette::WRONG
    } else {
        palette::INK
    };
    Window::new("notice")
        .title_bar(false)
        .resizable(false)
        .order(Order::Foreground)
        .pivot(Align2::CENTER_BOTTOM)
        .fixed_pos(picture.center_bottom() - vec2(0.0, 14.0))
        .show(ctx, |ui| {
            ui.set_max_width((picture.width() - 60.0).max(NARROWEST));
            ui.horizontal_wrapped(|ui| {
                ui.add(Label::new(RichText::new(&notice.text).color(ink(color))));
                let button = ui.button("OK");
                desk.mark("fine", button.rect);
                if button.clicked() {
                    session.notice = None;
                }
            });
        });
}
