//! What a run is: its size, bends, ends, room and cost.

use super::text::tube_line;
use crate::export::bend_row::BendRow;
use crate::plan::PlannedRun;
use crate::route::{FlowLoss, ROOM_SLACK, Stop, Task};
use crate::shop::QuoteRates;
use crate::units::{Length, Style, counted, direction_text};
use std::fmt::Write;

pub(super) fn summary(
    out: &mut String,
    planned: &PlannedRun,
    (task, rows): (&Task, &[BendRow]),
    rates: &QuoteRates,
) -> std::fmt::Result {
    let style = rates.style;
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
    bends(out, planned, (task, rows), style)?;
    ends(out, planned, task, style)?;
    fit_up(out, task, style)?;
    let on_bends = match rows.iter().any(|row| !row.cuts.is_empty()) {
        true => format!(", {} on stock bends counted too", BendRow::count(rows)),
        false => String::new(),
    };
    writeln!(
        out,
        "  {}, {} and {}, the stick's first end and square counted{on_bends}; about {:.0} minutes",
        counted(cost.setups as usize, "saw setting"),
        counted(cost.stops as usize, "stop setting"),
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
        "  labor, tube and bends {:.2}{}{bought} (QUOTE adds filler, gas and what is sawn longer); flow loss of the bends {}",
        cost.money,
        rates.behind_amount(),
        loss(cost.flow),
    )?;
    room(out, planned, task, style)
}

/// A loss and its spread.
pub(super) fn loss(flow: FlowLoss) -> String {
    format!(
        "{:.2} ({:.2} to {:.2}) velocity heads",
        flow.k,
        flow.low(),
        flow.high()
    )
}

pub(super) fn bends(
    out: &mut String,
    planned: &PlannedRun,
    (task, rows): (&Task, &[BendRow]),
    style: Style,
) -> std::fmt::Result {
    let route = &planned.solution.best.route;
    let mut rows = rows.iter();
    for (i, bend) in route.bends.iter().enumerate() {
        if planned.solution.stop == Stop::Copied {
            // A miter that was copied has no arc of its own.
            let (turn, cut) = (style.angle(bend.turn), style.angle(bend.cut()));
            writeln!(out, "  joint {}: {turn} turn, cut at {cut}", i + 1)?;
            continue;
        }
        let made = match bend.stock() {
            None => format!(
                "{} cut at {}",
                counted(bend.joints() as usize, "joint"),
                style.angle(bend.cut())
            ),
            Some(_) => {
                let row = rows.next();
                format!("stock bend {}", row.map_or(String::new(), BendRow::summary))
            }
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
pub(super) fn ends(
    out: &mut String,
    planned: &PlannedRun,
    task: &Task,
    style: Style,
) -> std::fmt::Result {
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
pub(super) fn room(
    out: &mut String,
    planned: &PlannedRun,
    task: &Task,
    style: Style,
) -> std::fmt::Result {
    for standing in &planned.standings {
        let obstacle = &task.obstacles[standing.obstacle];
        if obstacle.reach > Length::ZERO && standing.nearest.distance >= -ROOM_SLACK {
            // How near its own tube comes to it says nothing.
            writeln!(
                out,
                "  '{}' is left free but for its own tube",
                obstacle.name
            )?;
            continue;
        }
        writeln!(
            out,
            "  {} from '{}', {} asked for: piece {} near {}; not checked within {} of a port's face",
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

/// What the cut lengths already allow for.
pub(super) fn fit_up(out: &mut String, task: &Task, style: Style) -> std::fmt::Result {
    let allowance = task.allowance;
    if allowance.gap > Length::ZERO || allowance.shrinkage > Length::ZERO {
        writeln!(
            out,
            "  leave a root gap of {} at every joint; welds are taken to pull in {}",
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
