//! Ways to make the run, side by side.

use super::desk::Desk;
use super::look::{ink, region, soft};
use crate::palette;
use crate::state::{Session, way_numbers};
use egui::{
    Align2, Context, FontId, Pos2, Rect, ScrollArea, Sense, Shape, Stroke, StrokeKind, Ui, pos2,
    vec2,
};
use kiss3d::egui;
use runwright::route::{Candidate, Reason};

/// Width of a way's card.
const CARD: f32 = 272.0;

/// Draws them.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, rect: Rect) {
    let mut wanted = None;
    region(ctx, "ways", rect, |ui| {
        ui.label(soft("Ways to make it: click one to take it"));
        ScrollArea::horizontal()
            .auto_shrink([false, false])
            .show(ui, |ui| {
                ui.horizontal(|ui| {
                    let height = rect.height() - 62.0;
                    for (i, (way, reasons)) in session.found_ways().into_iter().enumerate() {
                        let (card, response) =
                            ui.allocate_exact_size(vec2(CARD, height), Sense::click());
                        desk.mark(format!("way {}", i + 1), card);
                        show(ui, session, card, i, way, reasons, response.hovered());
                        if response.clicked() {
                            wanted = Some(i);
                        }
                    }
                });
            });
    });
    if let Some(way) = wanted {
        session.take_way(way);
    }
}

fn show(
    ui: &Ui,
    session: &Session,
    card: Rect,
    index: usize,
    way: &Candidate,
    reasons: &[Reason],
    is_hovered: bool,
) {
    let is_taken = session.way() == index;
    let (fill, frame) = match (is_taken, is_hovered) {
        (true, _) => (
            palette::CHOSEN_PAPER,
            Stroke::new(2.5, ink(palette::CHOSEN)),
        ),
        (false, true) => (palette::FIELD, Stroke::new(1.5, ink(palette::INK))),
        (false, false) => (palette::PAPER, Stroke::new(1.0, ink(palette::FRAME))),
    };
    let painter = ui.painter();
    painter.rect_filled(card, 6.0, ink(fill));
    painter.rect_stroke(card, 6.0, frame, StrokeKind::Inside);
    let said = reasons.first().map_or("", |reason| reason.words());
    painter.text(
        card.min + vec2(10.0, 8.0),
        Align2::LEFT_TOP,
        format!("{}  {said}", index + 1),
        FontId::proportional(15.5),
        ink(palette::INK),
    );
    line(
        ui,
        session,
        way,
        Rect::from_min_max(
            pos2(card.left() + 10.0, card.top() + 32.0),
            pos2(card.left() + 118.0, card.bottom() - 10.0),
        ),
    );
    let numbers = way_numbers(way, session.shown.style());
    for (i, (name, value)) in numbers.iter().enumerate() {
        let y = card.top() + 33.0 + 14.6 * i as f32;
        painter.text(
            pos2(card.left() + 128.0, y),
            Align2::LEFT_TOP,
            name,
            FontId::proportional(13.5),
            ink(palette::SOFT_INK),
        );
        painter.text(
            pos2(card.right() - 10.0, y),
            Align2::RIGHT_TOP,
            value,
            FontId::proportional(13.5),
            ink(palette::INK),
        );
    }
}

/// The centerline as it is seen now.
fn line(ui: &Ui, session: &Session, way: &Candidate, into: Rect) {
    let [_, right, up] = session.view.eye.axes();
    let points: Vec<[f64; 2]> = way
        .run
        .centerline()
        .points()
        .iter()
        .map(|point| [point.coords.dot(&right), -point.coords.dot(&up)])
        .collect();
    let Some(first) = points.first().copied() else {
        return;
    };
    let (low, high) = points.iter().fold((first, first), |(low, high), p| {
        (
            [low[0].min(p[0]), low[1].min(p[1])],
            [high[0].max(p[0]), high[1].max(p[1])],
        )
    });
    let (wide, tall) = ((high[0] - low[0]).max(1.0), (high[1] - low[1]).max(1.0));
    let scale = (f64::from(into.width() - 12.0) / wide).min(f64::from(into.height() - 12.0) / tall);
    let at = |p: &[f64; 2]| -> Pos2 {
        let x = (p[0] - (low[0] + high[0]) / 2.0) * scale;
        let y = (p[1] - (low[1] + high[1]) / 2.0) * scale;
        into.center() + vec2(x as f32, y as f32)
    };
    let drawn: Vec<Pos2> = points.iter().map(at).collect();
    ui.painter().add(Shape::line(
        drawn.clone(),
        Stroke::new(7.0, ink(palette::TUBE[0])),
    ));
    ui.painter().add(Shape::line(
        drawn.clone(),
        Stroke::new(1.5, ink(palette::INK)),
    ));
    for place in &drawn {
        ui.painter().circle_filled(*place, 2.2, ink(palette::INK));
    }
}
