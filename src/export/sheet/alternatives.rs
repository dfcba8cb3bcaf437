//! Other ways to make a run.

use super::text::table;
use crate::plan::PlannedRun;
use crate::units::Style;
use std::fmt::Write;

/// Other ways to make the run.
pub(super) fn alternatives(
    out: &mut String,
    planned: &PlannedRun,
    style: Style,
) -> std::fmt::Result {
    if planned.solution.alternatives.is_empty() {
        return Ok(());
    }
    writeln!(
        out,
        "\n  OTHER WAYS to make this run, really different; the first is the one above. K is the"
    )?;
    writeln!(out, "  flow loss of the bends in velocity heads, ±30 %.")?;
    let best = (&planned.solution.best, &planned.solution.reasons);
    let others = planned
        .solution
        .alternatives
        .iter()
        .map(|(c, reasons)| (c, reasons));
    let rows = std::iter::once(best).chain(others).enumerate();
    let rows = rows.map(|(i, (candidate, reasons))| {
        let cost = &candidate.cost;
        let words: Vec<&str> = reasons.iter().map(|reason| reason.words()).collect();
        vec![
            (i + 1).to_string(),
            candidate.route.bends.len().to_string(),
            cost.stock_bends.to_string(),
            cost.joints.to_string(),
            cost.setups.to_string(),
            cost.stops.to_string(),
            cost.cuts.to_string(),
            style.length(cost.weld),
            style.length(candidate.run.length()),
            style.length(candidate.smallest_short_side()),
            format!("{:.0}", cost.minutes),
            format!("{:.2}", cost.money),
            format!("{:.2}", cost.flow.k),
            words.join(", "),
        ]
    });
    let header = [
        "way",
        "bends",
        "stock",
        "joints",
        "settings",
        "stops",
        "cuts",
        "weld",
        "centerline",
        "short",
        "minutes",
        "cost",
        "K",
        "for",
    ];
    table(out, &header, rows.collect())
}
