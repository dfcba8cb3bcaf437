//! What is in a run's way, and what it goes through, in `plan.json`.

use super::numbers::{mm, positive_zero};
use crate::job::LoadedScan;
use crate::plan::PlannedRun;
use crate::route::Task;
use crate::run::Run;
use crate::units::Length;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct ObstacleOut<'a> {
    name: &'a str,
    clearance_mm: f64,
    /// Length of centerline at each port along which it is not asked about.
    exempt_mm: f64,
    /// Room beyond the clearance at the tightest place.
    room_mm: f64,
    piece: usize,
    /// On the centerline.
    at_mm: [f64; 3],
    /// On the outside of the run, or of its wrap.
    on_run_mm: [f64; 3],
    /// On the obstacle.
    on_obstacle_mm: [f64; 3],
}

/// A scan that the runs keep clear of.
#[derive(Serialize)]
pub(super) struct ScanOut<'a> {
    name: &'a str,
    file: &'a str,
    triangles: usize,
    /// From the file's own axes to the job's frame: rows of the rotation, then the shift.
    turn: [[f64; 3]; 3],
    shift_mm: [f64; 3],
    /// Least and greatest corner, in the job's frame.
    box_mm: [[f64; 3]; 2],
    parts: Vec<ScanPartOut<'a>>,
}

#[derive(Serialize)]
pub(super) struct ScanPartOut<'a> {
    name: &'a str,
    triangles: usize,
    clearance_mm: f64,
}

#[derive(Serialize)]
pub(super) struct PassOut<'a> {
    name: &'a str,
    room_mm: f64,
}

/// The arcs of a run's stock bends, in order of flow.
pub(super) fn obstacles<'a>(planned: &PlannedRun, task: &'a Task) -> Vec<ObstacleOut<'a>> {
    let standings = planned.standings.iter();
    standings
        .map(|standing| {
            let obstacle = &task.obstacles[standing.obstacle];
            ObstacleOut {
                name: &obstacle.name,
                clearance_mm: mm(obstacle.clearance),
                exempt_mm: mm(standing.exempt),
                room_mm: mm(standing.nearest.distance),
                piece: standing.nearest.piece,
                at_mm: standing.nearest.at.into(),
                on_run_mm: standing.nearest.on_run.into(),
                on_obstacle_mm: standing.nearest.on_obstacle.into(),
            }
        })
        .collect()
}

impl<'a> From<&'a LoadedScan> for ScanOut<'a> {
    fn from(scan: &'a LoadedScan) -> Self {
        let part = |(name, triangles, clearance): &'a (String, usize, Length)| ScanPartOut {
            name,
            triangles: *triangles,
            clearance_mm: mm(*clearance),
        };
        let placement = scan.placement();
        let row = |i: usize| [0, 1, 2].map(|j| positive_zero(placement.turn[(i, j)]));
        Self {
            name: &scan.name,
            file: &scan.file,
            triangles: scan.triangles,
            turn: [row(0), row(1), row(2)],
            shift_mm: placement.shift.into(),
            box_mm: <[_; 2]>::from(scan.bounds).map(|corner| corner.into()),
            parts: scan.parts.iter().map(part).collect(),
        }
    }
}

pub(super) fn passes<'a>(run: &Run, task: &'a Task) -> Vec<PassOut<'a>> {
    let (centerline, radius) = (run.centerline(), run.tube().radius());
    let passes = task.passes.iter();
    passes
        .map(|pass| PassOut {
            name: &pass.name,
            room_mm: pass.room_along(centerline, radius),
        })
        .collect()
}
