//! [`Layout`]: a wrap pattern drawn, each text in its place.
//!
//! What a text says goes where it covers nothing ([`Room`]); where there is no such
//! place, a letter stands in for it and a note beside the pattern says what it means.

use super::base::{base_lines, draw_edges};
use super::names::{Meridian, across, along, anywhere, beside};
use super::room::{Room, Words};
use super::wrap::{Inner, MarkAt, Wrap};
use crate::export::flat::{Area, Dash, Drawing, Layer, Path, Pen, text_width};
use crate::units::Angle;

/// Heights of letters, mm, the one that is tried first first: a piece's number, an end's
/// name, a mark's, degrees.
const NUMBER_SIZES: [f64; 4] = [14.0, 9.0, 6.0, 4.0];
const END_SIZES: [f64; 3] = [4.2, 3.4, 2.6];
const MARK_SIZES: [f64; 2] = [3.0, 2.5];
const DEGREES_SIZES: [f64; 2] = [2.8, 2.2];
/// Height of what stands outside the pattern, mm.
const OUTSIDE_SIZE: f64 = 2.5;
/// Length of a tick and of a quarter's, mm, and the most of a side that they take.
const TICK: (f64, f64) = (2.0, 0.2);
const QUARTER_TICK: (f64, f64) = (4.5, 0.3);
const TICK_PEN: Pen = Pen::solid(0.18);
const QUARTER_PEN: Pen = Pen::solid(0.35);
/// A clock tick every this many degrees.
const TICK_STEP: u32 = 15;
/// Length of an arrow, mm, and the most of a side that it takes.
const ARROW: (f64, f64) = (7.0, 0.45);
/// Length and half width of its head, mm.
const HEAD: [f64; 2] = [1.8, 0.8];
/// Radius of the dots to prick through, mm.
const PRICK: f64 = 0.35;
/// White about large letters, mm, beside what any text keeps: nearer they seem to touch.
const APART: f64 = 0.7;
/// From a tick to its degrees, and from a mark to its name, mm.
const DEGREES_GAP: f64 = 0.6;
const MARK_GAP: f64 = 1.2;
const DEGREES_TRIES: usize = 10;
const MARK_TRIES: usize = 24;
/// Nearer to the pattern's side than this, mm, the side itself is the mark.
const AT_SIDE: f64 = 0.05;

/// A pattern drawn in its own millimeters.
pub(super) struct Layout<'a> {
    wrap: &'a Wrap,
    room: Room<'a>,
    pub(super) drawing: Drawing,
    pub(super) notes: Vec<String>,
}

impl<'a> Layout<'a> {
    /// Words keep off `keep_off` too.
    pub(super) fn of(wrap: &'a Wrap, keep_off: &[Area]) -> Self {
        let mut layout = Self {
            wrap,
            room: Room::new(&wrap.outline, &wrap.inner),
            drawing: Drawing::default(),
            notes: Vec::new(),
        };
        for area in keep_off {
            layout.room.take(*area);
        }
        // Strokes first: texts go where they leave room, those that matter most first.
        layout.add_outline(keep_off);
        layout.add_ticks();
        layout.add_marks();
        layout.add_base_lines();
        layout.add_inner_lines();
        layout.name_quarters();
        layout.name_marks();
        layout.name_inner_lines();
        layout.name_ends();
        layout.add_number();
        layout
    }

    fn meridian(&self, clock: Angle) -> Meridian {
        Meridian::of(&self.wrap.outline, clock)
    }

    fn add_outline(&mut self, keep_off: &[Area]) {
        let Wrap {
            id, outline, tab, ..
        } = self.wrap;
        let tab = draw_edges(&mut self.drawing, id, outline, *tab, keep_off);
        tab.into_iter().for_each(|area| self.room.take(area));
    }

    fn add_ticks(&mut self) {
        for (degrees, quarter) in scale() {
            let at = self.meridian(self.wrap.ticks_from + Angle::from_degrees(degrees));
            let (length, pen) = match quarter {
                true => (at.within(QUARTER_TICK), QUARTER_PEN),
                false => (at.within(TICK), TICK_PEN),
            };
            self.add_stroke(Layer::Clock, pen, &at, (at.start, at.start + length));
            self.add_stroke(Layer::Clock, pen, &at, (at.end - length, at.end));
        }
    }

    /// A stroke along the tube.
    fn add_stroke(&mut self, layer: Layer, pen: Pen, at: &Meridian, (low, high): (f64, f64)) {
        self.room.take(at.area(low, high));
        self.drawing.line(layer, pen, [[at.x, low], [at.x, high]]);
    }

    fn add_marks(&mut self) {
        for mark in &self.wrap.marks {
            let at = self.meridian(mark.clock);
            let length = at.within(ARROW);
            let dash = match mark.layer {
                Layer::Seam => Dash::Dashed,
                _ => Dash::Center,
            };
            match mark.at {
                MarkAt::Start => self.add_arrow(&at, at.start, length),
                MarkAt::End => self.add_arrow(&at, at.end, -length),
                MarkAt::Through if self.is_at_side(&at) => {}
                MarkAt::Through => {
                    let pen = Pen::broken(0.3, dash);
                    self.add_stroke(mark.layer, pen, &at, (at.start, at.end));
                }
            }
        }
    }

    fn is_at_side(&self, at: &Meridian) -> bool {
        let width = self.wrap.outline.width().mm();
        at.x < AT_SIDE || at.x > width - AT_SIDE
    }

    /// An arrow with its tip at `tip` and its tail `length` above it.
    fn add_arrow(&mut self, at: &Meridian, tip: f64, length: f64) {
        let tail = tip + length;
        let ends = (tip.min(tail), tip.max(tail));
        self.add_stroke(Layer::Marks, Pen::MARK, at, ends);
        let [long, half] = HEAD;
        let back = tip + long.min(length.abs()).copysign(length);
        let head = [[at.x - half, back], [at.x, tip], [at.x + half, back]];
        self.drawing
            .path(Layer::Marks, Pen::MARK, Path::through(head));
        self.room.take(Area::around(head));
    }

    /// Lines square to the axis at mid-length, by which paper is lined up with itself.
    fn add_base_lines(&mut self) {
        let lines = base_lines(&self.wrap.outline);
        for &[from, to] in &lines {
            self.room.take(Area::around([from, to]));
            let pen = Pen::broken(0.25, Dash::Center);
            self.drawing.line(Layer::Marks, pen, [from, to]);
        }
    }

    /// Each with a dot at every tick's clock.
    fn add_inner_lines(&mut self) {
        let outline = &self.wrap.outline;
        for (i, line) in self.wrap.inner.iter().enumerate() {
            let id = format!("{}-inner-{}", self.wrap.id, i + 1);
            let path = Path::along(&line.curve(outline));
            let pen = Pen::broken(0.4, Dash::Dashed);
            self.drawing.named_path(Layer::Cut, pen, id, path);
            for (degrees, _) in scale() {
                let clock = self.wrap.ticks_from + Angle::from_degrees(degrees);
                let dot = [outline.across(clock), line.at(outline, clock)];
                let dot = dot.map(crate::units::Length::mm);
                self.drawing.dot(Layer::Marks, dot, PRICK);
            }
        }
    }

    /// Degrees beside the quarters' ticks, at both edges where there is room; below the
    /// pattern where there is none at either.
    fn name_quarters(&mut self) {
        for (degrees, _) in scale().filter(|(_, quarter)| *quarter) {
            let at = self.meridian(self.wrap.ticks_from + Angle::from_degrees(degrees));
            let content = format!("{degrees}°");
            let mut named = false;
            for edge in [MarkAt::Start, MarkAt::End] {
                let text = DEGREES_SIZES.into_iter().find_map(|size| {
                    let words = Words::new(&content, size);
                    let places = beside(at, DEGREES_GAP, (edge, DEGREES_TRIES), words);
                    self.room.place(places)
                });
                named |= text.is_some();
                text.into_iter().for_each(|text| self.drawing.text(text));
            }
            if !named {
                let words = Words::new(&content, OUTSIDE_SIZE);
                let x = at.x - words.length() / 2.0;
                let text = self.room.place_outside(x, true, words);
                self.drawing.text(text);
            }
        }
    }

    fn name_marks(&mut self) {
        for mark in self.wrap.marks.iter().filter(|mark| !mark.label.is_empty()) {
            let at = self.meridian(mark.clock);
            let places = |content: &str, size| {
                let words = Words::new(content, size);
                beside(at, MARK_GAP, (mark.at, MARK_TRIES), words)
            };
            let named = MARK_SIZES
                .into_iter()
                .find_map(|size| self.room.place(places(&mark.label, size)));
            if named.is_none() && mark.at == MarkAt::Through && self.is_at_side(&at) {
                // Nothing is drawn there that had to be named.
                continue;
            }
            let text = named.unwrap_or_else(|| {
                let letter = self.note(&mark.label);
                let inside = self.room.place(places(&letter, OUTSIDE_SIZE));
                inside.unwrap_or_else(|| {
                    let words = Words::new(&letter, OUTSIDE_SIZE);
                    let x = at.x - words.length() / 2.0;
                    let below = mark.at != MarkAt::End;
                    self.room.place_outside(x, below, words)
                })
            });
            self.drawing.text(text);
        }
    }

    fn name_inner_lines(&mut self) {
        let outline = &self.wrap.outline;
        let named = |line: &&Inner| !line.label.is_empty();
        for line in self.wrap.inner.iter().filter(named) {
            let places = |content: &str, size| along(outline, line, Words::new(content, size));
            let text = MARK_SIZES
                .into_iter()
                .find_map(|size| self.room.place(places(&line.label, size)));
            let text = text.or_else(|| {
                let letter = self.note(&format!("{} (dashed line with dots)", line.label));
                self.room.place(places(&letter, OUTSIDE_SIZE))
            });
            text.into_iter().for_each(|text| self.drawing.text(text));
        }
    }

    fn name_ends(&mut self) {
        let end = match self.wrap.end_label.as_str() {
            "" => String::new(),
            label => format!("↑ {label}"),
        };
        let ends = [
            (self.wrap.start_label.clone(), MarkAt::Start),
            (end, MarkAt::End),
        ];
        for (content, at) in ends.iter().filter(|(content, _)| !content.is_empty()) {
            let inside = END_SIZES.into_iter().find_map(|size| {
                let words = Words::new(content, size).bold();
                let places = across(&self.wrap.outline, *at, words);
                self.room.place_apart(places, APART)
            });
            let below = *at == MarkAt::Start;
            let text = inside.unwrap_or_else(|| {
                let words = Words::new(content, OUTSIDE_SIZE).bold();
                self.room.place_outside(0.0, below, words)
            });
            self.drawing.text(text);
        }
    }

    /// The number, as large as finds a place; the title has it too.
    fn add_number(&mut self) {
        let number = &self.wrap.number;
        if number.is_empty() {
            return;
        }
        let widest = self.wrap.outline.width().mm() / 3.0;
        let fits = |size: &f64| text_width(number, *size, true) <= widest;
        let text = NUMBER_SIZES.into_iter().filter(fits).find_map(|size| {
            let words = Words::new(number, size).bold();
            let places = anywhere(&self.wrap.outline, words);
            self.room.place_apart(places, APART)
        });
        text.into_iter().for_each(|text| self.drawing.text(text));
    }

    /// A letter that stands in for `content`, which becomes a note.
    fn note(&mut self, content: &str) -> String {
        let count = self.notes.len();
        let letter = char::from(b'A' + (count % 26) as u8);
        let letter = match count / 26 {
            0 => letter.to_string(),
            round => format!("{letter}{round}"),
        };
        self.notes.push(format!("{letter}: {content}"));
        letter
    }
}

/// The degrees that are ticked round a tube, and whether each is a quarter.
fn scale() -> impl Iterator<Item = (f64, bool)> {
    (0..360)
        .step_by(TICK_STEP as usize)
        .map(|degrees: u32| (f64::from(degrees), degrees.is_multiple_of(90)))
}
