//! `sheet.txt`: pieces and saw settings as plain text, for the bench.

use super::{ExportError, Exporter, OutFile};
use crate::plan::{Plan, PlannedRun};
use crate::route::Task;
use crate::shop::SawStep;
use crate::units::{Angle, Length, Style, counted};
use std::fmt::Write;

/// Writes `sheet.txt`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sheet;

const CAUTIONS: &str = "\
BEFORE YOU CUT
  Geometry only: this is not a pressure-piping design. Pressure piping belongs to
  its code and a qualified person. Follow your local codes.
  Measure a printed check bar, cut one piece, and try it before you cut the rest.
  Clamp the tube; guard the blade; let no hand near it on short pieces.
  Welding: eye and skin cover, a fire watch, and air. Draw fume off at the source:
  stainless and nickel alloys give off hexavalent chromium (29 CFR 1910.1026,
  1910.252). Purge gas displaces the air you breathe.
  Do not remove, disable or bypass emission devices on a road vehicle
  (42 USC 7522(a)(3)). Keep exhaust outlets away from cabin and intakes.
";

impl Exporter for Sheet {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let text = sheet(plan).map_err(|error| ExportError::new("sheet.txt", error))?;
        Ok(vec![OutFile::new("sheet.txt", text)])
    }
}

fn sheet(plan: &Plan) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", plan.job.name)?;
    for warning in &plan.warnings {
        writeln!(
            out,
            "\nWARNING  {}\n         {}",
            warning.message, warning.help
        )?;
    }
    for (planned, job_run) in plan.runs.iter().zip(&plan.job.runs) {
        summary(&mut out, planned, &job_run.task, plan.job.style)?;
        pieces(&mut out, planned, plan.job.style)?;
        saw(&mut out, planned, job_run.task.rates.kerf, plan.job.style)?;
    }
    write!(out, "\n{CAUTIONS}")?;
    Ok(out)
}

fn summary(out: &mut String, planned: &PlannedRun, task: &Task, style: Style) -> std::fmt::Result {
    let run = planned.run();
    let tube = run.tube();
    let cost = &planned.solution.best.cost;
    let (start, end) = (&task.start, &task.end);
    writeln!(
        out,
        "\nRUN '{}' from '{}' to '{}'",
        planned.name, start.name, end.name
    )?;
    writeln!(
        out,
        "  tube {} OD × {} wall, {}; circumference {}",
        style.decimal(tube.od()),
        style.decimal(tube.wall()),
        tube.material(),
        style.decimal(tube.circumference()),
    )?;
    writeln!(
        out,
        "  {}, {}, centerline {}, weld {} round the joints (flanges not counted)",
        counted(run.pieces().len(), "piece"),
        counted(cost.joints as usize, "joint"),
        style.length(run.length()),
        style.length(cost.weld),
    )?;
    let (low, high) = run.bounds();
    writeln!(
        out,
        "  box round the run: {} to {}",
        style.point(low.into()),
        style.point(high.into())
    )?;
    for (i, bend) in planned.solution.best.route.bends.iter().enumerate() {
        writeln!(
            out,
            "  bend {}: {} turn, CLR {}, {} cut at {}, outside swing {}",
            i + 1,
            style.angle(bend.turn),
            style.decimal(bend.clr),
            counted(bend.joints() as usize, "joint"),
            style.angle(bend.cut()),
            style.length(bend.outside_swing(tube.radius())),
        )?;
    }
    fit_up(out, task, style)?;
    writeln!(
        out,
        "  {} and {}, the stick's first end and square counted; about {:.0} minutes; labor and tube {:.2}",
        counted(cost.setups as usize, "saw setting"),
        counted(cost.cuts as usize, "cut"),
        cost.minutes,
        cost.money,
    )
}

/// What the cut lengths already allow for.
fn fit_up(out: &mut String, task: &Task, style: Style) -> std::fmt::Result {
    let allowance = task.allowance;
    if allowance.gap > Length::ZERO || allowance.shrinkage > Length::ZERO {
        writeln!(
            out,
            "  leave a gap of {} at every joint; welds are taken to pull in {}",
            style.decimal(allowance.gap),
            style.decimal(allowance.shrinkage),
        )?;
    }
    for port in [&task.start, &task.end] {
        if port.socket > Length::ZERO {
            writeln!(
                out,
                "  the tube goes {} into '{}'; its piece is that much longer",
                style.length(port.socket),
                port.name,
            )?;
        }
    }
    Ok(())
}

fn pieces(out: &mut String, planned: &PlannedRun, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "\n  PIECES as cut. Joint 0 is the first port. Clock: from the start's long side to the"
    )?;
    writeln!(out, "  end's, clockwise looking downstream.")?;
    let rows = planned
        .run()
        .pieces()
        .iter()
        .enumerate()
        .map(|(i, placed)| {
            let piece = &placed.piece;
            vec![
                (i + 1).to_string(),
                format!("{i}-{}", i + 1),
                style.length(piece.long_side()),
                style.length(piece.length()),
                style.length(piece.short_side()),
                style.angle(piece.start().angle),
                style.angle(piece.end().angle),
                style.clock(piece.clock()),
                style.decimal(piece.length()),
            ]
        });
    let header = [
        "piece",
        "joints",
        "long",
        "center",
        "short",
        "start cut",
        "end cut",
        "clock",
        "center exact",
    ];
    table(out, &header, rows.collect())
}

fn saw(out: &mut String, planned: &PlannedRun, kerf: Length, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "\n  SAW  the whole run from one stick; kerf {}",
        style.decimal(kerf)
    )?;
    out.push_str(SAW_STEPS);
    let circumference = planned.run().tube().circumference();
    let mut total = Length::ZERO;
    let rows = planned.saw.steps.iter().map(|step| {
        total += step.feed;
        let [rotate, angle, mark, round, word] = setting(step, circumference, style);
        vec![
            step.piece.to_string(),
            style.length(step.feed),
            style.decimal(step.feed),
            rotate,
            angle,
            mark,
            round,
            style.length(total),
            word,
        ]
    });
    let rows = rows.collect();
    let header = [
        "piece",
        "feed",
        "feed exact",
        "rotate",
        "angle",
        "mark",
        "round",
        "so far",
        "",
    ];
    table(out, &header, rows)?;
    writeln!(out, "  stick: {} in all", style.length(planned.saw.stick()))
}

const SAW_STEPS: &str = "  1. Square the stick's end. Scribe a line along its whole length.
  2. Stand at the end where pieces drop off and look along the stick. The saw tilts one
     way and stays so. Start with the line where the saw leaves the long side.
  3. For each row: push the stick by FEED (kerf included; measured along its center, or
     on a line a quarter round from the line and the long side), turn it clockwise by
     ROTATE, set the saw to ANGLE, cut. The piece of that number drops off.
  Check: MARK is how far clockwise from the scribed line the dropped piece's long side
  is, in degrees, and as ROUND with a tape round the tube. It runs the other way from
  ROTATE, because a tube turned clockwise brings marks from the other side.
";

/// Rotate, angle, mark, mark on a tape round the tube, and a word about them. A square
/// cut may stand at any clock.
fn setting(step: &SawStep, circumference: Length, style: Style) -> [String; 5] {
    let angle = style.angle(step.angle);
    if step.angle == Angle::ZERO {
        return ["any", &angle, "any", "any", "square"].map(str::to_owned);
    }
    let half_turn = (step.rotate.degrees() - 180.0).abs() < 0.005;
    [
        style.clock(step.rotate),
        angle,
        style.clock(step.mark),
        style.length(circumference * (step.mark / Angle::FULL)),
        if half_turn { "half turn" } else { "" }.to_owned(),
    ]
}

/// Right-aligned columns two spaces apart, indented by two.
fn table(out: &mut String, header: &[&str], rows: Vec<Vec<String>>) -> std::fmt::Result {
    let header: Vec<String> = header.iter().map(|&cell| cell.to_owned()).collect();
    let width = |column: usize| {
        let cells = rows
            .iter()
            .chain([&header])
            .map(|row| row[column].chars().count());
        cells.max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..header.len()).map(width).collect();
    for row in std::iter::once(&header).chain(&rows) {
        let cells = row.iter().zip(&widths);
        let line: String = cells
            .map(|(cell, width)| format!("  {cell:>width$}"))
            .collect();
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
