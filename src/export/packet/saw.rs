//! Sticks and the cuts that they are put to.

use super::data::{CutData, StickData, StickPartData};
use crate::export::stack_up_sheet::rounded_up;
use crate::plan::{FileRun, PlanFile};
use crate::shop::{Drops, SawSheet, SawStep, SeamPlan, Stick, StickCut, StickLayout, StickSource};
use crate::tube::Tube;
use crate::units::{Angle, Length, Style, counted};

/// How to read the sheet, step by step.
pub(super) const STEPS: [&str; 6] = [
    "Square the stick's end. Scribe a line along its whole length.",
    "Stand at the end where pieces drop off and look along the stick. The saw tilts one way and stays so. Start with the line where the saw leaves the long side.",
    "For each row: push the stick by FEED (kerf included; measured along its center, or on a line a quarter round from the line and the long side), turn it clockwise by ROTATE, set the saw to ANGLE, cut. The piece of that number drops off.",
    "STOP in place of feed: a flat stop, square to the tube and as wide, on the side where pieces drop off. The foremost point of the cut face touches it; the distance is to where the saw meets the tube at its long side, no kerf in it.",
    "Check: MARK is how far clockwise from the scribed line the dropped piece's long side is, ROUND the same with a tape round the tube. It runs the other way from ROTATE.",
    "HALF TURN: nothing but a half turn before this cut. SAME: saw and stop stay as they are. After a miter, the faces on both sides of the cut mate as cut.",
];

/// All sticks, and what there is to say of them.
pub(super) fn sticks(
    plan: &PlanFile,
    layouts: &[StickLayout],
    seams: &[Option<SeamPlan>],
) -> (Vec<StickData>, String) {
    let mut sticks = Vec::new();
    let mut notes = Vec::new();
    for layout in layouts {
        notes.push(note(layout, plan));
        for (number, stick) in layout.sticks.iter().enumerate() {
            let line = line(layout, number, plan, seams);
            sticks.push(of_layout(stick, &layout.tube, plan, line));
        }
    }
    notes.extend(plan.runs.iter().enumerate().filter_map(|(run, file)| {
        let (piece, longer) = (file.left_for_last?, longer(file, plan.style));
        (longer > Length::ZERO).then(|| left_for_last(&name(plan, run, piece), longer, plan.style))
    }));
    let laid_out = |file: &&FileRun| layouts.iter().any(|layout| layout.tube == *file.run.tube());
    let others = plan.runs.iter().zip(seams);
    let others = others.filter(|(file, _)| !laid_out(file));
    sticks.extend(others.filter_map(|(file, seams)| in_order(file, seams.as_ref(), plan)));
    let count = sticks.len();
    for (i, stick) in sticks.iter_mut().enumerate() {
        if count > 1 {
            stick.title = format!("Stick {}: {}", i + 1, stick.title);
        }
    }
    (sticks, notes.join(" "))
}

/// How much longer than listed a run's piece that is left for last is cut, as the sheet
/// rounds it.
fn longer(file: &FileRun, style: Style) -> Length {
    match file.left_for_last {
        Some(_) => rounded_up(file.left_longer, style),
        None => Length::ZERO,
    }
}

fn left_for_last(piece: &str, longer: Length, style: Style) -> String {
    let longer = style.length(longer);
    format!(
        "LEAVE PIECE {piece} FOR LAST and cut it {longer} longer than listed: FEED, or STOP, is {longer} more in its row, and SO FAR from there on; every other row stays. Cut it to the gap that is left."
    )
}

/// Where to scribe the line of a layout's stick, as any run that is cut from it has it.
fn line(
    layout: &StickLayout,
    number: usize,
    plan: &PlanFile,
    seams: &[Option<SeamPlan>],
) -> String {
    let runs = plan.runs.iter().zip(seams);
    let own = runs.filter(|(file, _)| *file.run.tube() == layout.tube);
    let mut offsets = own
        .filter_map(|(_, seams)| seams.as_ref())
        .flat_map(SeamPlan::sticks);
    match offsets.find(|(stick, _)| *stick == number) {
        Some((_, offset)) => scribe(offset, &layout.tube, plan.style),
        None => String::new(),
    }
}

/// The scribed line against the weld seam: the other way round than the seam against it.
fn scribe(offset: Angle, tube: &Tube, style: Style) -> String {
    let line = (-offset).wrapped();
    format!(
        "; scribe the line {} clockwise from the weld seam ({} round)",
        style.clock(line),
        style.length(tube.circumference() * (line / Angle::FULL))
    )
}

/// What a layout comes to.
fn note(layout: &StickLayout, plan: &PlanFile) -> String {
    let style = plan.style;
    let bought = layout
        .sticks
        .iter()
        .filter(|stick| matches!(stick.source, StickSource::New { .. }));
    let money = if layout.priced {
        format!(" for {:.2}", layout.found.money)
    } else {
        String::new()
    };
    let mut said = format!(
        "Of {} × {} {}: {} to buy{money}, wasted {}.",
        style.decimal(layout.tube.od()),
        style.decimal(layout.tube.wall()),
        layout.tube.material(),
        counted(bought.count(), "stick"),
        style.length(layout.waste()),
    );
    said.push_str(&if layout.is_proven() {
        " No layout buys or touches less.".to_owned()
    } else {
        format!(
            " The best found; another might save up to {:.1} %.",
            layout.gap() * 100.0
        )
    });
    for long in &layout.too_long {
        let name = plan.runs.get(long.run).map_or("", |run| run.name.as_str());
        said.push_str(&format!(
            " Piece {} of '{name}' takes {}, more than any stick: get a longer one.",
            long.piece,
            style.length(long.needs)
        ));
    }
    said
}

fn of_layout(stick: &Stick, tube: &Tube, plan: &PlanFile, line: String) -> StickData {
    let style = plan.style;
    let source = match stick.source {
        StickSource::New { .. } => "new",
        StickSource::Shelf { .. } => "from the shelf",
        StickSource::Missing => "MISSING: buy or find it",
    };
    let left = style.length(stick.remnant);
    let left = match stick.kept {
        true => format!("{left} left at its shortest side: back on the shelf"),
        false => format!("{left} left at its shortest side: scrap"),
    };
    let mut so_far = Length::ZERO;
    let cuts = stick.cuts.iter().map(|cut| {
        so_far += cut.feed;
        let (piece, note) = match cut.drops {
            Drops::End => ("end".to_owned(), String::new()),
            Drops::Wedge => ("waste".to_owned(), String::new()),
            Drops::Piece { run, piece, turned } => (
                name(plan, run, piece),
                if turned { "end first" } else { "" }.to_owned(),
            ),
        };
        let row = Row {
            piece,
            note,
            feed: cut.feed,
            stop: cut.stop,
            rotate: cut.rotate,
            angle: cut.angle,
            mark: cut.mark,
            half_turn: cut.is_half_turn(),
            again: cut.again,
        };
        row.data(so_far, tube, style)
    });
    StickData {
        cuts: cuts.collect(),
        title: format!(
            "{} × {}, {source}, {}",
            style.decimal(tube.od()),
            style.decimal(tube.wall()),
            style.length(stick.length)
        ),
        note: format!("{left}{line}"),
        length_mm: stick.length.mm(),
        parts: parts(stick, tube, plan),
    }
}

/// Where pieces lie on a stick, and how their ends slant as seen from the side.
fn parts(stick: &Stick, tube: &Tube, plan: &PlanFile) -> Vec<StickPartData> {
    let slant = |cut: &StickCut| {
        // A half turn between cuts leaves them parallel to each other on the stick.
        let side = cut.mark.cos();
        tube.radius().mm() * cut.angle.tan() * side
    };
    let pairs = stick.cuts.windows(2);
    let part = |pair: &[StickCut]| {
        let (before, cut) = (&pair[0], &pair[1]);
        let Drops::Piece { run, piece, .. } = cut.drops else {
            return None;
        };
        Some(StickPartData {
            label: name(plan, run, piece),
            from_mm: cut.from.mm(),
            to_mm: (cut.from + cut.length).mm(),
            from_slant_mm: -slant(before),
            to_slant_mm: slant(cut),
        })
    };
    pairs.filter_map(part).collect()
}

/// A piece, after its run's name where there are several runs.
fn name(plan: &PlanFile, run: usize, piece: usize) -> String {
    match plan.runs.get(run) {
        Some(file) if plan.runs.len() > 1 => format!("{} {piece}", file.name),
        _ => piece.to_string(),
    }
}

/// A run cut in order from one stick as long as it takes.
fn in_order(file: &FileRun, seams: Option<&SeamPlan>, plan: &PlanFile) -> Option<StickData> {
    let style = plan.style;
    let tube = file.run.tube();
    let kerf = file.quoting.rates.kerf;
    let saw = SawSheet::new(&file.run, kerf);
    if saw.steps.is_empty() {
        return None;
    }
    let stick = saw.stick() + longer(file, style);
    let title = match plan.runs.len() {
        1 => format!("One stick, {} or more", style.length(stick)),
        _ => format!("{}, {} or more", file.name, style.length(stick)),
    };
    let (mut so_far, mut from_slant) = (Length::ZERO, 0.0);
    let (mut cuts, mut parts) = (Vec::new(), Vec::new());
    for step in &saw.steps {
        let from = so_far;
        so_far += step.feed;
        let slant = tube.radius().mm() * step.angle.tan() * step.mark.cos();
        parts.push(StickPartData {
            label: step.piece.to_string(),
            from_mm: from.mm(),
            to_mm: (so_far - kerf / step.angle.cos()).mm(),
            from_slant_mm: from_slant,
            to_slant_mm: slant,
        });
        from_slant = -slant;
        cuts.push(row(step).data(so_far, tube, style));
    }
    Some(StickData {
        title,
        note: format!(
            "kerf {}; the stick's first end is square{}",
            style.decimal(kerf),
            seams
                .and_then(|seams| seams.sticks().first().copied())
                .map_or(String::new(), |(_, offset)| scribe(offset, tube, style)),
        ),
        length_mm: saw.stick().mm(),
        parts,
        cuts,
    })
}

fn row(step: &SawStep) -> Row {
    Row {
        piece: step.piece.to_string(),
        note: String::new(),
        feed: step.feed,
        stop: step.stop,
        rotate: step.rotate,
        angle: step.angle,
        mark: step.mark,
        half_turn: step.is_half_turn(),
        again: step.again,
    }
}

/// One cut, whichever sheet it is on.
struct Row {
    piece: String,
    note: String,
    feed: Length,
    stop: Length,
    rotate: Angle,
    angle: Angle,
    mark: Angle,
    half_turn: bool,
    again: bool,
}

impl Row {
    fn data(self, so_far: Length, tube: &Tube, style: Style) -> CutData {
        let square = self.angle == Angle::ZERO;
        let round = tube.circumference() * (self.mark.wrapped() / Angle::FULL);
        let clock = |said: String| if square { "any".to_owned() } else { said };
        let mut notes = vec![self.note];
        if self.half_turn {
            notes.push("half turn".to_owned());
        }
        if square {
            notes.push("square".to_owned());
        }
        if self.again {
            notes.push("same".to_owned());
        }
        notes.retain(|note| !note.is_empty());
        CutData {
            piece: self.piece,
            feed: style.length(self.feed),
            stop: style.length(self.stop),
            rotate: clock(style.clock(self.rotate)),
            angle: style.angle(self.angle),
            mark: clock(style.clock(self.mark)),
            round: clock(style.length(round)),
            so_far: style.length(so_far),
            note: notes.join(", "),
        }
    }
}
