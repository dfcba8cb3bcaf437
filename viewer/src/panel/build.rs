//! Building piece by piece, in letters that are read from across the bench.

use super::desk::Desk;
use super::look::{ink, region, soft};
use crate::palette;
use crate::state::{Session, Step};
use egui::{
    Align, Align2, Button, Context, FontId, Label, Layout, Rect, RichText, ScrollArea, Sense, Ui,
    pos2, vec2,
};
use kiss3d::egui;

/// Size of the numbers, in points, at most. Capitals are some 0.7 of it high: on a common
/// screen of 96 points an inch 92 makes 17 mm, which is 1/120 of two meters. 1/200 of the
/// distance is read with ease, 1/120 in poor light (common practice, no source).
const LARGEST: f32 = 150.0;
/// Never smaller than this, however narrow the window.
const SMALLEST: f32 = 40.0;

/// Size of notes, in points.
const NOTE: f32 = 22.0;
/// Letters of a note on as much width as its size.
const LETTERS: f32 = 1.85;
/// Height of the buttons at the foot, with what is about them.
const BUTTONS: f32 = 100.0;
/// Height of the title.
const TITLE: f32 = 150.0;

/// Draws it.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, rect: Rect) {
    let count = session.steps().len();
    let Some(step) = session.step_at_hand().cloned() else {
        session.step = None;
        return;
    };
    let at = session.step.unwrap_or(0);
    region(ctx, "build", rect, |ui| {
        title(ui, &step, at, count);
        numbers(ui, &step, rect.height());
        ui.add_space(6.0);
        let room = (rect.bottom() - BUTTONS - ui.cursor().top()).max(40.0);
        ScrollArea::vertical().max_height(room).show(ui, |ui| {
            for note in &step.notes {
                ui.add(Label::new(RichText::new(note).size(NOTE)).wrap());
            }
        });
        buttons(ui, session, desk, at, count, rect);
    });
}

fn title(ui: &mut Ui, step: &Step, at: usize, count: usize) {
    ui.horizontal(|ui| {
        ui.label(
            RichText::new(&step.title)
                .size(if step.title.chars().count() > 24 {
                    30.0
                } else {
                    46.0
                })
                .strong()
                .color(ink(palette::INK)),
        );
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.label(soft(format!("step {} of {count}", at + 1)).size(22.0));
        });
    });
    let (bar, _) = ui.allocate_exact_size(vec2(ui.available_width(), 14.0), Sense::hover());
    let gap = 3.0;
    let wide = (bar.width() - gap * count as f32) / count as f32;
    for i in 0..count {
        let left = bar.left() + (wide + gap) * i as f32;
        let cell = Rect::from_min_size(pos2(left, bar.top()), vec2(wide, bar.height()));
        let fill = match i.cmp(&at) {
            std::cmp::Ordering::Less => palette::TUBE[0],
            std::cmp::Ordering::Equal => palette::CHOSEN,
            std::cmp::Ordering::Greater => palette::FIELD,
        };
        ui.painter().rect_filled(cell, 2.0, ink(fill));
        ui.painter().rect_stroke(
            cell,
            2.0,
            egui::Stroke::new(1.0, ink(palette::FRAME)),
            egui::StrokeKind::Inside,
        );
    }
    ui.add_space(6.0);
}

/// Name above number, each as large as fits.
fn numbers(ui: &mut Ui, step: &Step, height: f32) {
    let width = ui.available_width();
    // What title, notes and buttons leave, for each with its name.
    let letters = (width / NOTE * LETTERS).max(1.0);
    let lines = step.notes.iter();
    let lines: f32 = lines
        .map(|note| (note.chars().count() as f32 / letters).ceil())
        .sum();
    let left = height - BUTTONS - TITLE - lines.max(3.0) * NOTE * 1.5;
    let fits = left / step.large.len().max(1) as f32 / 1.05 - 34.0;
    for (name, value) in &step.large {
        ui.label(RichText::new(name).size(26.0).color(ink(palette::SOFT_INK)));
        let mut size = LARGEST.min(fits).max(SMALLEST);
        let mut galley = ui.painter().layout_no_wrap(
            value.clone(),
            FontId::proportional(size),
            ink(palette::INK),
        );
        while galley.size().x > width && size > SMALLEST {
            size -= 4.0;
            galley = ui.painter().layout_no_wrap(
                value.clone(),
                FontId::proportional(size),
                ink(palette::INK),
            );
        }
        let (place, _) =
            ui.allocate_exact_size(vec2(width, galley.size().y * 0.92), Sense::hover());
        ui.painter().text(
            place.left_center(),
            Align2::LEFT_CENTER,
            value,
            FontId::proportional(size),
            ink(palette::INK),
        );
    }
}

fn buttons(
    ui: &mut Ui,
    session: &mut Session,
    desk: &mut Desk,
    at: usize,
    count: usize,
    rect: Rect,
) {
    let bar = Rect::from_min_max(
        pos2(rect.left() + 14.0, rect.bottom() - 84.0),
        rect.max - vec2(14.0, 14.0),
    );
    let mut inside = ui.new_child(egui::UiBuilder::new().max_rect(bar));
    inside.horizontal(|ui| {
        let size = vec2((bar.width() - 12.0) * 0.4, 68.0);
        let back = Button::new(RichText::new("Back").size(30.0)).min_size(size);
        let back = ui.add_enabled(at > 0, back);
        desk.mark("back", back.rect);
        if back.clicked() {
            session.go(-1);
        }
        if at + 1 < count {
            let text = RichText::new("Next step")
                .size(30.0)
                .color(ink(palette::PAPER))
                .strong();
            let size = vec2((bar.width() - 12.0) * 0.6, 68.0);
            let next = ui.add(Button::new(text).fill(ink(palette::ACTION)).min_size(size));
            desk.mark("next", next.rect);
            if next.clicked() {
                session.go(1);
            }
        } else {
            ui.label(soft("That was the last one.").size(22.0));
        }
    });
}
