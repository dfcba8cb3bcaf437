//! The run's pieces as a list, and all numbers of the one that is chosen.

use super::desk::Desk;
use super::look::{ink, problem, region, soft};
use crate::palette;
use crate::state::{PieceNumbers, Session};
use egui::{
    Align, Align2, Context, FontId, Label, Layout, Rect, RichText, ScrollArea, Sense, Stroke, Ui,
    vec2,
};
use kiss3d::egui;
use runwright::units::counted;

/// Columns of the list: their titles and where they end, as parts of the width.
const SAWN: [(&str, f32); 5] = [
    ("piece", 0.12),
    ("long side", 0.40),
    ("feed", 0.62),
    ("rotate", 0.83),
    ("angle", 1.0),
];
/// The same where nothing of it is still to be sawn.
const SIZED: [(&str, f32); 5] = [
    ("piece", 0.12),
    ("long side", 0.36),
    ("center", 0.58),
    ("short side", 0.80),
    ("clock", 1.0),
];
/// Height of a row.
const ROW: f32 = 31.0;

/// Draws it.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, rect: Rect) {
    region(ctx, "pieces", rect, |ui| {
        let Some(run) = session.shown.run(session.run) else {
            loose(ui, session);
            return;
        };
        let style = session.shown.style();
        let numbers = PieceNumbers::of_run(run, session.run, session.cutting(), style);
        ui.heading(format!("Run '{}'", session.shown.name(session.run)));
        let bends = numbers.iter().filter(|piece| piece.is_bend).count();
        let tube = run.tube();
        let line = format!(
            "{}{}, centerline {}, tube {} × {}",
            counted(numbers.len(), "piece"),
            if bends > 0 {
                format!(" ({})", counted(bends, "stock bend"))
            } else {
                String::new()
            },
            style.length(run.length()),
            style.decimal(tube.od()),
            style.decimal(tube.wall()),
        );
        ui.add(Label::new(soft(line)).wrap());
        tightest(ui, session);
        ui.add_space(4.0);
        ScrollArea::vertical()
            .auto_shrink([false, false])
            .show(ui, |ui| {
                list(ui, session, desk, &numbers);
                ui.add_space(8.0);
                match session.piece.and_then(|piece| numbers.get(piece)) {
                    Some(piece) => details(ui, session, piece),
                    None => {
                        ui.add(
                            Label::new(soft(
                                "Click a piece, here or in the picture, for all its numbers.",
                            ))
                            .wrap(),
                        );
                    }
                }
                warnings(ui, session);
                ui.add_space(30.0);
            });
    });
}

fn tightest(ui: &mut Ui, session: &Session) {
    let style = session.shown.style();
    if let Some((place, name)) = session
        .nearness
        .as_ref()
        .and_then(|nearness| nearness.tightest())
    {
        let text = format!(
            "tightest: {} from '{name}', piece {}",
            style.length(place.clear),
            place.number
        );
        let color = if place.is_clear() {
            palette::INK
        } else {
            palette::WRONG
        };
        ui.add(Label::new(RichText::new(text).color(ink(color))).wrap());
    }
}

fn list(ui: &mut Ui, session: &mut Session, desk: &mut Desk, numbers: &[PieceNumbers]) {
    let width = ui.available_width();
    let (head, _) = ui.allocate_exact_size(vec2(width, 22.0), Sense::hover());
    let is_sawn = session.cutting().is_some_and(|cutting| !cutting.is_empty());
    let columns = if is_sawn { SAWN } else { SIZED };
    for (i, (title, end)) in columns.iter().enumerate() {
        text(ui, head, i, *end, title, 14.0, palette::SOFT_INK);
    }
    for piece in numbers {
        let (row, response) = ui.allocate_exact_size(vec2(width, ROW), Sense::click());
        desk.mark(format!("piece {}", piece.number), row);
        let is_chosen = session.piece == Some(piece.number - 1);
        if is_chosen || response.hovered() {
            let fill = if is_chosen {
                palette::CHOSEN_PAPER
            } else {
                palette::FIELD
            };
            ui.painter().rect_filled(row, 4.0, ink(fill));
        }
        if is_chosen {
            let bar = Rect::from_min_size(row.min, vec2(5.0, ROW));
            ui.painter().rect_filled(bar, 0.0, ink(palette::CHOSEN));
            if response.clicked() || ui.input(|input| input.pointer.any_click()) {
                ui.scroll_to_rect(row, None);
            }
        }
        let line = row.bottom();
        ui.painter()
            .hline(row.x_range(), line, Stroke::new(0.5, ink(palette::FRAME)));
        let number = session.shown.label(session.run, piece.number - 1);
        let number = if session.shown.closes(session.run, piece.number - 1) {
            format!("{number} *")
        } else {
            number
        };
        let feed = match &piece.feed {
            Some(feed) => feed[0].clone(),
            None if piece.is_bend => "stock bend".to_owned(),
            None => String::new(),
        };
        let long = piece.long.clone();
        let values = if is_sawn {
            let rotate = piece.rotate.clone().unwrap_or_default();
            let angle = piece.angle.clone().unwrap_or_default();
            [number, long, feed, rotate, angle]
        } else {
            let (center, short) = (piece.center.clone(), piece.short.clone());
            [number, long, center, short, piece.clock.clone()]
        };
        for (i, ((_, end), value)) in columns.iter().zip(&values).enumerate() {
            text(ui, row, i, *end, value, 16.5, palette::INK);
        }
        if response.clicked() {
            session.piece = if is_chosen {
                None
            } else {
                Some(piece.number - 1)
            };
        }
    }
    if let Some((_, longer)) = session.shown.closing(session.run) {
        let text = match longer {
            Some(longer) => {
                format!("* for last: sawn {longer} longer than planned, then cut to the gap")
            }
            None => "* closes the gap".to_owned(),
        };
        ui.add(Label::new(soft(text)).wrap());
    }
}

fn text(ui: &Ui, row: Rect, column: usize, end: f32, text: &str, size: f32, color: palette::Color) {
    let font = FontId::proportional(size);
    if column == 0 {
        let at = egui::pos2(row.left() + 10.0, row.center().y);
        ui.painter()
            .text(at, Align2::LEFT_CENTER, text, font, ink(color));
    } else {
        let at = egui::pos2(row.left() + row.width() * end - 4.0, row.center().y);
        ui.painter()
            .text(at, Align2::RIGHT_CENTER, text, font, ink(color));
    }
}

fn details(ui: &mut Ui, session: &Session, piece: &PieceNumbers) {
    ui.separator();
    let kind = if piece.is_bend {
        "stock bend"
    } else {
        "straight piece"
    };
    let name = session.shown.label(session.run, piece.number - 1);
    ui.label(RichText::new(format!("Piece {name}, {kind}")).heading());
    if let Some(own) = session.shown.own_numbers(session.run, piece.number - 1) {
        rows(
            ui,
            own.iter()
                .map(|(name, value)| (name.as_str(), value.clone())),
        );
        return;
    }
    let feed = piece
        .feed
        .as_ref()
        .map(|[fraction, exact]| format!("{fraction}  ({exact})"));
    let all = [
        ("long side", Some(piece.long.clone())),
        ("center", Some(piece.center.clone())),
        ("short side", Some(piece.short.clone())),
        ("cut at its start", Some(piece.start_cut.clone())),
        ("cut at its end", Some(piece.end_cut.clone())),
        ("clock, long side to long side", Some(piece.clock.clone())),
        ("feed, kerf included", feed),
        ("rotate before the cut", piece.rotate.clone()),
        ("angle, the saw's", piece.angle.clone()),
        ("joint after it", Some(piece.joint.clone())),
    ];
    rows(
        ui,
        all.into_iter()
            .filter_map(|(name, value)| Some((name, value?))),
    );
}

fn rows<'a>(ui: &mut Ui, rows: impl Iterator<Item = (&'a str, String)>) {
    for (name, value) in rows {
        ui.horizontal(|ui| {
            ui.label(soft(name));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.label(RichText::new(value).strong())
            });
        });
    }
}

/// Pieces that make no run, with their numbers.
fn loose(ui: &mut Ui, session: &Session) {
    let new = session.shown.loose(session.run).iter();
    let mut new = new.filter(|loose| loose.is_new).peekable();
    if new.peek().is_none() {
        ui.label(soft("Pieces are listed here."));
        return;
    }
    ScrollArea::vertical()
        .auto_shrink([false, false])
        .show(ui, |ui| {
            for piece in new {
                let name = if piece.name == "closes" {
                    "The piece to cut".to_owned()
                } else {
                    format!("Piece {}", piece.name)
                };
                ui.label(RichText::new(name).heading());
                rows(
                    ui,
                    piece
                        .numbers
                        .iter()
                        .map(|(name, value)| (name.trim_end(), value.clone())),
                );
                ui.separator();
            }
            ui.add(
                Label::new(soft(
                    "Clocks are seen looking downstream, clockwise. Export writes the pattern to wrap round it.",
                ))
                .wrap(),
            );
        });
}

fn warnings(ui: &mut Ui, session: &Session) {
    if session.warnings.is_empty() {
        return;
    }
    ui.separator();
    ui.label(RichText::new("Know before you cut").heading());
    for warning in &session.warnings {
        problem(ui, &warning.path, &warning.message, &warning.help);
        ui.add_space(4.0);
    }
}
