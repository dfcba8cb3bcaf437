//! What every unrolled tube has on paper: heading, outline, scale of clocks.
//!
//! Heights on a pattern grow upward from `base`, a y on the page, which grows downward.

use super::svg_page::{MARGIN, line, text, text_width};
use crate::tube::{Curve, Outline};
use svg::node::element::path::Data;
use svg::node::element::{Group, Line, Path};

/// Height of a title and its line of sizes, mm.
pub(super) const HEADING: f64 = 16.0;
/// Height of a title's letters and of its sizes', mm.
const TITLE_SIZE: f64 = 5.0;
pub(super) const SIZES_SIZE: f64 = 3.2;
/// A clock tick every this many degrees.
const TICK_STEP: u32 = 15;
/// The widths of lines, mm: what is cut along, and what only helps.
const CUT_LINE: f64 = 0.25;
pub(super) const HELP_LINE: f64 = 0.15;

/// The title and the sizes that end just above `top`.
pub(super) fn heading(top: f64, title: &str, sizes: &str) -> Group {
    Group::new()
        .add(text(MARGIN, top - 9.0, TITLE_SIZE, title))
        .add(text(MARGIN, top - 3.5, SIZES_SIZE, sizes))
}

/// Room that a heading takes from side to side, mm.
pub(super) fn heading_width(title: &str, sizes: &str) -> f64 {
    text_width(title, TITLE_SIZE).max(text_width(sizes, SIZES_SIZE))
}

/// The degrees that are ticked round a tube, and whether each is a quarter.
pub(super) fn scale() -> impl Iterator<Item = (f64, bool)> {
    (0..360)
        .step_by(TICK_STEP as usize)
        .map(|degrees: u32| (f64::from(degrees), degrees.is_multiple_of(90)))
}

/// A line along the tube between two heights of the page.
pub(super) fn through(x: f64, y0: f64, y1: f64) -> Line {
    line(x, y0, x, y1, HELP_LINE).set("stroke-dasharray", "6 2 1 2")
}

/// The closed outline.
pub(super) fn outline_path(id: &str, outline: &Outline, base: f64) -> Path {
    path(id, outline_data(outline, base))
}

/// One line across the pattern.
pub(super) fn curve_path(id: &str, curves: &[Curve], base: f64) -> Path {
    path(id, along(Data::new(), curves, base))
}

fn path(id: &str, data: Data) -> Path {
    Path::new()
        .set("id", id)
        .set("d", data)
        .set("fill", "none")
        .set("stroke", "black")
        .set("stroke-width", CUT_LINE)
}

/// Start left to right, right edge, end back, left edge.
fn outline_data(outline: &Outline, base: f64) -> Data {
    let end: Vec<Curve> = outline.end_curve();
    let mut data = along(Data::new(), &outline.start_curve(), base);
    if let Some(curve) = end.last() {
        data = data.line_to(at(curve[3], base));
    }
    for curve in end.iter().rev() {
        data = cubic(data, [curve[2], curve[1], curve[0]], base);
    }
    data.close()
}

fn along(mut data: Data, curves: &[Curve], base: f64) -> Data {
    if let Some(curve) = curves.first() {
        data = data.move_to(at(curve[0], base));
    }
    for curve in curves {
        data = cubic(data, [curve[1], curve[2], curve[3]], base);
    }
    data
}

fn cubic(data: Data, to: [[f64; 2]; 3], base: f64) -> Data {
    let [a, b, c] = to.map(|point| at(point, base));
    data.cubic_curve_to((a.0, a.1, b.0, b.1, c.0, c.1))
}

fn at([x, y]: [f64; 2], base: f64) -> (f32, f32) {
    (fixed(MARGIN + x), fixed(base - y))
}

/// Path data holds single precision: 0.03 µm at 500 mm.
fn fixed(value: f64) -> f32 {
    ((value * 1e4).round() / 1e4) as f32
}
