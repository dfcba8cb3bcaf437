//! What to do about the gap.

use super::ways::{ends_text, is_unsure};
use crate::closure::NoPieces;
use crate::plan::{Advice, BetweenEnds, Closing};
use crate::units::{Length, counted};

/// What to do, and why, on one line.
pub fn advice_text(closing: &Closing, between: &BetweenEnds) -> String {
    let style = closing.style;
    let fit_up = &closing.fit_up;
    match between.advice {
        Advice::OnePiece => {
            let Some((way, closure)) = between.ways.best.and_then(|best| {
                let way = &between.ways.list[best];
                Some((way, way.closure.as_ref().ok()?))
            }) else {
                return String::new();
            };
            let others = between.ways.list.iter().filter(|other| *other != way);
            let better = others
                .filter_map(|way| way.closure.as_ref().ok())
                .filter(|c| c.is_good());
            let dearer = better
                .map(|other| other.minutes - closure.minutes)
                .fold(None, |least: Option<f64>, more| {
                    Some(least.map_or(more, |least| least.min(more)))
                });
            let why = match dearer {
                Some(more) if more > 0.0 => format!("any other way takes {more:.0} minutes more"),
                Some(_) => "another way takes as long, but its walls meet less well".to_owned(),
                _ if between.ways.list.len() > 1 => {
                    "the other ways have what is said against them".to_owned()
                }
                _ => "the ends are true to each other".to_owned(),
            };
            if is_unsure(closing, closure) {
                return format!(
                    "Measure both rims better before you cut: they are known too poorly to be sure of the gap. As it looks, one piece will do, {}: the walls step by {} at worst, {} can be welded; {why}.",
                    ends_text(way),
                    style.decimal(closure.high_low()),
                    style.decimal(fit_up.high_low),
                );
            }
            format!(
                "One piece, {}: the walls step by {} at worst, {} can be welded; {why}.",
                ends_text(way),
                style.decimal(closure.high_low()),
                style.decimal(fit_up.high_low),
            )
        }
        Advice::Reclock => {
            let turns = between
                .reclock
                .as_ref()
                .map_or(&[][..], |reclock| &reclock.turns);
            let joints: Vec<String> = turns
                .iter()
                .map(|turn| turn.joint.joint.to_string())
                .collect();
            format!(
                "No one piece fits the ends as they stand. Turn {} {}, then close with one piece.",
                if joints.len() == 1 { "joint" } else { "joints" },
                joints.join(" and ")
            )
        }
        Advice::Several => {
            let count = between
                .several
                .as_ref()
                .and_then(|s| s.as_ref().ok())
                .map_or(0, |s| s.pieces().len());
            format!(
                "No one piece fits. Close it with {}.",
                counted(count, "piece")
            )
        }
        Advice::Nothing => {
            let why = match &between.several {
                Some(Err(NoPieces::NoneFits)) => {
                    "routes of several pieces leave one too short at a built end"
                }
                _ => "no route of several pieces keeps the job's limits",
            };
            let apart = between.ends[1].built.center - between.ends[0].built.center;
            let apart = Length::from_mm(apart.norm());
            if apart <= fit_up.most_gap {
                return format!(
                    "The two ends stand {} apart: no piece goes between, and a gap like that can be welded as it is.",
                    style.decimal(apart)
                );
            }
            format!(
                "Nothing that was tried can be welded: no one piece fits, and {why}. Cut a built end back to the joint before it and measure again."
            )
        }
    }
}
