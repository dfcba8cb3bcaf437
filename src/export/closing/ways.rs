//! Ways to close the gap with one piece.

use super::ends::against_text;
use super::piece::widest;
use crate::closure::{Closure, Way};
use crate::plan::{BetweenEnds, Closing};
use crate::tube::Edge;
use crate::units::Style;
use std::fmt::Write;

pub(super) fn ways(out: &mut String, closing: &Closing, between: &BetweenEnds) -> std::fmt::Result {
    let style = closing.style;
    writeln!(
        out,
        "\nWAYS, with one straight piece\n  {:<22} {:>12}  {:>9}  {:>15}  {:>17}  {:>7}",
        "ends", "longest line", "step", "cuts", "comes off", "minutes"
    )?;
    for (i, way) in between.ways.list.iter().enumerate() {
        let name = ends_text(way);
        let closure = match &way.closure {
            Ok(closure) => closure,
            Err(reason) => {
                writeln!(out, "  {name:<22} none: {reason}")?;
                continue;
            }
        };
        writeln!(
            out,
            "  {name:<22} {:>12}  {:>9}  {:>15}  {:>17}  {:>7.0}{}",
            style.length(closure.sleeve.long_side().0),
            style.decimal(closure.high_low()),
            cuts(closure, style),
            comes_off(closure, style),
            closure.minutes,
            match between.ways.best == Some(i) {
                true if is_unsure(closing, closure) => "  MEASURE BETTER",
                true => "  TAKE THIS",
                false => "",
            },
        )?;
        for against in &closure.against {
            writeln!(out, "      against it: {}", against_text(against, style))?;
        }
    }
    writeln!(
        out,
        "  step: from wall to wall at the worst side of either joint"
    )
}

/// Whether the rims are known too poorly for anyone to be sure of its gaps.
pub(super) fn is_unsure(closing: &Closing, closure: &Closure) -> bool {
    let most = closing.fit_up.most_gap;
    closure.seams.iter().any(|seam| widest(seam) > most)
}

pub(super) fn cuts(closure: &Closure, style: Style) -> String {
    let cut = |edge: &Edge| match edge {
        Edge::Cut(cut) => style.angle(cut.angle),
        Edge::Scribed(_) => "scribed".to_owned(),
    };
    let sleeve = &closure.sleeve;
    format!("{}, {}", cut(sleeve.start()), cut(sleeve.end()))
}

/// The most that comes off each end.
pub(super) fn comes_off(closure: &Closure, style: Style) -> String {
    let off = closure.trims.iter().flatten();
    let off: Vec<String> = off.map(|trim| style.decimal(trim.most)).collect();
    match off.len() {
        0 => "nothing".to_owned(),
        _ => off.join(", "),
    }
}

pub(super) fn ends_text(way: &Way) -> &'static str {
    match way.trimmed {
        [false, false] => "both ends as they are",
        [true, false] => "end before cut again",
        [false, true] => "end after cut again",
        [true, true] => "both ends cut again",
    }
}
