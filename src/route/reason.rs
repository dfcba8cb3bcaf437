//! Why there is no route, and what would make one possible.

use super::solve::{Nearest, is_feasible};
use super::task::Rejection;
use super::{Limits, Task};
use crate::units::{Angle, Length};

/// A limit that a layout can run into. Bends and straights count from 0 in order
/// of flow.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Constraint {
    /// Straight tube asked for at the first port.
    StartStraight,
    /// Straight tube asked for at the last port.
    EndStraight,
    /// Straight tube asked for between this bend and the one before it.
    Between(usize),
    /// Turn that this bend's joints can take.
    Turn(usize),
    /// Short side of this bend's pies.
    PieShortSide(usize),
    /// Short side of the piece that this straight is part of.
    ShortSide(usize),
    /// Least CLR of this bend.
    ClrMin(usize),
    /// Greatest CLR of this bend.
    ClrMax(usize),
}

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
#[derive(Clone, Debug, PartialEq)]
pub enum Relaxation {
    /// Bends of a smaller CLR.
    Clr(Length),
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
    let tightest = task.tube.radius() + task.limits.min_short_side;
    let clr = |part: f64| {
        let to = limits.clr_min + (tightest - limits.clr_min) * part;
        (
            Relaxation::Clr(to),
            with_limits(
                task,
                Limits {
                    clr_min: to,
                    clr_max: to,
                    ..limits
                },
            ),
        )
    };
    let start = |part: f64| {
        let mut changed = task.clone();
        changed.start.straight = task.start.straight * (1.0 - part);
        (Relaxation::StartStraight(changed.start.straight), changed)
    };
    let end = |part: f64| {
        let mut changed = task.clone();
        changed.end.straight = task.end.straight * (1.0 - part);
        (Relaxation::EndStraight(changed.end.straight), changed)
    };
    let short = |part: f64| {
        let to = limits.min_short_side * (1.0 - part);
        (
            Relaxation::ShortSide(to),
            with_limits(
                task,
                Limits {
                    min_short_side: to,
                    ..limits
                },
            ),
        )
    };
    let cut = |part: f64| {
        let to = limits.max_cut + (WIDEST_CUT - limits.max_cut) * part;
        (
            Relaxation::MaxCut(to),
            with_limits(
                task,
                Limits {
                    max_cut: to,
                    ..limits
                },
            ),
        )
    };
    let chord = task.end.center - task.start.center;
    // Farther than any two bends reach.
    let reach = limits.clr_min * 8.0 + task.start.straight + task.end.straight;
    let moved = |by: nalgebra::Vector3<f64>| {
        let mut changed = task.clone();
        changed.end.center += by;
        changed
    };
    let apart = |part: f64| {
        let by = reach * part;
        (Relaxation::Apart(by), moved(chord.normalize() * by.mm()))
    };
    let back = |part: f64| {
        let by = reach * part;
        (
            Relaxation::Back(by),
            moved(-task.end.outward.into_inner() * by.mm()),
        )
    };
    let mut found = Vec::new();
    found.extend((limits.clr_min > tightest).then(|| least(clr)).flatten());
    found.extend(
        (task.start.straight > Length::ZERO)
            .then(|| least(start))
            .flatten(),
    );
    found.extend(
        (task.end.straight > Length::ZERO)
            .then(|| least(end))
            .flatten(),
    );
    found.extend(
        (limits.min_short_side > Length::ZERO)
            .then(|| least(short))
            .flatten(),
    );
    found.extend((limits.max_cut < WIDEST_CUT).then(|| least(cut)).flatten());
    found.extend(least(apart));
    found.extend(least(back));
    found
}

fn with_limits(task: &Task, limits: Limits) -> Task {
    Task {
        limits,
        ..task.clone()
    }
}

/// The relaxation of least part, in (0, 1], whose task has a route; `None` if even
/// the whole does not.
fn least(relaxed: impl Fn(f64) -> (Relaxation, Task)) -> Option<Relaxation> {
    let works = |part: f64| is_feasible(&relaxed(part).1);
    if !works(1.0) {
        return None;
    }
    let (mut fails, mut holds) = (0.0, 1.0);
    for _ in 0..HALVINGS {
        let middle = 0.5 * (fails + holds);
        if works(middle) {
            holds = middle;
        } else {
            fails = middle;
        }
    }
    Some(relaxed(holds).0)
}
