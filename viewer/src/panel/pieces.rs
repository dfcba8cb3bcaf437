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
const COLUMNS: [(&str, f32); 5] = [
    ("piece", 0.12),
    ("long side", 0.40),
    ("feed", 0.62),
    ("rotate", 0.83),
    ("saw", 1.0),
];
/// Height of a row.
const ROW: f32 = 31.0;

/// Draws it.
pub fn draw(ctx: &Context, session: &mut Session, desk: &mut Desk, rect: Rect) {
    region(ctx, "pieces", rect, |ui| {
        let Some(run) = session.shown.run(session.run) else {
            ui.label(soft("Pieces are listed here."));
            return;
        };
        let style = session.shown.style();
        let numbers = PieceNumbers::of_run(run, session.shown.saw(session.run), style);
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
    for (i, (title, end)) in COLUMNS.iter().enumerate() {
        text(ui, head, i, *end, title, 14.0, palette::SOFT_INK);
    }
    let closing = session.shown.closing(session.run).map(|(piece, _)| piece);
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
        let number = if closing == Some(piece.number) {
            format!("{} *", piece.number)
        } else {
            piece.number.to_string()
        };
        let feed = piece
            .feed
            .as_ref()
            .map_or("stock bend".to_owned(), |feed| feed[0].clone());
        let values = [
            number,
            piece.long.clone(),
            feed,
            piece.rotate.clone().unwrap_or_default(),
            piece.angle.clone().unwrap_or_default(),
        ];
        for (i, ((_, end), value)) in COLUMNS.iter().zip(&values).enumerate() {
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
            Some(longer) => format!("* leave for last; cut it {longer} longer, then to the gap"),
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
    ui.label(RichText::new(format!("Piece {}, {kind}", piece.number)).heading());
    let feed = piece
        .feed
        .as_ref()
        .map(|[fraction, exact]| format!("{fraction}  ({exact})"));
    let rows = [
        ("long side", Some(piece.long.clone())),
        ("center", Some(piece.center.clone())),
        ("short side", Some(piece.short.clone())),
        ("cut at its start", Some(piece.start_cut.clone())),
        ("cut at its end", Some(piece.end_cut.clone())),
        ("clock, long side to long side", Some(piece.clock.clone())),
        ("feed, kerf included", feed),
        ("rotate before the cut", piece.rotate.clone()),
        ("saw", piece.angle.clone()),
        ("joint after it", Some(piece.joint.clone())),
    ];
    for (name, value) in rows {
        let Some(value) = value else { continue };
        ui.horizontal(|ui| {
            ui.label(soft(name));
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                ui.label(RichText::new(value).strong())
            });
        });
    }
    if session.shown.saw(session.run).is_empty() {
        ui.label(soft("this file has no saw sheet"));
    }
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
