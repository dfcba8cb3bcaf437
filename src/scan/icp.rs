//! [`Search`]: moving points the last few millimeters until they lie on a surface.
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

use super::Freedom;
use super::border::Border;
use super::freedom::{Grip, Row};
use super::{IcpError, IcpLimits, IcpWarning, Mesh, Placement, Settled, Stop, Surface};
use crate::geometry::{Point, Vector};
use crate::units::Length;
use rayon::prelude::*;

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
/// Steps that are never exceeded, whatever is asked for.
const MOST_STEPS: usize = 10_000;
/// A step that moves no point farther, mm, ends the iteration.
const STEP_END: f64 = 1e-9;
/// A step that moves no point farther, mm, but gains nothing, has met rounding.
const ROUNDING_STEP: f64 = 1e-5;
/// How often a step that gains nothing is halved.
const HALVINGS: usize = 8;

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
pub(super) struct Found {
    pub(super) pose: Placement,
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
pub(super) struct Search<'a> {
    points: Vec<Point>,
    surface: &'a Surface,
    edges: Edges,
    reach: f64,
    max_steps: usize,
}

impl<'a> Search<'a> {
    pub(super) fn new(
        points: Vec<Point>,
        surface: &'a Surface,
        limits: &IcpLimits,
    ) -> Result<Self, IcpError> {
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
            max_steps: limits.max_steps.min(MOST_STEPS),
        })
    }

    /// Settles with all points, then without those that stand out.
    pub(super) fn run(&self, start: &Placement) -> Result<Found, IcpError> {
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
    pub(super) fn report(&self, found: &Found, limits: &IcpLimits) -> Settled {
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
    pub(super) fn touch_warnings(&self, found: &Found) -> Vec<(usize, IcpWarning)> {
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
