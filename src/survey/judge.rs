//! [`Suspicion`]: a reading that does not go with the others.

use super::adjust::{Hold, Model, adjust, chance};
use super::left::{Amount, LeftOver, left_over};
use super::reading::Readings;
use super::stance::{Chart, Stance};
use nalgebra::DVector;

/// How often chance alone makes us suspect any reading of a port.
const FALSE_ALARM: f64 = 0.01;
/// A reading is as suspect as the worst if its test is within this of the worst's: the
/// odds are less than twenty to one between them.
const AS_SUSPECT: f64 = 6.0;

/// A reading, or one of several, that does not go with the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspicion {
    /// Which readings: one, or those among which the others cannot tell the wrong one.
    pub readings: Vec<usize>,
    /// How far the first of them is off what the others say.
    pub off: Amount,
}

/// Readings that do not go with the others: the worst, then the worst of what is left,
/// as long as the wrong one can be told and enough are left to tell it by.
pub(super) fn judge(
    readings: &Readings,
    stance: &Stance,
    hold: &Hold,
    left: &DVector<f64>,
) -> Vec<Suspicion> {
    let mut found: Vec<Suspicion> = Vec::new();
    let mut counts = vec![true; left.len()];
    let (mut stance, mut hold, mut left) = (stance.clone(), hold.clone(), left.clone());
    for _ in 0..readings.list.len() {
        let out: Vec<usize> = found.iter().map(|s| s.readings[0]).collect();
        let suspects = suspects(readings, &stance, &hold, &left, &out);
        let Some(&worst) = suspects.first() else {
            break;
        };
        let chart = Chart::new(readings, stance.clone());
        counts[chart.rows[worst].clone()].fill(false);
        let Some((others, off)) = without(readings, &chart, &counts, worst) else {
            break;
        };
        let is_told = suspects.len() == 1;
        found.push(Suspicion {
            readings: suspects,
            off,
        });
        if !is_told {
            break;
        }
        let chart = Chart::new(readings, others.clone());
        let Some((next_hold, next_left)) = held_by(&chart, &counts) else {
            break;
        };
        (stance, hold, left) = (others, next_hold, next_left);
    }
    found
}

/// The readings that are worst, and beyond chance; those in `out` are out of the game.
fn suspects(
    readings: &Readings,
    stance: &Stance,
    hold: &Hold,
    left: &DVector<f64>,
    out: &[usize],
) -> Vec<usize> {
    let chart = Chart::new(readings, stance.clone());
    let each = FALSE_ALARM / readings.list.len() as f64;
    let doubts = (0..readings.list.len()).filter(|i| !out.contains(i));
    let doubts = doubts.filter_map(|i| {
        let doubt = hold.doubt(left, &chart.rows[i])?;
        Some((i, doubt.test - chance(doubt.freedom, each)))
    });
    let mut doubts: Vec<(usize, f64)> = doubts.collect();
    doubts.sort_by(|a, b| b.1.total_cmp(&a.1));
    let Some(&(_, worst)) = doubts.first() else {
        return Vec::new();
    };
    let near = doubts
        .into_iter()
        .take_while(|(_, test)| *test >= worst - AS_SUSPECT);
    if worst > 0.0 {
        near.map(|(i, _)| i).collect()
    } else {
        Vec::new()
    }
}

/// The stance by the rows that count, and how far a reading is off it.
fn without(
    readings: &Readings,
    chart: &Chart<'_>,
    counts: &[bool],
    reading: usize,
) -> Option<(Stance, Amount)> {
    let adjusted = adjust(chart, chart.start(), Some(counts))?;
    let stance = chart.stance(&adjusted.x);
    let chart = Chart::new(readings, stance.clone());
    let left = chart.evaluate(&chart.start()).0;
    let off = left_over(readings, &chart, None, &left);
    Some((stance, LeftOver::worst(off.get(reading)?)?))
}

/// How the rows that count hold the stance; the others as rows of nothing.
fn held_by(chart: &Chart<'_>, counts: &[bool]) -> Option<(Hold, DVector<f64>)> {
    let (mut left, mut slopes) = chart.evaluate(&chart.start());
    for row in (0..left.len()).filter(|&row| !counts[row]) {
        left[row] = 0.0;
        slopes.row_mut(row).fill(0.0);
    }
    let hold = Hold::of(&slopes)?;
    let is_held = hold.free.iter().all(|free| free.rows(0, 5).norm() < 1e-6);
    is_held.then_some((hold, left))
}
