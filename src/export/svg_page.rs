//! A page of patterns at true size, and the strokes and texts on it.
//!
//! The page is as large as it needs to be; one user unit is one millimeter.

use super::ExportError;
use crate::units::Length;
use svg::Document;
use svg::node::element::{Group, Line, Path, Text};

/// White round everything, mm.
pub(super) const MARGIN: f64 = 10.0;
/// Widest that a letter of a plain font is on average, as a part of its height.
const LETTER: f64 = 0.6;
/// Between one pattern and the next, mm.
const GAP: f64 = 14.0;
/// Height of the check bars, mm.
const CHECK_BARS: f64 = 34.0;
/// Least page width, mm: the check bars and their labels.
const MIN_WIDTH: f64 = 150.0;

/// Patterns laid out downward.
pub(super) struct Page {
    width: f64,
    y: f64,
    content: Vec<Group>,
}

impl Page {
    /// With nothing but bars to check the scale by.
    pub(super) fn new() -> Self {
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

    /// Adds what takes `width`, `heading` above it, and from `low` to `high` about the
    /// line on the page that `draw` is given.
    pub(super) fn add(
        &mut self,
        width: f64,
        heading: f64,
        (low, high): (f64, f64),
        draw: impl FnOnce(f64) -> Group,
    ) {
        self.y += heading;
        let base = self.y + high;
        self.content.push(draw(base));
        self.y = base - low + GAP;
        self.width = self.width.max(width + 2.0 * MARGIN);
    }

    /// The document, as the bytes of `file`.
    pub(super) fn bytes(self, file: &str) -> Result<Vec<u8>, ExportError> {
        let mut bytes = Vec::new();
        svg::write(&mut bytes, &self.finish()).map_err(|e| ExportError::new(file, e))?;
        bytes.push(b'\n');
        Ok(bytes)
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

/// Room that `text` takes, mm, whatever plain font shows it.
pub(super) fn text_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * LETTER
}

/// A number with at most a ten-thousandth of a millimeter, so that bytes do not
/// depend on the last digits of a sine.
pub(super) fn number(value: f64) -> String {
    let rounded = (value * 1e4).round() / 1e4 + 0.0;
    rounded.to_string()
}

pub(super) fn line(x0: f64, y0: f64, x1: f64, y1: f64, width: f64) -> Line {
    Line::new()
        .set("x1", number(x0))
        .set("y1", number(y0))
        .set("x2", number(x1))
        .set("y2", number(y1))
        .set("stroke", "black")
        .set("stroke-width", width)
}

pub(super) fn text(x: f64, y: f64, size: f64, content: &str) -> Text {
    Text::new(content)
        .set("x", number(x))
        .set("y", number(y))
        .set("font-size", size)
}
