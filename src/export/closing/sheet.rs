//! `closure.txt`: how the ends stand, how to close them, and the piece to cut.

use super::ends::{against_text, between_ends, seam_name};
use super::widths::of_widths;
use crate::closure::CUT_SLACK;
use crate::export::sheet::{cautions, tube_line, warnings};
use crate::export::{ExportError, OutFile};
use crate::plan::{Closing, Found};
use crate::shop::Caution;
use std::fmt::Write;

const FILE: &str = "closure.txt";

/// Writes `closure.txt`.
pub fn closing_sheet(closing: &Closing) -> Result<OutFile, ExportError> {
    let text = sheet(closing).map_err(|error| ExportError::new(FILE, error))?;
    Ok(OutFile::new(FILE, text))
}

pub(super) fn sheet(closing: &Closing) -> Result<String, std::fmt::Error> {
    let mut out = String::new();
    let style = closing.style;
    match &closing.plan {
        Some(plan) => writeln!(
            out,
            "CLOSING '{}', piece {}, between {} and {}",
            plan.run.name,
            plan.piece,
            seam_name(closing, 0, plan.piece - 1),
            seam_name(closing, 1, plan.piece),
        )?,
        None => writeln!(out, "CLOSING A GAP")?,
    }
    warnings(&mut out, closing.warnings.iter())?;
    writeln!(out)?;
    tube_line(&mut out, &closing.tube, style)?;
    let fit_up = &closing.fit_up;
    writeln!(
        out,
        "  asked: root gap {}, walls step by {} at most, gap {} at most, short side {} at least,\n  cuts up to {} (the job's greatest, and {} for what a build is off)",
        style.decimal(fit_up.gap),
        style.decimal(fit_up.high_low),
        style.decimal(fit_up.most_gap),
        style.decimal(fit_up.short_side),
        style.angle(fit_up.most_cut + CUT_SLACK),
        style.angle(CUT_SLACK),
    )?;
    match &closing.found {
        Found::Ends(between) => between_ends(&mut out, closing, between)?,
        Found::Widths {
            widths,
            gap,
            against,
        } => {
            of_widths(&mut out, closing, widths, gap)?;
            for against in against {
                writeln!(out, "\n  AGAINST IT: {}", against_text(against, style))?;
            }
        }
    }
    writeln!(out)?;
    cautions(&mut out, &Caution::of([&closing.tube]))?;
    Ok(out)
}
