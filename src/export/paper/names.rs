//! Places that a name is tried at, the best first.

use super::room::{Runs, Words};
use super::wrap::{Inner, MarkAt};
use crate::export::flat::{Area, Text};
use crate::tube::Outline;
use crate::units::{Angle, Length};

/// From one try to the next for a text's height, mm, and how many.
const TRY: f64 = 0.5;
const INWARD_TRIES: usize = 24;
const LINE_TRIES: usize = 8;
/// Places tried across a pattern for what names an end or a line, and up it for a number.
const ACROSS_TRIES: usize = 24;
const UP_TRIES: usize = 12;

/// A line of clock on a pattern: where it is and where it meets the edges.
#[derive(Clone, Copy, Debug)]
pub(super) struct Meridian {
    pub x: f64,
    pub start: f64,
    pub end: f64,
}

impl Meridian {
    pub(super) fn of(outline: &Outline, clock: Angle) -> Self {
        Self {
            x: outline.across(clock).mm(),
            start: outline.start_at(clock).mm(),
            end: outline.end_at(clock).mm(),
        }
    }

    /// The lesser of a length and a part of the side here: `(mm, part)`.
    pub(super) fn within(&self, (most, part): (f64, f64)) -> f64 {
        most.min(part * (self.end - self.start))
    }

    /// What a stroke along it takes.
    pub(super) const fn area(&self, low: f64, high: f64) -> Area {
        Area {
            left: self.x,
            right: self.x,
            low,
            high,
        }
    }
}

/// Places beside a mark for its name: from its edge inward, or from its middle.
pub(super) fn beside(
    at: Meridian,
    gap: f64,
    (mark, tries): (MarkAt, usize),
    words: Words<'_>,
) -> Vec<Text> {
    let middle = (at.start + at.end) / 2.0;
    let spread = (at.end - at.start) / tries as f64;
    let place = |i: usize, runs: Runs| {
        let tall = words.tall(runs);
        let inward = TRY * (i + 1) as f64;
        let low = match mark {
            MarkAt::Start => at.start + inward,
            MarkAt::End => at.end - inward - tall,
            MarkAt::Through => middle - tall / 2.0 + spread * to_and_fro(i),
        };
        words.beside((at.x, gap), low, runs)
    };
    let ways = [[Runs::Right, Runs::Left], [Runs::UpRight, Runs::UpLeft]];
    ways.iter()
        .flat_map(|sides| (0..tries).flat_map(move |i| sides.iter().map(move |runs| (i, *runs))))
        .map(|(i, runs)| place(i, runs))
        .collect()
}

/// Places for an end's name, from the middle of the pattern outward.
pub(super) fn across(outline: &Outline, end: MarkAt, words: Words<'_>) -> Vec<Text> {
    let tall = words.tall(Runs::Right);
    let heights = (0..INWARD_TRIES).map(|i| TRY * (i + 1) as f64);
    places_across(outline, words, heights, |clock, inward| match end {
        MarkAt::End => outline.end_at(clock).mm() - inward - tall,
        _ => outline.start_at(clock).mm() + inward,
    })
}

/// Places for a line's name, above and below it.
pub(super) fn along(outline: &Outline, line: &Inner, words: Words<'_>) -> Vec<Text> {
    let tall = words.tall(Runs::Right);
    let heights = (1..=LINE_TRIES).flat_map(|i| {
        let off = TRY * (i + 1) as f64;
        [off, -off - tall]
    });
    places_across(outline, words, heights, |clock, off| {
        line.at(outline, clock).mm() + off
    })
}

/// Places anywhere between the edges, from the middle outward.
pub(super) fn anywhere(outline: &Outline, words: Words<'_>) -> Vec<Text> {
    let tall = words.tall(Runs::Right);
    let parts = (0..UP_TRIES).map(|i| 0.5 + to_and_fro(i) / (UP_TRIES as f64 + 1.0));
    places_across(outline, words, parts, |clock, part| {
        let (start, end) = (outline.start_at(clock), outline.end_at(clock));
        (start + (end - start) * part).mm() - tall / 2.0
    })
}

/// Every one of `heights` at places across the pattern: the nearest heights first, at
/// each the places from the middle outward.
fn places_across(
    outline: &Outline,
    words: Words<'_>,
    heights: impl Iterator<Item = f64>,
    low: impl Fn(Angle, f64) -> f64,
) -> Vec<Text> {
    let (width, half) = (outline.width().mm(), words.length() / 2.0);
    let step = width / ACROSS_TRIES as f64;
    let place = |i: usize, height: f64| {
        let x = width / 2.0 + step * to_and_fro(i);
        let clock = outline.clock_at(Length::from_mm(x));
        words.beside((x - half, 0.0), low(clock, height), Runs::Right)
    };
    heights
        .flat_map(|height| (0..ACROSS_TRIES).map(move |i| (i, height)))
        .map(|(i, height)| place(i, height))
        .collect()
}

/// 0, 1, −1, 2, −2 and so on.
pub(super) fn to_and_fro(i: usize) -> f64 {
    let away = i.div_ceil(2) as f64;
    if i.is_multiple_of(2) { -away } else { away }
}
