//! [`Canvas`]: the marks of a picture on a page in mm, and its document.

use super::letters::{CAPITAL, DESCENT};
use super::{Area, Curve, Spot, Step, letters};
use crate::units::Length;
use std::fmt::Write as _;
use svg::node::element::{Definitions, Element, Group};
use svg::{Document, Node};

/// Color of lines and letters.
pub const INK: &str = "#1c2430";
/// Color of flow and of axes.
pub const ACCENT: &str = "#b4451f";
/// Color of lines that only point at something.
pub const FAINT: &str = "#6b7480";

/// Letters and shapes, and the box round them.
pub struct Canvas {
    definitions: Definitions,
    marks: Group,
    used: Option<Area>,
}

/// How a path is filled and stroked.
#[derive(Clone, Copy, Debug)]
pub struct Paint<'a> {
    /// Color or reference of the inside.
    pub fill: &'a str,
    /// Color or reference of the line.
    pub stroke: &'a str,
    /// Width of the line, mm.
    pub width: f64,
}

impl<'a> Paint<'a> {
    /// A line alone.
    pub const fn line(stroke: &'a str, width: f64) -> Self {
        Self {
            fill: "none",
            stroke,
            width,
        }
    }

    /// The inside alone.
    pub const fn fill(fill: &'a str) -> Self {
        Self {
            fill,
            stroke: "none",
            width: 0.0,
        }
    }
}

impl Canvas {
    /// With nothing on it.
    pub fn new() -> Self {
        Self {
            definitions: Definitions::new(),
            marks: Group::new()
                .set("stroke-linecap", "round")
                .set("stroke-linejoin", "round"),
            used: None,
        }
    }

    /// Something that marks refer to.
    pub fn define(&mut self, element: Element) {
        self.definitions.append(element);
    }

    /// Counts an area as used.
    pub fn reserve(&mut self, area: Area) {
        self.used = Some(self.used.map_or(area, |used| used.with(&area)));
    }

    /// Curves in page coordinates as one path.
    pub fn curves(&mut self, curves: &[Curve], closed: bool, paint: Paint<'_>) {
        let mut data = String::new();
        for curve in curves {
            self.write(&mut data, curve, paint.width / 2.0);
            if closed {
                data.push('Z');
            }
        }
        if !data.is_empty() {
            self.path(&data, paint);
        }
    }

    /// Straight lines through page spots.
    pub fn polyline(&mut self, spots: &[Spot], closed: bool, paint: Paint<'_>) {
        if let [first, rest @ ..] = spots {
            let mut curve = Curve::from(*first);
            rest.iter().for_each(|spot| curve.line_to(*spot));
            self.curves(&[curve], closed, paint);
        }
    }

    /// A broken line.
    pub fn dashes(&mut self, from: Spot, to: Spot, paint: Paint<'_>) {
        let data = format!("M{}L{}", pair(&from), pair(&to));
        let mut element = Element::new("path");
        set_paint(&mut element, paint);
        element.assign("d", data);
        element.assign("stroke-dasharray", number(paint.width * 4.0));
        self.reserve(Area::round(&[from, to]).grown(paint.width));
        self.marks.append(element);
    }

    fn path(&mut self, data: &str, paint: Paint<'_>) {
        let mut element = Element::new("path");
        set_paint(&mut element, paint);
        element.assign("d", data);
        self.marks.append(element);
    }

    /// A disc.
    pub fn disc(&mut self, center: Spot, radius: f64, paint: Paint<'_>) {
        let mut element = Element::new("circle");
        set_paint(&mut element, paint);
        element.assign("cx", number(center.x));
        element.assign("cy", number(center.y));
        element.assign("r", number(radius));
        self.reserve(Area::about(center, radius, radius).grown(paint.width / 2.0));
        self.marks.append(element);
    }

    /// An upright rectangle.
    pub fn rectangle(&mut self, area: &Area, paint: Paint<'_>) {
        let mut element = Element::new("rect");
        set_paint(&mut element, paint);
        element.assign("x", number(area.low.x));
        element.assign("y", number(area.low.y));
        element.assign("width", number(area.width()));
        element.assign("height", number(area.height()));
        self.reserve(area.grown(paint.width / 2.0));
        self.marks.append(element);
    }

    /// Text about a spot, with capitals of `height`; `upright` text is read from the right.
    pub fn text(&mut self, text: &str, center: Spot, height: f64, upright: bool, color: &str) {
        let half = letters::width(text, height) / 2.0;
        let tall = height / 2.0 + DESCENT * height / CAPITAL;
        let mut element = svg::node::element::Text::new(text)
            .set("font-size", number(height / CAPITAL))
            .set("text-anchor", "middle")
            .set("fill", color);
        if upright {
            let turn = format!("translate({}) rotate(-90)", pair(&center));
            element = element.set("transform", turn).set("y", number(height / 2.0));
            self.reserve(Area::about(center, tall, half));
        } else {
            element = element
                .set("x", number(center.x))
                .set("y", number(center.y + height / 2.0));
            self.reserve(Area::about(center, half, tall));
        }
        self.marks.append(element);
    }

    fn write(&mut self, data: &mut String, curve: &Curve, margin: f64) {
        let mut spots = vec![curve.start];
        let _ = write!(data, "M{}", pair(&curve.start));
        for step in &curve.steps {
            match step {
                Step::Line(end) => {
                    let _ = write!(data, "L{}", pair(end));
                    spots.push(*end);
                }
                Step::Cubic([a, b, c]) => {
                    let _ = write!(data, "C{} {} {}", pair(a), pair(b), pair(c));
                    spots.extend([*a, *b, *c]);
                }
            }
        }
        self.reserve(Area::round(&spots).grown(margin));
    }

    /// The document, cut to what is used and no larger than `most`; its text; its size, mm.
    pub fn finish(self, most: &Area, margin: f64) -> (String, Length, Length) {
        let least = Area::about(most.low, margin, margin);
        let area = self.used.unwrap_or(least).grown(margin).within(most);
        let [x, y, width, height] =
            [area.low.x, area.low.y, area.width(), area.height()].map(number);
        let paper = svg::node::element::Rectangle::new()
            .set("x", x.as_str())
            .set("y", y.as_str())
            .set("width", width.as_str())
            .set("height", height.as_str())
            .set("fill", "white");
        let mut document = Document::new()
            .set("viewBox", format!("{x} {y} {width} {height}"))
            .set("width", format!("{width}mm"))
            .set("height", format!("{height}mm"))
            .set("font-family", "DejaVu Sans, sans-serif");
        document.append(self.definitions);
        document.append(paper);
        document.append(self.marks);
        (
            format!("{document}\n"),
            Length::from_mm(area.width()),
            Length::from_mm(area.height()),
        )
    }
}

fn set_paint(element: &mut Element, paint: Paint<'_>) {
    element.assign("fill", paint.fill);
    if paint.stroke != "none" {
        element.assign("stroke", paint.stroke);
        element.assign("stroke-width", number(paint.width));
    }
}

fn pair(spot: &Spot) -> String {
    format!("{} {}", number(spot.x), number(spot.y))
}

/// A number with at most a hundredth of a millimeter of the page, so that bytes do not
/// depend on the last digits of a sine.
pub fn number(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0 + 0.0;
    rounded.to_string()
}
