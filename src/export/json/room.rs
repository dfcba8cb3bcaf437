//! What is in a run's way, and what it goes through, in `plan.json`.

use super::numbers::{mm, positive_zero};
use crate::job::LoadedScan;
use crate::plan::PlannedRun;
use crate::route::Task;
use crate::run::Run;
use crate::units::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// What is in a run's way: a body, a scan or a flange, and where the run comes nearest to it.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Obstacle", deny_unknown_fields)]
pub(super) struct ObstacleOut<'a> {
    /// Its name in the job.
    name: &'a str,
    /// Distance to keep from it.
    clearance_mm: f64,
    /// Length of centerline at each port along which it is not asked about.
    exempt_mm: f64,
    /// Room beyond the clearance at the tightest place; negative where it is less than that.
    room_mm: f64,
    /// The piece that is nearest, from 1.
    piece: usize,
    /// The tightest place on the centerline.
    at_mm: [f64; 3],
    /// On the outside of the run, or of its wrap.
    on_run_mm: [f64; 3],
    /// On the obstacle.
    on_obstacle_mm: [f64; 3],
}

/// A scan that the runs keep clear of.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Scan", deny_unknown_fields)]
pub(super) struct ScanOut<'a> {
    /// Its name in the job.
    name: &'a str,
    /// Its file, as the job has it.
    file: &'a str,
    /// How many are kept.
    triangles: usize,
    /// From the file's own axes to the job's frame: rows of the rotation.
    turn: [[f64; 3]; 3],
    /// The shift after the rotation: where the file's origin comes to.
    shift_mm: [f64; 3],
    /// Least and greatest corner, in the job's frame.
    box_mm: [[f64; 3]; 2],
    /// Parts with clearances of their own, then the rest.
    parts: Vec<ScanPartOut<'a>>,
}

/// A part of a scan with one clearance.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "ScanPart", deny_unknown_fields)]
pub(super) struct ScanPartOut<'a> {
    /// Its name: a zone's, or the scan's.
    name: &'a str,
    /// How many it has.
    triangles: usize,
    /// Distance to keep from it.
    clearance_mm: f64,
}

/// A hole or bracket that the run goes through.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Pass", deny_unknown_fields)]
pub(super) struct PassOut<'a> {
    /// Its name in the job.
    name: &'a str,
    /// Room that is left in it; negative where there is too little.
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
