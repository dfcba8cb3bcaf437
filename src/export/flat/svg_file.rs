//! A drawing as SVG: one user unit is one millimeter.

use super::area::Area;
use super::drawing::{Drawing, Item, Shape};
use super::layer::Layer;
use super::path::{Path, Step};
use super::pen::Pen;
use super::text::{Anchor, Text};
use crate::tube::FlatPoint;
use std::collections::BTreeMap;
use std::fmt::Write;
use svg::node::element::{self, Circle, Element, Group, Line};
use svg::{Document, Node};

/// What lines are colored by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Black and gray, for paper.
    Paper,
    /// Each layer's own color, for machines that go by colors.
    Colors,
}

/// The fonts that words ask for, in order.
const FONTS: &str = "'DejaVu Sans', Verdana, sans-serif";

impl Drawing {
    /// What lies in `page` as an SVG document of that size, in millimeters.
    pub fn svg(&self, page: &Area, ink: Ink) -> String {
        let (width, height) = (number(page.width()), number(page.height()));
        let mut document = Document::new()
            .set("width", format!("{width}mm"))
            .set("height", format!("{height}mm"))
            .set("viewBox", format!("0 0 {width} {height}"))
            .set("font-family", FONTS);
        let at = |[x, y]: FlatPoint| [x - page.left, page.high - y];
        let mut ids = BTreeMap::new();
        for layer in Layer::ALL {
            let items = self.items().iter().filter(|item| item.layer == layer);
            let mut items = items.peekable();
            if items.peek().is_none() {
                continue;
            }
            let color = match ink {
                Ink::Paper => layer.ink(),
                Ink::Colors => layer.color().1,
            };
            let group = Group::new()
                .set("id", format!("layer-{}", layer.name()))
                .set("fill", "none")
                .set("stroke", color);
            document = document.add(items.fold(group, |group, item| {
                group.add(element(item, &mut ids, color, at))
            }));
        }
        let mut text = document.to_string();
        text.push('\n');
        text
    }
}

/// The item's element. Where its id is there already, as on a page with two tiles of one
/// drawing, it is numbered: `id.2`.
fn element(
    item: &Item,
    ids: &mut BTreeMap<String, usize>,
    color: &str,
    at: impl Fn(FlatPoint) -> [f64; 2],
) -> Element {
    let mut element: Element = match &item.shape {
        Shape::Line(ends, pen) => {
            let [[x1, y1], [x2, y2]] = ends.map(at);
            let line = Line::new()
                .set("x1", number(x1))
                .set("y1", number(y1))
                .set("x2", number(x2))
                .set("y2", number(y2));
            inked(line.into(), *pen)
        }
        Shape::Path(path, pen) => inked(element::Path::new().set("d", data(path, at)).into(), *pen),
        Shape::Dot(center, radius) => {
            let [x, y] = at(*center);
            let dot = Circle::new()
                .set("cx", number(x))
                .set("cy", number(y))
                .set("r", number(*radius));
            dot.set("fill", color).set("stroke", "none").into()
        }
        Shape::Text(text) => words(text, at(text.at), color),
    };
    if let Some(id) = &item.id {
        let count = ids.entry(id.clone()).or_insert(0);
        *count += 1;
        element.assign(
            "id",
            match *count {
                1 => id.clone(),
                count => format!("{id}.{count}"),
            },
        );
    }
    element
}

fn inked(mut element: Element, pen: Pen) -> Element {
    element.assign("stroke-width", number(pen.width));
    let lengths = pen.dash.lengths();
    if !lengths.is_empty() {
        let lengths: Vec<String> = lengths.iter().map(|&length| number(length)).collect();
        element.assign("stroke-dasharray", lengths.join(" "));
    }
    element
}

/// Coordinates are written out here, because the library's path data hold single
/// precision.
fn data(path: &Path, at: impl Fn(FlatPoint) -> [f64; 2]) -> String {
    let mut data = String::new();
    for step in path.steps() {
        let (letter, points) = match *step {
            Step::Move(to) => ('M', vec![to]),
            Step::Line(to) => ('L', vec![to]),
            Step::Cubic(points) => ('C', points.to_vec()),
        };
        data.push(letter);
        for (i, point) in points.into_iter().enumerate() {
            let [x, y] = at(point).map(number);
            let comma = if i > 0 { " " } else { "" };
            // Writing to a string does not fail.
            let _ = write!(data, "{comma}{x},{y}");
        }
        data.push(' ');
    }
    if path.is_closed() {
        data.push('Z');
    }
    data.trim_end().to_owned()
}

fn words(text: &Text, [x, y]: [f64; 2], color: &str) -> Element {
    let mut words = element::Text::new(text.content.as_str())
        .set("x", number(x))
        .set("y", number(y))
        .set("font-size", number(text.size))
        .set("fill", color)
        .set("stroke", "none");
    match text.anchor {
        Anchor::Start => {}
        Anchor::Middle => words = words.set("text-anchor", "middle"),
        Anchor::End => words = words.set("text-anchor", "end"),
    }
    if text.bold {
        words = words.set("font-weight", "bold");
    }
    if text.upward {
        let turned = format!("rotate(-90 {} {})", number(x), number(y));
        words = words.set("transform", turned);
    }
    words.into()
}

/// A number with at most a ten-thousandth of a millimeter, so that bytes do not
/// depend on the last digits of a sine.
pub(super) fn number(value: f64) -> String {
    rounded(value).to_string()
}

pub(super) fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4 + 0.0
}
