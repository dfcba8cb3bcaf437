//! How panels look: light, large and calm.

use crate::palette::{self, Color};
use egui::{
    Area, Button, Color32, Context, CornerRadius, FontId, Id, Label, Order, Rect, Response,
    RichText, Sense, Stroke, TextStyle, Ui, UiBuilder, vec2,
};
use kiss3d::egui;

/// Size of running text, in points.
pub const TEXT: f32 = 17.0;
/// Size of hints and units.
pub const SMALL: f32 = 14.5;
/// Size of titles.
pub const TITLE: f32 = 20.0;

/// A color for the panels.
pub const fn ink(Color(r, g, b): Color) -> Color32 {
    Color32::from_rgb(r, g, b)
}

/// Sets sizes and colors.
pub fn apply(ctx: &Context) {
    ctx.set_theme(egui::Theme::Light);
    // However long a gloved hand, or a slow picture, takes to let go.
    ctx.options_mut(|options| options.input_options.max_click_duration = f64::INFINITY);
    ctx.style_mut_of(egui::Theme::Light, |style| {
        style.text_styles = [
            (TextStyle::Body, FontId::proportional(TEXT)),
            (TextStyle::Button, FontId::proportional(TEXT)),
            (TextStyle::Small, FontId::proportional(SMALL)),
            (TextStyle::Heading, FontId::proportional(TITLE)),
            (TextStyle::Monospace, FontId::monospace(TEXT)),
        ]
        .into();
        style.spacing.item_spacing = vec2(8.0, 6.0);
        style.spacing.button_padding = vec2(12.0, 7.0);
        style.spacing.interact_size = vec2(36.0, 32.0);
        style.animation_time = 0.0;
        let visuals = &mut style.visuals;
        visuals.override_text_color = None;
        // Drawn only when something happens: a cursor that blinks might stay away.
        visuals.text_cursor.blink = false;
        visuals.panel_fill = ink(palette::PAPER);
        visuals.window_fill = ink(palette::PAPER);
        visuals.window_stroke = Stroke::new(1.5, ink(palette::FRAME));
        visuals.extreme_bg_color = ink(palette::FIELD);
        visuals.faint_bg_color = ink(palette::FIELD);
        visuals.weak_text_color = Some(ink(palette::SOFT_INK));
        visuals.selection.bg_fill = ink(palette::CHOSEN_PAPER);
        visuals.selection.stroke = Stroke::new(1.5, ink(palette::INK));
        let round = CornerRadius::same(5);
        let widgets = &mut visuals.widgets;
        for (widget, fill, frame) in [
            (&mut widgets.noninteractive, palette::PAPER, palette::FRAME),
            (&mut widgets.inactive, palette::FIELD, palette::FRAME),
            (&mut widgets.hovered, palette::CHOSEN_PAPER, palette::INK),
            (&mut widgets.active, palette::CHOSEN_PAPER, palette::INK),
            (&mut widgets.open, palette::FIELD, palette::INK),
        ] {
            widget.bg_fill = ink(fill);
            widget.weak_bg_fill = ink(fill);
            widget.bg_stroke = Stroke::new(1.0, ink(frame));
            widget.fg_stroke = Stroke::new(1.5, ink(palette::INK));
            widget.corner_radius = round;
            widget.expansion = 0.0;
        }
    });
}

/// A panel that fills a rectangle.
pub fn region<R>(ctx: &Context, name: &str, rect: Rect, add: impl FnOnce(&mut Ui) -> R) -> R {
    let area = Area::new(Id::new(name))
        .fixed_pos(rect.min)
        .order(Order::Middle)
        .constrain(false);
    area.show(ctx, |ui| {
        ui.set_clip_rect(rect);
        ui.allocate_rect(rect, Sense::click_and_drag());
        ui.painter().rect_filled(rect, 0.0, ink(palette::PAPER));
        ui.painter().rect_stroke(
            rect,
            0.0,
            Stroke::new(1.0, ink(palette::FRAME)),
            egui::StrokeKind::Inside,
        );
        let mut inside = ui.new_child(UiBuilder::new().max_rect(rect.shrink2(vec2(14.0, 10.0))));
        inside.set_clip_rect(rect.shrink(1.0));
        add(&mut inside)
    })
    .inner
}

/// Text of second rank.
pub fn soft(text: impl Into<String>) -> RichText {
    RichText::new(text)
        .size(SMALL)
        .color(ink(palette::SOFT_INK))
}

/// What is wrong.
pub fn wrong(text: impl Into<String>) -> RichText {
    RichText::new(text)
        .size(SMALL + 0.5)
        .color(ink(palette::WRONG))
        .strong()
}

/// A button that stands out: what is to be done next.
pub fn main_button(ui: &mut Ui, text: &str) -> Response {
    let text = RichText::new(text).color(ink(palette::PAPER)).strong();
    ui.add(Button::new(text).fill(ink(palette::ACTION)))
}

/// A button that stays pressed.
pub fn toggle(ui: &mut Ui, is_on: bool, text: &str) -> Response {
    let button = Button::new(text).stroke(Stroke::new(
        if is_on { 2.0 } else { 1.0 },
        ink(if is_on { palette::INK } else { palette::FRAME }),
    ));
    let fill = if is_on {
        palette::CHOSEN_PAPER
    } else {
        palette::FIELD
    };
    ui.add(button.fill(ink(fill)))
}

/// A problem with what to do about it.
pub fn problem(ui: &mut Ui, place: &str, message: &str, help: &str) {
    let head = if place.is_empty() {
        message.to_owned()
    } else {
        format!("{place}: {message}")
    };
    ui.add(Label::new(wrong(head)).wrap());
    ui.add(Label::new(soft(help)).wrap());
}
