//! Why there is no route, and what would make one possible.

use super::field::Field;
use super::probe::{Hint, find_any};
use super::solver::Nearest;
use super::task::Rejection;
use super::{Constraint, Control, MAX_BENDS, Task};
use crate::geometry::Point;
use crate::run::{Freedom, Port};
use crate::scene::{Body, Obstacle};
use crate::units::{Angle, Length};
use rayon::prelude::*;

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
    /// The first port's direction leaning by up to this much.
    StartLean(Angle),
    /// The last port's direction leaning by up to this much.
    EndLean(Angle),
    /// Less straight tube between bends.
    Between(Length),
    /// Another clearance to this obstacle; less than nothing where the obstacle itself
    /// must give way.
    Clearance(usize, Length),
    /// A larger radius of this pass.
    PassRadius(usize, Length),
    /// Any saw angle, at every bend its own.
    AnyCut,
    /// As many bends as there can be.
    MoreBends,
}

impl Relaxation {
    /// `task` with this one change.
    pub fn apply(&self, task: &Task) -> Task {
        let mut task = task.clone();
        match *self {
            Self::SmallerClr(clr) | Self::LargerClr(clr) => {
                (task.limits.clr_min, task.limits.clr_max) = (clr, clr);
                task.clrs.clear();
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
            Self::StartLean(lean) => task.start.freedom.cone = lean,
            Self::EndLean(lean) => task.end.freedom.cone = lean,
            Self::Between(between) => task.limits.min_between = between,
            Self::Clearance(i, clearance) => {
                if let Some(obstacle) = task.obstacles.get_mut(i) {
                    obstacle.clearance = clearance;
                }
            }
            Self::PassRadius(i, radius) => {
                if let Some(pass) = task.passes.get_mut(i) {
                    pass.radius = radius;
                }
            }
            Self::AnyCut => {
                task.one_setting = false;
                task.saw_angles.clear();
            }
            Self::MoreBends => task.most_bends = MAX_BENDS,
        }
        task
    }

    /// Whether `task` has a route with this one change.
    pub fn holds(&self, task: &Task) -> bool {
        self.route(task, None, &Control::default()).is_some()
    }

    fn route(&self, task: &Task, hint: Option<&Hint>, control: &Control<'_>) -> Option<Hint> {
        // What scans leave room for is hard to find: where it is they that are in the way,
        // looking harder pays.
        let probes = match self {
            Self::Clearance(i, _) if matches!(task.obstacles[*i].body, Body::Scan(_)) => 4,
            _ => 1,
        };
        find_any(&self.apply(task), hint, control, probes)
    }

    /// The change rounded to a multiple of `length` or `angle`, to the side that gives
    /// way more, and then by `more` multiples further.
    pub fn rounded(&self, length: Length, angle: Angle, more: u32) -> Self {
        let more = f64::from(more);
        let up = |value: Length| length * ((value / length - 1e-6).ceil() + more);
        let any_down = |value: Length| length * ((value / length + 1e-6).floor() - more);
        let down = |value: Length| any_down(value).max(Length::ZERO);
        let wider = |value: Angle| angle * ((value / angle - 1e-6).ceil() + more);
        match *self {
            Self::SmallerClr(clr) => Self::SmallerClr(down(clr)),
            Self::LargerClr(clr) => Self::LargerClr(up(clr)),
            Self::StartStraight(straight) => Self::StartStraight(down(straight)),
            Self::EndStraight(straight) => Self::EndStraight(down(straight)),
            Self::ShortSide(short) => Self::ShortSide(down(short)),
            Self::MaxCut(cut) => Self::MaxCut(wider(cut)),
            Self::Apart(by) => Self::Apart(up(by)),
            Self::Back(by) => Self::Back(up(by)),
            Self::StartLean(lean) => Self::StartLean(wider(lean)),
            Self::EndLean(lean) => Self::EndLean(wider(lean)),
            Self::Between(between) => Self::Between(down(between)),
            Self::Clearance(i, clearance) => Self::Clearance(i, any_down(clearance)),
            Self::PassRadius(i, radius) => Self::PassRadius(i, up(radius)),
            Self::AnyCut | Self::MoreBends => *self,
        }
    }
}

/// Why no route was found.
#[derive(Clone, Debug, PartialEq)]
pub struct NoRoute {
    /// Bends of the nearest layout.
    pub bends: usize,
    /// What fails in the nearest layout, worst first.
    pub bindings: Vec<Binding>,
    /// Why routes that kept every limit were refused, if there were any.
    pub rejection: Option<Rejection>,
    /// Single changes that would make a route possible.
    pub relaxations: Vec<Relaxation>,
    /// Where scans, and solids beside them, leave no way through near the ports, however
    /// a tube is bent.
    pub narrow: Option<Box<Narrow>>,
}

/// The narrowest place of the roomiest way among scans, where it is too narrow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Narrow {
    /// About where, within half a cell of the search's map.
    pub at: Point,
    /// Which obstacle leaves the least room there.
    pub obstacle: usize,
    /// How much room is missing, at least.
    pub short_by: Length,
    /// How far from the ports that was looked into.
    pub within: Length,
}

/// Halvings of a relaxation's range: to 1/1024 of it.
const HALVINGS: u32 = 10;
/// Parts of a relaxation's range that are tried first.
const FIRST_PARTS: [f64; 3] = [1.0, 0.35, 0.1];
/// CLR, in diameters, beyond which nobody relaxes.
const WIDEST_CLR: f64 = 4.0;
/// Cut angle beyond which nobody relaxes: a 45° change at one joint.
const WIDEST_CUT: Angle = Angle::from_degrees(22.5);
/// Lean of a port beyond which nobody relaxes.
const WIDEST_LEAN: Angle = Angle::from_degrees(45.0);
/// Obstacles whose giving way is looked into.
const MAX_OBSTACLES: usize = 12;
/// Violations under this, mm, are the optimizer spreading the real one around.
const WORTH_NAMING: f64 = 0.01;

/// Names what binds and solves for what would help.
pub(super) fn explain(
    task: &Task,
    nearest: Option<&Nearest>,
    rejection: Option<Rejection>,
    control: &Control<'_>,
) -> NoRoute {
    let mut bindings: Vec<Binding> = Vec::new();
    for (constraint, margin) in nearest.iter().flat_map(|nearest| &nearest.constraints) {
        let short_by = -*margin;
        match bindings
            .iter_mut()
            .find(|binding| binding.constraint == *constraint)
        {
            Some(binding) => binding.short_by = binding.short_by.max(short_by),
            None if short_by.mm() > WORTH_NAMING => bindings.push(Binding {
                constraint: *constraint,
                short_by,
            }),
            None => {}
        }
    }
    bindings.sort_by(|a, b| b.short_by.mm().total_cmp(&a.short_by.mm()));
    let narrow = narrow(task);
    NoRoute {
        narrow: narrow.map(Box::new),
        bends: nearest.map_or(2, |nearest| nearest.bends),
        bindings,
        rejection,
        relaxations: if control.explain {
            relaxations(task, narrow, control)
        } else {
            Vec::new()
        },
    }
}

/// A limit that may give way: from nothing (0) to as much as anybody would (1).
type Way<'a> = Box<dyn Fn(f64) -> Relaxation + Sync + 'a>;

/// Where no tube of the task's size gets through between its scans.
///
/// Nothing is proven where a port may move or lean.
fn narrow(task: &Task) -> Option<Narrow> {
    let is_free = |port: &Port| port.freedom != Freedom::default();
    if is_free(&task.start) || is_free(&task.end) {
        return None;
    }
    let field = Field::new(task);
    let (at, room) = field.chart.as_ref()?.map.narrowest();
    let radius = (task.tube.radius() + task.wrap).mm();
    let margin = |obstacle: &Obstacle| obstacle.margin(&at, &at, radius).distance;
    let obstacles = task.obstacles.iter().map(margin).enumerate();
    let (obstacle, _) = obstacles.min_by(|a, b| a.1.total_cmp(&b.1))?;
    (room < 0.0).then_some(Narrow {
        at,
        obstacle,
        short_by: Length::from_mm(-room),
        within: task.ground().reach(),
    })
}

fn relaxations(task: &Task, narrow: Option<Narrow>, control: &Control<'_>) -> Vec<Relaxation> {
    // Where nothing gets through, no way of bending helps.
    let may_help = |way: &&Way<'_>| {
        narrow.is_none()
            || matches!(
                way(1.0),
                Relaxation::Clearance(..) | Relaxation::Apart(_) | Relaxation::Back(_)
            )
    };
    let ways = ways(task);
    ways.iter()
        .filter(may_help)
        .collect::<Vec<_>>()
        .par_iter()
        .map(|way| least(task, way, control))
        .collect::<Vec<_>>()
        .into_iter()
        .flatten()
        .collect()
}

fn ways(task: &Task) -> Vec<Way<'_>> {
    let limits = task.limits;
    let between = |from: Length, to: Length, part: f64| from + (to - from) * part;
    let tightest = task.tube.radius() + limits.min_short_side;
    let widest = (task.tube.od() * WIDEST_CLR).max(limits.clr_max);
    // Farther than any two bends reach.
    let reach = limits.clr_min * 8.0 + task.start.straight + task.end.straight;
    let mut ways: Vec<Way<'_>> = Vec::new();
    let mut add = |wanted: bool, way: Way<'static>| {
        if wanted {
            ways.push(way);
        }
    };
    let (start, end) = (task.start.straight, task.end.straight);
    let [first, last] = [&task.start, &task.end].map(|port| port.freedom.cone);
    let lean = |cone: Angle, part: f64| cone + (WIDEST_LEAN - cone) * part;
    add(
        task.pies && limits.clr_min > tightest,
        Box::new(move |part| Relaxation::SmallerClr(between(limits.clr_min, tightest, part))),
    );
    // Among scans, where looking takes long, what hardly ever helps is left out.
    let is_open = !task
        .obstacles
        .iter()
        .any(|obstacle| matches!(obstacle.body, Body::Scan(_)));
    add(
        is_open && task.pies && limits.clr_max < widest,
        Box::new(move |part| Relaxation::LargerClr(between(limits.clr_max, widest, part))),
    );
    add(
        start > Length::ZERO,
        Box::new(move |part| Relaxation::StartStraight(start * (1.0 - part))),
    );
    add(
        end > Length::ZERO,
        Box::new(move |part| Relaxation::EndStraight(end * (1.0 - part))),
    );
    add(
        is_open && task.pies && limits.min_short_side > Length::ZERO,
        Box::new(move |part| Relaxation::ShortSide(limits.min_short_side * (1.0 - part))),
    );
    add(
        task.pies && task.saw_angles.is_empty() && limits.max_cut < WIDEST_CUT,
        Box::new(move |part| {
            Relaxation::MaxCut(limits.max_cut + (WIDEST_CUT - limits.max_cut) * part)
        }),
    );
    add(
        is_open && limits.min_between > Length::ZERO,
        Box::new(move |part| Relaxation::Between(limits.min_between * (1.0 - part))),
    );
    add(true, Box::new(move |part| Relaxation::Apart(reach * part)));
    add(true, Box::new(move |part| Relaxation::Back(reach * part)));
    add(
        first < WIDEST_LEAN,
        Box::new(move |part| Relaxation::StartLean(lean(first, part))),
    );
    add(
        last < WIDEST_LEAN,
        Box::new(move |part| Relaxation::EndLean(lean(last, part))),
    );
    add(
        task.one_setting || !task.saw_angles.is_empty(),
        Box::new(|_| Relaxation::AnyCut),
    );
    add(
        task.most_bends < MAX_BENDS,
        Box::new(|_| Relaxation::MoreBends),
    );
    for (i, obstacle) in task.obstacles.iter().enumerate().take(MAX_OBSTACLES) {
        let size = match &obstacle.body {
            Body::Solid(solid) => solid
                .bounds_sphere()
                .map_or(reach.mm(), |(_, radius)| 2.0 * radius),
            // A surface that may cut into the tube as deep as its middle is not there.
            Body::Scan(_) => (obstacle.clearance + task.wrap - task.tube.radius()).mm(),
        };
        let (asked, most) = (obstacle.clearance, Length::from_mm(size) + task.tube.od());
        add(
            true,
            Box::new(move |part| Relaxation::Clearance(i, asked - most * part)),
        );
    }
    for (i, pass) in task.passes.iter().enumerate() {
        let radius = pass.radius;
        add(
            true,
            Box::new(move |part| Relaxation::PassRadius(i, radius + reach * part)),
        );
    }
    ways
}

/// The relaxation of least part, in (0, 1], whose task has a route; `None` if none of
/// a few parts has.
///
/// Where a little helps and a lot does not (a larger CLR, soon too large), the first
/// part that works is where the search for the least starts.
fn least(task: &Task, way: &Way<'_>, control: &Control<'_>) -> Option<Relaxation> {
    let is_switch = way(1.0) == way(0.1);
    let parts = &FIRST_PARTS[..if is_switch { 1 } else { FIRST_PARTS.len() }];
    let tried = |part: f64, hint: Option<&Hint>| way(part).route(task, hint, control);
    let (mut holds, mut hint) = parts
        .iter()
        .find_map(|&part| Some((part, tried(part, None)?)))?;
    let mut fails = 0.0;
    for _ in 0..if is_switch { 0 } else { HALVINGS } {
        if control.is_stopped() {
            return None;
        }
        let middle = 0.5 * (fails + holds);
        match tried(middle, Some(&hint)) {
            Some(found) => (holds, hint) = (middle, found),
            None => fails = middle,
        }
    }
    Some(way(holds))
}
