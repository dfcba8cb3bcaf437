//! [`Wrap`]: one wrap pattern with whatever it takes to line it up on a tube.
//!
//! Drawn in the pattern's own millimeters, y upward, then put on the page. What a text
//! says goes where it covers nothing ([`Room`]); where there is no such place, a letter
//! stands in for it and a note below the sizes says what it means.

use super::ExportError;
use super::svg_outline::{
    HEADING, HELP_LINE, SIZES_SIZE, curve_path, heading, heading_width, outline_path, scale,
    through,
};
use super::svg_page::{MARGIN, Page, line, number, text, text_width};
use super::wrap_room::{Area, Label, Room, Runs};
use crate::tube::{Curve, Edge, Outline};
use crate::units::{Angle, Length};
use svg::node::element::{Circle, Group};

/// Height of the letters of degrees, of marks and lines, and of the ends' names, mm.
const DEGREES_SIZE: f64 = 2.2;
const MARK_SIZE: f64 = 2.6;
const END_SIZE: f64 = 3.0;
/// From one note to the next, mm.
const NOTE_LINE: f64 = 4.5;
/// Length of a tick and of a quarter's, mm, and the most of a side that they take.
const TICK: (f64, f64) = (2.0, 0.2);
const QUARTER_TICK: (f64, f64) = (4.0, 0.3);
/// Length of an arrow, mm, and the most of a side that it takes.
const ARROW: (f64, f64) = (7.0, 0.45);
/// Length and half width of its head, mm.
const HEAD: [f64; 2] = [1.6, 0.7];
const ARROW_LINE: f64 = 0.3;
/// Radius of the dots to prick through, mm.
const PRICK: f64 = 0.35;
/// Dashes of an inner line, mm.
const INNER_DASHES: &str = "2 1";
/// From a tick to its degrees, and from a mark to its name, mm.
const DEGREES_GAP: f64 = 0.6;
const MARK_GAP: f64 = 1.2;
/// From one try to the next for a text's height, mm, and how many.
const TRY: f64 = 0.5;
const DEGREES_TRIES: usize = 10;
const MARK_TRIES: usize = 24;
const LINE_TRIES: usize = 8;
/// Places tried across a pattern for what names an end or a line.
const ACROSS_TRIES: usize = 24;

/// One wrap pattern.
#[derive(Clone, Debug)]
pub(super) struct Wrap {
    /// Id of the outline's path; inner lines have `id-inner-1` and so on.
    pub id: String,
    /// What it is for.
    pub title: String,
    /// Its sizes, and how to print it.
    pub sizes: String,
    /// The pattern itself.
    pub outline: Outline,
    /// What is upstream, say "from joint 3"; nothing where empty.
    pub start_label: String,
    /// What is downstream; an arrow is set before it.
    pub end_label: String,
    /// Lines to lay on marks of the tube.
    pub marks: Vec<Mark>,
    /// Clock where the degree scales begin.
    pub ticks_from: Angle,
    /// Lines to prick through the paper.
    pub inner: Vec<Inner>,
}

/// A line along the tube.
#[derive(Clone, Debug)]
pub(super) struct Mark {
    pub clock: Angle,
    pub at: MarkAt,
    pub label: String,
}

/// Where a mark shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum MarkAt {
    /// An arrow to the start's edge.
    Start,
    /// An arrow to the end's edge.
    End,
    /// A dashed line from edge to edge.
    Through,
}

/// A second line on the pattern: where to cut an end again, say, with an edge of the
/// paper flush with its rim.
#[derive(Clone, Debug)]
pub(super) struct Inner {
    /// Its shape.
    pub edge: Edge,
    /// Height of its center.
    pub level: Length,
    /// Which way the edge's extension makes a tube longer.
    pub faces: Faces,
    pub label: String,
}

/// The end of a tube that an edge is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Faces {
    /// A start: longer is lower.
    Upstream,
    /// An end: longer is higher.
    Downstream,
}

impl Inner {
    /// Its height at `clock` on the tube of `outline`.
    pub(super) fn at(&self, outline: &Outline, clock: Angle) -> Length {
        let radius = outline.sleeve().tube().radius();
        let extension = self.edge.extension(radius, clock);
        match self.faces {
            Faces::Upstream => self.level - extension,
            Faces::Downstream => self.level + extension,
        }
    }

    fn curve(&self, outline: &Outline) -> Vec<Curve> {
        match self.faces {
            Faces::Upstream => outline.start_curve_of(self.level, &self.edge),
            Faces::Downstream => outline.end_curve_of(self.level, &self.edge),
        }
    }

    /// Its lowest and highest, mm.
    fn extent(&self, outline: &Outline) -> (f64, f64) {
        let (least, most) = self.edge.range(outline.sleeve().tube().radius());
        let (low, high) = match self.faces {
            Faces::Upstream => (self.level - most, self.level - least),
            Faces::Downstream => (self.level + least, self.level + most),
        };
        (low.mm(), high.mm())
    }
}

/// The bytes of `file`: a page of `wraps` at true size, with bars to check it by.
pub(super) fn wrap_page(file: &str, wraps: &[Wrap]) -> Result<Vec<u8>, ExportError> {
    let mut page = Page::new();
    for wrap in wraps {
        let layout = Layout::of(wrap);
        let above = HEADING + NOTE_LINE * layout.notes.len() as f64;
        let extent = layout.extent();
        page.add(layout.width(), above, extent, |base| {
            layout.draw(base, base - extent.1)
        });
    }
    page.bytes(file)
}

/// A straight stroke between two points of the pattern.
struct Stroke {
    from: [f64; 2],
    to: [f64; 2],
    width: f64,
}

/// A line of clock on the pattern: where it is and where it meets the edges.
#[derive(Clone, Copy)]
struct Meridian {
    x: f64,
    start: f64,
    end: f64,
}

impl Meridian {
    /// The lesser of a length and a part of the side here: `(mm, part)`.
    fn within(&self, (most, part): (f64, f64)) -> f64 {
        most.min(part * (self.end - self.start))
    }

    fn area(&self, low: f64, high: f64) -> Area {
        Area {
            left: self.x,
            right: self.x,
            low,
            high,
        }
    }
}

/// A pattern's strokes and texts, each in its place.
struct Layout<'a> {
    wrap: &'a Wrap,
    room: Room<'a>,
    strokes: Vec<Stroke>,
    dashed: Vec<Meridian>,
    labels: Vec<Label>,
    notes: Vec<String>,
}

impl<'a> Layout<'a> {
    fn of(wrap: &'a Wrap) -> Self {
        let mut layout = Self {
            wrap,
            room: Room::new(&wrap.outline, &wrap.inner),
            strokes: Vec::new(),
            dashed: Vec::new(),
            labels: Vec::new(),
            notes: Vec::new(),
        };
        // Strokes first: texts go where they leave room, those that matter most first.
        layout.add_ticks();
        layout.add_marks();
        layout.name_quarters();
        layout.name_marks();
        layout.name_inner_lines();
        layout.name_ends();
        layout
    }

    fn meridian(&self, clock: Angle) -> Meridian {
        let outline = &self.wrap.outline;
        Meridian {
            x: outline.across(clock).mm(),
            start: outline.start_at(clock).mm(),
            end: outline.end_at(clock).mm(),
        }
    }

    fn add_ticks(&mut self) {
        for (degrees, quarter) in scale() {
            let at = self.meridian(self.wrap.ticks_from + Angle::from_degrees(degrees));
            let length = at.within(if quarter { QUARTER_TICK } else { TICK });
            self.add_stroke(&at, at.start, at.start + length, HELP_LINE);
            self.add_stroke(&at, at.end - length, at.end, HELP_LINE);
        }
    }

    /// A stroke along the tube.
    fn add_stroke(&mut self, at: &Meridian, low: f64, high: f64, width: f64) {
        self.room.take(at.area(low, high));
        self.strokes.push(Stroke {
            from: [at.x, low],
            to: [at.x, high],
            width,
        });
    }

    fn add_marks(&mut self) {
        for mark in &self.wrap.marks {
            let at = self.meridian(mark.clock);
            let length = at.within(ARROW);
            match mark.at {
                MarkAt::Start => self.add_arrow(&at, at.start, length),
                MarkAt::End => self.add_arrow(&at, at.end, -length),
                MarkAt::Through => {
                    self.room.take(at.area(at.start, at.end));
                    self.dashed.push(at);
                }
            }
        }
    }

    /// An arrow with its tip at `tip` and its tail `length` above it.
    fn add_arrow(&mut self, at: &Meridian, tip: f64, length: f64) {
        let tail = tip + length;
        self.add_stroke(at, tip.min(tail), tip.max(tail), ARROW_LINE);
        let [long, half] = HEAD;
        let back = tip + long.min(length.abs()).copysign(length);
        for x in [at.x - half, at.x + half] {
            self.strokes.push(Stroke {
                from: [x, back],
                to: [at.x, tip],
                width: ARROW_LINE,
            });
        }
        self.room.take(Area {
            left: at.x - half,
            right: at.x + half,
            low: tip.min(back),
            high: tip.max(back),
        });
    }

    /// Degrees beside the quarters' ticks, at both edges where there is room; below the
    /// pattern where there is none at either.
    fn name_quarters(&mut self) {
        for (degrees, _) in scale().filter(|(_, quarter)| *quarter) {
            let at = self.meridian(self.wrap.ticks_from + Angle::from_degrees(degrees));
            let content = format!("{degrees}°");
            let text = (content.as_str(), DEGREES_SIZE);
            let mut places = |edge| {
                let places = beside(at, DEGREES_GAP, (edge, DEGREES_TRIES), text);
                self.room.place(places)
            };
            let inside = [places(MarkAt::Start), places(MarkAt::End)];
            if inside.iter().all(Option::is_none) {
                let x = at.x - text_width(&content, DEGREES_SIZE) / 2.0;
                self.labels.push(self.room.place_outside(x, true, text));
            }
            self.labels.extend(inside.into_iter().flatten());
        }
    }

    fn name_marks(&mut self) {
        for mark in self.wrap.marks.iter().filter(|mark| !mark.label.is_empty()) {
            let at = self.meridian(mark.clock);
            let places =
                |content: &str| beside(at, MARK_GAP, (mark.at, MARK_TRIES), (content, MARK_SIZE));
            let named = self.room.place(places(&mark.label));
            let label = named.unwrap_or_else(|| {
                let letter = self.note(&mark.label);
                let inside = self.room.place(places(&letter));
                inside.unwrap_or_else(|| {
                    let x = at.x - text_width(&letter, MARK_SIZE) / 2.0;
                    let below = mark.at != MarkAt::End;
                    self.room.place_outside(x, below, (&letter, MARK_SIZE))
                })
            });
            self.labels.push(label);
        }
    }

    fn name_inner_lines(&mut self) {
        let outline = &self.wrap.outline;
        let named = |line: &&Inner| !line.label.is_empty();
        for line in self.wrap.inner.iter().filter(named) {
            let places = |content: &str| along(outline, line, (content, MARK_SIZE));
            let label = self.room.place(places(&line.label));
            let label = label.or_else(|| {
                let letter = self.note(&format!("{} (dashed line with dots)", line.label));
                self.room.place(places(&letter))
            });
            self.labels.extend(label);
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
            let text = (content.as_str(), END_SIZE);
            let places = across(&self.wrap.outline, *at, text);
            let inside = self.room.place(places);
            let below = *at == MarkAt::Start;
            let label = inside.unwrap_or_else(|| self.room.place_outside(0.0, below, text));
            self.labels.push(label);
        }
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

    /// Lowest and highest of all that is drawn.
    fn extent(&self) -> (f64, f64) {
        let outline = &self.wrap.outline;
        let (low, high) = outline.extent();
        let lines = self.wrap.inner.iter().map(|line| line.extent(outline));
        let labels = self.labels.iter().map(Label::area);
        lines
            .chain(labels.map(|area| (area.low, area.high)))
            .fold((low.mm(), high.mm()), |(low, high), (least, most)| {
                (low.min(least), high.max(most))
            })
    }

    /// Room that it takes from side to side.
    fn width(&self) -> f64 {
        let heading = heading_width(&self.wrap.title, &self.wrap.sizes);
        let notes = self.notes.iter().map(|note| text_width(note, SIZES_SIZE));
        let labels = self.labels.iter().map(|label| label.area().right);
        notes
            .chain(labels)
            .fold(self.wrap.outline.width().mm().max(heading), f64::max)
    }

    fn draw(&self, base: f64, top: f64) -> Group {
        let wrap = self.wrap;
        let notes_top = top - NOTE_LINE * self.notes.len() as f64;
        let mut group = heading(notes_top, &wrap.title, &wrap.sizes).add(outline_path(
            &wrap.id,
            &wrap.outline,
            base,
        ));
        for (i, note) in self.notes.iter().enumerate() {
            let y = notes_top - 3.5 + NOTE_LINE * (i + 1) as f64;
            group = group.add(text(MARGIN, y, SIZES_SIZE, note));
        }
        for (i, line) in wrap.inner.iter().enumerate() {
            group = group.add(self.draw_inner(line, &format!("{}-inner-{}", wrap.id, i + 1), base));
        }
        for at in &self.dashed {
            group = group.add(through(MARGIN + at.x, base - at.start, base - at.end));
        }
        for Stroke { from, to, width } in &self.strokes {
            let (x0, x1) = (MARGIN + from[0], MARGIN + to[0]);
            group = group.add(line(x0, base - from[1], x1, base - to[1], *width));
        }
        let labels = self.labels.iter().map(|label| label.draw(base));
        labels.fold(group, Group::add)
    }

    /// The line with a dot at every tick's clock.
    fn draw_inner(&self, line: &Inner, id: &str, base: f64) -> Group {
        let outline = &self.wrap.outline;
        let path = curve_path(id, &line.curve(outline), base);
        let dots = scale().map(|(degrees, _)| {
            let clock = self.wrap.ticks_from + Angle::from_degrees(degrees);
            let y = base - line.at(outline, clock).mm();
            Circle::new()
                .set("cx", number(MARGIN + outline.across(clock).mm()))
                .set("cy", number(y))
                .set("r", PRICK)
        });
        let group = Group::new().add(path.set("stroke-dasharray", INNER_DASHES));
        dots.fold(group, Group::add)
    }
}

/// Places beside a mark for its name: from its edge inward, or from its middle.
fn beside(at: Meridian, gap: f64, (mark, tries): (MarkAt, usize), text: (&str, f64)) -> Vec<Label> {
    let middle = (at.start + at.end) / 2.0;
    let spread = (at.end - at.start) / tries as f64;
    let place = |i: usize, runs: Runs| {
        let tall = Label::tall(runs, text);
        let inward = TRY * (i + 1) as f64;
        let low = match mark {
            MarkAt::Start => at.start + inward,
            MarkAt::End => at.end - inward - tall,
            MarkAt::Through => middle - tall / 2.0 + spread * to_and_fro(i),
        };
        Label::beside((at.x, gap), low, runs, text)
    };
    let ways = [[Runs::Right, Runs::Left], [Runs::UpRight, Runs::UpLeft]];
    ways.iter()
        .flat_map(|sides| (0..tries).flat_map(move |i| sides.iter().map(move |runs| (i, *runs))))
        .map(|(i, runs)| place(i, runs))
        .collect()
}

/// Places for an end's name, from the middle of the pattern outward.
fn across(outline: &Outline, end: MarkAt, text: (&str, f64)) -> Vec<Label> {
    let tall = Label::tall(Runs::Right, text);
    let heights = (0..MARK_TRIES).map(|i| TRY * (i + 1) as f64);
    places_across(outline, text, heights, |clock, inward| match end {
        MarkAt::End => outline.end_at(clock).mm() - inward - tall,
        _ => outline.start_at(clock).mm() + inward,
    })
}

/// Places for a line's name, above and below it.
fn along(outline: &Outline, line: &Inner, text: (&str, f64)) -> Vec<Label> {
    let tall = Label::tall(Runs::Right, text);
    let heights = (1..=LINE_TRIES).flat_map(|i| {
        let off = TRY * (i + 1) as f64;
        [off, -off - tall]
    });
    places_across(outline, text, heights, |clock, off| {
        line.at(outline, clock).mm() + off
    })
}

/// Every one of `heights` at places across the pattern: the nearest heights first, at
/// each the places from the middle outward.
fn places_across(
    outline: &Outline,
    text: (&str, f64),
    heights: impl Iterator<Item = f64>,
    low: impl Fn(Angle, f64) -> f64,
) -> Vec<Label> {
    let (width, half) = (outline.width().mm(), text_width(text.0, text.1) / 2.0);
    let step = width / ACROSS_TRIES as f64;
    let place = |i: usize, height: f64| {
        let x = width / 2.0 + step * to_and_fro(i);
        let clock = outline.clock_at(Length::from_mm(x));
        Label::beside((x - half, 0.0), low(clock, height), Runs::Right, text)
    };
    heights
        .flat_map(|height| (0..ACROSS_TRIES).map(move |i| (i, height)))
        .map(|(i, height)| place(i, height))
        .collect()
}

/// 0, 1, −1, 2, −2 and so on.
fn to_and_fro(i: usize) -> f64 {
    let away = i.div_ceil(2) as f64;
    if i.is_multiple_of(2) { -away } else { away }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tube::{Cut, Scribed, Sleeve, Tube};

    fn mm(mm: f64) -> Length {
        Length::from_mm(mm)
    }

    fn degrees(degrees: f64) -> Angle {
        Angle::from_degrees(degrees)
    }

    fn cut(angle: f64, clock: f64) -> Edge {
        Edge::Cut(Cut {
            angle: degrees(angle),
            clock: degrees(clock),
        })
    }

    fn mark(clock: f64, at: MarkAt, label: &str) -> Mark {
        Mark {
            clock: degrees(clock),
            at,
            label: label.to_owned(),
        }
    }

    fn inner(level: f64, edge: Edge, label: &str) -> Inner {
        Inner {
            edge,
            level: mm(level),
            faces: Faces::Downstream,
            label: label.to_owned(),
        }
    }

    /// Where a branch of three quarters the size meets a header, about.
    fn saddle(depth: f64) -> Edge {
        let height = |clock: f64| mm(depth * (2.0 * degrees(clock).cos().powi(2) - 1.0));
        let clocks = (0..72).map(|i| f64::from(i) * 5.0);
        let points: Vec<_> = clocks
            .map(|clock| (degrees(clock), height(clock)))
            .collect();
        Edge::Scribed(Scribed::new(&points).unwrap())
    }

    fn wrap(id: &str, od: f64, length: f64, [start, end]: [Edge; 2]) -> Wrap {
        let tube = Tube::new(mm(od), mm(1.0), "304").unwrap();
        let sleeve = Sleeve::new(tube, mm(length), start, end).unwrap();
        Wrap {
            id: id.to_owned(),
            title: format!("stack: {id}"),
            sizes: format!("OD {od} mm, center {length} mm; print at 100 %, wrap printed side out"),
            outline: Outline::new(sleeve, degrees(180.0), mm(0.1)),
            start_label: "from joint 3".to_owned(),
            end_label: "to joint 4".to_owned(),
            marks: Vec::new(),
            ticks_from: degrees(0.0),
            inner: Vec::new(),
        }
    }

    fn samples() -> Vec<Wrap> {
        let marks = || {
            vec![
                mark(0.0, MarkAt::Start, "mark on piece 3"),
                mark(30.0, MarkAt::Through, "lay on the scribed line"),
                mark(181.0, MarkAt::Start, "near the left edge"),
                mark(179.0, MarkAt::End, "near the right edge"),
                mark(178.0, MarkAt::Through, "right"),
                mark(90.0, MarkAt::End, "mark on the flange"),
            ]
        };
        let recut = || vec![inner(7.0, cut(3.0, 40.0), "cut here")];
        let mut all = vec![
            wrap("plane", 76.2, 60.0, [cut(20.0, 0.0), cut(30.0, 100.0)]),
            wrap("steep", 76.2, 90.0, [cut(45.0, 0.0), cut(45.0, 0.0)]),
            wrap("scribed", 60.3, 70.0, [cut(10.0, 0.0), saddle(12.0)]),
            wrap("recut", 76.2, 25.0, [Edge::SQUARE, Edge::SQUARE]),
            wrap("short", 76.2, 5.0, [Edge::SQUARE, Edge::SQUARE]),
            wrap("bare", 76.2, 5.0, [Edge::SQUARE, Edge::SQUARE]),
            wrap("small", 12.0, 40.0, [cut(22.5, 0.0), cut(45.0, 90.0)]),
            wrap("small-short", 12.0, 6.0, [Edge::SQUARE, cut(15.0, 90.0)]),
        ];
        for (i, wrap) in all.iter_mut().enumerate() {
            if !matches!(wrap.id.as_str(), "plane" | "bare") {
                wrap.marks = marks();
            }
            wrap.ticks_from = degrees(if i % 2 == 0 { 0.0 } else { 17.0 });
        }
        all[3].inner = recut();
        all[4].inner = vec![inner(2.0, cut(1.0, 0.0), "cut here")];
        all[7].inner = vec![inner(3.0, saddle(1.0), "cut here again")];
        all[7].inner[0].faces = Faces::Upstream;
        all
    }

    #[test]
    fn texts_cover_nothing() {
        for wrap in samples() {
            let layout = Layout::of(&wrap);
            let areas: Vec<Area> = layout.labels.iter().map(Label::area).collect();
            for (i, area) in areas.iter().enumerate() {
                for other in &areas[..i] {
                    assert!(area.is_clear_of(other), "{}: {area:?} {other:?}", wrap.id);
                }
                let (low, high) = layout.extent();
                assert!(area.low >= low && area.high <= high);
                assert!(area.left >= -MARGIN && area.right <= layout.width());
            }
        }
    }

    #[test]
    fn every_name_is_on_the_page() {
        let page = String::from_utf8(wrap_page("wraps.svg", &samples()).unwrap()).unwrap();
        assert!(page.contains("check-100-mm"));
        for wrap in samples() {
            let one = wrap_page("wraps.svg", std::slice::from_ref(&wrap)).unwrap();
            let one = String::from_utf8(one).unwrap();
            let marks = wrap.marks.iter().map(|mark| &mark.label);
            let lines = wrap.inner.iter().map(|line| &line.label);
            for name in marks
                .chain(lines)
                .chain([&wrap.start_label, &wrap.end_label])
            {
                assert!(one.contains(name.as_str()), "{}: {name}", wrap.id);
            }
            assert!(one.contains(&format!("id=\"{}\"", wrap.id)));
            for i in 1..=wrap.inner.len() {
                assert!(one.contains(&format!("id=\"{}-inner-{i}\"", wrap.id)));
            }
        }
    }

    #[test]
    fn no_number_makes_it_panic() {
        let mut wrap = wrap("odd", 76.2, 60.0, [Edge::SQUARE, saddle(5.0)]);
        for clock in [f64::NAN, f64::INFINITY, 1e300] {
            wrap.marks.push(mark(clock, MarkAt::Through, "nowhere"));
            wrap.marks
                .push(mark(clock, MarkAt::End, &"long ".repeat(200)));
        }
        wrap.inner.push(inner(f64::NAN, Edge::SQUARE, "nowhere"));
        wrap.inner.push(inner(1e300, Edge::SQUARE, "far"));
        assert!(wrap_page("wraps.svg", &[wrap]).is_ok());
    }
}
