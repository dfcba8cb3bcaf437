//! What the shop should know of a run that is copied: no limit refuses it, so each that
//! it breaks is told.

use super::PlannedRun;
use crate::job::{JobRun, Problem};
use crate::route::{ROOM_SLACK, Task};
use crate::units::{Angle, Length, Style};

/// How far a cut may be off a saw's stop, or past its greatest angle: what no saw shows.
const CUT_SLACK: Angle = Angle::from_degrees(0.005);

/// What a copied run breaks.
pub(super) fn broken(
    index: usize,
    planned: &PlannedRun,
    job_run: &JobRun,
    style: Style,
) -> Vec<Problem> {
    if job_run.copied.is_none() {
        return Vec::new();
    }
    let task = &job_run.task;
    let found = [
        cuts(planned, task, style),
        stops(planned, task, style),
        short_sides(planned, task, style),
        room(planned, task, style),
        itself(planned, task, style),
    ];
    let problem = |(message, help): (String, &str)| Problem {
        path: format!("runs[{index}].copy"),
        message: format!("run '{}': {message}", planned.name),
        help: help.to_owned(),
    };
    found.into_iter().flatten().map(problem).collect()
}

fn cuts(planned: &PlannedRun, task: &Task, style: Style) -> Option<(String, &'static str)> {
    let most = task.limits.max_cut;
    let joints = planned.run().joints().iter().enumerate();
    let steep = joints.filter(|(_, joint)| joint.cut() > most + CUT_SLACK);
    let named: Vec<String> = steep
        .map(|(i, joint)| format!("joint {i} at {}", style.angle(joint.cut())))
        .collect();
    (!named.is_empty()).then(|| {
        (
            format!("cut steeper than shop.max_cut, {}: {}", style.angle(most), named.join(", ")),
            "the copy is as the tube is; see that the saw goes so far, or cut these by their patterns",
        )
    })
}

fn stops(planned: &PlannedRun, task: &Task, style: Style) -> Option<(String, &'static str)> {
    if task.saw_angles.is_empty() {
        return None;
    }
    let is_stop = |cut: Angle| {
        task.saw_angles
            .iter()
            .any(|stop| (cut - *stop).abs() <= CUT_SLACK)
    };
    let joints = planned.run().joints().iter().enumerate();
    let between = joints.filter(|(_, joint)| joint.cut() > Angle::ZERO && !is_stop(joint.cut()));
    let named: Vec<String> = between
        .map(|(i, joint)| format!("joint {i} at {}", style.angle(joint.cut())))
        .collect();
    (!named.is_empty()).then(|| {
        (
            format!("cut where the saw has no stop: {}", named.join(", ")),
            "the copy is as the tube is; cut these by their patterns",
        )
    })
}

fn short_sides(planned: &PlannedRun, task: &Task, style: Style) -> Option<(String, &'static str)> {
    let least = task.limits.min_short_side;
    let pieces = planned.run().pieces().iter().enumerate();
    let named: Vec<String> = pieces
        .filter(|(_, placed)| placed.piece.short_side() < least)
        .map(|(i, placed)| {
            format!(
                "piece {} has {}",
                i + 1,
                style.decimal(placed.piece.short_side())
            )
        })
        .collect();
    (!named.is_empty()).then(|| {
        (
            format!(
                "short sides below shop.min_short_side, {}: {}",
                style.decimal(least),
                named.join(", ")
            ),
            "the copy is as the tube is; hold these pieces with care",
        )
    })
}

fn room(planned: &PlannedRun, task: &Task, style: Style) -> Option<(String, &'static str)> {
    let near = planned
        .standings
        .iter()
        .filter(|standing| standing.nearest.distance < -ROOM_SLACK);
    let named: Vec<String> = near
        .map(|standing| {
            let obstacle = &task.obstacles[standing.obstacle];
            format!(
                "{} from '{}', {} asked for, at {}",
                style.length(standing.nearest.distance + obstacle.clearance),
                obstacle.name,
                style.length(obstacle.clearance),
                style.point(standing.nearest.at.into()),
            )
        })
        .collect();
    (!named.is_empty()).then(|| {
        (
            format!("nearer than asked for: {}", named.join("; ")),
            "the copy is where the tube is; check the scene, or ask for less clearance",
        )
    })
}

fn itself(planned: &PlannedRun, task: &Task, style: Style) -> Option<(String, &'static str)> {
    let clearance = planned.run().self_clearance()?;
    let room = clearance.distance - task.wrap * 2.0;
    (room < Length::ZERO - ROOM_SLACK).then(|| {
        (
            format!(
                "runs into itself by {} at {}: pieces {} and {}",
                style.length(-room),
                style.point(clearance.at.into()),
                clearance.first_piece,
                clearance.second_piece,
            ),
            "check the points on those pieces, and their order",
        )
    })
}
