//! [`CutRow`]: one cut as the saw sheets print it, and how to read such rows.

use crate::shop::{Drops, Longer, SawCut};
use crate::tube::Tube;
use crate::units::{Length, Style};
use serde::Serialize;

/// How to read the saw's table, step by step.
pub(super) const STEPS: [&str; 6] = [
    "Square the stick's end. Scribe a line along its whole length.",
    "Stand at the end where pieces drop off and look along the stick. The saw tilts one way and stays so. Start with the line where the saw leaves the long side.",
    "For each row: push the stick by FEED (kerf included; measured along its center, or on a line a quarter round from the line and the long side), turn it clockwise by ROTATE, set the saw to ANGLE, cut. The piece of that number drops off.",
    "STOP in place of feed: a flat stop, square to the tube and as wide, on the side where pieces drop off. The foremost point of the cut face touches it; the distance is to where the saw meets the tube at its long side, no kerf in it.",
    "Check: MARK is how far clockwise from the scribed line the dropped piece's long side is, ROUND the same with a tape round the tube. It runs the other way from ROTATE, because a tube turned clockwise brings marks from the other side.",
    "HALF TURN: nothing but a half turn before this cut. AGAIN: saw and stop stay as they are, half a turn (square cuts: any), cut; such pieces are alike. After a miter, the faces on both sides of the cut mate as cut. FOR LAST: so much longer than planned, to be cut to the gap that is left.",
];

/// One cut in the shop's words.
#[derive(Debug, Serialize)]
pub(super) struct CutRow {
    pub piece: String,
    pub feed: String,
    pub feed_exact: String,
    pub stop: String,
    pub rotate: String,
    pub angle: String,
    pub mark: String,
    pub round: String,
    pub so_far: String,
    pub note: String,
}

/// The rows of a stick of `tube`. `names` are those of all runs, for pieces of several;
/// `longer` are the pieces that are cut longer than planned.
pub(super) fn cut_rows(
    cuts: &[SawCut],
    tube: &Tube,
    names: &[&str],
    longer: &[Longer],
    style: Style,
) -> Vec<CutRow> {
    let mut so_far = Length::ZERO;
    let row = |cut: &SawCut| {
        so_far += cut.feed;
        let clock = |said: String| match cut.is_square() {
            true => "any".to_owned(),
            false => said,
        };
        CutRow {
            piece: dropped(cut.drops, names),
            feed: style.length(cut.feed),
            feed_exact: style.decimal(cut.feed),
            stop: style.length(cut.stop),
            rotate: clock(style.clock(cut.rotate)),
            angle: style.angle(cut.angle),
            mark: clock(style.clock(cut.mark)),
            round: clock(style.length(cut.round(tube.circumference()))),
            so_far: style.length(so_far),
            note: notes(cut, longer, style).join(", "),
        }
    };
    cuts.iter().map(row).collect()
}

/// What drops off.
fn dropped(drops: Drops, names: &[&str]) -> String {
    match drops {
        Drops::End => "end".to_owned(),
        Drops::Wedge => "waste".to_owned(),
        Drops::Piece { run, piece, .. } => piece_name(run, piece, names),
    }
}

/// A piece, after its run's name where there are several runs.
pub(super) fn piece_name(run: usize, piece: usize, names: &[&str]) -> String {
    match names.get(run) {
        Some(name) if names.len() > 1 => format!("{name} {piece}"),
        _ => piece.to_string(),
    }
}

fn notes(cut: &SawCut, longer: &[Longer], style: Style) -> Vec<String> {
    let said = [
        (
            matches!(cut.drops, Drops::Piece { turned: true, .. }),
            "end first",
        ),
        (cut.is_half_turn(), "half turn"),
        (cut.is_square(), "square"),
        (cut.again, "again"),
    ];
    let said = said.into_iter().filter(|(holds, _)| *holds);
    let mut notes: Vec<String> = said.map(|(_, words)| words.to_owned()).collect();
    if let Drops::Piece { run, piece, .. } = cut.drops {
        let by = Longer::of(longer, run, piece);
        if by > Length::ZERO {
            notes.push(format!("for last, +{}", style.length(by)));
        }
    }
    notes
}
