//! Sticks and the cuts that they are put to.

use super::data::{StickData, StickPartData};
use crate::export::cut_row::{cut_rows, piece_name};
use crate::export::scarce::scarce;
use crate::plan::PlanFile;
use crate::shop::{
    Drops, SawCut, SeamPlan, Stick, StickChoice, StickLayout, StickSource, StickToCut,
};
use crate::tube::Tube;
use crate::units::{Angle, Style, counted};

/// All sticks, and what there is to say of them.
pub(super) fn sticks(
    plan: &PlanFile,
    layouts: &[StickLayout],
    seams: &[Option<SeamPlan>],
) -> (Vec<StickData>, String) {
    let notes: Vec<String> = layouts.iter().map(|layout| note(layout, plan)).collect();
    let list = plan.cut_list(layouts);
    let (names, longer) = (plan.run_names(), plan.longer());
    let count = list.sticks.len();
    let of_stick = |(i, stick): (usize, &StickToCut<'_>)| {
        let (title, note) = match stick.choice {
            StickChoice::Layout {
                layout,
                number,
                stick,
            } => laid_out(layout, number, stick, plan, seams),
            StickChoice::Run { run } => in_order(run, stick, plan, seams),
        };
        StickData {
            title: match count {
                1 => title,
                _ => format!("Stick {}: {title}", i + 1),
            },
            note,
            length_mm: match stick.choice {
                StickChoice::Layout { stick, .. } => stick.length.mm(),
                StickChoice::Run { .. } => stick.taken().mm(),
            },
            parts: parts(stick, &names),
            cuts: cut_rows(&stick.cuts, stick.tube, &names, &longer, plan.style),
        }
    };
    let sticks = list.sticks.iter().enumerate().map(of_stick).collect();
    (sticks, notes.join(" "))
}

/// Title and note of a layout's stick.
fn laid_out(
    layout: &StickLayout,
    number: usize,
    stick: &Stick,
    plan: &PlanFile,
    seams: &[Option<SeamPlan>],
) -> (String, String) {
    let style = plan.style;
    let source = match stick.source {
        StickSource::New { .. } => "new",
        StickSource::Shelf { .. } => "from the shelf",
        StickSource::Missing => "MISSING: buy or find it",
    };
    let title = format!(
        "{} × {}, {source}, {}",
        style.decimal(layout.tube.od()),
        style.decimal(layout.tube.wall()),
        style.length(stick.length)
    );
    let left = style.length(stick.remnant);
    let left = match stick.kept {
        true => format!("{left} left at its shortest side: back on the shelf"),
        false => format!("{left} left at its shortest side: scrap"),
    };
    let line = line(layout, number, plan, seams);
    let scarce = scarce(stick, &plan.accuracy, style);
    let scarce = scarce.map_or(String::new(), |warning| format!("; {warning}"));
    (title, format!("{left}{scarce}{line}"))
}

/// Title and note of a run that is cut in order from one stick as long as it takes.
fn in_order(
    run: usize,
    stick: &StickToCut<'_>,
    plan: &PlanFile,
    seams: &[Option<SeamPlan>],
) -> (String, String) {
    let style = plan.style;
    let taken = style.length(stick.taken());
    let title = match plan.runs.len() {
        1 => format!("One stick, {taken} or more"),
        _ => format!("{}, {taken} or more", plan.runs[run].name),
    };
    let seams = seams.get(run).and_then(Option::as_ref);
    let line = seams.and_then(|seams| seams.sticks().first().copied());
    let line = line.map_or(String::new(), |(_, offset)| {
        scribe(offset, stick.tube, style)
    });
    let kerf = style.decimal(plan.runs[run].quoting.rates.kerf);
    (
        title,
        format!("kerf {kerf}; the stick's first end is square{line}"),
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
        " No layout buys less, or takes less off the shelf.".to_owned()
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

/// Where pieces lie on a stick, and how their ends slant as seen from the side. A half turn
/// between cuts leaves them parallel to each other on the stick.
fn parts(stick: &StickToCut<'_>, names: &[&str]) -> Vec<StickPartData> {
    let radius = stick.tube.radius().mm();
    let slant = |cut: &SawCut| radius * cut.angle.tan() * cut.mark.cos();
    let mut from_slant = 0.0;
    let mut parts = Vec::new();
    for cut in stick.cuts.iter() {
        let before = std::mem::replace(&mut from_slant, -slant(cut));
        if let Drops::Piece { run, piece, .. } = cut.drops {
            parts.push(StickPartData {
                label: piece_name(run, piece, names),
                from_mm: cut.from.mm(),
                to_mm: (cut.from + cut.length).mm(),
                from_slant_mm: before,
                to_slant_mm: slant(cut),
            });
        }
    }
    parts
}
