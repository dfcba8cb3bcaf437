//! Why there is no route, and what would make one possible.

use super::solve::{Nearest, is_feasible};
use super::task::Rejection;
use super::{Constraint, Task};
use crate::units::{Angle, Length};

/// A constraint that fails where the search came nearest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Binding {
    /// Which one.
    pub constraint: Constraint,
    /// By how much; a turn counts as arc length at the least CLR.
    pub short_by: Length,
}

/// A change of one limit, all others as asked, that makes the run possible. The
/// smallest such change, found by solving.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Relaxation {
    /// Bends of a smaller CLR.
    SmallerClr(Length),
    /// Bends of a larger CLR.
    LargerClr(Length),
    /// Less straight tube at the first port.
    StartStraight(Length),
    /// Less straight tube at the last port.
    EndStraight(Length),
    /// A smaller least short side.
    ShortSide(Length),
    /// A greater cut angle.
    MaxCut(Angle),
    /// The last port moved this much away from the first, along the line between.
    Apart(Length),
    /// The last port moved this much back against its outward direction.
    Back(Length),
}

impl Relaxation {
    /// `task` with this one change.
    pub fn apply(&self, task: &Task) -> Task {
        let mut task = task.clone();
        match *self {
            Self::SmallerClr(clr) | Self::LargerClr(clr) => {
                (task.limits.clr_min, task.limits.clr_max) = (clr, clr);
            }
            Self::StartStraight(straight) => task.start.straight = straight,
            Self::EndStraight(straight) => task.end.straight = straight,
            Self::ShortSide(short) => task.limits.min_short_side = short,
            Self::MaxCut(cut) => task.limits.max_cut = cut,
            Self::Apart(by) => {
                let chord = task.end.center - task.start.center;
                task.end.center += chord.normalize() * by.mm();
            }
            Self::Back(by) => task.end.center -= task.end.outward.into_inner() * by.mm(),
        }
        task
    }

    /// Whether `task` has a route with this one change.
    pub fn holds(&self, task: &Task) -> bool {
        is_feasible(&self.apply(task))
    }

    /// The change rounded to a multiple of `length` or `angle`, to the side that gives
    /// way more, and then by `more` multiples further.
    pub fn rounded(&self, length: Length, angle: Angle, more: u32) -> Self {
        let more = f64::from(more);
        let up = |value: Length| length * ((value / length - 1e-6).ceil() + more);
        let down = |value: Length| length * ((value / length + 1e-6).floor() - more).max(0.0);
        match *self {
            Self::SmallerClr(clr) => Self::SmallerClr(down(clr)),
            Self::LargerClr(clr) => Self::LargerClr(up(clr)),
            Self::StartStraight(straight) => Self::StartStraight(down(straight)),
            Self::EndStraight(straight) => Self::EndStraight(down(straight)),
            Self::ShortSide(short) => Self::ShortSide(down(short)),
            Self::MaxCut(cut) => Self::MaxCut(angle * ((cut / angle - 1e-6).ceil() + more)),
            Self::Apart(by) => Self::Apart(up(by)),
            Self::Back(by) => Self::Back(up(by)),
        }
    }
}

/// Why no route was found.
#[derive(Clone, Debug, PartialEq)]
pub struct NoRoute {
    /// What fails in the nearest layout, worst first.
    pub bindings: Vec<Binding>,
    /// Why routes that kept every limit were refused, if there were any.
    pub rejection: Option<Rejection>,
    /// Single changes that would make a route possible.
    pub relaxations: Vec<Relaxation>,
}

/// Halvings of a relaxation's range: to 1/4096 of it.
const HALVINGS: u32 = 12;
/// Parts of a relaxation's range that are tried first.
const FIRST_PARTS: [f64; 3] = [1.0, 0.35, 0.1];
/// CLR, in diameters, beyond which nobody relaxes.
const WIDEST_CLR: f64 = 4.0;
/// Cut angle beyond which nobody relaxes: a 45° change at one joint.
const WIDEST_CUT: Angle = Angle::from_degrees(22.5);
/// Violations under this, mm, are the optimizer spreading the real one around.
const WORTH_NAMING: f64 = 0.01;

/// Names what binds and solves for what would help.
pub(super) fn explain(
    task: &Task,
    nearest: Option<&Nearest>,
    rejection: Option<Rejection>,
) -> NoRoute {
    let mut bindings: Vec<Binding> = nearest
        .iter()
        .flat_map(|nearest| &nearest.constraints)
        .filter(|(_, margin)| margin.mm() < -WORTH_NAMING)
        .map(|&(constraint, margin)| Binding {
            constraint,
            short_by: -margin,
        })
        .collect();
    bindings.sort_by(|a, b| b.short_by.mm().total_cmp(&a.short_by.mm()));
    NoRoute {
        bindings,
        rejection,
        relaxations: relaxations(task),
    }
}

fn relaxations(task: &Task) -> Vec<Relaxation> {
    let limits = task.limits;
    let between = |from: Length, to: Length, part: f64| from + (to - from) * part;
    let tightest = task.tube.radius() + limits.min_short_side;
    let widest = (task.tube.od() * WIDEST_CLR).max(limits.clr_max);
    // Farther than any two bends reach.
    let reach = limits.clr_min * 8.0 + task.start.straight + task.end.straight;
    let least = |wanted: bool, relaxation: &dyn Fn(f64) -> Relaxation| {
        wanted.then(|| least(task, relaxation)).flatten()
    };
    [
        least(limits.clr_min > tightest, &|part| {
            Relaxation::SmallerClr(between(limits.clr_min, tightest, part))
        }),
        least(limits.clr_max < widest, &|part| {
            Relaxation::LargerClr(between(limits.clr_max, widest, part))
        }),
        least(task.start.straight > Length::ZERO, &|part| {
            Relaxation::StartStraight(task.start.straight * (1.0 - part))
        }),
        least(task.end.straight > Length::ZERO, &|part| {
            Relaxation::EndStraight(task.end.straight * (1.0 - part))
        }),
        least(limits.min_short_side > Length::ZERO, &|part| {
            Relaxation::ShortSide(limits.min_short_side * (1.0 - part))
        }),
        least(limits.max_cut < WIDEST_CUT, &|part| {
            Relaxation::MaxCut(limits.max_cut + (WIDEST_CUT - limits.max_cut) * part)
        }),
        least(true, &|part| Relaxation::Apart(reach * part)),
        least(true, &|part| Relaxation::Back(reach * part)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// The relaxation of least part, in (0, 1], whose task has a route; `None` if none of
/// a few parts has.
///
/// Where a little helps and a lot does not (a larger CLR, soon too large), the first
/// part that works is where the search for the least starts.
fn least(task: &Task, relaxation: &dyn Fn(f64) -> Relaxation) -> Option<Relaxation> {
    let works = |part: f64| relaxation(part).holds(task);
    let mut holds = FIRST_PARTS.into_iter().find(|&part| works(part))?;
    let mut fails = 0.0;
    for _ in 0..HALVINGS {
        let middle = 0.5 * (fails + holds);
        if works(middle) {
            holds = middle;
        } else {
            fails = middle;
        }
    }
    Some(relaxation(holds))
}
