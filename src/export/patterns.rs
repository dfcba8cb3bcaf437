//! `patterns.svg`: wrap patterns at true size, one for each kind of piece.
//!
//! The page is as large as it needs to be; one user unit is one millimeter.

use super::{ExportError, Exporter, OutFile, file_stems};
use crate::plan::{Plan, PlannedRun};
use crate::shop::{Kind, kinds};
use crate::tube::{Curve, Outline};
use crate::units::{Angle, Length, Style};
use svg::Document;
use svg::node::element::path::Data;
use svg::node::element::{Group, Line, Path, Text};

const FILE: &str = "patterns.svg";

/// White round everything, mm.
const MARGIN: f64 = 10.0;
/// Height of a title and its line of sizes, mm.
const TITLE: f64 = 16.0;
/// Height of a title's letters and of its sizes', mm.
const TITLE_SIZE: f64 = 5.0;
const SIZES_SIZE: f64 = 3.2;
/// Widest that a letter of a plain font is on average, as a part of its height.
const LETTER: f64 = 0.6;
/// Between one pattern and the next, mm.
const GAP: f64 = 14.0;
/// Height of the check bars, mm.
const CHECK_BARS: f64 = 34.0;
/// Least page width, mm: the check bars and their labels.
const MIN_WIDTH: f64 = 150.0;
/// Where joint names stand, degrees from the start's long side: clear of the quarter
/// ticks and of the pattern's middle.
const LABEL_CLOCK: f64 = 195.0;
/// Height of the letters that name a long side, mm.
const MARK_SIZE: f64 = 2.6;
/// Times that such a name must fit across a pattern to be written on it.
const MARK_ROOM: f64 = 3.0;
/// Least height, mm, that holds both joint names.
const LABEL_ROOM: f64 = 13.0;
/// A clock tick every this many degrees.
const TICK_STEP: u32 = 15;

/// Writes `patterns.svg`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Patterns {
    /// Thickness of the paper that is wrapped round the tube.
    pub paper: Length,
}

impl Exporter for Patterns {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let mut page = Page::new();
        for (planned, stem) in plan.runs.iter().zip(file_stems(plan)) {
            for kind in kinds(planned.run()) {
                page.add((planned, &stem), &kind, self.paper, plan.job.style);
            }
        }
        let mut bytes = Vec::new();
        svg::write(&mut bytes, &page.finish()).map_err(|e| ExportError::new(FILE, e))?;
        bytes.push(b'\n');
        Ok(vec![OutFile::new(FILE, bytes)])
    }
}

/// Patterns laid out downward.
struct Page {
    width: f64,
    y: f64,
    content: Vec<Group>,
}

impl Page {
    fn new() -> Self {
        let bars = Group::new()
            .add(check_bar(
                "check-100-mm",
                MARGIN + 6.0,
                Length::from_mm(100.0),
                "100 mm",
            ))
            .add(check_bar(
                "check-4-in",
                MARGIN + 20.0,
                Length::from_inches(4.0),
                "4 in",
            ));
        Self {
            width: MIN_WIDTH,
            y: MARGIN + CHECK_BARS,
            content: vec![bars],
        }
    }

    fn add(&mut self, run: (&PlannedRun, &str), kind: &Kind<'_>, paper: Length, style: Style) {
        // The short side of the start goes to the paper's edges, so that the
        // pattern is widest in its middle, as a gore is drawn.
        let first_clock = kind.piece.start().clock - Angle::HALF;
        let outline = Outline::new(kind.piece, first_clock, paper);
        let (low, high) = outline.extent();
        self.y += TITLE;
        let base = self.y + high.mm();
        self.content.push(pattern(run, kind, &outline, base, style));
        self.y = base - low.mm() + GAP;
        let title = text_width(&title(run.0, kind), TITLE_SIZE);
        let sizes = text_width(&sizes(kind.piece, style), SIZES_SIZE);
        let widest = outline.width().mm().max(title).max(sizes);
        self.width = self.width.max(widest + 2.0 * MARGIN);
    }

    fn finish(self) -> Document {
        let (width, height) = (self.width, self.y + MARGIN);
        let document = Document::new()
            .set("width", format!("{}mm", number(width)))
            .set("height", format!("{}mm", number(height)))
            .set(
                "viewBox",
                format!("0 0 {} {}", number(width), number(height)),
            )
            .set("font-family", "sans-serif");
        self.content.into_iter().fold(document, Document::add)
    }
}

/// Room that `text` takes, mm, whatever plain font shows it.
fn text_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * LETTER
}

/// A number with at most a ten-thousandth of a millimeter, so that bytes do not
/// depend on the last digits of a sine.
fn number(value: f64) -> String {
    let rounded = (value * 1e4).round() / 1e4 + 0.0;
    rounded.to_string()
}

fn check_bar(id: &str, y: f64, length: Length, label: &str) -> Group {
    let (x0, x1) = (MARGIN, MARGIN + length.mm());
    let bar = Path::new()
        .set("id", id)
        .set(
            "d",
            format!(
                "M{} {} L{} {}",
                number(x0),
                number(y),
                number(x1),
                number(y)
            ),
        )
        .set("fill", "none")
        .set("stroke", "black")
        .set("stroke-width", 0.3);
    Group::new()
        .add(bar)
        .add(line(x0, y - 2.0, x0, y + 2.0, 0.3))
        .add(line(x1, y - 2.0, x1, y + 2.0, 0.3))
        .add(text(
            x0 + 2.0,
            y + 5.0,
            3.5,
            &format!("{label}: measure this on paper before you cut"),
        ))
}

fn pattern(
    (planned, stem): (&PlannedRun, &str),
    kind: &Kind<'_>,
    outline: &Outline,
    base: f64,
    style: Style,
) -> Group {
    let piece = &kind.piece;
    let first = kind.numbers.first().copied().unwrap_or(0);
    let (_, high) = outline.extent();
    let top = base - high.mm();
    let mut group = Group::new()
        .add(text(MARGIN, top - 9.0, TITLE_SIZE, &title(planned, kind)))
        .add(text(MARGIN, top - 3.5, SIZES_SIZE, &sizes(piece, style)))
        .add(
            Path::new()
                .set("id", format!("outline-{stem}-{first}"))
                .set("d", outline_data(outline, base))
                .set("fill", "none")
                .set("stroke", "black")
                .set("stroke-width", 0.25),
        );
    let ends = [
        (piece.start(), "long side, start"),
        (piece.end(), "long side, end"),
    ];
    for (cut, label) in ends {
        if cut.angle > Angle::ZERO {
            group = group.add(mark(outline, base, cut.clock, label));
        }
    }
    group = ticks(outline, base).into_iter().fold(group, Group::add);
    let (from, to) = joints(kind);
    let clock = piece.start().clock + Angle::from_degrees(LABEL_CLOCK);
    let x = MARGIN + outline.across(clock).mm();
    let (start, end) = (
        base - outline.start_at(clock).mm(),
        base - outline.end_at(clock).mm(),
    );
    if start - end < LABEL_ROOM {
        // The title names the joints too; a short pie has no room for more.
        return group;
    }
    group
        .add(text(x, end + 5.0, 3.0, &format!("↑ to joint {to}")))
        .add(text(x, start - 5.5, 3.0, &format!("from joint {from}")))
}

/// Joint numbers at the start and at the end of the pieces of one kind.
fn joints(kind: &Kind<'_>) -> (String, String) {
    let before: Vec<usize> = kind.numbers.iter().map(|n| n.saturating_sub(1)).collect();
    (ranges(&before), ranges(&kind.numbers))
}

/// Rising numbers with neighbors run together: `2-5, 7`.
fn ranges(numbers: &[usize]) -> String {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for &n in numbers {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == n => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let write = |&(first, last): &(usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first}-{last}"),
    };
    runs.iter().map(write).collect::<Vec<_>>().join(", ")
}

fn title(planned: &PlannedRun, kind: &Kind<'_>) -> String {
    let noun = if kind.numbers.len() == 1 {
        "piece"
    } else {
        "pieces"
    };
    let (from, to) = joints(kind);
    let numbers = ranges(&kind.numbers);
    format!(
        "{}: {noun} {numbers}, from joint {from} to joint {to}",
        planned.name
    )
}

fn sizes(piece: &crate::tube::Piece, style: Style) -> String {
    format!(
        "long {}, center {}, short {}; cuts {} and {}, clock {}; print at 100 %, wrap printed side out",
        style.length(piece.long_side()),
        style.length(piece.length()),
        style.length(piece.short_side()),
        style.angle(piece.start().angle),
        style.angle(piece.end().angle),
        style.clock(piece.clock()),
    )
}

/// The closed outline: start cut left to right, right edge, end cut back, left edge.
fn outline_data(outline: &Outline, base: f64) -> Data {
    let at = |[x, y]: [f64; 2]| (fixed(MARGIN + x), fixed(base - y));
    let start = outline.start_curve();
    let end: Vec<Curve> = outline.end_curve();
    let mut data = Data::new();
    if let Some(curve) = start.first() {
        data = data.move_to(at(curve[0]));
    }
    for curve in &start {
        let (a, b, c) = (at(curve[1]), at(curve[2]), at(curve[3]));
        data = data.cubic_curve_to((a.0, a.1, b.0, b.1, c.0, c.1));
    }
    if let Some(curve) = end.last() {
        data = data.line_to(at(curve[3]));
    }
    for curve in end.iter().rev() {
        let (a, b, c) = (at(curve[2]), at(curve[1]), at(curve[0]));
        data = data.cubic_curve_to((a.0, a.1, b.0, b.1, c.0, c.1));
    }
    data.close()
}

/// Path data holds single precision: 0.03 µm at 500 mm.
fn fixed(value: f64) -> f32 {
    ((value * 1e4).round() / 1e4) as f32
}

/// The line along the tube where an end is longest, named if there is room.
fn mark(outline: &Outline, base: f64, clock: Angle, label: &str) -> Group {
    let x = MARGIN + outline.across(clock).mm();
    let (y0, y1) = (
        base - outline.start_at(clock).mm(),
        base - outline.end_at(clock).mm(),
    );
    let group = Group::new().add(line(x, y0, x, y1, 0.15).set("stroke-dasharray", "6 2 1 2"));
    let wide = outline.width().mm() > MARK_ROOM * text_width(label, MARK_SIZE);
    if !wide || y0 - y1 < LABEL_ROOM {
        return group;
    }
    let y = if label.ends_with("start") {
        y0 - 6.0
    } else {
        y1 + 9.0
    };
    group.add(text(x + 1.0, y, MARK_SIZE, label))
}

/// Clock ticks along the start cut, from the start's long side.
fn ticks(outline: &Outline, base: f64) -> Vec<Group> {
    (0..360 / TICK_STEP)
        .map(|i| {
            let degrees = f64::from(i * TICK_STEP);
            let clock = Angle::from_degrees(degrees);
            let x = MARGIN + outline.across(clock).mm();
            let y = base - outline.start_at(clock).mm();
            let quarter = (i * TICK_STEP).is_multiple_of(90);
            let tick = Group::new().add(line(x, y, x, y - if quarter { 4.0 } else { 2.0 }, 0.15));
            if quarter {
                tick.add(text(x + 0.6, y - 1.0, 2.2, &format!("{degrees}°")))
            } else {
                tick
            }
        })
        .collect()
}

fn line(x0: f64, y0: f64, x1: f64, y1: f64, width: f64) -> Line {
    Line::new()
        .set("x1", number(x0))
        .set("y1", number(y0))
        .set("x2", number(x1))
        .set("y2", number(y1))
        .set("stroke", "black")
        .set("stroke-width", width)
}

fn text(x: f64, y: f64, size: f64, content: &str) -> Text {
    Text::new(content)
        .set("x", number(x))
        .set("y", number(y))
        .set("font-size", size)
}
