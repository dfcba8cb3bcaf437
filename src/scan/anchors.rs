//! [`Anchors`]: landmarks and rims that hold a scan in the job's frame, and the fit to them.

use super::landmark::{Landmark, RimMatch};
use super::mesh::Mesh;
use super::place_error::{PlaceError, PlaceWarning};
use super::placed::{Placed, Residual};
use super::placement::Placement;
use super::rim::{Rim, rims};
use super::side::Side;
use crate::geometry::{FitError, Point, RigidFit, Vector, angle_between};
use crate::units::Length;
use std::collections::BTreeMap;

/// How many times greater the scatter must be with an item than without it for the
/// item to be named as off: with four pairs of equal quality chance alone does this
/// about once in ten jobs, with more pairs hardly ever.
const STANDS_OUT: f64 = 3.0;

/// Least distance, mm, from where the others put it at which an item is named.
const WORTH_NAMING: f64 = 0.1;

/// How much the sum of squares, in variances of a coordinate, must fall without an item
/// for it to be named: of a landmark this is chi-square with three degrees of freedom,
/// which is greater once in a thousand, so that of ten good landmarks one is named in one
/// job of a hundred.
const LEAST_GAIN: f64 = 16.3;

/// Of so many items one may be left out…
const KEPT_FOR_ONE: usize = 4;
/// …and no more than so many in all: where more are wrong, none is to be trusted.
const MOST_LEFT_OUT: usize = 5;

/// What the scatter as a mirror image must come down to, in parts of the scatter as
/// measured, for the items to be one. Marks nearly in a plane fit almost alike.
const MIRROR: f64 = 0.25;

/// Least scatter, in standard deviations of a coordinate, at which a mirror image is
/// thought of: below it, what is off may be a mark or two.
const LEAST_MIRRORED: f64 = 15.0;

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
    /// Standard deviation of a coordinate, mm, in scan and job together.
    good_to: f64,
}

impl<'a> Anchors<'a> {
    pub(super) fn new(
        landmarks: &'a [Landmark],
        matches: &'a [RimMatch],
        rims: Vec<Rim>,
        good_to: Length,
    ) -> Self {
        Self {
            landmarks,
            matches,
            rims,
            good_to: good_to.mm(),
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

    /// Points of all anchors but some, in the scan and in the job.
    fn points(&self, without: &[usize]) -> (Vec<Point>, Vec<Point>) {
        let kept = (0..self.count()).filter(|number| !without.contains(number));
        kept.flat_map(|number| self.pairs(number)).unzip()
    }

    /// Fits all anchors but some.
    pub(super) fn fit(&self, without: &[usize]) -> Result<Held, FitError> {
        let (from, to) = self.points(without);
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
            match anchors.fit(&[]) {
                Ok(held) => tried.push((anchors, held)),
                Err(error) => refused = refused.or(Some(error)),
            }
        }
        best_of(tried).ok_or_else(|| refused.unwrap_or(FitError::Ambiguous))
    }

    /// How many times as far apart the anchors are in the job as in the scan: √(Σ|b − b̄|² /
    /// Σ|a − ā|²), whatever their turn. `None` of less than two, or where they are one.
    pub(super) fn stretch(&self) -> Option<f64> {
        let pairs = (0..self.count()).map(|number| self.pairs(number)[0]);
        let (from, to): (Vec<Point>, Vec<Point>) = pairs.unzip();
        stretch(&from, &to)
    }

    /// Refuses anchors that fit as a mirror image, and far worse as they are; `rms`, mm,
    /// is what a turn and a shift leave. Rims are the scan's own, so that landmarks with a
    /// wrong sign may be the mirror image of what else there is: then they tell which.
    pub(super) fn refuse_mirrored(&self, rms: f64) -> Result<(), PlaceError> {
        if rms <= LEAST_MIRRORED * self.good_to {
            return Ok(());
        }
        let (from, to) = self.points(&[]);
        let mirrored: Vec<Point> = from.iter().map(|p| negated(p, 0)).collect();
        let fit = RigidFit::new(&mirrored, &to, None);
        if fit.is_ok_and(|fit| fit.rms.mm() < MIRROR * rms) {
            return Err(PlaceError::Mirrored);
        }
        let signs = [true, false].into_iter();
        let signs = signs.flat_map(|in_scan| (0..3).map(move |axis| (axis, in_scan)));
        let fits = signs.filter_map(|(axis, in_scan)| {
            let held = self.fit_negated(axis, in_scan).ok()?;
            let rms = Some(held.rms()).filter(|_| !held.roll_free)?;
            Some((rms, axis, in_scan))
        });
        match fits.min_by(|a, b| a.0.total_cmp(&b.0)) {
            Some((least, axis, in_scan)) if least < MIRROR * rms => {
                Err(PlaceError::Negated { axis, in_scan })
            }
            _ => Ok(()),
        }
    }

    /// Fits all anchors with one coordinate of the landmarks negated.
    fn fit_negated(&self, axis: usize, in_scan: bool) -> Result<Held, FitError> {
        let landmarks = self.landmarks.iter().map(|mark| {
            let mut mark = mark.clone();
            let place = if in_scan {
                &mut mark.in_scan
            } else {
                &mut mark.in_job
            };
            *place = negated(place, axis);
            mark
        });
        let landmarks: Vec<Landmark> = landmarks.collect();
        let negated = Anchors {
            landmarks: &landmarks,
            matches: self.matches,
            rims: self.rims.clone(),
            good_to: self.good_to,
        };
        negated.fit(&[])
    }

    /// Leaves out, one after the other, what the others agree far better without.
    fn without_odd_ones(&self, all: Held) -> (Held, Vec<usize>) {
        let most = (self.count() / KEPT_FOR_ONE).min(MOST_LEFT_OUT);
        let (mut held, mut out) = (all, Vec::new());
        while out.len() < most {
            let Some((number, others)) = self.odd_one_out(&held, &out) else {
                break;
            };
            out.push(number);
            held = others;
        }
        (held, out)
    }

    /// Puts the result together.
    pub(super) fn placed(self, all: Held) -> Placed {
        let side_unsure = all.side_unsure;
        let (mut held, left_out) = self.without_odd_ones(all);
        held.side_unsure = side_unsure;
        let placement = Placement::from(&held.fit);
        let mut residuals: Vec<Residual> = (0..self.count())
            .map(|number| Residual {
                left_out: left_out.contains(&number),
                ..self.residual(number, &placement)
            })
            .collect();
        residuals.sort_by(|a, b| b.distance.mm().total_cmp(&a.distance.mm()));
        Placed {
            placement,
            residuals,
            rms: held.fit.rms,
            scatter: self.scatter(&held, &left_out).map(Length::from_mm),
            stretch: self.stretch(),
            turn_error: held.fit.turn_error,
            warnings: self.warnings(&held, &left_out),
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
            left_out: false,
        }
    }

    fn warnings(&self, held: &Held, left_out: &[usize]) -> Vec<PlaceWarning> {
        let placement = Placement::from(&held.fit);
        let off = left_out.iter().map(|&number| PlaceWarning::Off {
            name: self.name(number).to_owned(),
            off_mm: self.off(number, &placement),
            rms_mm: held.fit.rms.mm(),
        });
        let mut warnings: Vec<PlaceWarning> = off.collect();
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

    /// How far, mm, an anchor is from where a placement puts it.
    fn off(&self, number: usize, placement: &Placement) -> f64 {
        let pairs = self.pairs(number).into_iter();
        pairs
            .map(|(from, to)| (placement.apply(&from) - to).norm())
            .fold(0.0, f64::max)
    }

    /// The anchor, beside those that are `out`, without which the others agree far better,
    /// and the fit to these, if there is one.
    fn odd_one_out(&self, held: &Held, out: &[usize]) -> Option<(usize, Held)> {
        let scatter = self.scatter(held, out)?;
        let placement = Placement::from(&held.fit);
        let mut suspects: Vec<(usize, Length)> = (0..self.count())
            .filter(|number| !out.contains(number))
            .map(|number| (number, self.residual(number, &placement).distance))
            .collect();
        suspects.sort_by(|a, b| b.1.mm().total_cmp(&a.1.mm()));
        let suspects = suspects.into_iter().take(MOST_JUDGED);
        let others = suspects.filter_map(|(number, _)| {
            let without = [out, &[number]].concat();
            let held = self.fit(&without).ok().filter(|held| !held.roll_free)?;
            let scatter = self.scatter(&held, &without)?;
            Some((number, held, scatter))
        });
        let (number, others, without) = others.min_by(|a, b| a.2.total_cmp(&b.2))?;
        let off = self.off(number, &Placement::from(&others.fit));
        let gain = held.squares() - others.squares();
        let is_odd = off > WORTH_NAMING
            && scatter > STANDS_OUT * without
            && gain > LEAST_GAIN * self.good_to * self.good_to;
        is_odd.then_some((number, others))
    }

    /// Standard deviation of a coordinate, mm, with the freedom that the fit has used
    /// up allowed for; `None` where too little is measured twice. A landmark measures
    /// three numbers, a rim five.
    fn scatter(&self, held: &Held, without: &[usize]) -> Option<f64> {
        let kept = (0..self.count()).filter(|number| !without.contains(number));
        let numbers: usize = kept
            .map(|number| if number < self.landmarks.len() { 3 } else { 5 })
            .sum();
        let spare = numbers.checked_sub(6).filter(|&n| n >= LEAST_SPARE)?;
        Some((held.squares() / spare as f64).sqrt())
    }
}

impl Held {
    /// What is left after turn and shift: root mean square, mm.
    pub(super) fn rms(&self) -> f64 {
        self.fit.rms.mm()
    }

    /// Sum of squares, mm².
    fn squares(&self) -> f64 {
        let residuals = self.fit.residuals.iter();
        residuals.map(|r| r.mm() * r.mm()).sum()
    }
}

/// A point with one coordinate negated.
fn negated(point: &Point, axis: usize) -> Point {
    let mut point = *point;
    point[axis] = -point[axis];
    point
}

/// How many times as far apart the second points are as the first: see
/// [`Anchors::stretch`].
pub(super) fn stretch(from: &[Point], to: &[Point]) -> Option<f64> {
    let spread = |points: &[Point]| {
        let first = points.first()?;
        let sum: Vector = points.iter().map(|p| p - first).sum();
        let middle = first + sum / points.len() as f64;
        let squares: f64 = points.iter().map(|p| (p - middle).norm_squared()).sum();
        Some(squares.sqrt()).filter(|spread| *spread > NOTHING)
    };
    Some(spread(to)? / spread(from)?)
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
