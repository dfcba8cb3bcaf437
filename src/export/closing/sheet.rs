//! `closure.txt`: how the ends stand, how to close them, and the piece to cut.

use super::ends::{against_text, between_ends, seam_name};
use super::widths::of_widths;
use crate::closure::CUT_SLACK;
use crate::export::sheet::{cautions, paragraph, tube_line, warnings};
use crate::export::{ExportError, OutFile};
use crate::plan::{Closing, Found};
use crate::shop::Caution;
use crate::units::Length;
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
        "  asked: root gap {}{}, walls step by {} at most, gap {} at most, short side {} at least,\n  cuts up to {} (the job's greatest, and {} for what a build is off)",
        style.decimal(fit_up.gap),
        of_the_gap(closing),
        style.decimal(fit_up.high_low),
        style.decimal(fit_up.most_gap),
        style.decimal(fit_up.short_side),
        style.angle(fit_up.most_cut + CUT_SLACK),
        style.angle(CUT_SLACK),
    )?;
    welds(&mut out, closing)?;
    match &closing.found {
        Found::Ends(between) => between_ends(&mut out, closing, between)?,
        Found::Widths {
            widths,
            opens,
            gap,
            against,
            ..
        } => {
            of_widths(&mut out, closing, widths, *opens, gap)?;
            for against in against {
                writeln!(out, "\n  AGAINST IT: {}", against_text(against, style))?;
            }
        }
    }
    writeln!(out)?;
    cautions(&mut out, &Caution::of([&closing.tube]))?;
    Ok(out)
}

/// Why the root gap is not the job's gap, where it is not.
fn of_the_gap(closing: &Closing) -> String {
    let allowance = closing.allowance;
    let differs = (closing.fit_up.gap - allowance.root()).abs().mm() > SAME_GAP;
    if differs || allowance.shrinkage <= Length::ZERO {
        return String::new();
    }
    let style = closing.style;
    format!(
        " once welded (of the job's gap of {}, {} less that the weld pulls in)",
        style.decimal(allowance.gap),
        style.decimal(allowance.shrinkage)
    )
}

/// Gaps nearer than this, mm, are one.
const SAME_GAP: f64 = 1e-9;

/// What was welded when it was measured, and what will still pull.
fn welds(out: &mut String, closing: &Closing) -> std::fmt::Result {
    let shrinkage = closing.allowance.shrinkage;
    if shrinkage <= Length::ZERO || closing.plan.is_none() {
        return Ok(());
    }
    let (style, opens) = (closing.style, closing.opens());
    let to_weld = closing.to_weld();
    if to_weld.is_empty() {
        return paragraph(
            out,
            "MEASURED WELDED: no weld behind the gap will pull any more.",
        );
    }
    let joints: Vec<String> = to_weld.iter().map(ToString::to_string).collect();
    let said = format!(
        "MEASURED TACKED: welds will still pull in {} each at {} {}, and open the gap by {}. The piece is for the gap as it is then: weld these first. If they were welded when you measured, write \"welded\": true.",
        style.decimal(shrinkage),
        if joints.len() == 1 { "joint" } else { "joints" },
        joints.join(", "),
        style.decimal(opens),
    );
    paragraph(out, &said)
}
