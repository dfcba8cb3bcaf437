//! `sheet.txt`: pieces and saw settings as plain text, for the bench.

use super::quote_sheet::{beside, cautions, quote};
use super::stack_up_sheet::stack_up;
use super::sticks_sheet::sticks;
use super::tack_up_sheet::{seams, tack_up};
use super::{ExportError, Exporter, OutFile, copied_table};
use crate::job::Problem;
use crate::plan::{Plan, PlannedRun};
use crate::route::{FlowLoss, Stop, Task};
use crate::shop::SawStep;
use crate::tube::{Part, Tube};
use crate::units::{Angle, Length, Style, counted, direction_text};
use std::fmt::Write;

/// Writes `sheet.txt`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Sheet;

impl Exporter for Sheet {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let text = sheet(plan).map_err(|error| ExportError::new("sheet.txt", error))?;
        Ok(vec![OutFile::new("sheet.txt", text)])
    }
}

fn sheet(plan: &Plan) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", plan.job.name)?;
    warnings(&mut out, plan.job.warnings.iter().chain(&plan.warnings))?;
    for (planned, job_run) in plan.runs.iter().zip(&plan.job.runs) {
        summary(&mut out, planned, &job_run.task, plan.job.style)?;
        if let Some(copy) = &job_run.copied {
            let ports = [&job_run.task.start, &job_run.task.end].map(|port| port.name.as_str());
            copied_table(&mut out, copy, planned.run(), ports, plan.job.style)?;
        }
        pieces(&mut out, planned, plan.job.style)?;
        saw(&mut out, planned, job_run.task.rates.kerf, plan.job.style)?;
        if let Some(plan_of_seams) = &planned.seams {
            let circumference = planned.run().tube().circumference();
            seams(&mut out, plan_of_seams, circumference, plan.job.style)?;
        }
        let ports = [&job_run.task.start, &job_run.task.end];
        tack_up(&mut out, planned, ports, plan.job.style)?;
        stack_up(&mut out, planned, ports, &plan.job)?;
        alternatives(&mut out, planned, plan.job.style)?;
        beside(&mut out, plan, planned, job_run)?;
    }
    sticks(&mut out, plan)?;
    quote(&mut out, plan)?;
    out.push('\n');
    cautions(&mut out, &plan.cautions())?;
    Ok(out)
}

/// What the user should know before cutting.
pub(super) fn warnings<'a>(
    out: &mut String,
    warnings: impl Iterator<Item = &'a Problem>,
) -> std::fmt::Result {
    for warning in warnings {
        writeln!(
            out,
            "\nWARNING  {}\n         {}",
            warning.placed_message(),
            warning.help
        )?;
    }
    Ok(())
}

/// The stock.
pub(super) fn tube_line(out: &mut String, tube: &Tube, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "  tube {} OD × {} wall, {}; circumference {}",
        style.decimal(tube.od()),
        style.decimal(tube.wall()),
        tube.material(),
        style.decimal(tube.circumference()),
    )
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
    tube_line(out, tube, style)?;
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
    bends(out, planned, task, style)?;
    ends(out, planned, task, style)?;
    fit_up(out, task, style)?;
    writeln!(
        out,
        "  {}, {} and {}, the stick's first end and square counted; about {:.0} minutes",
        counted(cost.setups as usize, "saw setting"),
        counted(cost.stops as usize, "length"),
        counted(cost.cuts as usize, "cut"),
        cost.minutes,
    )?;
    let bought = if cost.stock_bends > 0 {
        format!(
            ", {} for {:.2} among them",
            counted(cost.stock_bends as usize, "stock bend"),
            cost.stock_money
        )
    } else {
        String::new()
    };
    writeln!(
        out,
        "  labor and material {:.2}{bought}; flow loss of the bends {}",
        cost.money,
        loss(cost.flow),
    )?;
    room(out, planned, task, style)
}

/// A loss and its spread.
fn loss(flow: FlowLoss) -> String {
    format!(
        "{:.2} ({:.2} to {:.2}) velocity heads",
        flow.k,
        flow.low(),
        flow.high()
    )
}

fn bends(out: &mut String, planned: &PlannedRun, task: &Task, style: Style) -> std::fmt::Result {
    let route = &planned.solution.best.route;
    for (i, bend) in route.bends.iter().enumerate() {
        if planned.solution.stop == Stop::Copied {
            // A miter that was copied has no arc of its own.
            let (turn, cut) = (style.angle(bend.turn), style.angle(bend.cut()));
            writeln!(out, "  joint {}: {turn} turn, cut at {cut}", i + 1)?;
            continue;
        }
        let made = match bend.stock().map(|item| &task.stock[item]) {
            None => format!(
                "{} cut at {}",
                counted(bend.joints() as usize, "joint"),
                style.angle(bend.cut())
            ),
            Some(stock) if (stock.turn - bend.turn).degrees() < 0.01 => {
                format!("stock bend '{}' as it is", stock.name)
            }
            Some(stock) => format!(
                "stock bend '{}' cut down from {}",
                stock.name,
                style.angle(stock.turn)
            ),
        };
        writeln!(
            out,
            "  bend {}: {} turn, CLR {}, {made}, outside swing {}",
            i + 1,
            style.angle(bend.turn),
            style.decimal(bend.clr),
            style.length(bend.outside_swing(task.tube.radius())),
        )?;
    }
    Ok(())
}

/// Where ports that were free to move have come to.
fn ends(out: &mut String, planned: &PlannedRun, task: &Task, style: Style) -> std::fmt::Result {
    let met = planned.run().centerline().ends();
    for (port, (center, outward)) in [&task.start, &task.end].into_iter().zip(met) {
        if !port.freedom.is_none() {
            writeln!(
                out,
                "  '{}' comes to {}, outward {}",
                port.name,
                style.point(center.into()),
                direction_text(outward.into_inner()),
            )?;
        }
    }
    Ok(())
}

/// What is left round the run.
fn room(out: &mut String, planned: &PlannedRun, task: &Task, style: Style) -> std::fmt::Result {
    for standing in &planned.standings {
        let obstacle = &task.obstacles[standing.obstacle];
        writeln!(
            out,
            "  {} from '{}', {} asked for: piece {} near {}; not asked within {} of a port's face",
            style.length(standing.nearest.distance + obstacle.clearance),
            obstacle.name,
            style.length(obstacle.clearance),
            standing.nearest.piece,
            style.point(standing.nearest.at.into()),
            style.length(standing.exempt),
        )?;
    }
    Ok(())
}

/// Other ways to make the run.
fn alternatives(out: &mut String, planned: &PlannedRun, style: Style) -> std::fmt::Result {
    if planned.solution.alternatives.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n  OTHER WAYS to make this run, really different; the first is the one above. K is the"
    )?;
    writeln!(out, "  flow loss of the bends in velocity heads, ±30 %.")?;
    let best = (&planned.solution.best, &planned.solution.reasons);
    let others = planned
        .solution
        .alternatives
        .iter()
        .map(|(c, reasons)| (c, reasons));
    let rows = std::iter::once(best).chain(others).enumerate();
    let rows = rows.map(|(i, (candidate, reasons))| {
        let cost = &candidate.cost;
        let words: Vec<&str> = reasons.iter().map(|reason| reason.words()).collect();
        vec![
            (i + 1).to_string(),
            candidate.route.bends.len().to_string(),
            cost.stock_bends.to_string(),
            cost.joints.to_string(),
            cost.setups.to_string(),
            cost.stops.to_string(),
            cost.cuts.to_string(),
            style.length(cost.weld),
            style.length(candidate.run.length()),
            style.length(candidate.smallest_short_side()),
            format!("{:.0}", cost.minutes),
            format!("{:.2}", cost.money),
            format!("{:.2}", cost.flow.k),
            words.join(", "),
        ]
    });
    let header = [
        "way", "bends", "stock", "joints", "settings", "lengths", "cuts", "weld", "run", "short",
        "minutes", "cost", "K", "for",
    ];
    table(out, &header, rows.collect())
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
                match piece {
                    Part::Straight(_) => String::new(),
                    Part::Bent(_) => "stock bend".to_owned(),
                },
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
        "",
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
            style.length(step.stop),
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
        "stop",
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
  With a stop: set it so that STOP is between it and the saw where the saw meets the long
  side of the cut, kerf not counted; its face flat, square to the tube and as wide. AGAIN:
  saw and stop stay as they are, half a turn (square cuts: any), cut; such pieces are alike.
  Check: MARK is how far clockwise from the scribed line the dropped piece's long side
  is, in degrees, and as ROUND with a tape round the tube. It runs the other way from
  ROTATE, because a tube turned clockwise brings marks from the other side.
";

/// Rotate, angle, mark, mark on a tape round the tube, and a word about them. A square
/// cut may stand at any clock.
fn setting(step: &SawStep, circumference: Length, style: Style) -> [String; 5] {
    let angle = style.angle(step.angle);
    if step.angle == Angle::ZERO {
        let word = if step.again {
            "square, again"
        } else {
            "square"
        };
        return ["any", &angle, "any", "any", word].map(str::to_owned);
    }
    let word = match (step.again, step.is_half_turn()) {
        (true, _) => "half turn, again",
        (false, true) => "half turn",
        (false, false) => "",
    };
    [
        style.clock(step.rotate),
        angle,
        style.clock(step.mark),
        style.length(circumference * (step.mark / Angle::FULL)),
        word.to_owned(),
    ]
}

/// Columns two spaces apart, indented by two; all but the last right-aligned.
pub(super) fn table(out: &mut String, header: &[&str], rows: Vec<Vec<String>>) -> std::fmt::Result {
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
        let last = row.len().saturating_sub(1);
        let cells = row.iter().zip(&widths).enumerate();
        let line: String = cells
            .map(|(i, (cell, width))| match i == last {
                // Words read from the left.
                true => format!("  {cell}"),
                false => format!("  {cell:>width$}"),
            })
            .collect();
        writeln!(out, "{}", line.trim_end())?;
    }
    Ok(())
}
