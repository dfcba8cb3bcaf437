//! `sheet.txt`: pieces and saw settings as plain text, for the bench.

use super::{ExportError, Exporter, OutFile};
use crate::plan::{Plan, PlannedRun};
use crate::run::Port;
use crate::shop::SawStep;
use crate::units::{Angle, Length, Style};
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
    for (planned, job_run) in plan.runs.iter().zip(&plan.job.runs) {
        let task = &job_run.task;
        summary(&mut out, planned, (&task.start, &task.end), plan.job.style)?;
        pieces(&mut out, planned, plan.job.style)?;
        saw(&mut out, planned, task.rates.kerf, plan.job.style)?;
    }
    for warning in &plan.warnings {
        writeln!(
            out,
            "\nWARNING  {}\n         {}",
            warning.message, warning.help
        )?;
    }
    write!(out, "\n{CAUTIONS}")?;
    Ok(out)
}

fn summary(
    out: &mut String,
    planned: &PlannedRun,
    (start, end): (&Port, &Port),
    style: Style,
) -> std::fmt::Result {
    let run = planned.run();
    let tube = run.tube();
    let cost = &planned.solution.best.cost;
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
        style.length(tube.circumference()),
    )?;
    writeln!(
        out,
        "  {}, {}, centerline {}, weld {}",
        counted(run.pieces().len() as u64, "piece"),
        counted(u64::from(cost.joints), "joint"),
        style.length(run.length()),
        style.length(cost.weld),
    )?;
    let (low, high) = run.bounds();
    writeln!(
        out,
        "  box round the run: {} to {}",
        style.point(low.into()),
        style.point(high.into()),
    )?;
    for (i, bend) in planned.solution.best.route.bends.iter().enumerate() {
        writeln!(
            out,
            "  bend {}: {} turn, CLR {}, {} cut at {}, outside swing {}",
            i + 1,
            style.angle(bend.turn),
            style.decimal(bend.clr),
            counted(u64::from(bend.joints), "joint"),
            style.angle(bend.cut()),
            style.length(bend.outside_swing(tube.radius())),
        )?;
    }
    writeln!(
        out,
        "  {} saw set-ups, {} cuts, {:.0} minutes; labor and tube {:.2}",
        cost.setups, cost.cuts, cost.minutes, cost.money,
    )
}

fn pieces(out: &mut String, planned: &PlannedRun, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "\n  PIECES  joint 0 is the first port; clock is from the start's long side to the"
    )?;
    writeln!(out, "  end's, clockwise looking downstream")?;
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
                style.angle(piece.clock()),
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
        "\n  SAW  in order from one stick with a square end; kerf {}",
        style.decimal(kerf)
    )?;
    writeln!(
        out,
        "  Rotate clockwise looking from the free end along the stick. Mark: where the cut's"
    )?;
    writeln!(
        out,
        "  long side falls, from a line scribed through the first cut's long side."
    )?;
    let mut total = Length::ZERO;
    let rows = planned.saw.steps.iter().map(|step| {
        total += step.feed;
        let [rotate, angle, mark, word] = setting(step, style);
        vec![
            step.piece.to_string(),
            style.length(step.feed),
            style.decimal(step.feed),
            rotate,
            angle,
            mark,
            word,
            style.length(total),
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
        "",
        "so far",
    ];
    table(out, &header, rows)?;
    writeln!(out, "  stick: {} in all", style.length(planned.saw.stick()))
}

/// `1 joint`, `2 joints`.
fn counted(count: u64, noun: &str) -> String {
    format!("{count} {noun}{}", if count == 1 { "" } else { "s" })
}

/// Rotate, angle, mark and a word about them. A square cut may stand at any clock.
fn setting(step: &SawStep, style: Style) -> [String; 4] {
    let angle = style.angle(step.angle);
    if step.angle == Angle::ZERO {
        return [
            "any".to_owned(),
            angle,
            "any".to_owned(),
            "square".to_owned(),
        ];
    }
    let half_turn = (step.rotate.degrees() - 180.0).abs() < 0.005;
    let word = if half_turn { "half turn" } else { "" };
    [
        style.angle(step.rotate),
        angle,
        style.angle(step.mark),
        word.to_owned(),
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
        for (cell, width) in row.iter().zip(&widths) {
            write!(out, "  {cell:>width$}")?;
        }
        writeln!(out)?;
    }
    Ok(())
}
