//! A planned run in `plan.json`.

use super::arc::{ArcOut, arcs};
use super::copied::CopiedOut;
use super::numbers::{mm, numbered, positive_zero};
use super::parts::{BendOut, JointOut, PieceOut, SawOut};
use super::quote::{GrowthOut, OtherWayOut, ServiceOut, other_ways};
use super::room::{ObstacleOut, PassOut, obstacles, passes};
use super::seams::SeamsOut;
use super::stack_up::StackUpOut;
use super::tack_up::TackUpOut;
use super::task::{AllowanceOut, LimitsOut, RatesOut, TubeOut};
use super::ways::CostOut;
use crate::geometry::{Direction, Point};
use crate::job::JobRun;
use crate::plan::PlannedRun;
use crate::route::{Reason, Task};
use crate::run::{Port, Run};
use crate::shop::QuoteRates;
use schemars::{JsonSchema, Schema};
use serde::Serialize;
use serde_json::json;

/// A run as it is planned.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Run", deny_unknown_fields, transform = and_closed)]
pub(super) struct RunOut<'a> {
    /// Name of the run.
    name: &'a str,
    /// Name of the port where flow enters.
    from: &'a str,
    /// Name of the port where flow leaves.
    to: &'a str,
    /// The tube that it is made of.
    tube: TubeOut<'a>,
    /// What it was allowed.
    limits: LimitsOut<'a>,
    /// What is left at joints.
    allowance: AllowanceOut,
    /// What its work costs.
    rates: RatesOut,
    /// The polyline from the first port's face to the last port's.
    vertices_mm: Vec<[f64; 3]>,
    /// Least and greatest corner of the box round the outside.
    box_mm: [[f64; 3]; 2],
    /// Length of the polyline, face to face.
    length_mm: f64,
    /// Center lengths of all pieces as cut.
    cut_length_mm: f64,
    /// Weld round the outside of all joints between pieces; flanges' not counted.
    weld_mm: f64,
    /// Both ends as the run meets them: a port may have been free to move.
    ends: [EndOut<'a>; 2],
    /// Arcs of stock bends; none in a run of pies.
    bends: Vec<ArcOut<'a>>,
    /// Bends made of pies, in order of flow.
    pie_bends: Vec<BendOut>,
    /// Straight tube before, between and after the bends' arcs, in order of flow.
    straights_mm: Vec<f64>,
    /// In order of flow. Only told: lengths and cuts are computed again from 'vertices_mm'.
    pieces: Vec<PieceOut>,
    /// From the first port to the last, both included.
    joints: Vec<JointOut>,
    /// The cuts where the run is cut in order of flow from one stick; 'sticks' has them as the
    /// sticks are really cut.
    saw: Vec<SawOut>,
    /// How far off it may end, and which piece to leave for last.
    stack_up: StackUpOut<'a>,
    /// In which order to put it together, and what a tape should read.
    tack_up: TackUpOut<'a>,
    /// Where the tube's weld seam comes to lie; null in seamless tube.
    seams: Option<SeamsOut>,
    /// Thickness of the wrap round the tube.
    wrap_mm: f64,
    /// Least distance between the outsides of this run and of other runs, or of its own parts; null
    /// with nothing near.
    clearance_mm: Option<f64>,
    /// To each body of the scene that stands in its way.
    obstacles: Vec<ObstacleOut<'a>>,
    /// Holes and brackets that it goes through, in order of flow.
    through: Vec<PassOut<'a>>,
    /// The tube that the run is a copy of; null where it was searched for.
    copied: Option<CopiedOut>,
    /// Its work, and what it was ranked by.
    cost: CostOut,
    /// How it is used.
    service: ServiceOut,
    /// Mass as cut, weld metal not counted; null where the density is not known.
    mass_kg: Option<f64>,
    /// Growth by heat; null where the material's expansion is not known.
    growth: Option<GrowthOut>,
    /// The same ports joined by bends of another kind.
    other_ways: Vec<OtherWayOut>,
    /// What speaks for this run among those found.
    reasons: Vec<&'static str>,
    /// Why the search ended.
    stopped: &'static str,
    /// How many local searches it took.
    searches: u32,
}

/// An end of a run as it meets its port, which may have been free to move.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "End", deny_unknown_fields)]
pub(super) struct EndOut<'a> {
    /// Name of the port.
    port: &'a str,
    /// Where its face is: x, y, z in the job's frame.
    center_mm: [f64; 3],
    /// Unit vector from the face into free space.
    outward: [f64; 3],
}

/// The keys that 'close' adds to a run that it writes again as it was built.
fn and_closed(schema: &mut Schema) {
    let added = json!({
        "closed": {
            "description": "What closed the run's gap, as in closure.json; only in the plan.json that 'close' writes.",
            "type": "object",
        },
        "as_planned": {
            "description": "Keys of the run that still say what was planned, where the others say what was built; only in the plan.json that 'close' writes.",
            "type": "array",
            "items": { "type": "string" },
        },
    });
    let keys = schema
        .get_mut("properties")
        .and_then(|keys| keys.as_object_mut());
    if let (Some(keys), Some(added)) = (keys, added.as_object()) {
        keys.extend(added.clone());
    }
}

impl<'a> RunOut<'a> {
    pub(super) fn new(planned: &'a PlannedRun, job_run: &'a JobRun, rates: &QuoteRates) -> Self {
        let (run, task) = (planned.run(), &job_run.task);
        let route = &planned.solution.best.route;
        Self {
            name: &planned.name,
            from: &task.start.name,
            to: &task.end.name,
            tube: run.tube().into(),
            limits: LimitsOut::new(task, planned.wish),
            allowance: AllowanceOut::from(&task.allowance),
            rates: (&task.rates).into(),
            vertices_mm: run
                .centerline()
                .points()
                .iter()
                .map(|&p| p.into())
                .collect(),
            box_mm: <[_; 2]>::from(run.bounds()).map(|corner| corner.into()),
            length_mm: mm(run.length()),
            cut_length_mm: mm(run.cut_length()),
            weld_mm: mm(run.weld_length()),
            ends: ends(task, run),
            bends: arcs(planned, task),
            pie_bends: route
                .bends
                .iter()
                .filter(|bend| bend.stock().is_none())
                .map(BendOut::from)
                .collect(),
            straights_mm: route.straights().into_iter().map(mm).collect(),
            pieces: numbered(run.pieces(), 1, PieceOut::new),
            joints: numbered(run.joints(), 0, |number, joint| {
                JointOut::new(number, joint, run.tube().radius())
            }),
            saw: planned.saw.cuts.iter().filter_map(SawOut::new).collect(),
            stack_up: (&planned.stack_up).into(),
            tack_up: TackUpOut::new(&planned.tack_up, [&task.start.name, &task.end.name]),
            seams: planned
                .seams
                .as_ref()
                .map(|seams| SeamsOut::new(seams, run.tube().circumference())),
            wrap_mm: mm(task.wrap),
            clearance_mm: planned.clearance.map(mm),
            obstacles: obstacles(planned, task),
            through: passes(run, task),
            copied: job_run
                .copied
                .as_ref()
                .map(|copy| CopiedOut::new(copy, task)),
            cost: CostOut::new(&planned.solution.best, &task.stock),
            service: (&job_run.service).into(),
            mass_kg: run.tube().mass_kg(run.cut_length()),
            growth: planned
                .growth(job_run)
                .map(|growth| GrowthOut::new(&growth, run)),
            other_ways: other_ways(planned, job_run, rates),
            reasons: words(&planned.solution.reasons),
            stopped: planned.solution.stop.name(),
            searches: planned.solution.searches,
        }
    }
}

/// Both ends as the run meets them.
pub(super) fn ends<'a>(task: &'a Task, run: &Run) -> [EndOut<'a>; 2] {
    let [first, last] = run.centerline().ends();
    let end = |port: &'a Port, (point, outward): (Point, Direction)| EndOut {
        port: &port.name,
        center_mm: point.into(),
        outward: outward.map(positive_zero).into(),
    };
    [end(&task.start, first), end(&task.end, last)]
}

pub(super) fn words(reasons: &[Reason]) -> Vec<&'static str> {
    reasons.iter().map(|reason| reason.words()).collect()
}
