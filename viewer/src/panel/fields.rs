//! The job's values, to be read and changed.

use super::desk::Desk;
use super::look::{TEXT, ink, problem, region, soft};
use crate::palette;
use crate::state::{Action, Field, Kind, Section, Session, Shown, sections};
use egui::text::{CCursor, CCursorRange};
use egui::{
    Align, Button, CollapsingHeader, ComboBox, Context, Id, Key, Label, Layout, Rect, RichText,
    ScrollArea, TextEdit, Ui, vec2,
};
use kiss3d::egui;
use runwright::units::LengthUnit;
use serde_json::Value;

/// Width of a label.
const LABEL: f32 = 138.0;
/// Width of a value.
const VALUE: f32 = 150.0;
/// Width of one of three values in a row.
const THIRD: f32 = 62.0;

/// A text that was typed, for a field.
type Typed = Option<(Field, String)>;

/// Draws them.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, rect: Rect) {
    let mut typed = None;
    let mut pressed = None;
    let mut begun = None;
    region(ctx, "fields", rect, |ui| {
        ScrollArea::vertical()
            .auto_shrink([false, false])
            .show(ui, |ui| {
                let Some(document) = &session.document else {
                    begun = nothing(ui, session, desk);
                    return;
                };
                let value = document.value();
                loose_problems(ui, session, &value);
                for section in sections(&value, session.job.as_ref()) {
                    show(
                        ui,
                        session,
                        desk,
                        &section,
                        &value,
                        (&mut typed, &mut pressed),
                    );
                }
                ui.add_space(40.0);
            });
    });
    if let Some((field, text)) = typed {
        session.drafts.remove(&field.place.to_string());
        session.commit(&field, &text);
    }
    if let Some(unit) = begun {
        session.begin(unit);
    }
    if let Some(action) = pressed {
        session.drafts.clear();
        // What is put in is to be filled in.
        desk.opened = action.edits.first().map(|(place, _)| place.to_string());
        session.change(&action.edits, &action.label);
    }
}

/// Buttons of a section; the one that was pressed.
fn actions(ui: &mut Ui, desk: &mut Desk, section: &Section, pressed: &mut Option<Action>) {
    ui.horizontal_wrapped(|ui| {
        for action in &section.actions {
            let button = ui.add_enabled(action.hindered.is_none(), Button::new(&action.label));
            desk.mark(format!("do {}", action.label), button.rect);
            let button = button.on_disabled_hover_text(action.hindered.unwrap_or_default());
            if button.clicked() {
                *pressed = Some(action.clone());
            }
        }
    });
}

/// What to do with nothing open; the unit of a job that is begun.
fn nothing(ui: &mut Ui, session: &Session, desk: &mut Desk) -> Option<LengthUnit> {
    let mut begun = None;
    match &session.shown {
        Shown::Kept(kept) => {
            ui.heading(&kept.name);
            for note in &kept.notes {
                ui.add(Label::new(note).wrap());
            }
        }
        _ => {
            ui.heading("Nothing open yet");
            ui.add(Label::new("Press Open, or drop a file on this window:").wrap());
            ui.add(Label::new("- a job, to plan its runs and change them").wrap());
            ui.add(Label::new("- a plan.json, to look at it and build by it").wrap());
            ui.add(Label::new("- what was built, to see the piece that closes the gap").wrap());
            ui.add_space(8.0);
            ui.add(Label::new("Or begin a new one and put your own numbers in:").wrap());
            ui.horizontal(|ui| {
                for (name, unit) in [
                    ("New job in inches", LengthUnit::In),
                    ("New job in mm", LengthUnit::Mm),
                ] {
                    let button = ui.button(name);
                    desk.mark(name, button.rect);
                    if button.clicked() {
                        begun = Some(unit);
                    }
                }
            });
        }
    }
    begun
}

/// Problems whose place no field shows.
fn loose_problems(ui: &mut Ui, session: &Session, value: &Value) {
    let sections = sections(value, session.job.as_ref());
    let has_field = |path: &str| {
        let mut fields = sections.iter().flat_map(|section| &section.fields);
        fields.any(|field| {
            path.strip_prefix(&field.place.to_string())
                .is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
        })
    };
    let loose: Vec<_> = session
        .problems
        .iter()
        .filter(|problem| !has_field(&problem.path))
        .collect();
    if loose.is_empty() {
        return;
    }
    ui.label(
        RichText::new("To put right")
            .heading()
            .color(ink(palette::WRONG)),
    );
    for found in loose {
        problem(ui, &found.path, &found.message, &found.help);
        ui.add_space(4.0);
    }
    ui.separator();
}

fn show(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    section: &Section,
    value: &Value,
    (typed, pressed): (&mut Typed, &mut Option<Action>),
) {
    let has_problem = session.problems_at(&section.place).next().is_some();
    if section.fields.is_empty() {
        ui.label(RichText::new(&section.title).heading());
        actions(ui, desk, section, pressed);
        return;
    }
    let title = RichText::new(&section.title).heading();
    let title = if has_problem {
        title.color(ink(palette::WRONG))
    } else {
        title
    };
    let header = CollapsingHeader::new(title)
        .id_salt(section.place.to_string())
        .default_open(section.is_open);
    let is_new = desk.opened.as_ref() == Some(&section.place.to_string());
    if is_new {
        desk.opened = None;
    }
    let header = if has_problem || is_new {
        header.open(Some(true))
    } else {
        header
    };
    header.show(ui, |ui| {
        let mut rest = section.fields.as_slice();
        while let Some(first) = rest.first() {
            let three = rest.get(..3).filter(|three| is_triple(three));
            match three {
                Some(three) => {
                    triple(ui, session, desk, three, value, typed);
                    rest = &rest[3..];
                }
                None => {
                    single(ui, session, desk, first, value, typed);
                    rest = &rest[1..];
                }
            }
        }
        if let Some(note) = &section.note {
            ui.add(Label::new(soft(note)).wrap());
        }
        for (name, value) in &section.lines {
            reading(ui, name, value);
        }
        actions(ui, desk, section, pressed);
    });
}

/// A number that is only shown; beside its name where there is room.
fn reading(ui: &mut Ui, name: &str, value: &str) {
    /// Letters that stand beside a name.
    const SHORT: usize = 14;
    ui.horizontal(|ui| {
        ui.label(soft(name));
        if value.chars().count() <= SHORT {
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.label(RichText::new(value).strong())
            });
        }
    });
    if value.chars().count() > SHORT {
        ui.horizontal(|ui| {
            ui.add_space(14.0);
            ui.add(Label::new(value).wrap());
        });
    }
}

fn is_triple(fields: &[Field]) -> bool {
    let ends = [" x", " y", " z"];
    fields.len() == 3
        && fields
            .iter()
            .zip(ends)
            .all(|(field, end)| field.label.ends_with(end))
}

fn triple(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    fields: &[Field],
    value: &Value,
    typed: &mut Typed,
) {
    ui.horizontal(|ui| {
        let label = fields[0].label.trim_end_matches(" x");
        named(ui, label, LABEL - 50.0);
        for field in fields {
            edit(ui, session, desk, field, value, THIRD, typed);
        }
        ui.label(soft(fields[0].unit));
    });
    for field in fields {
        tell(ui, session, field);
    }
}

fn single(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    field: &Field,
    value: &Value,
    typed: &mut Typed,
) {
    ui.horizontal(|ui| {
        named(ui, &field.label, LABEL);
        edit(ui, session, desk, field, value, VALUE, typed);
        ui.label(soft(field.unit));
    });
    tell(ui, session, field);
}

fn named(ui: &mut Ui, label: &str, width: f32) {
    ui.allocate_ui_with_layout(
        vec2(width, 30.0),
        Layout::left_to_right(Align::Center),
        |ui| {
            ui.set_min_width(width);
            ui.add(Label::new(label).truncate());
        },
    );
}

/// What the library says is wrong with it.
fn tell(ui: &mut Ui, session: &Session, field: &Field) {
    for found in session.problems_at(&field.place) {
        problem(ui, "", &found.message, &found.help);
    }
}

fn edit(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    field: &Field,
    value: &Value,
    width: f32,
    typed: &mut Typed,
) {
    let key = field.place.to_string();
    let Some(current) = field.show(Session::value_at(value, &field.place)) else {
        ui.label(soft("see the file"));
        return;
    };
    let words: &[&str] = match field.kind {
        Kind::Choice(words) => words,
        Kind::Flag => &["yes", "no"],
        _ => {
            write(ui, session, desk, field, &key, &current, width, typed);
            return;
        }
    };
    let shown = if current.is_empty() {
        field.default.clone()
    } else {
        current.clone()
    };
    let combo = ComboBox::from_id_salt(&key)
        .selected_text(shown)
        .width(width)
        .show_ui(ui, |ui| {
            for word in words {
                if ui.selectable_label(current == *word, *word).clicked() {
                    *typed = Some((field.clone(), (*word).to_owned()));
                }
            }
            let default = format!("as usual ({})", field.default);
            if ui.selectable_label(current.is_empty(), default).clicked() {
                *typed = Some((field.clone(), String::new()));
            }
        });
    desk.mark(format!("field {key}"), combo.response.rect);
}

/// So that what is typed takes the place of what was there.
fn select_all(ui: &Ui, id: Id, count: usize) {
    if let Some(mut state) = TextEdit::load_state(ui.ctx(), id) {
        let all = CCursorRange::two(CCursor::new(0), CCursor::new(count));
        state.cursor.set_char_range(Some(all));
        state.store(ui.ctx(), id);
    }
}

#[allow(clippy::too_many_arguments)]
fn write(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    field: &Field,
    key: &str,
    current: &str,
    width: f32,
    typed: &mut Typed,
) {
    let mut text = session
        .drafts
        .get(key)
        .cloned()
        .unwrap_or_else(|| current.to_owned());
    let is_wrong = session.problems_at(&field.place).next().is_some();
    let color = if is_wrong {
        palette::WRONG
    } else {
        palette::INK
    };
    let editor = TextEdit::singleline(&mut text)
        .id(Id::new(("field", key)))
        .hint_text(soft(field.default.as_str()).size(TEXT))
        .text_color(ink(color))
        .margin(egui::Margin::symmetric(6, 5))
        .min_size(vec2(width, 30.0))
        .desired_width(width - 12.0);
    let response = ui.add(editor);
    desk.mark(format!("field {key}"), response.rect);
    if response.gained_focus() {
        select_all(ui, response.id, text.chars().count());
    }
    if response.changed() {
        session.drafts.insert(key.to_owned(), text.clone());
    }
    if response.lost_focus() {
        let is_dropped = ui.input(|input| input.key_pressed(Key::Escape));
        session.drafts.remove(key);
        if !is_dropped && text.trim() != current {
            *typed = Some((field.clone(), text));
        }
    }
}
