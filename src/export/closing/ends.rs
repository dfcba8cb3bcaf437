//! The ends of the gap as they were built.

use super::advice::advice_text;
use super::piece::piece;
use super::several::pieces;
use super::ways::ways;
use crate::closure::{Against, Side};
use crate::plan::{Advice, BetweenEnds, Closing, Found, MetEnd};
use crate::units::{Angle, Length, Style, direction_text};
use std::fmt::Write;

/// Standard deviations, at a rim's worst side, that its worst side all round stays under in
/// nineteen of twenty: the rim's offset and its two slants are off independently.
pub(super) const NEARLY_ALL: f64 = 2.5;

/// The joint, or the port, that the gap ends at.
pub(super) fn seam_name(closing: &Closing, end: usize, joint: usize) -> String {
    let port = match &closing.found {
        Found::Ends(between) => between.ends[end].port.as_ref(),
        Found::Widths { .. } => None,
    };
    match port {
        Some(port) => format!("port '{}'", port.name),
        None => format!("joint {joint}"),
    }
}

pub(super) fn between_ends(
    out: &mut String,
    closing: &Closing,
    between: &BetweenEnds,
) -> std::fmt::Result {
    let style = closing.style;
    writeln!(out, "\nTHE ENDS, as they were built")?;
    for (end, side) in between.ends.iter().zip(Side::BOTH) {
        met_end(out, end, side, style)?;
    }
    ways(out, closing, between)?;
    writeln!(out, "\nWHAT TO DO\n  {}", advice_text(closing, between))?;
    if between.advice != Advice::OnePiece && between.reclock.is_none() {
        let turning = if between.could_turn {
            "Turning the joints that are tacked does not help."
        } else {
            "If joints are only tacked, list them under 'tacked': turning one may do."
        };
        writeln!(out, "  {turning}")?;
    }
    if let Some(reclock) = between
        .reclock
        .as_ref()
        .filter(|_| between.advice == Advice::Reclock)
    {
        for turn in &reclock.turns {
            writeln!(
                out,
                "  At joint {}, {}turn what is between it and the gap by {} {} looking downstream,\n  {} round the outside; the walls step by {} there.",
                turn.joint.joint,
                if turn.joint.tacked {
                    "break the tacks and "
                } else {
                    ""
                },
                style.angle(turn.by.abs()),
                if turn.by > Angle::ZERO {
                    "clockwise"
                } else {
                    "counterclockwise"
                },
                style.length(closing.tube.radius() * turn.by.abs().radians()),
                style.decimal(turn.high_low),
            )?;
        }
        writeln!(
            out,
            "  Then measure both ends again before you cut the piece below."
        )?;
    }
    if let Some(closure) = between.closure() {
        piece(out, closing, between, closure)?;
    }
    if let Some(Ok(several)) = &between.several {
        pieces(out, closing, several)?;
    }
    Ok(())
}

pub(super) fn met_end(
    out: &mut String,
    end: &MetEnd,
    side: Side,
    style: Style,
) -> std::fmt::Result {
    let built = &end.built;
    let joint = end
        .seam
        .map_or(String::new(), |joint| format!(" (joint {joint})"));
    let what = end.port.as_ref().map_or_else(
        || format!("the end {} the gap{joint}", side.word()),
        |port| format!("port '{}', where nothing is built", port.name),
    );
    writeln!(
        out,
        "  {what}: center {}, axis {} into the gap, cut {}",
        style.point(built.center.into()),
        direction_text(built.axis.into_inner()),
        match built.plane() {
            Some(plane) => style.angle(crate::geometry::angle_between(&plane.normal, &built.axis)),
            None => "ragged".to_owned(),
        },
    )?;
    writeln!(
        out,
        "    known to, two of three within: center {}, rim {} along the tube, axis {}",
        style.decimal(built.axis_scatter.distance()),
        style.decimal(built.rim_scatter.along(&built.normal())),
        style.angle(built.axis_scatter.lean(&built.axis)),
    )?;
    if let (Some(seam), Some(joint)) = (end.seam, end.joint)
        && seam != joint
    {
        let loose = match side {
            Side::Before => (joint + 1, seam),
            Side::After => (seam + 1, joint),
        };
        let pieces = if loose.0 == loose.1 {
            format!("piece {}", loose.0)
        } else {
            format!("pieces {} to {}", loose.0, loose.1)
        };
        writeln!(
            out,
            "    measured at joint {joint}: first put on {pieces} as planned, long side to long side"
        )?;
    }
    if !end.to_weld.is_empty() {
        writeln!(
            out,
            "    pulled back by {} (x {}, y {}, z {}) from where it was measured, for the welds still to come",
            style.decimal(Length::from_mm(end.pull.norm())),
            style.decimal(Length::from_mm(end.pull.x)),
            style.decimal(Length::from_mm(end.pull.y)),
            style.decimal(Length::from_mm(end.pull.z)),
        )?;
    }
    if let Some((shift, lean)) = &end.off {
        writeln!(
            out,
            "    measured {} (x {}, y {}, z {}) and {} off the plan",
            style.decimal(Length::from_mm(shift.norm())),
            style.decimal(Length::from_mm(shift.x)),
            style.decimal(Length::from_mm(shift.y)),
            style.decimal(Length::from_mm(shift.z)),
            style.angle(*lean),
        )?;
    }
    Ok(())
}

/// What speaks against a closing piece, in words.
pub fn against_text(against: &Against, style: Style) -> String {
    match against {
        Against::HighLow { side, worst, most } => format!(
            "walls step by {} {}, {} can be welded",
            style.decimal(*worst),
            at_end(*side),
            style.decimal(*most)
        ),
        Against::Cut { side, cut, most } => format!(
            "cut {} {}, the job's greatest is {}",
            style.angle(*cut),
            at_end(*side),
            style.angle(*most)
        ),
        Against::Lean { side, lean, most } => format!(
            "leans {} {}, which is a port and takes {}",
            style.angle(*lean),
            at_end(*side),
            style.angle(*most)
        ),
        Against::ShortSide { short, least } => format!(
            "short side {}, {} is asked for",
            style.decimal(*short),
            style.decimal(*least)
        ),
        Against::Spare { side, off, spare } => format!(
            "{} comes off {}, which has {} to spare",
            style.decimal(*off),
            match side {
                Side::Before => "the end before",
                Side::After => "the end after",
            },
            style.decimal(*spare)
        ),
    }
}

pub(super) const fn at_end(side: Side) -> &'static str {
    match side {
        Side::Before => "at the end before",
        Side::After => "at the end after",
    }
}
