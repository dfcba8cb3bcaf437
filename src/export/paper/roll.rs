//! [`Roll`]: one page as large as it needs to be, for a plotter, a poster or a machine.

use super::heading::Heading;
use super::layout::Layout;
use super::wrap::Wrap;
use crate::export::flat::{Area, Drawing, Text, check_bars};

/// White round everything, mm.
const MARGIN: f64 = 10.0;
/// Between one thing and the next, mm.
const GAP: f64 = 14.0;
/// Height of the check bars with what is said of them, mm.
const BARS: f64 = 24.0;
/// Least width of the page without its margins, mm: the check bars and their labels.
const LEAST_WIDTH: f64 = 130.0;
/// Height of the letters beside the bars, mm.
const SAID_SIZE: f64 = 3.0;

/// Drawings one below the other.
pub(in crate::export) struct Roll {
    drawing: Drawing,
    width: f64,
    /// How far down it goes.
    low: f64,
}

impl Roll {
    /// With nothing but bars to check the scale by.
    pub(in crate::export) fn new() -> Self {
        let mut drawing = Drawing::default();
        check_bars(&mut drawing, [0.0, -12.0]);
        let said = "print at 100 % and measure a bar before you cut";
        drawing.text(Text::new([0.0, -18.0], SAID_SIZE, said));
        Self {
            drawing,
            width: LEAST_WIDTH,
            low: -BARS,
        }
    }

    /// Adds wrap patterns, each under its heading.
    pub(in crate::export) fn add_wraps(&mut self, wraps: &[Wrap]) {
        for wrap in wraps {
            let layout = Layout::of(wrap, &[]);
            let notes = layout.notes.iter().map(String::as_str);
            let lines: Vec<&str> = std::iter::once(wrap.facts.as_str()).chain(notes).collect();
            self.add(&wrap.title, &lines, &layout.drawing);
        }
    }

    /// Adds a drawing under its heading.
    pub(in crate::export) fn add(&mut self, title: &str, lines: &[&str], drawing: &Drawing) {
        let area = drawing.area();
        let width = area.width().max(LEAST_WIDTH);
        let heading = Heading::new(title, lines, [0.0; 2], width);
        heading.draw(&mut self.drawing, [0.0, self.low]);
        let top = self.low - heading.height();
        self.drawing.place(drawing, [-area.left, top - area.high]);
        self.low = top - area.height() - GAP;
        self.width = self.width.max(width).max(heading.width());
    }

    /// Adds words alone.
    pub(in crate::export) fn add_words(&mut self, title: &str, lines: &[&str]) {
        let heading = Heading::new(title, lines, [0.0; 2], LEAST_WIDTH);
        heading.draw(&mut self.drawing, [0.0, self.low]);
        self.low -= heading.height() + GAP;
        self.width = self.width.max(heading.width());
    }

    /// What is drawn, and the page that it is on.
    pub(in crate::export) fn page(self) -> (Drawing, Area) {
        let page = Area {
            left: -MARGIN,
            right: self.width + MARGIN,
            low: self.low - MARGIN,
            high: MARGIN,
        };
        (self.drawing, page)
    }
}
