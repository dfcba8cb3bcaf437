//! [`Text`]: words in their place.

use super::area::Area;
use super::letters::{HANG, RISE, text_width};
use crate::tube::FlatPoint;

/// Words on a drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// Where the line that the letters stand on begins, has its middle or ends.
    pub at: FlatPoint,
    /// Size of the font, mm.
    pub size: f64,
    /// Which part of it is at `at`.
    pub anchor: Anchor,
    /// Whether it runs up the page instead of to the right.
    pub upward: bool,
    /// Whether it is bold.
    pub bold: bool,
    /// What it says.
    pub content: String,
}

/// Which part of a text is at its place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Where it begins.
    Start,
    /// Its middle.
    Middle,
    /// Where it ends.
    End,
}

impl Text {
    /// Plain words that begin at a place and run to the right.
    pub fn new(at: FlatPoint, size: f64, content: impl Into<String>) -> Self {
        Self {
            at,
            size,
            anchor: Anchor::Start,
            upward: false,
            bold: false,
            content: content.into(),
        }
    }

    /// Set by another part.
    #[must_use]
    pub fn anchored(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    /// In bold letters.
    #[must_use]
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// Running up the page.
    #[must_use]
    pub fn upward(mut self) -> Self {
        self.upward = true;
        self
    }

    /// How long it is, mm.
    pub fn length(&self) -> f64 {
        text_width(&self.content, self.size, self.bold)
    }

    /// What it covers.
    pub fn area(&self) -> Area {
        let length = self.length();
        let before = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => length / 2.0,
            Anchor::End => length,
        };
        let (rise, hang) = (RISE * self.size, HANG * self.size);
        let area = if self.upward {
            Area {
                left: -rise,
                right: hang,
                low: -before,
                high: length - before,
            }
        } else {
            Area {
                left: -before,
                right: length - before,
                low: -hang,
                high: rise,
            }
        };
        area.moved(self.at)
    }
}
