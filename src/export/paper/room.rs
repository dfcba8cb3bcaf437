//! [`Room`]: where on a pattern a text may stand so that it covers nothing.
//!
//! In the pattern's own millimeters: x round the tube, y downstream, up on the page.

use super::wrap::Inner;
use crate::export::flat::{Anchor, Area, Text};
use crate::tube::Outline;
use crate::units::Length;

/// White kept between a text and whatever is drawn, mm.
pub(super) const CLEAR: f64 = 0.5;
/// How far apart lines are looked at under a text, mm.
const STATION: f64 = 0.5;
/// Most places where they are, however long a text is.
const MOST_STATIONS: usize = 400;
/// Lines of text tried beyond an edge of the pattern, and steps to either side, mm.
const OUTSIDE_TRIES: usize = 40;
const ASIDE: f64 = 3.0;
const ASIDE_TRIES: usize = 9;

/// How a text runs from the line that it stands beside.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Runs {
    /// To the right of it.
    Right,
    /// Up to it from the left.
    Left,
    /// Upward, on its right.
    UpRight,
    /// Upward, on its left.
    UpLeft,
}

/// Words that are looking for a place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Words<'a> {
    pub content: &'a str,
    pub size: f64,
    pub bold: bool,
}

impl<'a> Words<'a> {
    pub(super) const fn new(content: &'a str, size: f64) -> Self {
        Self {
            content,
            size,
            bold: false,
        }
    }

    pub(super) const fn bold(self) -> Self {
        Self { bold: true, ..self }
    }

    fn at_origin(&self, runs: Runs) -> Text {
        let text = Text::new([0.0; 2], self.size, self.content);
        let text = if self.bold { text.bold() } else { text };
        match runs {
            Runs::Right => text,
            Runs::Left => text.anchored(Anchor::End),
            Runs::UpRight | Runs::UpLeft => text.upward(),
        }
    }

    /// How long they are, mm.
    pub(super) fn length(&self) -> f64 {
        self.at_origin(Runs::Right).length()
    }

    /// How high they stand when they run this way.
    pub(super) fn tall(&self, runs: Runs) -> f64 {
        self.at_origin(runs).area().height()
    }

    /// Beside `x`, `gap` away, with their lowest part at `low`.
    pub(super) fn beside(&self, (x, gap): (f64, f64), low: f64, runs: Runs) -> Text {
        let mut text = self.at_origin(runs);
        let area = text.area();
        let x = match runs {
            Runs::Right | Runs::UpRight => x + gap - area.left,
            Runs::Left | Runs::UpLeft => x - gap - area.right,
        };
        text.at = [x, low - area.low];
        text
    }
}

/// A pattern's surface and what is on it so far.
pub(super) struct Room<'a> {
    outline: &'a Outline,
    inner: &'a [Inner],
    taken: Vec<Area>,
}

impl<'a> Room<'a> {
    pub(super) const fn new(outline: &'a Outline, inner: &'a [Inner]) -> Self {
        Self {
            outline,
            inner,
            taken: Vec::new(),
        }
    }

    /// Keeps texts off `area` from now on.
    pub(super) fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// The first of `texts` that covers nothing and lies inside the pattern; its place is
    /// taken.
    pub(super) fn place(&mut self, texts: impl IntoIterator<Item = Text>) -> Option<Text> {
        let text = texts.into_iter().find(|text| self.holds(&text.area()))?;
        self.take(text.area());
        Some(text)
    }

    /// The same with `white` about it.
    pub(super) fn place_apart(
        &mut self,
        texts: impl IntoIterator<Item = Text>,
        white: f64,
    ) -> Option<Text> {
        let apart = |text: &Text| self.holds(&text.area().grown(white));
        let text = texts.into_iter().find(apart)?;
        self.take(text.area());
        Some(text)
    }

    /// Beyond the pattern's edge, below its start or above its end, where always is room:
    /// the text begins at `x`, or as near to it as it finds a place.
    pub(super) fn place_outside(&mut self, x: f64, below: bool, words: Words<'_>) -> Text {
        let tall = words.tall(Runs::Right);
        let at = |line: usize, aside: f64| {
            let flat = words.beside((x + aside, 0.0), 0.0, Runs::Right);
            let edge = self.edge_under(&flat.area(), below);
            // Twice, to be clear of an arrow's tip on the edge too.
            let away = (CLEAR + tall) * line as f64 + 2.0 * CLEAR;
            let low = if below {
                edge - away - tall
            } else {
                edge + away
            };
            words.beside((x + aside, 0.0), low, Runs::Right)
        };
        let free = |text: &Text| self.is_untaken(&text.area());
        let asides = (0..ASIDE_TRIES).map(|i| ASIDE * super::names::to_and_fro(i));
        let places = asides.flat_map(|aside| (0..OUTSIDE_TRIES).map(move |i| (i, aside)));
        let found = places.map(|(line, aside)| at(line, aside)).find(free);
        let text = found.unwrap_or_else(|| at(OUTSIDE_TRIES, 0.0));
        self.take(text.area());
        text
    }

    /// The outermost height of an edge over the width of `area`, and of inner lines
    /// that pass it.
    fn edge_under(&self, area: &Area, below: bool) -> f64 {
        let heights = stations(area).flat_map(|x| {
            let clock = self.outline.clock_at(Length::from_mm(x));
            let inner = self
                .inner
                .iter()
                .map(move |line| line.at(self.outline, clock));
            let edges = [self.outline.start_at(clock), self.outline.end_at(clock)];
            edges.into_iter().chain(inner).map(Length::mm)
        });
        let farther = if below { f64::min } else { f64::max };
        heights.reduce(farther).unwrap_or(0.0)
    }

    fn holds(&self, area: &Area) -> bool {
        area.left >= CLEAR
            && area.right <= self.outline.width().mm() - CLEAR
            && self.is_untaken(area)
            && self.is_between_edges(area)
            && self.inner.iter().all(|line| self.is_off(line, area))
    }

    fn is_untaken(&self, area: &Area) -> bool {
        self.taken
            .iter()
            .all(|taken| area.is_clear_of(taken, CLEAR))
    }

    fn is_between_edges(&self, area: &Area) -> bool {
        stations(area).all(|x| {
            let clock = self.outline.clock_at(Length::from_mm(x));
            self.outline.start_at(clock).mm() + CLEAR <= area.low
                && area.high + CLEAR <= self.outline.end_at(clock).mm()
        })
    }

    /// Whether all of a line passes on one side of `area`.
    fn is_off(&self, line: &Inner, area: &Area) -> bool {
        let heights = || {
            stations(area).map(|x| {
                let clock = self.outline.clock_at(Length::from_mm(x));
                line.at(self.outline, clock).mm()
            })
        };
        heights().all(|height| height + CLEAR <= area.low)
            || heights().all(|height| height >= area.high + CLEAR)
    }
}

/// Places across `area`, from side to side.
fn stations(area: &Area) -> impl Iterator<Item = f64> + use<> {
    let (left, width) = (area.left, area.right - area.left);
    // `as` saturates, and no number makes it hang.
    let count = ((width / STATION).ceil() as usize).clamp(1, MOST_STATIONS);
    (0..=count).map(move |i| left + width * (i as f64 / count as f64))
}
