//! `runwright check`.

use super::message::{Failure, print};
use super::read;
use crate::job::Job;
use crate::units::Angle;
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
    writeln!(out, "{}: no problems", job.name)?;
    for port in job.ports.values() {
        let [x, y, z]: [f64; 3] = port.outward.into_inner().into();
        writeln!(
            out,
            "port '{}': center {}, outward ({:.4}, {:.4}, {:.4}), straight {}, socket {}",
            port.name,
            style.point(port.center.into()),
            x + 0.0,
            y + 0.0,
            z + 0.0,
            style.length(port.straight),
            style.length(port.socket),
        )?;
    }
    for run in &job.runs {
        let (task, limits) = (&run.task, &run.task.limits);
        let tube = &task.tube;
        let clr = if limits.clr_min == limits.clr_max {
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
        writeln!(
            out,
            "  kerf {}, gap {}, shrinkage {} a joint",
            style.decimal(task.rates.kerf),
            style.decimal(task.allowance.gap),
            style.decimal(task.allowance.shrinkage),
        )?;
    }
    Ok(out)
}
