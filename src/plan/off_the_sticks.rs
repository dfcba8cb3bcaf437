//! Warnings about pieces that the shop's sticks do not yield.

use super::plan::PlannedRun;
use crate::job::{Job, Problem};
use crate::shop::{StickLayout, StickSource};
use crate::units::{Length, counted};

/// Warns of pieces that are too long for any stick, and of sticks that are missing.
pub(super) fn off_the_sticks(
    layouts: &[StickLayout],
    runs: &[PlannedRun],
    job: &Job,
) -> Vec<Problem> {
    let all = layouts.iter();
    all.flat_map(|layout| [too_long(layout, runs, job), missing(layout, job)])
        .flatten()
        .collect()
}

fn too_long(layout: &StickLayout, runs: &[PlannedRun], job: &Job) -> Option<Problem> {
    let longest = layout.too_long.iter().map(|piece| piece.needs);
    let longest = longest.reduce(Length::max)?;
    let named: Vec<String> = layout
        .too_long
        .iter()
        .map(|piece| {
            let name = runs.get(piece.run).map_or("", |run| run.name.as_str());
            format!("piece {} of run '{name}'", piece.piece)
        })
        .collect();
    Some(Problem::of_file(
        format!("longer than any stick: {}", named.join(", ")),
        format!(
            "take a stick of {} or more for it, or cut the piece in two and weld them square; all else is laid out",
            job.style.length(longest),
        ),
    ))
}

fn missing(layout: &StickLayout, job: &Job) -> Option<Problem> {
    let lengths: Vec<String> = layout
        .sticks
        .iter()
        .filter(|stick| stick.source == StickSource::Missing)
        .map(|stick| job.style.length(stick.length))
        .collect();
    (!lengths.is_empty()).then(|| {
        Problem::of_file(
            format!(
                "the shop has too little tube of {} OD: {} missing, {}",
                job.style.decimal(layout.tube.od()),
                counted(lengths.len(), "stick"),
                lengths.join(", "),
            ),
            "get those too, or raise count in shop.sticks",
        )
    })
}
