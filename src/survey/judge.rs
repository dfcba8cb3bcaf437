//! [`Suspicion`]: a reading that does not go with the others.

use super::adjust::{Hold, Model, adjust, chance};
use super::left::{Amount, LeftOver, left_over};
use super::reading::Readings;
use super::stance::{Chart, Stance};
use nalgebra::DVector;
use std::ops::Range;

/// How often chance alone makes us suspect any reading of a port.
const FALSE_ALARM: f64 = 0.01;
/// A reading is as suspect as the worst if leaving it out lowers the squares by no more
/// than this less: the odds are less than twenty to one between them.
const AS_SUSPECT: f64 = 6.0;
/// Readings that are tried as the wrong one: those that look worst to first order.
const MOST_TRIED: usize = 24;
/// Readings that may be left out, in parts of all. Where more are wrong, all of them
/// scatter more than was said.
const MOST_PART: usize = 4;
/// Part of a free direction, of length 1, below which the port itself is held.
const OWN: f64 = 1e-6;

/// A reading, or one of several, that does not go with the others.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspicion {
    /// Which readings: one, which is left out of the fit; or those among which the others
    /// cannot tell the wrong one, which stay in it.
    pub readings: Vec<usize>,
    /// How far the first of them is off what the others say.
    pub off: Amount,
}

impl Suspicion {
    /// Whether the wrong reading can be told, and is left out.
    pub const fn is_left_out(&self) -> bool {
        self.readings.len() == 1
    }
}

/// The port by the readings that go together.
pub(super) struct Judgment {
    pub stance: Stance,
    pub suspicions: Vec<Suspicion>,
    /// Sum of the squares of what is left of the readings that count.
    pub squares: f64,
    /// How the readings that count hold the port.
    pub hold: Hold,
    /// Numbers read beyond what it takes.
    pub spare: usize,
    /// Least disagreement beyond what was said, where a wrong reading cannot be told.
    pub unsettled: f64,
}

/// Readings that do not go with the others, the worst first: each is left out and the
/// rest fitted again, as long as it can be told which is wrong and enough are left to
/// tell it by. `None` where the numbers run away.
pub(super) fn judge(readings: &Readings, stance: &Stance) -> Option<Judgment> {
    let whole = Fit::new(readings, stance, Vec::new())?;
    let most = (readings.list.len() / MOST_PART).max(1);
    let mut suspicions = Vec::new();
    let mut fit = Fit::new(readings, stance, Vec::new())?;
    while let Some(worst) = fit.worst(readings) {
        let told = worst.readings.len() == 1;
        if told && fit.out.len() == most {
            // Nobody slips so often: nobody is blamed.
            return Some(whole.judgment(Vec::new(), 1.0));
        }
        suspicions.push(Suspicion {
            off: worst.off,
            readings: worst.readings,
        });
        if !told {
            return Some(fit.judgment(suspicions, worst.drop.sqrt()));
        }
        fit = worst.without;
    }
    Some(fit.judgment(suspicions, 1.0))
}

/// The port by all readings but some.
struct Fit {
    stance: Stance,
    rows: Vec<Range<usize>>,
    left: DVector<f64>,
    hold: Hold,
    /// Readings that are left out.
    out: Vec<usize>,
    /// Rows that say nothing.
    idle: usize,
    /// How many of the unknowns, the first, are the port's own.
    own: usize,
}

/// The most suspect reading, or several that are as suspect.
struct Worst {
    readings: Vec<usize>,
    off: Amount,
    /// Square of the distance, a number of it.
    drop: f64,
    without: Fit,
}

impl Fit {
    fn new(readings: &Readings, start: &Stance, out: Vec<usize>) -> Option<Self> {
        let chart = Chart::new(readings, start.clone());
        let counts = counts(&chart, &out);
        let adjusted = adjust(&chart, chart.start(), Some(&counts))?;
        let chart = Chart::new(readings, chart.stance(&adjusted.x));
        let (mut left, mut slopes) = chart.evaluate(&chart.start());
        for row in (0..left.len()).filter(|&row| !counts[row]) {
            left[row] = 0.0;
            slopes.row_mut(row).fill(0.0);
        }
        let hold = Hold::of(&slopes)?;
        Some(Self {
            stance: chart.stance(&chart.start()),
            rows: chart.rows.clone(),
            own: chart.own(),
            left,
            hold,
            out,
            // Rows that are left out, or that say nothing where the port stands.
            idle: slopes.row_iter().filter(|row| row.amax() == 0.0).count(),
        })
    }

    fn squares(&self) -> f64 {
        self.left.norm_squared()
    }

    fn judgment(self, suspicions: Vec<Suspicion>, unsettled: f64) -> Judgment {
        Judgment {
            squares: self.squares(),
            spare: self.hold.spare().saturating_sub(self.idle),
            stance: self.stance,
            suspicions,
            hold: self.hold,
            unsettled: unsettled.max(1.0),
        }
    }

    /// What is worst beyond chance, by how much the squares drop without it.
    fn worst(&self, readings: &Readings) -> Option<Worst> {
        let each = FALSE_ALARM / readings.list.len() as f64;
        let suspects = self.suspects(each);
        if suspects.is_empty() {
            return None;
        }
        let tried = suspects.into_iter().filter_map(|(reading, freedom)| {
            let mut out = self.out.clone();
            out.push(reading);
            let without = Self::new(readings, &self.stance, out)?;
            let own = self.own;
            let is_held = without
                .hold
                .free
                .iter()
                .all(|free| free.rows(0, own).norm() < OWN);
            let drop = self.squares() - without.squares();
            let beyond = drop - chance(freedom, each);
            is_held.then_some((reading, beyond, drop / freedom as f64, without))
        });
        let mut tried: Vec<_> = tried.collect();
        tried.sort_by(|a, b| b.1.total_cmp(&a.1));
        let &(first, beyond, drop, _) = tried.first()?;
        if beyond <= 0.0 {
            return None;
        }
        let near = tried.iter().take_while(|one| one.1 >= beyond - AS_SUSPECT);
        let named: Vec<usize> = near.map(|one| one.0).collect();
        let without = tried.swap_remove(0).3;
        let off = off(readings, &without.stance, first).filter(|off| !off.is_nothing())?;
        Some(Worst {
            readings: named,
            off,
            drop,
            without,
        })
    }

    /// Readings that look worst to first order, with the numbers that the others can
    /// judge in each; none where all are within chance.
    fn suspects(&self, each: f64) -> Vec<(usize, usize)> {
        let within = (0..self.rows.len()).filter(|i| !self.out.contains(i));
        let doubts = within.filter_map(|i| {
            let doubt = self.hold.doubt(&self.left, &self.rows[i])?;
            Some((i, doubt.freedom, doubt.test - chance(doubt.freedom, each)))
        });
        let mut doubts: Vec<(usize, usize, f64)> = doubts.collect();
        doubts.sort_by(|a, b| b.2.total_cmp(&a.2));
        if doubts.first().is_none_or(|worst| worst.2 <= 0.0) {
            return Vec::new();
        }
        let tried = doubts.into_iter().take(MOST_TRIED);
        tried.map(|(i, freedom, _)| (i, freedom)).collect()
    }
}

/// Which rows count without some readings.
fn counts(chart: &Chart<'_>, out: &[usize]) -> Vec<bool> {
    let mut counts = vec![true; chart.rows()];
    for &reading in out {
        counts[chart.rows[reading].clone()].fill(false);
    }
    counts
}

/// How far a reading is off what a stance says.
fn off(readings: &Readings, stance: &Stance, reading: usize) -> Option<Amount> {
    let chart = Chart::new(readings, stance.clone());
    let left = chart.evaluate(&chart.start()).0;
    let all = left_over(readings, &chart, None, &left);
    all.get(reading).and_then(LeftOver::worst)
}
