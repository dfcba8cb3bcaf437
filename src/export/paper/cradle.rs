//! The cradle: a sheet folded up into a channel that holds a tube on a chop saw.
//!
//! The channel is one diameter wide and half a diameter high inside, so that the tube
//! touches the base and the upper edges of both walls, at the ends of its level diameter.
//! Drawn printed side in, flow up the page. Its clocks are counted from the top of the
//! tube that lies in it, clockwise looking downstream: the right wall's upper edge is at
//! 90°, the middle of the base at 180°, the left wall's upper edge at 270°. On
//! this sheet, seen from inside, clocks grow to the left, while on a wrap pattern, seen
//! from outside, they grow to the right. On a wall, the tube's side at clock t is level
//! with the height r + r·cos t.
//!
//! A chop saw's blade stands upright and swings about an upright axis. Set to κ it passes
//! the base along a line that rises r·tan κ from the middle to either fold, and the walls
//! square to the length. Slots are drawn rising to the right: what drops off lies below
//! the slot and has its long side at the right wall, at 90° in the cradle. So a cut is
//! right when the tube's mark for it stands at the right wall's upper edge.

use super::RunOnPaper;
use super::free::Free;
use crate::export::flat::{Anchor, Area, Dash, Drawing, Layer, Path, Pen, Text};
use crate::units::{Angle, Length};
use std::f64::consts::FRAC_PI_2;

/// Where the neutral line of a sharp bend lies, as a part of the sheet's thickness from
/// its inside; common practice, no source.
const NEUTRAL: f64 = 0.44;
/// Tube held on either side of the slots, in diameters, and at least, mm; common
/// practice, no source.
const HELD: (f64, f64) = (0.75, 30.0);
/// From one slot to the next along a wall, mm.
const BETWEEN_SLOTS: f64 = 14.0;
/// Nearer to each other than this, degrees, two cuts are one slot.
const ONE_SLOT: f64 = 0.01;
/// Most slots: more weaken the channel.
const MOST_SLOTS: usize = 12;
const SLOT_PEN: Pen = Pen::solid(0.4);
const CENTER_PEN: Pen = Pen::broken(0.25, Dash::Center);
const TICK_PEN: Pen = Pen::solid(0.25);
/// Length of a clock tick at either end of a wall, mm.
const TICK: f64 = 5.0;
/// Clocks that are ticked on the right wall, degrees.
const WALL_CLOCKS: [f64; 4] = [105.0, 120.0, 135.0, 150.0];
/// Heights of letters, mm: clocks where the tube touches, other clocks, slots, the rest.
const TOUCH_SIZE: f64 = 5.0;
const CLOCK_SIZE: f64 = 2.6;
const SLOT_SIZE: f64 = 3.2;
const WORDS_SIZE: f64 = 3.0;
/// Tries of a word's place inward from an end, and from one to the next, mm.
const PUT_TRIES: u32 = 14;
const PUT_STEP: f64 = 1.5;
/// White between a line and its words, mm.
const GAP: f64 = 1.0;

/// The flat sheet's measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cradle {
    radius: f64,
    /// What one fold adds to the flat sheet: κ·t·π/2 with its neutral line at κ.
    fold: f64,
    length: f64,
}

impl Cradle {
    fn of(on_paper: &RunOnPaper<'_>, thickness: Length) -> Self {
        let radius = on_paper.run.tube().radius().mm();
        let slots: f64 = slots(on_paper)
            .iter()
            .map(|&cut| room_of(radius, cut))
            .sum();
        let held = (HELD.0 * 2.0 * radius).max(HELD.1);
        Self {
            radius,
            fold: FRAC_PI_2 * NEUTRAL * thickness.mm(),
            length: slots + 2.0 * held,
        }
    }

    /// From the middle to a fold line.
    fn fold_at(&self) -> f64 {
        self.radius + self.fold / 2.0
    }

    /// From the middle to a wall's upper edge.
    fn edge_at(&self) -> f64 {
        self.wall_at(self.radius)
    }

    /// From the middle to a height on a wall.
    fn wall_at(&self, height: f64) -> f64 {
        self.radius + self.fold + height
    }
}

/// What a slot takes along a wall.
fn room_of(radius: f64, cut: Angle) -> f64 {
    2.0 * radius * cut.tan() + BETWEEN_SLOTS
}

/// The angles that the run is cut at, rising: square first.
fn slots(on_paper: &RunOnPaper<'_>) -> Vec<Angle> {
    let pieces = on_paper.run.pieces().iter();
    let pieces = pieces.filter_map(|placed| placed.piece.straight());
    let mut cuts: Vec<Angle> = pieces
        .flat_map(|piece| [piece.start().angle, piece.end().angle])
        .chain([Angle::ZERO])
        .collect();
    cuts.sort_by(|a, b| a.radians().total_cmp(&b.radians()));
    cuts.dedup_by(|a, b| (*a - *b).abs().degrees() < ONE_SLOT);
    cuts.truncate(MOST_SLOTS);
    cuts
}

/// What stands above it: title and use.
pub(super) fn cradle_words(on_paper: &RunOnPaper<'_>, thickness: Length) -> [String; 2] {
    let od = on_paper.run.tube().od();
    let style = on_paper.style;
    let sheet = match thickness > Length::ZERO {
        true => format!("for sheet {} thick", style.decimal(thickness)),
        false => {
            "for paper and card; for sheet metal plan with --card and its thickness".to_owned()
        }
    };
    [
        format!(
            "{}: cradle for {} tube on a chop saw",
            on_paper.name,
            style.length(od)
        ),
        format!(
            "fold both walls up on the dashed lines, printed side in; {sheet}. Inside {} wide, {} high. \
             Clocks are counted from the top, looking as the arrow. Turn the tube until the cut's \
             mark is at 90°, the right wall's upper edge, and swing the saw along the slot",
            style.length(od),
            style.length(od / 2.0),
        ),
    ]
}

/// The flat sheet in its own millimeters: x from the middle of the base, y with the flow.
pub(super) fn cradle(on_paper: &RunOnPaper<'_>, thickness: Length, keep_off: &[Area]) -> Drawing {
    let cradle = Cradle::of(on_paper, thickness);
    let mut drawing = Drawing::default();
    let edge = cradle.edge_at();
    let sheet = Area {
        left: -edge,
        right: edge,
        low: 0.0,
        high: cradle.length,
    };
    let mut free = Free::new(sheet, keep_off);
    let corners = [
        [sheet.left, sheet.low],
        [sheet.right, sheet.low],
        [sheet.right, sheet.high],
        [sheet.left, sheet.high],
    ];
    let id = format!("cradle-{}", on_paper.stem);
    let border = Path::through(corners).closed(true);
    drawing.named_path(Layer::Cut, Pen::CUT, id, border);
    for (i, x) in [-cradle.fold_at(), cradle.fold_at()]
        .into_iter()
        .enumerate()
    {
        let fold = [[x, 0.0], [x, cradle.length]];
        let id = format!("fold-{}-{}", on_paper.stem, i + 1);
        drawing.named_path(Layer::Fold, Pen::FOLD, id, Path::through(fold));
        free.take(Area::around(fold));
    }
    let center = [[0.0, 0.0], [0.0, cradle.length]];
    drawing.line(Layer::Marks, CENTER_PEN, center);
    free.take(Area::around(center));
    let slots = add_slots(&mut drawing, &mut free, on_paper, &cradle);
    add_clocks(&mut drawing, &mut free, &cradle);
    name_slots(&mut drawing, &mut free, &slots, on_paper);
    add_words(&mut drawing, &mut free, &cradle);
    drawing
}

/// Each slot: where it meets the right wall, and what it is set to.
type Slot = (f64, f64, Angle);

fn add_slots(
    drawing: &mut Drawing,
    free: &mut Free,
    on_paper: &RunOnPaper<'_>,
    cradle: &Cradle,
) -> Vec<Slot> {
    let cuts = slots(on_paper);
    let all: f64 = cuts.iter().map(|&cut| room_of(cradle.radius, cut)).sum();
    let mut low = (cradle.length - all) / 2.0;
    let mut slots = Vec::new();
    for (i, cut) in cuts.into_iter().enumerate() {
        let high = low + room_of(cradle.radius, cut);
        let (middle, rise) = ((low + high) / 2.0, cradle.radius * cut.tan());
        let (fold, edge) = (cradle.fold_at(), cradle.edge_at());
        let line = [
            [-edge, middle - rise],
            [-fold, middle - rise],
            [fold, middle + rise],
            [edge, middle + rise],
        ];
        let id = format!("slot-{}-{}", on_paper.stem, i + 1);
        drawing.named_path(Layer::Slot, SLOT_PEN, id, Path::through(line));
        for pair in line.windows(2) {
            free.take(Area::around(pair.iter().copied()));
        }
        slots.push((fold, middle + rise, cut));
        low = high;
    }
    slots
}

/// Clocks at both ends: where the tube touches, and on the walls where it is level.
fn add_clocks(drawing: &mut Drawing, free: &mut Free, cradle: &Cradle) {
    let ends = [(0.0, 1.0), (cradle.length, -1.0)];
    let ticks = WALL_CLOCKS.iter().flat_map(|&degrees| {
        let height = cradle.radius * (1.0 + Angle::from_degrees(degrees).cos());
        let x = cradle.wall_at(height);
        [(x, degrees), (-x, 360.0 - degrees)]
    });
    for (x, _) in ticks.clone() {
        for (end, inward) in ends {
            let tick = [[x, end], [x, end + inward * TICK]];
            drawing.line(Layer::Clock, TICK_PEN, tick);
            free.take(Area::around(tick));
        }
    }
    for (x, clock) in ticks {
        for (end, inward) in ends {
            let word = Text::new([x, 0.0], CLOCK_SIZE, format!("{clock}°")).upward();
            let area = word.area();
            let word = Text {
                at: [2.0 * x - (area.left + area.right) / 2.0, 0.0],
                ..word
            };
            put(drawing, free, word, (end, inward, TICK + GAP));
        }
    }
    let touches = [
        (-cradle.edge_at(), "270°", Anchor::Start),
        (0.0, "180°", Anchor::Start),
        (cradle.edge_at(), "90°", Anchor::End),
    ];
    for (x, content, anchor) in touches {
        for (end, inward) in ends {
            let aside = match anchor {
                Anchor::End => -GAP,
                _ => GAP,
            };
            let word = Text::new([x + aside, 0.0], TOUCH_SIZE, content).bold();
            put(drawing, free, word.anchored(anchor), (end, inward, GAP));
        }
    }
}

/// Puts a word `away` inward from an end, or a little further where it finds no room.
fn put(drawing: &mut Drawing, free: &mut Free, word: Text, (end, inward, away): (f64, f64, f64)) {
    let area = word.area();
    let tries = (0..PUT_TRIES).map(|i| away + PUT_STEP * f64::from(i));
    let places = tries.map(|away| {
        let y = match inward > 0.0 {
            true => end + away - area.low,
            false => end - away - area.high,
        };
        Text {
            at: [word.at[0], y],
            ..word.clone()
        }
    });
    let text = free.place(places.collect::<Vec<_>>());
    text.into_iter().for_each(|text| drawing.text(text));
}

fn name_slots(drawing: &mut Drawing, free: &mut Free, slots: &[Slot], on_paper: &RunOnPaper<'_>) {
    for &(fold, y, cut) in slots {
        let content = match cut > Angle::ZERO {
            true => on_paper.style.angle(cut),
            false => "square".to_owned(),
        };
        let at = |x: f64, y: f64| Text::new([x, y], SLOT_SIZE, content.as_str()).bold();
        let above = y + GAP + 0.25 * SLOT_SIZE;
        let below = y - GAP - 0.8 * SLOT_SIZE;
        let places = [fold + GAP, fold + 3.0 * GAP, 3.0 * GAP]
            .into_iter()
            .flat_map(|x| [at(x, above), at(x, below)]);
        let text = free.place(places.collect::<Vec<_>>());
        text.into_iter().for_each(|text| drawing.text(text));
    }
}

fn add_words(drawing: &mut Drawing, free: &mut Free, cradle: &Cradle) {
    let fold = cradle.fold_at();
    let words = [
        (-fold - GAP, "fold up", Anchor::End, true),
        (fold + GAP, "fold up", Anchor::Start, true),
        (-fold / 2.0, "↑ flow", Anchor::Middle, false),
        (-fold / 2.0, "base", Anchor::Middle, false),
    ];
    for (x, content, anchor, upward) in words {
        let heights = (1..40).map(|i| cradle.length * (1.0 - f64::from(i) / 40.0));
        let place = |y: f64| {
            let text = Text::new([x, y], WORDS_SIZE, content);
            if !upward {
                return text.anchored(anchor);
            }
            let mut text = text.upward();
            let area = text.area();
            text.at[0] += match anchor {
                Anchor::End => x - area.right,
                _ => x - area.left,
            };
            text
        };
        let text = free.place(heights.map(place).collect::<Vec<_>>());
        text.into_iter().for_each(|text| drawing.text(text));
    }
}
