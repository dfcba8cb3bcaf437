//! Weld seams of all runs: as their pieces lie in the sticks that they are cut from.

use crate::run::Run;
use crate::shop::{SawSheet, SeamPlan, Seams, StickLayout, StickPiece};
use crate::units::Length;

/// How the seams of every run come to lie, where they are to lie in some way: cut from
/// the sticks of its tube's layout, or in order from one stick where there is none. Runs of
/// one layout share sticks, and so the wish of the first of them.
pub(super) fn seam_plans(
    runs: &[(&Run, Option<Seams>)],
    layouts: &[StickLayout],
) -> Vec<Option<SeamPlan>> {
    let all: Vec<&Run> = runs.iter().map(|(run, _)| *run).collect();
    let laid_out: Vec<Option<SeamPlan>> = layouts
        .iter()
        .map(|layout| {
            let wish = runs.iter().find(|(run, _)| *run.tube() == layout.tube)?.1?;
            let sticks = layout.sticks.iter();
            let pieces: Vec<Vec<StickPiece>> = sticks
                .map(|stick| StickPiece::lying(&stick.cuts, &all))
                .collect();
            Some(SeamPlan::new(&pieces, wish))
        })
        .collect();
    let of_run = |(index, (run, seams)): (usize, &(&Run, Option<Seams>))| {
        let wish = (*seams)?;
        let layout = layouts.iter().position(|layout| layout.tube == *run.tube());
        match layout.and_then(|layout| laid_out[layout].as_ref()) {
            Some(plan) => Some(plan.of_run(index)),
            None => {
                // Marks are the same for any kerf.
                let saw = SawSheet::new(index, run, Length::ZERO);
                Some(SeamPlan::new(&[StickPiece::lying(&saw.cuts, &all)], wish))
            }
        }
    };
    runs.iter().enumerate().map(of_run).collect()
}
