//! Ports that seem to face the wrong way.

use crate::geometry::{Point, Vector};
use crate::job::{JobRun, Problem};
use crate::route::{Candidate, Task, glance};
use crate::run::Port;
use crate::units::Angle;

/// Total turn that makes one ask whether a port faces the wrong way.
const SUSPICIOUS_TURN: Angle = Angle::from_degrees(185.0);
/// Part of the cost that is left if a port is reversed, below which it probably should
/// have been.
const SUSPICIOUS_SAVING: f64 = 0.65;

/// How far a port may face away from the other before one asks, without planning, whether
/// it faces the wrong way: a right angle and a third of one more.
const SUSPICIOUS_LEAN: Angle = Angle::from_degrees(120.0);

/// A question about a run before it is planned: whether a port that faces away from the
/// other one should not, where a direct run would then take far less. What is in the way is
/// left out of account.
pub fn may_face_back(run: &JobRun) -> Option<String> {
    let task = &run.task;
    let is_free = !task.start.freedom.is_none() || !task.end.freedom.is_none();
    if run.copied.is_some() || is_free || !task.passes.is_empty() {
        return None;
    }
    let (start, end) = (&task.start, &task.end);
    let away = [(start, end), (end, start)].into_iter();
    let away: Vec<&Port> = away
        .filter(|(port, other)| faces_away(port, &other.center))
        .map(|(port, _)| port)
        .collect();
    if away.is_empty() {
        return None;
    }
    let bare = Task {
        obstacles: Vec::new(),
        ..task.clone()
    };
    let (port, cheaper) = facing_back(&bare)?;
    let cost = glance(&bare);
    let is_suspicious = away.iter().any(|away| away.name == port)
        && cost.is_none_or(|cost| cheaper < cost * SUSPICIOUS_SAVING);
    let instead = cost.map_or(String::new(), |cost| format!(" instead of {cost:.2}"));
    is_suspicious.then(|| {
        format!(
            "does '{port}' point into its flange? It faces away from the other end; with its 'outward' reversed a direct run would cost {cheaper:.2}{instead}"
        )
    })
}

fn faces_away(port: &Port, other: &Point) -> bool {
    let toward: Vector = other - port.center;
    port.outward.dot(&toward) < SUSPICIOUS_LEAN.cos() * toward.norm()
}

/// Warns of a run that goes a long way round a port that seems to face the wrong way.
pub(super) fn wrong_way(name: &str, best: &Candidate, task: &Task) -> Option<Problem> {
    if best.route.total_turn() < SUSPICIOUS_TURN {
        return None;
    }
    let (port, cheaper) = facing_back(task)?;
    (cheaper < best.cost.money * SUSPICIOUS_SAVING).then(|| {
        Problem::of_file(
            format!("run '{}' goes a long way round: does '{port}' point into its flange?", name),
            format!("'outward' points from the face into free space; with that of '{port}' reversed the run would cost {cheaper:.2} instead of {:.2}", best.cost.money),
        )
    })
}

/// The port whose reversal gives the cheapest route, and what that costs.
pub(super) fn facing_back(task: &Task) -> Option<(String, f64)> {
    let mut start = task.clone();
    start.start.outward = -start.start.outward;
    let mut end = task.clone();
    end.end.outward = -end.end.outward;
    [(start, &task.start), (end, &task.end)]
        .into_iter()
        .filter_map(|(turned, port)| Some((port.name.clone(), glance(&turned)?)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
}
