//! [`settle_on_touches`], [`settle_on_scan`]: moving a scan the last few millimeters
//! until surfaces meet.
//!
//! Iterated closest points, distances measured square to the surface: Chen and
//! Medioni, *Object modelling by registration of multiple range images*, Image and
//! Vision Computing 10 (1992), first given at ICRA 1991. Each step solves the
//! linearized least squares
//!
//! ```text
//! Σ w·(d + n·(t + ω × (x − c)))² → min
//! ```
//!
//! over the shift t and the turn ω about the points' middle c, where x is a point, d its
//! distance from the surface and n the direction from its nearest place. Weights are
//! Huber's (1964); once settled, what stands out is left out and the rest settles
//! again. Points nearest to the border of a hole are never used (Turk and Levoy 1994):
//! what they touch may be missing.

use super::border::Border;
use super::freedom::{Freedom, Grip, Row};
use super::{Mesh, Placement, Surface};
use crate::geometry::{Point, Vector};
use crate::units::Length;
use rayon::prelude::*;
use std::collections::BTreeMap;
use thiserror::Error;

/// A place this near to an edge, mm, is on it.
const ON_EDGE: f64 = 1e-6;
/// Distance, mm, below which the direction to the nearest place is rounding, and the
/// triangle's own normal is taken.
const TOUCHING: f64 = 1e-6;
/// Ratio of standard deviation to median deviation of normal errors: 1/Φ⁻¹(3/4).
const SIGMA_PER_MEDIAN: f64 = 1.4826;
/// Least scale of errors, mm: below it all errors weigh alike. No scanner and no touch
/// is better.
const LEAST_SCALE: f64 = 0.01;
/// Errors beyond this many standard deviations are left out in the end: one in two
/// million by chance.
const OUTLIER: f64 = 5.0;
/// Least number of points beyond those that hold the placement for telling which
/// one is off.
const LEAST_SPARE: usize = 3;
/// A step that moves no point farther, mm, ends the iteration.
const STEP_END: f64 = 1e-9;
/// A step that moves no point farther, mm, but gains nothing, has met rounding.
const ROUNDING_STEP: f64 = 1e-5;
/// How often a step that gains nothing is halved.
const HALVINGS: usize = 8;
/// Points of a moving scan that are used at most.
const SAMPLE: usize = 4000;
/// Cells a side of the grid that thins a moving scan: about the square root of
/// [`SAMPLE`], for a surface.
const CELLS: f64 = 48.0;

/// Bounds of the search.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IcpLimits {
    /// Points farther than this from the surface are not used.
    pub reach: Length,
    /// A scan that has moved farther than this may have slid to a wrong place.
    pub farthest: Length,
    /// Steps at most, each way: with all points, and without those left out.
    pub max_steps: usize,
}

impl Default for IcpLimits {
    /// A reach of 25 mm, a warning beyond 15 mm, 100 steps.
    fn default() -> Self {
        Self {
            reach: Length::from_mm(25.0),
            farthest: Length::from_mm(15.0),
            max_steps: 100,
        }
    }
}

/// A placement that was refined.
#[derive(Clone, Debug, PartialEq)]
pub struct Settled {
    /// From the moving scan's axes to the frame of what it was settled on.
    pub placement: Placement,
    /// Root mean square distance from the surface at the start, over the points used
    /// in the end.
    pub rms_before: Length,
    /// The same in the end; never more.
    pub rms_after: Length,
    /// Steps taken.
    pub steps: usize,
    /// Part of the points that were used in the end, 0 to 1.
    pub used: f64,
    /// Numbers, from 0, of touch points that were not used; empty for a scan.
    pub left_out: Vec<usize>,
    /// How far the point that moved farthest has moved.
    pub moved: Length,
    /// Motions that the points do not hold; the scan was not moved that way.
    pub free: Vec<Freedom>,
    /// Why it ended.
    pub stop: Stop,
    /// What the user should know.
    pub warnings: Vec<IcpWarning>,
}

/// Why the iteration ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stop {
    /// Steps became too small to matter.
    Settled,
    /// No step made it better.
    NoGain,
    /// The steps allowed were taken.
    Steps,
}

/// Why a placement cannot be refined.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum IcpError {
    /// No points were given.
    #[error("there are no points to settle the scan by")]
    Empty,
    /// No point is near the surface.
    #[error("no point comes within {reach_mm:.1} mm of the surface: place the scan better first")]
    NothingNear {
        /// How near, mm.
        reach_mm: f64,
    },
    /// A number is none.
    #[error("a point, the start or a limit is not a finite number")]
    NotFinite,
}

/// What the user should know about a refined placement.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum IcpWarning {
    /// A motion that nothing holds.
    #[error("nothing holds the scan against {0}: it was not moved that way")]
    Free(Freedom),
    /// It has moved far.
    #[error(
        "the scan moved {moved_mm:.1} mm, more than {farthest_mm:.1} mm: it may have slid to a wrong place"
    )]
    Far {
        /// How far, mm.
        moved_mm: f64,
        /// What was expected at most, mm.
        farthest_mm: f64,
    },
    /// A touch point is off the others.
    #[error(
        "touch point {number} is {off_mm:.1} mm off the scan and was left out: measure it again"
    )]
    Off {
        /// Which, counted from 1.
        number: usize,
        /// How far off, mm.
        off_mm: f64,
    },
    /// A touch point is beside the scan.
    #[error("touch point {number} is not over the scanned surface and was not used")]
    Beside {
        /// Which, counted from 1.
        number: usize,
    },
    /// It ran out of steps.
    #[error("the scan had not settled after {steps} steps")]
    Unsettled {
        /// Steps taken.
        steps: usize,
    },
}

/// Moves a scan until points touched on the real surfaces, in the job's frame, lie on
/// it. They need not correspond to anything. `start` carries the scan's axes to the
/// job's frame, as [`super::place`] finds it. Time: touches · steps · log(triangles).
pub fn settle_on_touches(
    scan: &Surface,
    touches: &[Point],
    start: &Placement,
    limits: &IcpLimits,
) -> Result<Settled, IcpError> {
    // In the scan's axes the points move, and the scan stands still.
    let search = Search::new(touches.to_vec(), scan, limits)?;
    let found = search.run(&start.inverse())?;
    let mut settled = search.report(&found, limits);
    let placement = found.pose.inverse();
    settled.placement = if found.pose == start.inverse() {
        *start
    } else {
        placement
    };
    for free in &mut settled.free {
        *free = free.carried(&placement);
    }
    let touch_warnings = search.touch_warnings(&found);
    settled.left_out = touch_warnings.iter().map(|(index, _)| *index).collect();
    settled
        .warnings
        .extend(touch_warnings.into_iter().map(|(_, warning)| warning));
    settled.warn_free();
    Ok(settled)
}

/// Moves a scan onto another one that overlaps it. `start` carries the moving scan's
/// axes to the fixed one's. Of the moving scan some thousand points, spread evenly, are
/// used.
pub fn settle_on_scan(
    moving: &Mesh,
    fixed: &Surface,
    start: &Placement,
    limits: &IcpLimits,
) -> Result<Settled, IcpError> {
    let search = Search::new(thinned(moving), fixed, limits)?;
    let found = search.run(start)?;
    let mut settled = search.report(&found, limits);
    settled.warn_free();
    Ok(settled)
}

impl Settled {
    fn warn_free(&mut self) {
        let free = self.free.iter().copied().map(IcpWarning::Free);
        self.warnings.extend(free);
    }
}

/// A point and the surface.
#[derive(Clone, Copy)]
struct Match {
    /// mm.
    distance: f64,
    /// Unit, from the surface to the point.
    away: Vector,
    /// Whether the nearest place is where the surface ends.
    border: bool,
}

/// Points, where they are placed and what they match.
struct State {
    pose: Placement,
    places: Vec<Point>,
    matches: Vec<Option<Match>>,
}

/// Where a search has ended.
struct Found {
    pose: Placement,
    start: Placement,
    /// Distances at the start and in the end of the points used.
    before: Vec<f64>,
    after: Vec<f64>,
    state: State,
    used: Vec<bool>,
    free: Vec<Freedom>,
    steps: usize,
    stop: Stop,
}

/// A round of steps under way.
struct Round {
    state: State,
    used: Vec<bool>,
    grip: Grip,
    steps: usize,
    stop: Stop,
}

/// Points that settle on a surface.
struct Search<'a> {
    points: Vec<Point>,
    surface: &'a Surface,
    edges: Edges,
    reach: f64,
    max_steps: usize,
}

impl<'a> Search<'a> {
    fn new(points: Vec<Point>, surface: &'a Surface, limits: &IcpLimits) -> Result<Self, IcpError> {
        let finite = points.iter().all(|p| p.iter().all(|c| c.is_finite()));
        if points.is_empty() {
            return Err(IcpError::Empty);
        }
        if !finite || !limits.reach.is_finite() || !limits.farthest.is_finite() {
            return Err(IcpError::NotFinite);
        }
        Ok(Self {
            edges: Edges::of(surface.mesh()),
            points,
            surface,
            reach: limits.reach.mm(),
            max_steps: limits.max_steps,
        })
    }

    /// Settles with all points, then without those that stand out.
    fn run(&self, start: &Placement) -> Result<Found, IcpError> {
        if !start.is_finite() {
            return Err(IcpError::NotFinite);
        }
        let nothing = IcpError::NothingNear {
            reach_mm: self.reach,
        };
        let first = self.round(self.state(*start), None).ok_or(nothing)?;
        let last = self.without_outliers(first);
        let (before, after) = (self.distances(start, &last.used), last.distances());
        let better = square_sum(&after) < square_sum(&before);
        let pose = if better {
            last.state.pose.squared()
        } else {
            *start
        };
        Ok(Found {
            after: if better { after } else { before.clone() },
            before,
            free: last.grip.free(),
            state: if better {
                last.state
            } else {
                self.state(*start)
            },
            pose,
            start: *start,
            used: last.used,
            steps: last.steps,
            stop: last.stop,
        })
    }

    /// A second round without what stands out, if the rest still holds as much.
    fn without_outliers(&self, first: Round) -> Round {
        let near: Vec<f64> = first.distances();
        let spare = near.len().saturating_sub(first.grip.held());
        if spare < LEAST_SPARE {
            return first;
        }
        // What the fit has adapted to is missing from the errors that are left.
        let adapted = (near.len() as f64 / spare as f64).sqrt();
        let limit = OUTLIER * adapted * scale(near.into_iter());
        let keeps = |matched: &Option<Match>| matched.is_some_and(|m| m.distance <= limit);
        let kept: Vec<bool> = first.state.matches.iter().map(keeps).collect();
        if first
            .used
            .iter()
            .zip(&kept)
            .all(|(used, kept)| !used || *kept)
        {
            return first;
        }
        let again = self.round(self.state(first.state.pose), Some(&kept));
        match again {
            Some(again) if again.grip.held() >= first.grip.held() => Round {
                steps: first.steps + again.steps,
                ..again
            },
            _ => first,
        }
    }

    /// Steps until nothing is gained; `None` if no point is near.
    fn round(&self, mut state: State, kept: Option<&[bool]>) -> Option<Round> {
        let mut scale_now = f64::INFINITY;
        let mut stop = Stop::Steps;
        let mut steps = 0;
        loop {
            let used = self.used(&state, kept);
            let grip = Grip::of(&state.rows(&used, |_| 1.0))?;
            let ended = |state, steps, stop| {
                Some(Round {
                    state,
                    used: used.clone(),
                    grip: grip.clone(),
                    steps,
                    stop,
                })
            };
            if steps >= self.max_steps || stop != Stop::Steps {
                return ended(state, steps, stop);
            }
            scale_now = scale_now.min(scale(state.distances(&used)));
            let rows = state.rows(&used, |distance| huber_weight(distance, scale_now));
            let Some((turn, shift)) = grip.solve(&rows) else {
                return ended(state, steps, Stop::NoGain);
            };
            let step = (grip.pivot, turn, shift);
            match self.stepped(&state, &used, step, scale_now) {
                Some((next, moved)) => {
                    state = next;
                    steps += 1;
                    if moved <= STEP_END {
                        stop = Stop::Settled;
                    }
                }
                None => {
                    let moved = grip.greatest(&turn, &shift);
                    let rounding = moved <= ROUNDING_STEP;
                    let stop = if rounding {
                        Stop::Settled
                    } else {
                        Stop::NoGain
                    };
                    return ended(state, steps, stop);
                }
            }
        }
    }

    /// The next state, after a step cut short until it gains, and how far it moves.
    fn stepped(
        &self,
        state: &State,
        used: &[bool],
        (pivot, turn, shift): (Point, Vector, Vector),
        scale: f64,
    ) -> Option<(State, f64)> {
        let cost = state.cost(used, scale, self.far());
        let mut part = 1.0;
        for _ in 0..HALVINGS {
            let pose = state.pose.nudged(&pivot, &(turn * part), &(shift * part));
            if pose.is_finite() {
                let next = self.state(pose);
                if next.cost(used, scale, self.far()) < cost {
                    let pairs = next.places.iter().zip(&state.places);
                    let moved = pairs.map(|(a, b)| (a - b).norm()).fold(0.0, f64::max);
                    return Some((next, moved));
                }
            }
            part /= 2.0;
        }
        None
    }

    /// How far the surface is looked for, mm; what is farther counts as this far.
    fn far(&self) -> f64 {
        2.0 * self.reach
    }

    fn state(&self, pose: Placement) -> State {
        let places: Vec<Point> = self.points.iter().map(|p| pose.apply(p)).collect();
        let matches = places.par_iter().map(|place| self.matched(place)).collect();
        State {
            pose,
            places,
            matches,
        }
    }

    fn matched(&self, place: &Point) -> Option<Match> {
        let nearest = self.surface.nearest(place, self.far())?;
        let away = place - nearest.at;
        let away = if nearest.distance > TOUCHING {
            away / nearest.distance
        } else {
            let [a, b, c] = self.surface.mesh().corners(nearest.triangle);
            // A triangle without area has no normal and holds nothing.
            let normal = (b - a)
                .cross(&(c - a))
                .try_normalize(0.0)
                .unwrap_or_default();
            // So that errors, which are distances, keep their sign.
            if normal.dot(&away) < 0.0 {
                -normal
            } else {
                normal
            }
        };
        Some(Match {
            distance: nearest.distance,
            away,
            border: self
                .edges
                .end_at(self.surface.mesh(), nearest.triangle, &nearest.at),
        })
    }

    /// Which points are in reach, not beside the surface, and kept.
    fn used(&self, state: &State, kept: Option<&[bool]>) -> Vec<bool> {
        let usable = |m: &Option<Match>| m.is_some_and(|m| !m.border && m.distance <= self.reach);
        let all = state.matches.iter().enumerate();
        all.map(|(i, m)| usable(m) && kept.is_none_or(|kept| kept[i]))
            .collect()
    }

    /// Distances of the points used, at another pose.
    fn distances(&self, pose: &Placement, used: &[bool]) -> Vec<f64> {
        let state = self.state(*pose);
        let far = self.far();
        let all = state.matches.iter().zip(used).filter(|(_, used)| **used);
        all.map(|(m, _)| m.map_or(far, |m| m.distance)).collect()
    }

    /// What was found, in the surface's frame.
    fn report(&self, found: &Found, limits: &IcpLimits) -> Settled {
        let moves = self
            .points
            .iter()
            .map(|p| (found.pose.apply(p) - found.start.apply(p)).norm());
        let moved_mm = moves.fold(0.0, f64::max);
        let mut warnings = Vec::new();
        let farthest_mm = limits.farthest.mm();
        if moved_mm > farthest_mm {
            warnings.push(IcpWarning::Far {
                moved_mm,
                farthest_mm,
            });
        }
        if found.stop == Stop::Steps {
            warnings.push(IcpWarning::Unsettled { steps: found.steps });
        }
        let rms = |distances: &[f64]| {
            Length::from_mm((square_sum(distances) / distances.len().max(1) as f64).sqrt())
        };
        Settled {
            placement: found.pose,
            rms_before: rms(&found.before),
            rms_after: rms(&found.after),
            steps: found.steps,
            used: found.after.len() as f64 / self.points.len() as f64,
            left_out: Vec::new(),
            moved: Length::from_mm(moved_mm),
            free: found.free.clone(),
            stop: found.stop,
            warnings,
        }
    }

    /// What is to be said of touch points that were not used.
    fn touch_warnings(&self, found: &Found) -> Vec<(usize, IcpWarning)> {
        let unused = (0..self.points.len()).filter(|&index| !found.used[index]);
        unused
            .map(|index| {
                let number = index + 1;
                let warning = match found.state.matches[index] {
                    Some(m) if !m.border => IcpWarning::Off {
                        number,
                        off_mm: m.distance,
                    },
                    _ => IcpWarning::Beside { number },
                };
                (index, warning)
            })
            .collect()
    }
}

impl Round {
    fn distances(&self) -> Vec<f64> {
        self.state.distances(&self.used).collect()
    }
}

impl State {
    /// Distances of the points used.
    fn distances(&self, used: &[bool]) -> impl Iterator<Item = f64> {
        let pairs = self.matches.iter().zip(used);
        pairs.filter_map(|(m, used)| m.filter(|_| *used).map(|m| m.distance))
    }

    /// The linearized equations of the points used.
    fn rows(&self, used: &[bool], weight: impl Fn(f64) -> f64) -> Vec<Row> {
        let all = self.matches.iter().zip(used).zip(&self.places);
        all.filter_map(|((matched, used), place)| {
            let matched = matched.filter(|_| *used)?;
            Some(Row {
                place: *place,
                away: matched.away,
                distance: matched.distance,
                weight: weight(matched.distance),
            })
        })
        .collect()
    }

    /// Huber's sum over the points used: squares up to the scale, straight beyond.
    fn cost(&self, used: &[bool], scale: f64, far: f64) -> f64 {
        let all = self.matches.iter().zip(used).filter(|(_, used)| **used);
        all.map(|(matched, _)| matched.map_or(far, |m| m.distance))
            .map(|d| {
                if d <= scale {
                    d * d
                } else {
                    scale * (2.0 * d - scale)
                }
            })
            .sum()
    }
}

/// Huber's weight of an error.
fn huber_weight(distance: f64, scale: f64) -> f64 {
    if distance <= scale {
        1.0
    } else {
        scale / distance
    }
}

/// Standard deviation of errors, mm, from their median, so that a few gross ones do
/// not count.
fn scale(distances: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = distances.collect();
    sorted.sort_by(f64::total_cmp);
    let median = sorted.get(sorted.len() / 2).copied().unwrap_or_default();
    (SIGMA_PER_MEDIAN * median).max(LEAST_SCALE)
}

fn square_sum(distances: &[f64]) -> f64 {
    distances.iter().map(|d| d * d).sum()
}

/// Where a mesh ends.
struct Edges {
    /// Which of a triangle's edges are open, a bit each.
    open: Vec<u8>,
    /// Corners on an open edge.
    ends: Vec<bool>,
}

impl Edges {
    fn of(mesh: &Mesh) -> Self {
        let mut open = vec![0; mesh.triangles.len()];
        let mut ends = vec![false; mesh.points.len()];
        for edge in Border::of(mesh).edges {
            open[edge.triangle] |= 1 << edge.side;
            for end in edge.ends {
                ends[end as usize] = true;
            }
        }
        Self { open, ends }
    }

    /// Whether a place on a triangle is where the mesh ends.
    fn end_at(&self, mesh: &Mesh, triangle: usize, place: &Point) -> bool {
        let corners = mesh.corners(triangle);
        let names = mesh.triangles[triangle];
        (0..3).any(|side| {
            let (from, to) = (corners[side], corners[(side + 1) % 3]);
            let at_corner = self.ends[names[side] as usize] && (place - from).norm() <= ON_EDGE;
            let along = (to - from).try_normalize(0.0).unwrap_or_default();
            let off = (place - from) - along * along.dot(&(place - from));
            at_corner || (self.open[triangle] >> side & 1 == 1 && off.norm() <= ON_EDGE)
        })
    }
}

/// Points of a mesh, the first in each cell of a grid, in the grid's order; evenly
/// thinned further if they are still too many.
fn thinned(mesh: &Mesh) -> Vec<Point> {
    let finite = |p: &&Point| p.iter().all(|c| c.is_finite());
    let points = || mesh.points.iter().filter(finite);
    let Some(first) = points().next() else {
        return Vec::new();
    };
    let (min, max) = points().fold((*first, *first), |(min, max), p| (min.inf(p), max.sup(p)));
    let cell = (max - min).amax() / CELLS;
    let mut cells = BTreeMap::new();
    for point in points() {
        let at = (point - min) / cell;
        let key = [at.x, at.y, at.z].map(|c| c as u32);
        cells.entry(key).or_insert(*point);
    }
    let count = cells.len();
    let every = count.div_ceil(SAMPLE).max(1);
    cells.into_values().step_by(every).collect()
}

#[cfg(test)]
#[path = "icp_tests.rs"]
mod tests;
