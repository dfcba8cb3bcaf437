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
    /// All but labels, with ink's thin lines unless they say otherwise.
    marks: Group,
    line: String,
    /// Labels, over all else: leaders, frames, texts. What they share is said once.
    layers: [Group; 3],
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
    /// With nothing on it; `text` is the height of capitals, and widths are those of most
    /// lines, of leaders and of frames.
    pub fn new(text: f64, [line, leader, frame]: [f64; 3]) -> Self {
        let group = |fill: &str, stroke: &str, width: f64| {
            let group = Group::new().set("fill", fill).set("stroke", stroke);
            group.set("stroke-width", number(width))
        };
        let texts = Group::new()
            .set("fill", INK)
            .set("font-size", number(text / CAPITAL))
            .set("text-anchor", "middle");
        Self {
            definitions: Definitions::new(),
            marks: group("none", INK, line),
            line: number(line),
            layers: [group(INK, FAINT, leader), group("white", INK, frame), texts],
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

    /// A leader to `from`, which is dotted, or hidden and the line broken.
    pub fn leader(&mut self, from: Spot, to: Spot, dot: f64, hidden: bool) {
        let mut data = String::new();
        let mut line = Curve::from(from);
        line.line_to(to);
        self.write(&mut data, &line, dot);
        let mut element = Element::new("path");
        element.assign("d", data);
        if hidden {
            element.assign("stroke-dasharray", number(dot * 2.0));
        }
        self.layers[0].append(element);
        if !hidden {
            let mut element = round(from, dot);
            element.assign("stroke", "none");
            self.layers[0].append(element);
        }
    }

    /// A disc round a number, in a color of its own or in ink.
    pub fn frame_disc(&mut self, center: Spot, radius: f64, color: &str) {
        self.reserve(Area::about(center, radius, radius));
        self.frame(round(center, radius), color);
    }

    /// A rectangle round a number, in a color of its own or in ink.
    pub fn frame_rectangle(&mut self, area: &Area, color: &str) {
        self.reserve(*area);
        self.frame(upright(area), color);
    }

    fn frame(&mut self, mut element: Element, color: &str) {
        if color != INK {
            element.assign("stroke", color);
        }
        self.layers[1].append(element);
    }

    /// What of a paint is not that of all marks.
    fn set_paint(&self, element: &mut Element, paint: Paint<'_>) {
        let width = number(paint.width);
        if paint.fill != "none" {
            element.assign("fill", paint.fill);
        }
        if paint.stroke != INK {
            element.assign("stroke", paint.stroke);
        }
        if paint.stroke != "none" && width != self.line {
            element.assign("stroke-width", width);
        }
    }

    fn path(&mut self, data: &str, paint: Paint<'_>) {
        let mut element = Element::new("path");
        self.set_paint(&mut element, paint);
        element.assign("d", data);
        self.marks.append(element);
    }

    /// A disc.
    pub fn disc(&mut self, center: Spot, radius: f64, paint: Paint<'_>) {
        let mut element = round(center, radius);
        self.set_paint(&mut element, paint);
        self.reserve(Area::about(center, radius, radius).grown(paint.width / 2.0));
        self.marks.append(element);
    }

    /// An upright rectangle.
    pub fn rectangle(&mut self, area: &Area, paint: Paint<'_>) {
        let mut element = upright(area);
        self.set_paint(&mut element, paint);
        self.reserve(area.grown(paint.width / 2.0));
        self.marks.append(element);
    }

    /// Text about a spot, with capitals of `height`; `upright` text is read from the right.
    pub fn text(&mut self, text: &str, center: Spot, height: f64, upright: bool, color: &str) {
        let half = letters::width(text, height) / 2.0;
        let tall = height / 2.0 + DESCENT * height / CAPITAL;
        let mut element = svg::node::element::Text::new(text);
        if color != INK {
            element = element.set("fill", color);
        }
        if upright {
            let turn = format!("translate({}) rotate(-90)", pair(&center));
            element = element
                .set("transform", turn)
                .set("y", number(height / 2.0));
            self.reserve(Area::about(center, tall, half));
        } else {
            element = element
                .set("x", number(center.x))
                .set("y", number(center.y + height / 2.0));
            self.reserve(Area::about(center, half, tall));
        }
        self.layers[2].append(element);
    }

    fn write(&mut self, data: &mut String, curve: &Curve, margin: f64) {
        let mut spots = vec![curve.start];
        let _ = write!(data, "M{}", pair(&curve.start));
        // Steps are short, so they are written from where the last one, rounded, ended.
        let mut at = rounded(&curve.start);
        for step in &curve.steps {
            let (letter, ends) = match step {
                Step::Line(end) => ('l', vec![*end]),
                Step::Cubic(three) => ('c', three.to_vec()),
            };
            data.push(letter);
            for (i, end) in ends.iter().enumerate() {
                let off = rounded(end) - at;
                for (j, part) in [off.x, off.y].into_iter().enumerate() {
                    let text = brief(part);
                    if (i > 0 || j > 0) && !text.starts_with('-') {
                        data.push(' ');
                    }
                    data.push_str(&text);
                }
            }
            spots.extend(&ends);
            at = ends.last().map_or(at, rounded);
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
            .set("font-family", "DejaVu Sans, sans-serif")
            .set("stroke-linecap", "round")
            .set("stroke-linejoin", "round");
        document.append(self.definitions);
        document.append(paper);
        document.append(self.marks);
        self.layers
            .into_iter()
            .for_each(|layer| document.append(layer));
        (
            format!("{document}\n"),
            Length::from_mm(area.width()),
            Length::from_mm(area.height()),
        )
    }
}

fn round(center: Spot, radius: f64) -> Element {
    let mut element = Element::new("circle");
    element.assign("cx", number(center.x));
    element.assign("cy", number(center.y));
    element.assign("r", number(radius));
    element
}

fn upright(area: &Area) -> Element {
    let mut element = Element::new("rect");
    element.assign("x", number(area.low.x));
    element.assign("y", number(area.low.y));
    element.assign("width", number(area.width()));
    element.assign("height", number(area.height()));
    element
}

fn pair(spot: &Spot) -> String {
    format!("{} {}", number(spot.x), number(spot.y))
}

fn rounded(spot: &Spot) -> Spot {
    spot.map(|part| (part * 100.0).round() / 100.0)
}

/// A number as short as a path allows.
fn brief(value: f64) -> String {
    let text = number(value);
    match text.strip_prefix("0.") {
        Some(rest) => format!(".{rest}"),
        None => text
            .strip_prefix("-0.")
            .map_or(text.clone(), |rest| format!("-.{rest}")),
    }
}

/// A number with at most a hundredth of a millimeter of the page, so that bytes do not
/// depend on the last digits of a sine.
pub fn number(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0 + 0.0;
    rounded.to_string()
}
