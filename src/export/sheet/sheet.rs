//! `sheet.txt`: pieces and saw settings as plain text, for the bench.

use super::alternatives::alternatives;
use super::copied::copied_table;
use super::pieces::pieces;
use super::quote::{beside, cautions, quote};
use super::saw::saw;
use super::stack_up::stack_up;
use super::sticks::sticks;
use super::summary::summary;
use super::tack_up::{seams, tack_up};
use super::text::warnings;
use crate::export::bend_row::BendRow;
use crate::export::{ExportError, Exporter, OutFile};
use crate::plan::Plan;
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

pub(super) fn sheet(plan: &Plan) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    writeln!(out, "{}", plan.job.name)?;
    warnings(&mut out, plan.job.warnings.iter().chain(&plan.warnings))?;
    let kerf = plan.job.kerf();
    let list = plan.cut_list();
    let (names, longer) = (plan.run_names(), plan.longer());
    for (number, (planned, job_run)) in plan.runs.iter().zip(&plan.job.runs).enumerate() {
        let bought = plan.bought_bends(number);
        let bends = BendRow::all(planned.run(), &bought, plan.job.style);
        summary(
            &mut out,
            planned,
            (&job_run.task, &bends),
            &plan.job.quote_rates,
        )?;
        if let Some(copy) = &job_run.copied {
            let ports = [&job_run.task.start, &job_run.task.end].map(|port| port.name.as_str());
            copied_table(&mut out, copy, planned.run(), ports, plan.job.style)?;
        }
        let on_them = (&bends[..], &longer[..]);
        pieces(&mut out, (number, planned.run()), on_them, plan.job.style)?;
        saw(
            &mut out,
            number,
            &list,
            (&names, &longer),
            kerf,
            plan.job.style,
        )?;
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
    sticks(&mut out, plan, &list, (&names, &longer))?;
    quote(&mut out, plan)?;
    out.push('\n');
    cautions(&mut out, &plan.cautions())?;
    Ok(out)
}
