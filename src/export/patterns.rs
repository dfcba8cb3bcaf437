//! `patterns.svg`: wrap patterns at true size, one for each kind of piece.
//!
//! The page is as large as it needs to be; one user unit is one millimeter.

use super::svg_outline::{HEADING, heading, heading_width, outline_path, scale, through};
use super::svg_page::{MARGIN, Page, line, text, text_width};
use super::{ExportError, Exporter, OutFile, file_stems};
use crate::plan::{Plan, PlannedRun};
use crate::shop::{Kind, kinds};
use crate::tube::Outline;
use crate::units::{Angle, Length, Style};
use svg::node::element::Group;

const FILE: &str = "patterns.svg";

/// Where joint names stand, degrees from the start's long side: clear of the quarter
/// ticks and of the pattern's middle.
const LABEL_CLOCK: f64 = 195.0;
/// Height of the letters that name a long side, mm.
const MARK_SIZE: f64 = 2.6;
/// Times that such a name must fit across a pattern to be written on it.
const MARK_ROOM: f64 = 3.0;
/// Least height, mm, that holds both joint names.
const LABEL_ROOM: f64 = 13.0;

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
                add(
                    &mut page,
                    (planned, &stem),
                    &kind,
                    self.paper,
                    plan.job.style,
                );
            }
        }
        Ok(vec![OutFile::new(FILE, page.bytes(FILE)?)])
    }
}

/// Draws one pattern below the others.
fn add(page: &mut Page, run: (&PlannedRun, &str), kind: &Kind<'_>, paper: Length, style: Style) {
    // The short side of the start goes to the paper's edges, so that the
    // pattern is widest in its middle, as a gore is drawn.
    let first_clock = kind.piece.start().clock - Angle::HALF;
    let outline = Outline::new(kind.piece, first_clock, paper);
    let (low, high) = outline.extent();
    let heading = heading_width(&title(run.0, kind), &sizes(kind.piece, style));
    let width = outline.width().mm().max(heading);
    page.add(width, HEADING, (low.mm(), high.mm()), |base| {
        pattern(run, kind, &outline, base, style)
    });
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
    let mut group = heading(top, &title(planned, kind), &sizes(piece, style)).add(outline_path(
        &format!("outline-{stem}-{first}"),
        outline,
        base,
    ));
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

/// The line along the tube where an end is longest, named if there is room.
fn mark(outline: &Outline, base: f64, clock: Angle, label: &str) -> Group {
    let x = MARGIN + outline.across(clock).mm();
    let (y0, y1) = (
        base - outline.start_at(clock).mm(),
        base - outline.end_at(clock).mm(),
    );
    let group = Group::new().add(through(x, y0, y1));
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
    scale()
        .map(|(degrees, quarter)| {
            let clock = Angle::from_degrees(degrees);
            let x = MARGIN + outline.across(clock).mm();
            let y = base - outline.start_at(clock).mm();
            let tick = Group::new().add(line(x, y, x, y - if quarter { 4.0 } else { 2.0 }, 0.15));
            if quarter {
                tick.add(text(x + 0.6, y - 1.0, 2.2, &format!("{degrees}°")))
            } else {
                tick
            }
        })
        .collect()
}
