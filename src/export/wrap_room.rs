//! [`Room`]: where on a pattern a text may stand so that it covers nothing.
//!
//! In the pattern's own millimeters: x round the tube, y downstream, up on the page.

use super::svg_page::{MARGIN, number, text, text_width};
use super::wrap::Inner;
use crate::tube::Outline;
use crate::units::Length;
use svg::node::element::Text;

/// White kept between a text and whatever is drawn, mm.
const CLEAR: f64 = 0.5;
/// How far apart lines are looked at under a text, mm.
const STATION: f64 = 0.5;
/// Most places where they are, however long a text is.
const MOST_STATIONS: usize = 400;
/// How far letters rise above their line and hang below it, as parts of their height.
const RISE: f64 = 0.8;
const HANG: f64 = 0.25;
/// Lines of text tried beyond an edge of the pattern.
const OUTSIDE_TRIES: usize = 40;

/// A rectangle that something takes.
#[derive(Clone, Copy, Debug)]
pub(super) struct Area {
    pub left: f64,
    pub right: f64,
    pub low: f64,
    pub high: f64,
}

impl Area {
    /// Whether the two neither overlap nor touch.
    pub(super) fn is_clear_of(&self, other: &Self) -> bool {
        self.left > other.right + CLEAR
            || self.right < other.left - CLEAR
            || self.low > other.high + CLEAR
            || self.high < other.low - CLEAR
    }
}

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

impl Runs {
    const fn is_upward(self) -> bool {
        matches!(self, Self::UpRight | Self::UpLeft)
    }
}

/// A text and its place.
#[derive(Clone, Debug)]
pub(super) struct Label {
    x: f64,
    y: f64,
    size: f64,
    runs: Runs,
    content: String,
}

impl Label {
    /// Beside `x`, `gap` away, with its lowest part at `low`.
    pub(super) fn beside(
        (x, gap): (f64, f64),
        low: f64,
        runs: Runs,
        (content, size): (&str, f64),
    ) -> Self {
        let (x, y) = match runs {
            Runs::Right => (x + gap, low + HANG * size),
            Runs::Left => (x - gap, low + HANG * size),
            Runs::UpRight => (x + gap + RISE * size, low),
            Runs::UpLeft => (x - gap - HANG * size, low),
        };
        Self {
            x,
            y,
            size,
            runs,
            content: content.to_owned(),
        }
    }

    /// How high a text stands that runs this way.
    pub(super) fn tall(runs: Runs, (content, size): (&str, f64)) -> f64 {
        if runs.is_upward() {
            text_width(content, size)
        } else {
            (RISE + HANG) * size
        }
    }

    /// What it covers.
    pub(super) fn area(&self) -> Area {
        let (width, rise, hang) = (
            text_width(&self.content, self.size),
            RISE * self.size,
            HANG * self.size,
        );
        let (left, right, low, high) = match self.runs {
            Runs::Right => (0.0, width, -hang, rise),
            Runs::Left => (-width, 0.0, -hang, rise),
            Runs::UpRight | Runs::UpLeft => (-rise, hang, 0.0, width),
        };
        Area {
            left: self.x + left,
            right: self.x + right,
            low: self.y + low,
            high: self.y + high,
        }
    }

    /// On the page, where height zero is at `base`.
    pub(super) fn draw(&self, base: f64) -> Text {
        let (x, y) = (MARGIN + self.x, base - self.y);
        let drawn = text(x, y, self.size, &self.content);
        match self.runs {
            Runs::Right => drawn,
            Runs::Left => drawn.set("text-anchor", "end"),
            Runs::UpRight | Runs::UpLeft => drawn.set(
                "transform",
                format!("rotate(-90 {} {})", number(x), number(y)),
            ),
        }
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

    /// The first of `labels` that covers nothing and lies inside the pattern; its place
    /// is taken.
    pub(super) fn place(&mut self, labels: Vec<Label>) -> Option<Label> {
        let label = labels.into_iter().find(|label| self.holds(&label.area()))?;
        self.take(label.area());
        Some(label)
    }

    /// Beyond the pattern's edge at x, below its start or above its end, where always
    /// is room: the text begins at `x`.
    pub(super) fn place_outside(&mut self, x: f64, below: bool, text: (&str, f64)) -> Label {
        let tall = Label::tall(Runs::Right, text);
        let flat = Label::beside((x, 0.0), 0.0, Runs::Right, text);
        let edge = self.edge_under(&flat.area(), below);
        let at = |line: usize| {
            // Twice, to be clear of an arrow's tip on the edge too.
            let away = (CLEAR + tall) * line as f64 + 2.0 * CLEAR;
            let low = if below {
                edge - away - tall
            } else {
                edge + away
            };
            Label::beside((x, 0.0), low, Runs::Right, text)
        };
        let free = |label: &Label| self.is_untaken(&label.area());
        let label = (0..OUTSIDE_TRIES).map(at).find(free);
        let label = label.unwrap_or_else(|| at(OUTSIDE_TRIES));
        self.take(label.area());
        label
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
        self.taken.iter().all(|taken| area.is_clear_of(taken))
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
