//! What every pattern has: its edges, lines square to the axis, and the overlap tab.

use crate::export::flat::{Area, Dash, Drawing, Layer, Path, Pen, Text};
use crate::tube::{FlatPoint, Outline};
use crate::units::Length;

/// Lower than this, mm, a pattern's line across is drawn at its sides alone.
const LOW: f64 = 45.0;
/// How far it goes in from either side then, mm, and the most of the width.
const AT_SIDES: (f64, f64) = (9.0, 0.12);
/// Places where it is looked at.
const STATIONS: usize = 360;
/// Halvings that find where it crosses an edge.
const HALVINGS: u32 = 50;
/// Width of the tab, mm, and the most of the pattern's width; common practice, no source.
const TAB: (f64, f64) = (12.0, 0.12);
/// How far it keeps inside the edges, mm, and the most of its height.
const INSET: (f64, f64) = (1.0, 0.2);
/// How much its corners are taken off, mm.
const CORNER: f64 = 3.0;
/// Least height of a tab, mm.
const LEAST: f64 = 1.5;
const TAB_PEN: Pen = Pen::solid(0.3);
/// What is written on it, and how high, mm.
const TAB_WORDS: &str = "goes under";
const TAB_SIZE: f64 = 2.6;
/// Room that words on a tab need about them, mm.
const ABOUT_WORDS: f64 = 1.0;

/// The line that the pattern's first side is laid on, beside the tab.
const MATCH_PEN: Pen = Pen::broken(0.3, Dash::Dashed);

/// Draws edges and sides, with a tab if `tabbed` and there is room for one: the side that
/// it hangs on is no cut. Returns what the tab takes; its words keep off `keep_off`.
pub(super) fn draw_edges(
    drawing: &mut Drawing,
    id: &str,
    outline: &Outline,
    tabbed: bool,
    keep_off: &[Area],
) -> Option<Area> {
    let (start, end) = (outline.start_curve(), outline.end_curve());
    let tab = tab(outline).filter(|_| tabbed);
    let mut path = Path::along(&start);
    if let Some([_, _, _, corner]) = end.last() {
        match &tab {
            Some(_) => path.move_to(*corner),
            None => path.line_to(*corner),
        }
    }
    path.add_curves_back(&end);
    match (&tab, start.first()) {
        (Some(_), Some([corner, ..])) => path.line_to(*corner),
        _ => path = path.closed(true),
    }
    drawing.named_path(Layer::Cut, Pen::CUT, id, path);
    let (tab, low, high) = (tab?, start.last()?[3], end.last()?[3]);
    drawing.line(Layer::Marks, MATCH_PEN, [low, high]);
    tab.draw(drawing, keep_off);
    Some(tab.area)
}

/// Stretches of the line square to the axis at mid-length that lie on the pattern: all of
/// it where there is room, and otherwise its two ends.
///
/// Paper that is wrapped square has these meet at the sides.
pub(super) fn base_lines(outline: &Outline) -> Vec<[FlatPoint; 2]> {
    let width = outline.width().mm();
    let level = outline.sleeve().length().mm() / 2.0;
    let short = outline.sleeve().short_side().0.mm();
    let inside = |x: f64| {
        let clock = outline.clock_at(Length::from_mm(x));
        outline.start_at(clock).mm() < level && level < outline.end_at(clock).mm()
    };
    let border = |mut a: f64, mut b: f64| {
        let before = inside(a);
        for _ in 0..HALVINGS {
            let middle = (a + b) / 2.0;
            if inside(middle) == before {
                a = middle;
            } else {
                b = middle;
            }
        }
        (a + b) / 2.0
    };
    let at = |i: usize| width * (i as f64 / STATIONS as f64);
    let mut stretches = Vec::new();
    let mut from = inside(0.0).then_some(0.0);
    for i in 1..=STATIONS {
        let (before, here) = (at(i - 1), at(i));
        match (from, inside(here)) {
            (Some(start), false) => {
                stretches.push([start, border(before, here)]);
                from = None;
            }
            (None, true) => from = Some(border(before, here)),
            _ => {}
        }
    }
    stretches.extend(from.map(|start| [start, width]));
    let reach = AT_SIDES.0.min(AT_SIDES.1 * width);
    let sides = [[0.0, reach], [width - reach, width]];
    let parts: Vec<[f64; 2]> = match short < LOW {
        false => stretches,
        true => {
            let cut = |side: [f64; 2]| {
                let cut = |s: &[f64; 2]| [s[0].max(side[0]), s[1].min(side[1])];
                stretches.iter().map(cut).collect::<Vec<_>>()
            };
            sides.into_iter().flat_map(cut).collect()
        }
    };
    let some = parts.into_iter().filter(|[from, to]| to > from);
    some.map(|part| part.map(|x| [x, level])).collect()
}

/// The strip that goes under the pattern's first side when it is wrapped.
struct Tab {
    area: Area,
    path: Path,
}

/// The tab of a pattern, past its last clock; none where it is too low there.
///
/// It keeps inside the edges as they go on round the tube, so that nothing of it shows.
fn tab(outline: &Outline) -> Option<Tab> {
    let left = outline.width().mm();
    let width = TAB.0.min(TAB.1 * left);
    let stations = (0..=STATIONS / 10).map(|i| i as f64 / (STATIONS / 10) as f64);
    let edges = stations.map(|part| {
        let clock = outline.clock_at(Length::from_mm(left + width * part));
        (outline.start_at(clock).mm(), outline.end_at(clock).mm())
    });
    let (low, high) = edges.fold((f64::NEG_INFINITY, f64::INFINITY), |(low, high), (a, b)| {
        (low.max(a), high.min(b))
    });
    let inset = INSET.0.min(INSET.1 * (high - low));
    let (low, high) = (low + inset, high - inset);
    let tall = high - low;
    if tall.is_nan() || tall < LEAST {
        return None;
    }
    let right = left + width;
    let corner = CORNER.min(tall / 3.0).min(width / 2.0);
    let path = Path::through([
        [left, low],
        [right - corner, low],
        [right, low + corner],
        [right, high - corner],
        [right - corner, high],
        [left, high],
    ]);
    let area = Area {
        left,
        right,
        low,
        high,
    };
    Some(Tab { area, path })
}

impl Tab {
    /// Draws it; its words only where they are clear of `keep_off`.
    fn draw(&self, drawing: &mut Drawing, keep_off: &[Area]) {
        drawing.path(Layer::Tab, TAB_PEN, self.path.clone());
        let middle = [
            (self.area.left + self.area.right) / 2.0,
            (self.area.low + self.area.high) / 2.0,
        ];
        let mut words = Text::new([0.0; 2], TAB_SIZE, TAB_WORDS).upward();
        let area = words.area();
        words.at = [
            middle[0] - (area.left + area.right) / 2.0,
            middle[1] - (area.low + area.high) / 2.0,
        ];
        let area = words.area();
        let clear = keep_off.iter().all(|other| area.is_clear_of(other, 0.0));
        if clear && self.area.grown(-ABOUT_WORDS).holds(&area) {
            drawing.text(words);
        }
    }
}
