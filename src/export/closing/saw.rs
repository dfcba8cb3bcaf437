//! The closing piece at the saw, and whether what was sawn for it will do.

use crate::closure::{Blank, Recut, Side};
use crate::export::cut_row::STEPS;
use crate::export::sheet::{cut_table, paragraph};
use crate::plan::Closing;
use crate::shop::{SawCut, cuts_of_one};
use crate::tube::{Cut, Edge, Piece, Sleeve};
use crate::units::{Angle, Length};
use std::fmt::Write;

/// How many of the steps by which a saw's rows are read hold for one piece.
const STEPS_OF_ONE: usize = 5;

/// Rows for the saw, if both ends are cut flat; then the piece that the plan's sheet sawed.
pub(super) fn at_the_saw(out: &mut String, closing: &Closing, sleeve: &Sleeve) -> std::fmt::Result {
    let style = closing.style;
    let flat = [sleeve.start(), sleeve.end()].map(|edge| match edge {
        Edge::Cut(cut) => Some(*cut),
        Edge::Scribed(_) => None,
    });
    match flat {
        [Some(start), Some(end)] => {
            let cuts = rows(closing, sleeve, [start, end], false);
            writeln!(
                out,
                "\nAT THE SAW, from tube with a square end; kerf {}",
                style.decimal(closing.fit_up.rates.kerf)
            )?;
            for (i, step) in STEPS.iter().take(STEPS_OF_ONE).enumerate() {
                paragraph(out, &format!("{}. {step}", i + 1))?;
            }
            cut_table(out, &cuts, &closing.tube, style)?;
            if cuts.len() > 1 {
                writeln!(
                    out,
                    "  'end' cuts the piece's start; what drops off there may be longer, not shorter"
                )?;
            }
        }
        _ => writeln!(
            out,
            "\nAT THE SAW no row gives a scribed end: mark it by the pattern or the table, cut and grind to it"
        )?,
    }
    sawn(out, closing, sleeve, flat)
}

fn rows(closing: &Closing, sleeve: &Sleeve, ends: [Cut; 2], turned: bool) -> Vec<SawCut> {
    let number = closing.plan.as_ref().map_or(1, |plan| plan.piece);
    cuts_of_one(
        closing.tube.radius(),
        (number, turned),
        sleeve.length(),
        ends,
        closing.fit_up.rates.kerf,
    )
}

/// Whether the piece that the plan leaves for last will do, as its saw sheet has it.
fn sawn(
    out: &mut String,
    closing: &Closing,
    sleeve: &Sleeve,
    flat: [Option<Cut>; 2],
) -> std::fmt::Result {
    let Some((piece, longer)) = sawn_for_last(closing) else {
        return Ok(());
    };
    let style = closing.style;
    let blank = Blank { piece, longer };
    let recut = blank.recut(sleeve, closing.accuracy.cut, closing.fit_up.rates.kerf);
    let what = format!(
        "WHAT THE PLAN'S SHEET SAWED FOR IT ({} at its center, {} more than planned; start {}, end {})",
        style.decimal(blank.length()),
        style.decimal(longer),
        style.angle(piece.start().angle),
        style.angle(piece.end().angle),
    );
    if recut.spare < Length::ZERO {
        return writeln!(
            out,
            "\n{what}\n  WILL NOT DO: it is {} too short. Cut the piece from other tube.",
            style.decimal(recut.spare.abs())
        );
    }
    writeln!(
        out,
        "\n{what}\n  WILL DO, with {} to spare. {}",
        style.decimal(recut.spare),
        which_cuts(closing, &recut),
    )?;
    match (recut.stays, flat) {
        (Some(stays), [Some(start), Some(end)]) => {
            let turned = stays == Side::After;
            let cuts = rows(closing, sleeve, [start, end], turned);
            let stays_at = if turned { end } else { start };
            writeln!(out, "  {}", line_of(stays, stays_at, piece))?;
            cut_table(out, &cuts[cuts.len() - 1..], &closing.tube, style)
        }
        (None, [Some(_), Some(_)]) => writeln!(
            out,
            "  Scribe its line opposite its start's long side. Cut by the rows above, with FEED {} in the first.",
            style.decimal(recut.off_start)
        ),
        _ => Ok(()),
    }
}

/// The piece that the plan leaves for last, straight, and how much longer its sheet has it.
fn sawn_for_last(closing: &Closing) -> Option<(&Piece, Length)> {
    let plan = closing.plan.as_ref()?;
    let longer = plan.run.trim?;
    let last = plan.run.left_for_last == Some(plan.piece);
    let piece = plan.run.run.pieces()[plan.piece - 1].piece.straight()?;
    last.then_some((piece, longer))
}

fn which_cuts(closing: &Closing, recut: &Recut) -> String {
    let good_to = closing.style.angle(closing.accuracy.cut);
    match recut.stays {
        Some(Side::Before) => format!(
            "Its start can stay: it is cut within {good_to} of what is asked. Trim its end only:"
        ),
        Some(Side::After) => format!(
            "Its end can stay: it is cut within {good_to} of what is asked. Trim its start only:"
        ),
        None => format!(
            "Neither of its ends can stay: none is cut within {good_to} of what is asked, or leaves enough. Cut both again."
        ),
    }
}

/// Where the line is scribed on a piece of which one end stays.
fn line_of(stays: Side, cut: Cut, piece: &Piece) -> String {
    let (this, other) = match stays {
        Side::Before => ("start", "end"),
        Side::After => ("end", "start"),
    };
    let other_cut = match stays {
        Side::Before => piece.end(),
        Side::After => piece.start(),
    };
    if cut.angle > Angle::ZERO {
        format!(
            "Scribe its line opposite its {this}'s long side, put its {this} where pieces drop off, and:"
        )
    } else if other_cut.angle > Angle::ZERO {
        format!(
            "Scribe its line along its {other}'s long side, put its {this} where pieces drop off, and:"
        )
    } else {
        format!("Put its {this} where pieces drop off, and:")
    }
}
