//! [`Suspect`]: a reading that does not go with the rest.
//!
//! One at a time, the most doubtful first: what is left of a reading is tested against
//! chance; the worst is put aside, the rest fitted again, and so on. Whether an end goes
//! with the points is told by how much the squares drop without its rows.

use super::blame::{Hints, other_radius, settled, single_out};
use super::readings::Readings;
use super::{Caution, Spot};
use crate::geometry::{Direction, Point, Vector, angle_between};
use crate::survey::adjust::{Adjusted, Hold, Model, adjust, chance};
use crate::survey::trace::lines::Line;
use crate::units::{Angle, Length};
use nalgebra::{DMatrix, DVector};
use statrs::function::gamma::ln_gamma;

/// Probability that any reading at all of a tube is named by chance.
const FALSE_ALARM: f64 = 0.003;
/// Readings that may be put aside, in parts of all…
const MOST_PART: usize = 8;
/// …at least…
const LEAST_MOST: usize = 3;
/// …and at most. More are no slips: all of them scatter more than was said.
const MOST: usize = 12;
/// An end is blamed before a point only if it is this much the more doubtful: as doubtful
/// as a point that alone checks it, it is the point that is easier to measure again.
const ENDS_LAST: f64 = 1.05;

/// Part of the squares that rounding may add in a last step.
const POLISHED: f64 = 1e-12;

/// A reading that does not go with the rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Suspect {
    /// Which.
    pub spot: Spot,
    /// How far it is off what the others say; negative where a point of the outside
    /// lies within the tube. Of an end: its center from the axis that the points say.
    pub off: Length,
    /// Of an end: between its direction and the axis that the points say.
    pub lean: Option<Angle>,
    /// The neighboring piece, from 0, whose outside the point is on instead.
    pub fits: Option<usize>,
    /// Whether the tube was traced without it.
    pub left_out: bool,
}

/// A fit and which rows count in it.
pub(super) struct Fit {
    pub(super) adjusted: Adjusted,
    pub(super) hold: Hold,
    pub(super) counts: Vec<bool>,
}

impl Fit {
    /// Fits what counts, from `start` on.
    pub(super) fn new(readings: &Readings, start: DVector<f64>, counts: Vec<bool>) -> Option<Self> {
        let mut adjusted = adjust(readings, start, Some(&counts))?;
        let mut slopes = readings.evaluate(&adjusted.x).1;
        blank(&mut slopes, &counts);
        let hold = Hold::of(&slopes)?;
        // The search ends where squares no longer change, which is half the digits early:
        // one more step, Gauss's, unless it is worse but for rounding.
        let x = &adjusted.x - &hold.covariance * (slopes.transpose() * &adjusted.left);
        let left = readings.evaluate(&x).0;
        let counted = left.iter().zip(&counts).filter(|(_, counts)| **counts);
        let squares: f64 = counted.map(|(left, _)| left * left).sum();
        if squares <= adjusted.squares * (1.0 + POLISHED) {
            adjusted = Adjusted { x, left, squares };
        }
        Some(Self {
            adjusted,
            hold,
            counts,
        })
    }

    /// Readings beyond what it takes.
    pub(super) fn spare(&self) -> usize {
        let idle = self.counts.iter().filter(|counts| !**counts).count();
        self.hold.spare().saturating_sub(idle)
    }

    fn without(&self, readings: &Readings, rows: std::ops::Range<usize>) -> Option<Self> {
        let mut counts = self.counts.clone();
        counts[rows].fill(false);
        Self::new(readings, self.adjusted.x.clone(), counts)
    }
}

fn blank(slopes: &mut DMatrix<f64>, counts: &[bool]) {
    for (row, _) in counts.iter().enumerate().filter(|(_, counts)| !**counts) {
        slopes.row_mut(row).fill(0.0);
    }
}

/// What the points say of themselves.
pub(super) struct Verdict {
    /// What does not go with the rest, in the order of doubt.
    pub(super) suspects: Vec<Suspect>,
    /// The fit of all else.
    pub(super) fit: Fit,
    /// What no single reading is to blame for.
    pub(super) cautions: Vec<Caution>,
}

impl Verdict {
    pub(super) const fn blaming_none(fit: Fit, cautions: Vec<Caution>) -> Self {
        Self {
            suspects: Vec::new(),
            fit,
            cautions,
        }
    }
}

/// What does not go with the rest; and the fit of all else. Ends always count: the copy
/// begins where it was told to. What is off by no more than `least` is as it should be,
/// whatever chance says. Where more are off than anybody slips, none is named.
pub(super) fn suspects(
    readings: &Readings,
    first: Fit,
    least: Length,
    hints: &Hints,
) -> Option<Verdict> {
    let rows = readings.rows_of_points();
    let probability = FALSE_ALARM / (rows.len() + 2) as f64;
    let most = (rows.len() / MOST_PART).clamp(LEAST_MOST, MOST);
    let mut suspects: Vec<Suspect> = Vec::new();
    let mut aside: Vec<usize> = Vec::new();
    let mut fit = first;
    // Without its rows an end may wander along its axis: the last fit begins here.
    let begin = fit.adjusted.x.clone();
    let all = fit.counts.clone();
    let mut kept = all.clone();
    loop {
        let worst = worst(readings, &fit, &rows, (probability, least), hints);
        let surprise = worst.as_ref().map_or(0.0, |(surprise, ..)| *surprise);
        if let Some(caution) = other_radius(readings, &fit, surprise, hints) {
            let fit = hints.fit(readings, begin, all)?;
            return Some(Verdict::blaming_none(fit, vec![caution]));
        }
        let Some((_, spot, next)) = worst else {
            break;
        };
        if suspects.len() == most {
            let fit = hints.fit(readings, begin, all)?;
            return Some(Verdict::blaming_none(fit, Vec::new()));
        }
        let vertices = readings.unpack(&next.adjusted.x);
        let suspect = match spot {
            Worst::End(end) => of_end(readings, &vertices, end),
            Worst::Point(i) => {
                let held = next.hold.free.len() <= fit.hold.free.len();
                if held {
                    kept[rows[i].clone()].fill(false);
                    aside.push(i);
                }
                let point = &readings.points[i];
                Suspect {
                    spot: point.spot,
                    off: Length::from_mm(readings.off(point, &vertices)),
                    lean: None,
                    fits: None,
                    left_out: held,
                }
            }
        };
        suspects.push(suspect);
        fit = next;
    }
    if fit.counts != kept {
        fit = hints.fit(readings, begin, kept)?;
    }
    settled(readings, suspects, fit, &aside, hints)
}

enum Worst {
    Point(usize),
    End(usize),
}

/// The most doubtful reading that chance does not explain, and the fit without it.
fn worst(
    readings: &Readings,
    fit: &Fit,
    rows: &[std::ops::Range<usize>],
    (probability, least): (f64, Length),
    hints: &Hints,
) -> Option<(f64, Worst, Fit)> {
    let vertices = readings.unpack(&fit.adjusted.x);
    let is_beyond = |test: f64, freedom: usize| test > chance(freedom, probability);
    let doubt = |i: usize| {
        let own = &rows[i];
        let is_off = readings.off(&readings.points[i], &vertices).abs() > least.mm();
        let doubt = (is_off && fit.counts[own.start])
            .then(|| fit.hold.doubt(&fit.adjusted.left, own))
            .flatten()?;
        let told = is_beyond(doubt.test, doubt.freedom);
        told.then(|| (surprise(doubt.test, doubt.freedom), i))
    };
    let point = (0..rows.len())
        .filter_map(doubt)
        .max_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let ends = [0, 1].into_iter().filter_map(|end| {
        let own = Readings::rows_of_end(end);
        let without = fit.counts[own.start]
            .then(|| fit.without(readings, own))
            .flatten()?;
        let spare = fit.spare().checked_sub(without.spare());
        let freedom = spare.filter(|&freedom| freedom > 0)?;
        let suspect = of_end(readings, &readings.unpack(&without.adjusted.x), end);
        let edge = end_edge(&vertices, end).norm();
        let swing = suspect.lean.map_or(0.0, |lean| lean.sin()) * edge;
        let drop = fit.adjusted.squares - without.adjusted.squares;
        let told = suspect.off.mm().max(swing) > least.mm() && is_beyond(drop, freedom);
        told.then(|| (surprise(drop, freedom), end, without))
    });
    let end = ends.max_by(|a, b| a.0.total_cmp(&b.0));
    let point = match point {
        Some((most, i)) => {
            let found = single_out(readings, fit, i, hints);
            let (i, without) = match found {
                Some(found) => found,
                None => (i, fit.without(readings, rows[i].clone())?),
            };
            // By how much the squares drop, if that is more than first order said.
            let drop = fit.adjusted.squares - without.adjusted.squares;
            Some((most.max(surprise(drop, rows[i].len())), i, without))
        }
        None => None,
    };
    match (point, end) {
        (point, Some((most, end, without)))
            if point.as_ref().is_none_or(|(p, ..)| most > ENDS_LAST * p) =>
        {
            Some((most, Worst::End(end), without))
        }
        (Some((most, i, without)), _) => Some((most, Worst::Point(i), without)),
        _ => None,
    }
}

/// How surprising a sum of squares T of f numbers is: −ln of the probability that chance
/// exceeds it, T/2 − (f/2 − 1)·ln(T/2) + ln Γ(f/2) far out. So that a point and an end,
/// of which more numbers are tested, can be compared.
pub(super) fn surprise(test: f64, freedom: usize) -> f64 {
    let (half, order) = (test / 2.0, freedom as f64 / 2.0);
    half - (order - 1.0) * half.max(f64::MIN_POSITIVE).ln() + ln_gamma(order)
}

/// From an end's face to its first joint.
fn end_edge(vertices: &[Point], end: usize) -> Vector {
    let last = vertices.len() - 1;
    let [face, next] = [[0, 1], [last, last - 1]][end];
    vertices[next] - vertices[face]
}

/// An end against the axis that the rest say, whichever way its free face has gone along
/// it.
fn of_end(readings: &Readings, vertices: &[Point], end: usize) -> Suspect {
    let next = [1, vertices.len() - 2][end];
    let measured = &readings.ends[end].end;
    let along = Direction::new_normalize(end_edge(vertices, end));
    let along = if along.dot(&measured.outward) < 0.0 {
        -along
    } else {
        along
    };
    let line = Line {
        point: vertices[next],
        direction: along.into_inner(),
    };
    Suspect {
        spot: Spot::End(end),
        off: Length::from_mm((measured.center - line.nearest_to(&measured.center)).norm()),
        lean: Some(angle_between(&along, &measured.outward)),
        fits: None,
        left_out: false,
    }
}
