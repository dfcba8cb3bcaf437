//! Several pieces that fill the gap.

use super::piece::cut_again;
use crate::closure::{Several, Side};
use crate::plan::{BetweenEnds, Closing, Found};
use std::fmt::Write;

pub(super) fn pieces(out: &mut String, closing: &Closing, several: &Several) -> std::fmt::Result {
    let style = closing.style;
    writeln!(
        out,
        "\nSEVERAL PIECES, in order of flow; about {:.0} minutes",
        several.minutes
    )?;
    for (i, trim) in several.trims.iter().enumerate() {
        if let (Some(trim), Found::Ends(between)) = (trim, &closing.found) {
            let radius = closing.tube.radius();
            cut_again(out, Side::BOTH[i], trim, &between.ends[i], radius, style)?;
        }
    }
    writeln!(
        out,
        "  {:>5}  {:>12}  {:>10}  {:>10}  {:>10}  {:>6}  {:>6}  {:>8}",
        "piece", "long", "long", "center", "short", "start", "end", "clock"
    )?;
    for (i, placed) in several.pieces().iter().enumerate() {
        let name = closing.piece_name(i);
        match placed.piece.straight() {
            Some(piece) => writeln!(
                out,
                "  {name:>5}  {:>12}  {:>10}  {:>10}  {:>10}  {:>6}  {:>6}  {:>8}",
                style.length(piece.long_side()),
                style.decimal(piece.long_side()),
                style.decimal(piece.length()),
                style.decimal(piece.short_side()),
                style.angle(piece.start().angle),
                style.angle(piece.end().angle),
                style.clock(piece.clock()),
            )?,
            None => stock_bend(out, closing, several, i)?,
        }
    }
    if let Found::Ends(between) = &closing.found {
        marks(out, closing, between, several)?;
    }
    writeln!(
        out,
        "  clock: from the start's long side to the end's, clockwise looking downstream"
    )?;
    for (i, joint) in several.joints().iter().enumerate() {
        writeln!(
            out,
            "  joint {:>5} at {}, cut {}",
            closing.joint_name(i, several.pieces().len()),
            style.point(joint.plane.point.into()),
            style.angle(joint.cut()),
        )?;
    }
    Ok(())
}

/// Where the marks on the built ends stand on the first and on the last of several pieces.
pub(super) fn marks(
    out: &mut String,
    closing: &Closing,
    between: &BetweenEnds,
    several: &Several,
) -> std::fmt::Result {
    let ends = [&between.ends[0].built, &between.ends[1].built];
    let which = [0, several.pieces().len().saturating_sub(1)];
    for (i, mark) in several.marks(ends).into_iter().enumerate() {
        if let (Some(clock), Some((_, name))) = (mark, &ends[i].mark) {
            writeln!(
                out,
                "  {name} of the end {} stands at {} of piece {}, from its start's long side, or its end's where the start is square",
                Side::BOTH[i].word(),
                closing.style.clock(clock),
                closing.piece_name(which[i]),
            )?;
        }
    }
    Ok(())
}

/// A stock bend among several pieces.
pub(super) fn stock_bend(
    out: &mut String,
    closing: &Closing,
    several: &Several,
    i: usize,
) -> std::fmt::Result {
    let style = closing.style;
    let placed = &several.pieces()[i];
    let Some(bent) = placed.piece.bent() else {
        return Ok(());
    };
    writeln!(
        out,
        "  {:>5}  stock bend, turn {}, CLR {}, legs {} and {}; its plane is clocked {} from the bend before",
        closing.piece_name(i),
        style.angle(bent.turn),
        style.decimal(bent.clr),
        style.decimal(bent.legs[0]),
        style.decimal(bent.legs[1]),
        style.clock(several.joints()[i].clock),
    )
}
