//! [`Anchors`]: landmarks and rims that hold a scan in the job's frame, and the fit to them.

use super::landmark::{Landmark, RimMatch};
use super::mesh::Mesh;
use super::place_error::{PlaceError, PlaceWarning};
use super::placed::{Placed, Residual};
use super::placement::Placement;
use super::rim::{Rim, rims};
use super::side::Side;
use crate::geometry::{FitError, Point, RigidFit, angle_between};
use crate::units::Length;
use std::collections::BTreeMap;

/// How many times greater the scatter must be with an item than without it for the
/// item to be named as off: with four pairs of equal quality chance alone does this
/// about once in ten jobs, with more pairs hardly ever.
const STANDS_OUT: f64 = 3.0;

/// Least distance, mm, from where the others put it at which an item is named.
const WORTH_NAMING: f64 = 0.1;

/// Least spare measurements (coordinates beyond the six that a placement takes) that
/// must be left without an item for the others to judge it: three pairs have three.
const LEAST_SPARE: usize = 3;

/// Items tried as the one that is off: those with the greatest residuals. Each costs a
/// fit of all others.
const MOST_JUDGED: usize = 100;

/// Conditioning under which the turn about the line through the points is said to be
/// poorly held: an error across the line counts twentyfold at its length.
const NEAR_LINE: f64 = 0.05;

/// Rims whose side is tried both ways; the number of fits is two to this power.
const MOST_TRIED: usize = 6;

/// What turning rims over must bring the scatter down to, in parts of itself, to be
/// believed against what the scan tells. Ports side by side in one face fit equally well
/// both ways round, but for noise.
const BETTER: f64 = 0.5;

/// Scatter, mm, below which there is nothing to improve: rounding.
const NOTHING: f64 = 1e-6;

/// The rim that each match means.
pub(super) fn find_rims(mesh: &Mesh, matches: &[RimMatch]) -> Result<Vec<Rim>, PlaceError> {
    if matches.is_empty() {
        return Ok(Vec::new());
    }
    let all = rims(mesh);
    let mut taken: BTreeMap<usize, &str> = BTreeMap::new();
    let mut found = Vec::new();
    for wanted in matches {
        let name = wanted.name.clone();
        let (number, rim) = match wanted.find(&all) {
            Ok(rim) => rim,
            Err(error) => return Err(PlaceError::Rim { name, error }),
        };
        if let Some(first) = taken.insert(number, &wanted.name) {
            let (first, second) = (first.to_owned(), name);
            return Err(PlaceError::SameRim { first, second });
        }
        found.push(rim);
    }
    Ok(found)
}

/// A fit of anchors, and whether a turn is left free.
pub(super) struct Held {
    fit: RigidFit,
    roll_free: bool,
    /// Whether rims of uncertain side fit about as well turned over.
    side_unsure: bool,
}

/// Everything that holds a scan; landmarks come first, then rims.
#[derive(Clone)]
pub(super) struct Anchors<'a> {
    landmarks: &'a [Landmark],
    matches: &'a [RimMatch],
    rims: Vec<Rim>,
}

impl<'a> Anchors<'a> {
    pub(super) fn new(landmarks: &'a [Landmark], matches: &'a [RimMatch], rims: Vec<Rim>) -> Self {
        Self {
            landmarks,
            matches,
            rims,
        }
    }

    pub(super) fn count(&self) -> usize {
        self.landmarks.len() + self.rims.len()
    }

    pub(super) fn name(&self, number: usize) -> &str {
        match number.checked_sub(self.landmarks.len()) {
            None => &self.landmarks[number].name,
            Some(rim) => &self.matches[rim].name,
        }
    }

    /// The points, scan and job, that stand for one anchor.
    pub(super) fn pairs(&self, number: usize) -> Vec<(Point, Point)> {
        let Some(rim) = number.checked_sub(self.landmarks.len()) else {
            let landmark = &self.landmarks[number];
            return vec![(landmark.in_scan, landmark.in_job)];
        };
        let (port, circle) = (&self.matches[rim], &self.rims[rim].circle);
        let arm = 2.0 * circle.radius.mm();
        let tip = circle.center + circle.normal.into_inner() * arm;
        vec![
            (circle.center, port.center),
            (tip, port.center + port.outward.into_inner() * arm),
        ]
    }

    /// Fits all anchors but one.
    pub(super) fn fit(&self, without: Option<usize>) -> Result<Held, FitError> {
        let kept = (0..self.count()).filter(|number| Some(*number) != without);
        let pairs = kept.flat_map(|number| self.pairs(number));
        let (from, to): (Vec<Point>, Vec<Point>) = pairs.unzip();
        let fit = RigidFit::new(&from, &to, None);
        let on_a_line = matches!(
            fit,
            Err(FitError::Collinear { .. } | FitError::TooFew { .. })
        );
        if on_a_line && !self.rims.is_empty() {
            let fit = RigidFit::along_line(&from, &to, None)?;
            return Ok(Held {
                fit,
                roll_free: true,
                side_unsure: false,
            });
        }
        fit.map(|fit| Held {
            fit,
            roll_free: false,
            side_unsure: false,
        })
    }

    /// Turns rims of uncertain side over where that fits better: all combinations of
    /// the first few, those that keep more rims as told first.
    pub(super) fn with_best_sides(self) -> Result<(Self, Held), FitError> {
        let unsure: Vec<usize> = (0..self.rims.len())
            .filter(|&rim| self.rims[rim].side != Side::Hanging)
            .take(MOST_TRIED)
            .collect();
        let mut choices: Vec<u32> = (0..1 << unsure.len()).collect();
        choices.sort_by_key(|choice| choice.count_ones());
        let mut tried: Vec<(Self, Held)> = Vec::new();
        let mut refused = None;
        for choice in choices {
            let mut anchors = self.clone();
            for (bit, &rim) in unsure.iter().enumerate() {
                if choice >> bit & 1 == 1 {
                    anchors.rims[rim] = self.rims[rim].clone().flipped();
                }
            }
            match anchors.fit(None) {
                Ok(held) => tried.push((anchors, held)),
                Err(error) => refused = refused.or(Some(error)),
            }
        }
        best_of(tried).ok_or_else(|| refused.unwrap_or(FitError::Ambiguous))
    }

    /// Puts the result together.
    pub(super) fn placed(self, held: &Held) -> Placed {
        let placement = Placement::from(&held.fit);
        let mut residuals: Vec<Residual> = (0..self.count())
            .map(|number| self.residual(number, &placement))
            .collect();
        residuals.sort_by(|a, b| b.distance.mm().total_cmp(&a.distance.mm()));
        Placed {
            placement,
            residuals,
            rms: held.fit.rms,
            turn_error: held.fit.turn_error,
            warnings: self.warnings(held),
            rims: self.rims,
        }
    }

    pub(super) fn residual(&self, number: usize, placement: &Placement) -> Residual {
        let (from, to) = self.pairs(number)[0];
        let rim = number.checked_sub(self.landmarks.len());
        let tilt = rim.map(|rim| {
            let normal = placement.turn(&self.rims[rim].circle.normal);
            angle_between(&normal, &self.matches[rim].outward)
        });
        Residual {
            name: self.name(number).to_owned(),
            distance: Length::from_mm((placement.apply(&from) - to).norm()),
            tilt,
        }
    }

    pub(super) fn warnings(&self, held: &Held) -> Vec<PlaceWarning> {
        let mut warnings = Vec::new();
        warnings.extend(self.odd_one_out(held));
        if held.roll_free {
            let port = &self.matches[0];
            warnings.push(PlaceWarning::RollFree {
                through: port.center,
                along: port.outward,
            });
        } else if held.fit.conditioning < NEAR_LINE {
            let error = held.fit.turn_error;
            warnings.push(PlaceWarning::NearLine { error });
        }
        let unsure = self.rims.iter().position(|rim| rim.side != Side::Hanging);
        warnings.extend(unsure.filter(|_| held.side_unsure).map(|rim| {
            let name = self.matches[rim].name.clone();
            PlaceWarning::SideUnsure { name }
        }));
        warnings
    }

    /// The anchor without which the others agree far better, if there is one.
    pub(super) fn odd_one_out(&self, held: &Held) -> Option<PlaceWarning> {
        let scatter = self.scatter(held, None)?;
        let placement = Placement::from(&held.fit);
        let mut suspects: Vec<(usize, Length)> = (0..self.count())
            .map(|number| (number, self.residual(number, &placement).distance))
            .collect();
        suspects.sort_by(|a, b| b.1.mm().total_cmp(&a.1.mm()));
        let suspects = suspects.into_iter().take(MOST_JUDGED);
        let others = suspects.filter_map(|(number, _)| {
            let held = self.fit(Some(number)).ok().filter(|held| !held.roll_free)?;
            let scatter = self.scatter(&held, Some(number))?;
            Some((number, held, scatter))
        });
        let (number, others, without) = others.min_by(|a, b| a.2.total_cmp(&b.2))?;
        let placement = Placement::from(&others.fit);
        let off = self.pairs(number).into_iter();
        let off_mm = off
            .map(|(from, to)| (placement.apply(&from) - to).norm())
            .fold(0.0, f64::max);
        let named = off_mm > WORTH_NAMING && scatter > STANDS_OUT * without;
        named.then(|| PlaceWarning::Off {
            name: self.name(number).to_owned(),
            off_mm,
            rms_mm: others.fit.rms.mm(),
        })
    }

    /// Standard deviation of a coordinate, mm, with the freedom that the fit has used
    /// up allowed for; `None` where too little is measured twice. A landmark measures
    /// three numbers, a rim five.
    pub(super) fn scatter(&self, held: &Held, without: Option<usize>) -> Option<f64> {
        let kept = (0..self.count()).filter(|number| Some(*number) != without);
        let numbers: usize = kept
            .map(|number| if number < self.landmarks.len() { 3 } else { 5 })
            .sum();
        let spare = numbers.checked_sub(6).filter(|&n| n >= LEAST_SPARE)?;
        let squares: f64 = held.fit.residuals.iter().map(|r| r.mm() * r.mm()).sum();
        Some((squares / spare as f64).sqrt())
    }
}

/// The first of several fits that none is clearly better than.
pub(super) fn best_of<T>(mut tried: Vec<(T, Held)>) -> Option<(T, Held)> {
    let rms = |held: &Held| held.fit.rms.mm();
    let better = |new: &Held, old: &Held| rms(new) < BETTER * rms(old) && rms(old) > NOTHING;
    let mut best = 0;
    for i in 1..tried.len() {
        if better(&tried[i].1, &tried[best].1) {
            best = i;
        }
    }
    let others = tried.iter().enumerate().filter(|(i, _)| *i != best);
    let unsure = others
        .filter(|(_, (_, held))| !better(&tried[best].1, held))
        .count();
    let (anchors, mut held) = (best < tried.len()).then(|| tried.swap_remove(best))?;
    held.side_unsure = unsure > 0;
    Some((anchors, held))
}
