//! The clock tape: a strip as long as a tube is round, with degrees on it and the run's
//! own marks, to wrap round the tube and transfer them.
//!
//! It lies as a wrap pattern does, printed side out and flow up, so that clocks grow to
//! the right: clockwise looking downstream.

use super::RunOnPaper;
use super::base::draw_edges;
use super::names::{Meridian, anywhere, beside};
use super::pieces::{is_one, ranges};
use super::room::{Room, Runs, Words};
use super::wrap::MarkAt;
use crate::export::flat::{Area, Drawing, Layer, Pen, Text, text_width};
use crate::tube::{Edge, Outline, Sleeve};
use crate::units::{Angle, Length};

/// Width of the tape, mm.
const WIDE: Length = Length::from_mm(40.0);
/// A tick every this many degrees, and how long, mm: every one, every third, each quarter.
const STEP: u32 = 5;
const TICKS: [f64; 3] = [3.0, 5.0, 9.0];
const PENS: [Pen; 3] = [Pen::solid(0.18), Pen::solid(0.25), Pen::solid(0.5)];
/// Degrees from one number to the next, the finest first.
const NUMBERED: [u32; 4] = [15, 30, 45, 90];
/// Height of numbers and of those at quarters, mm, and the white between two.
const NUMBER_SIZES: (f64, f64) = (2.6, 4.0);
const NUMBER_GAP: f64 = 1.6;
/// Length of a mark of the run from the upper edge, mm.
const MARK: f64 = 20.0;
const MARK_PEN: Pen = Pen::solid(0.5);
const MARK_SIZES: [f64; 2] = [3.4, 2.8];
const MARK_GAP: f64 = 1.2;
/// From one name to the one below it, mm.
const ROW_GAP: f64 = 0.8;
const MARK_TRIES: usize = 24;
const FLOW_SIZES: [f64; 3] = [5.0, 3.6, 2.6];
/// Height of the run's name, and of what stands outside the tape, mm.
const NAME_SIZE: f64 = 3.0;
const OUTSIDE_SIZE: f64 = 2.6;

/// A clock at which the run is cut, and the pieces that drop off there.
#[derive(Clone, Debug, PartialEq)]
struct CutClock {
    clock: Angle,
    pieces: Vec<usize>,
}

/// Clocks of the miter cuts' long sides, each from the line of its own stick, as the saw
/// sheet marks them, in order of flow.
fn cut_clocks(on_paper: &RunOnPaper<'_>) -> Vec<CutClock> {
    let cuts = on_paper.cuts.iter().filter(|cut| !cut.is_square());
    let mut cuts: Vec<_> = cuts.filter_map(|cut| Some((cut.piece()?, cut))).collect();
    cuts.sort_by_key(|(piece, _)| *piece);
    let mut clocks: Vec<CutClock> = Vec::new();
    for (piece, cut) in cuts {
        match clocks.iter_mut().find(|at| is_one(at.clock, cut.mark)) {
            Some(at) => at.pieces.push(piece),
            None => clocks.push(CutClock {
                clock: cut.mark,
                pieces: vec![piece],
            }),
        }
    }
    clocks
}

/// The tape's surface: a square strip of the tube.
fn strip(on_paper: &RunOnPaper<'_>) -> Option<Outline> {
    let tube = on_paper.run.tube().clone();
    let sleeve = Sleeve::new(tube, WIDE, Edge::SQUARE, Edge::SQUARE).ok()?;
    Some(Outline::new(sleeve, Angle::ZERO, on_paper.paper))
}

/// What stands above it: title and use.
pub(super) fn tape_words(on_paper: &RunOnPaper<'_>) -> [String; 2] {
    let tube = on_paper.run.tube();
    let style = on_paper.style;
    let marked = match cut_clocks(on_paper).is_empty() {
        true => "",
        false => "; at a mark: the long side of the cut at which that piece drops off",
    };
    [
        format!(
            "{}: clock tape for {} tube",
            on_paper.name,
            style.length(tube.od())
        ),
        format!(
            "{} round the tube; wrap printed side out, flow as the arrow, 0° on the line scribed along \
             the stick{marked}",
            style.decimal(tube.circumference()),
        ),
    ]
}

/// The tape in its own millimeters.
pub(super) fn tape(on_paper: &RunOnPaper<'_>, keep_off: &[Area]) -> Drawing {
    let mut drawing = Drawing::default();
    let Some(outline) = strip(on_paper) else {
        return drawing;
    };
    let mut room = Room::new(&outline, &[]);
    keep_off.iter().for_each(|area| room.take(*area));
    let id = format!("clock-tape-{}", on_paper.stem);
    let tab = draw_edges(&mut drawing, &id, &outline, true, keep_off);
    tab.into_iter().for_each(|area| room.take(area));
    add_ticks(&mut drawing, &mut room, &outline);
    let cuts = cut_clocks(on_paper);
    for cut in &cuts {
        let at = Meridian::of(&outline, cut.clock);
        let low = at.end - MARK;
        drawing.line(Layer::Marks, MARK_PEN, [[at.x, low], [at.x, at.end]]);
        room.take(at.area(low, at.end));
    }
    add_numbers(&mut drawing, &mut room, &outline);
    for cut in &cuts {
        name_cut(&mut drawing, &mut room, &outline, (cut, on_paper));
    }
    let flow = FLOW_SIZES
        .into_iter()
        .find_map(|size| room.place(anywhere(&outline, Words::new("↑ flow", size).bold())));
    flow.into_iter().for_each(|text| drawing.text(text));
    // The tape is cut out of its page.
    let od = on_paper.style.length(on_paper.run.tube().od());
    let name = format!("{}, {od}", on_paper.name);
    let name = room.place(anywhere(&outline, Words::new(&name, NAME_SIZE)));
    name.into_iter().for_each(|text| drawing.text(text));
    drawing
}

fn add_ticks(drawing: &mut Drawing, room: &mut Room<'_>, outline: &Outline) {
    for degrees in (0..360).step_by(STEP as usize) {
        let class = class(degrees);
        let at = Meridian::of(outline, Angle::from_degrees(f64::from(degrees)));
        let high = at.start + TICKS[class];
        drawing.line(Layer::Clock, PENS[class], [[at.x, at.start], [at.x, high]]);
        room.take(at.area(at.start, high));
    }
}

/// 0 for any tick, 1 for every third, 2 for a quarter.
const fn class(degrees: u32) -> usize {
    match degrees {
        quarter if quarter.is_multiple_of(90) => 2,
        third if third.is_multiple_of(15) => 1,
        _ => 0,
    }
}

fn add_numbers(drawing: &mut Drawing, room: &mut Room<'_>, outline: &Outline) {
    let apart = |step: u32| outline.width().mm() * f64::from(step) / 360.0;
    let (small, large) = NUMBER_SIZES;
    let widest = text_width("000°", small, false) + NUMBER_GAP;
    let step = NUMBERED.into_iter().find(|&step| apart(step) >= widest);
    let numbered = (0..360).step_by(step.unwrap_or(90) as usize);
    for degrees in numbered {
        let quarter = class(degrees) == 2;
        let content = format!("{degrees}°");
        let words = match quarter {
            true => Words::new(&content, large).bold(),
            false => Words::new(&content, small),
        };
        let at = Meridian::of(outline, Angle::from_degrees(f64::from(degrees)));
        let low = at.start + TICKS[class(degrees)] + 1.0;
        // A quarter's may stand beside its tick: at the tape's ends, or at a join.
        let half = words.length() / 2.0;
        let asides: &[f64] = match quarter {
            true => &[0.0, half + 0.6, -half - 0.6],
            false => &[0.0],
        };
        let places = asides.iter().map(|aside| (at.x - half + aside, low));
        let places = places.map(|(x, low)| words.beside((x, 0.0), low, Runs::Right));
        let text = room.place(places.collect::<Vec<_>>());
        text.into_iter().for_each(|text| drawing.text(text));
    }
}

/// Places beside a mark: right of it from the top down, where all names have room below
/// each other, then left of it, then upright.
fn marked(at: Meridian, words: Words<'_>) -> Vec<Text> {
    let row = words.tall(Runs::Right) + ROW_GAP;
    let rows = (0..(MARK / row) as u32).map(|i| at.end - 1.0 - row * f64::from(i + 1) + ROW_GAP);
    let level = [Runs::Right, Runs::Left].into_iter().flat_map(|runs| {
        rows.clone()
            .map(move |low| words.beside((at.x, MARK_GAP), low, runs))
    });
    let upright = beside(at, MARK_GAP, (MarkAt::End, MARK_TRIES), words);
    level.chain(upright).collect()
}

fn name_cut(
    drawing: &mut Drawing,
    room: &mut Room<'_>,
    outline: &Outline,
    (cut, on_paper): (&CutClock, &RunOnPaper<'_>),
) {
    let noun = if cut.pieces.len() == 1 {
        "piece"
    } else {
        "pieces"
    };
    let clock = on_paper.style.clock(cut.clock);
    let content = format!("{noun} {}: {clock}", ranges(&cut.pieces));
    let at = Meridian::of(outline, cut.clock);
    let text = MARK_SIZES.into_iter().find_map(|size| {
        let words = Words::new(&content, size).bold();
        room.place(marked(at, words))
    });
    let text = text.unwrap_or_else(|| {
        let words = Words::new(&content, OUTSIDE_SIZE).bold();
        room.place_outside(at.x - words.length() / 2.0, false, words)
    });
    drawing.text(text);
}
