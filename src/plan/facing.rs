//! Ports that seem to face the wrong way.

use crate::job::Problem;
use crate::route::{Candidate, Task, glance};
use crate::units::Angle;

/// Total turn that makes one ask whether a port faces the wrong way.
const SUSPICIOUS_TURN: Angle = Angle::from_degrees(185.0);
/// Part of the cost that is left if a port is reversed, below which it probably should
/// have been.
const SUSPICIOUS_SAVING: f64 = 0.65;

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
