//! `runwright check`.

use super::check_port::{describe_measuring, describe_port};
use super::check_quoting::{describe_quote_rates, describe_service};
use super::message::{Failure, print};
use super::read;
use crate::export::copied_table;
use crate::job::{Job, JobCopy, JobRun, LoadedScan};
use crate::plan::may_face_back;
use crate::route::Task;
use crate::run::Port;
use crate::scan::Dropped;
use crate::scene::Side;
use crate::shop::{Accuracy, Seams, StickStock, StockTube};
use crate::units::{Angle, Length, Style, counted};
use clap::Args;
use std::fmt::Write;
use std::path::PathBuf;

/// Check a job file and show how it is understood, defaults filled in.
///
/// Example: runwright check examples/stack.json
#[derive(Debug, Args)]
pub(super) struct CheckArguments {
    /// The job file.
    job: PathBuf,
}

pub(super) fn run(arguments: &CheckArguments) -> Result<(), Failure> {
    let job = read::job(&arguments.job)?;
    let text = describe(&job).map_err(|e| Failure::unexpected(e, "please report this"))?;
    print(&text)
}

fn describe(job: &Job) -> Result<String, std::fmt::Error> {
    let style = job.style;
    let mut out = String::new();
    match job.warnings.len() {
        0 => writeln!(out, "{}: no problems", job.name)?,
        count => writeln!(
            out,
            "{}: no errors, {}",
            job.name,
            counted(count, "warning")
        )?,
    }
    for port in in_order_of_flow(job) {
        describe_port(&mut out, job, port, style)?;
    }
    describe_measuring(&mut out, job, style)?;
    for scan in &job.loaded {
        describe_scan(&mut out, scan, style)?;
    }
    accuracy(&mut out, &job.accuracy, style)?;
    describe_quote_rates(&mut out, job)?;
    stick_stock(&mut out, &job.stick_stock, style)?;
    for run in &job.runs {
        if let Some(copy) = &run.copied {
            describe_copy(&mut out, run, copy, style)?;
            describe_service(&mut out, run, style)?;
            continue;
        }
        let (task, limits) = (&run.task, &run.task.limits);
        let tube = &task.tube;
        let clr = if !task.clrs.is_empty() {
            let clrs: Vec<String> = task.clrs.iter().map(|clr| style.decimal(*clr)).collect();
            clrs.join(" or ")
        } else if limits.clr_min == limits.clr_max {
            style.decimal(limits.clr_min)
        } else {
            format!(
                "{} to {}",
                style.decimal(limits.clr_min),
                style.decimal(limits.clr_max)
            )
        };
        writeln!(
            out,
            "run '{}': '{}' to '{}'",
            run.name, task.start.name, task.end.name
        )?;
        writeln!(
            out,
            "  tube {} OD × {} wall, {}; CLR {clr}; outside swing {}",
            style.decimal(tube.od()),
            style.decimal(tube.wall()),
            tube.material(),
            style.length(limits.clr_min + tube.radius()),
        )?;
        writeln!(
            out,
            "  cuts {} usual, {} at most; short side {} at least; {} between bends",
            style.angle(limits.usual_cut),
            style.angle(limits.max_cut),
            style.length(limits.min_short_side),
            style.length(limits.min_between),
        )?;
        if let Some(joints) = limits.joints_for(Angle::QUARTER, limits.clr_min, tube.radius()) {
            writeln!(
                out,
                "  a 90° bend takes {joints} joints cut at {}",
                style.angle(Angle::QUARTER / (2.0 * f64::from(joints)))
            )?;
        }
        fit_up(&mut out, task, style)?;
        seams(&mut out, run)?;
        wishes(&mut out, task, style)?;
        describe_service(&mut out, run, style)?;
        if let Some(question) = may_face_back(run) {
            writeln!(out, "  {question}")?;
        }
    }
    Ok(out)
}

/// The runs' ports, first to last, then those that no run uses.
fn in_order_of_flow(job: &Job) -> Vec<&Port> {
    let ends = job.runs.iter().map(|run| [&run.task.start, &run.task.end]);
    let names = ends.flatten().map(|port| &port.name);
    let mut named: Vec<&Port> = Vec::new();
    for port in names
        .chain(job.ports.keys())
        .filter_map(|n| job.ports.get(n))
    {
        if !named.iter().any(|known| known.name == port.name) {
            named.push(port);
        }
    }
    named
}

/// How well the shop is taken to work.
fn accuracy(out: &mut String, accuracy: &Accuracy, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "making, two of three within: saw cut {}, saw setting {}, length {}, clock {}, stock bend {}",
        style.angle(accuracy.cut),
        style.angle(accuracy.setting),
        style.decimal(accuracy.length),
        style.angle(accuracy.clock),
        style.angle(accuracy.bend),
    )
}

/// What the shop cuts its tube from.
fn stick_stock(out: &mut String, stock: &StickStock, style: Style) -> std::fmt::Result {
    if stock.sticks.is_empty() {
        writeln!(out, "sticks: as long as each run takes")?;
    }
    for stick in &stock.sticks {
        write!(
            out,
            "stick of {}{}",
            style.length(stick.length),
            of(&stick.of, style)
        )?;
        if let Some(price) = stick.price {
            write!(out, ", {price:.2} each")?;
        }
        if let Some(count) = stick.count {
            write!(out, ", {count} there")?;
        }
        writeln!(out)?;
    }
    for leftover in &stock.shelf {
        let (length, of) = (style.length(leftover.length), of(&leftover.of, style));
        writeln!(out, "on the shelf: {length}{of}")?;
    }
    writeln!(
        out,
        "leftovers from {} on are kept",
        style.length(stock.least_leftover)
    )
}

/// Of which tube a stick is, where that is said.
fn of(of: &StockTube, style: Style) -> String {
    let sizes = [(of.od, "OD"), (of.wall, "wall")].into_iter();
    let sizes = sizes.filter_map(|(size, word)| Some(format!(", {} {word}", style.decimal(size?))));
    let material = of.material.iter().map(|material| format!(", {material}"));
    sizes.chain(material).collect()
}

/// A run that is copied: what it is, and how well it fits.
fn describe_copy(out: &mut String, run: &JobRun, copy: &JobCopy, style: Style) -> std::fmt::Result {
    let task = &run.task;
    let (tube, ports) = (
        &task.tube,
        [&task.start, &task.end].map(|port| port.name.as_str()),
    );
    writeln!(
        out,
        "run '{}': '{}' to '{}', copied from an existing tube",
        run.name, ports[0], ports[1]
    )?;
    writeln!(
        out,
        "  tube {} OD × {} wall, {}",
        style.decimal(tube.od()),
        style.decimal(tube.wall()),
        tube.material(),
    )?;
    fit_up(out, task, style)?;
    seams(out, run)?;
    if let Ok(solution) = task.copied(&copy.traced.vertices) {
        copied_table(out, copy, &solution.best.run, ports, style)?;
    }
    in_the_way(out, task, style)?;
    rates(out, task, style)
}

fn fit_up(out: &mut String, task: &Task, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "  kerf {}, root gap {}, shrinkage {} a joint",
        style.decimal(task.rates.kerf),
        style.decimal(task.allowance.gap),
        style.decimal(task.allowance.shrinkage),
    )
}

/// How weld seams should lie.
fn seams(out: &mut String, run: &JobRun) -> std::fmt::Result {
    let words = match run.seams {
        Some(Seams::Staggered) => "weld seams of neighbors apart from each other",
        Some(Seams::InLine) => "weld seams in line where pieces allow it",
        Some(Seams::Any) => "weld seams as they come",
        None => "seamless tube",
    };
    writeln!(out, "  {words}")
}

/// What a scan holds, where it lies and how well it is placed there.
fn describe_scan(out: &mut String, scan: &LoadedScan, style: Style) -> std::fmt::Result {
    writeln!(
        out,
        "scan '{}': {} in {}",
        scan.name,
        counted(scan.triangles, "triangle"),
        counted(scan.groups, "group"),
    )?;
    if scan.dropped != Dropped::default() {
        writeln!(out, "  left out: {}", scan.dropped)?;
    }
    writeln!(
        out,
        "  reaches from {} to {}",
        style.point(scan.bounds.0.into()),
        style.point(scan.bounds.1.into()),
    )?;
    if let Some(placed) = &scan.placed {
        writeln!(
            out,
            "  placed to {} rms; its turn about the line of the marks to {}",
            style.decimal(placed.rms),
            style.angle(placed.turn_error),
        )?;
        for residual in &placed.residuals {
            let tilt = match residual.tilt {
                Some(tilt) => format!(" and {}", style.angle(tilt)),
                None => String::new(),
            };
            let (name, off) = (&residual.name, style.decimal(residual.distance));
            if residual.left_out {
                writeln!(out, "    '{name}' is {off} off{tilt}, and left out")?;
            } else {
                writeln!(out, "    '{name}' is left {off} off{tilt}")?;
            }
        }
    }
    if let Some(settled) = &scan.settled {
        writeln!(
            out,
            "  settled on {:.0} % of the touched points: {} rms, {} before; moved {}",
            settled.used * 100.0,
            style.decimal(settled.rms_after),
            style.decimal(settled.rms_before),
            style.decimal(settled.moved),
        )?;
    }
    for (name, triangles, clearance) in &scan.parts {
        writeln!(
            out,
            "  '{name}': {}, kept clear by {}",
            counted(*triangles, "triangle"),
            style.length(*clearance),
        )?;
    }
    Ok(())
}

/// What a run asks for beside its tube, and what it costs to make.
fn wishes(out: &mut String, task: &Task, style: Style) -> std::fmt::Result {
    if !task.saw_angles.is_empty() {
        let angles: Vec<String> = task
            .saw_angles
            .iter()
            .map(|cut| style.angle(*cut))
            .collect();
        writeln!(out, "  the saw stops at {}", angles.join(", "))?;
    }
    if task.one_setting {
        writeln!(out, "  every miter at one angle")?;
    }
    writeln!(
        out,
        "  up to {}; {}",
        counted(task.most_bends, "bend"),
        if task.pies {
            "pies may be cut"
        } else {
            "no pies"
        },
    )?;
    for stock in &task.stock {
        writeln!(
            out,
            "  stock bend '{}': {} turn, CLR {}, leg {} (straight tube past the arc at each end; center to end {}), {:.2} each",
            stock.name,
            style.angle(stock.turn),
            style.decimal(stock.clr),
            style.decimal(stock.leg),
            style.decimal(stock.take_out()),
            stock.price,
        )?;
    }
    in_the_way(out, task, style)?;
    for pass in &task.passes {
        writeln!(
            out,
            "  goes through '{}', radius {}",
            pass.name,
            style.length(pass.radius)
        )?;
    }
    if let Some(wish) = task.wish {
        writeln!(out, "  should be {} long", style.length(wish))?;
    }
    rates(out, task, style)
}

/// What a run keeps clear of.
fn in_the_way(out: &mut String, task: &Task, style: Style) -> std::fmt::Result {
    for obstacle in &task.obstacles {
        let side = match obstacle.side {
            Side::KeepOut => "keeps out of",
            Side::KeepIn => "keeps within",
        };
        writeln!(
            out,
            "  {side} '{}' by {}, but for {} of centerline at each port's face",
            obstacle.name,
            style.length(obstacle.clearance),
            style.length(task.exempt(obstacle)),
        )?;
    }
    if task.wrap > Length::ZERO {
        writeln!(
            out,
            "  wrapped {} thick: the wrap keeps clear of what is in the way",
            style.length(task.wrap)
        )?;
    }
    Ok(())
}

/// What it costs to make.
fn rates(out: &mut String, task: &Task, style: Style) -> std::fmt::Result {
    let rates = &task.rates;
    let stick = rates.stick.map_or(String::new(), |stick| {
        format!(" ({})", stick.words(rates.tube_rate.per))
    });
    writeln!(
        out,
        "  rates: {} an hour, {} of tube{stick}; minutes: {} a saw setting, {} a stop setting, {} a clock, {} a cut, {} a fit-up; weld {} a minute",
        rates.labor_per_hour,
        rates.tube_rate,
        rates.setup_minutes,
        rates.stop_minutes,
        rates.clock_minutes,
        rates.cut_minutes,
        rates.fit_up_minutes,
        style.length(rates.weld_per_minute),
    )?;
    writeln!(
        out,
        "  weights: {} of run, {} a velocity head of flow loss, {} off the wished length",
        rates.run_weight, rates.flow_loss, rates.off_length_weight,
    )
}
