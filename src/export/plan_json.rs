//! `plan.json`: the plan for other programs. Stable, versioned, with the unit in
//! every name.

use super::{ExportError, Exporter, OutFile};
use crate::plan::{Plan, PlannedRun};
use crate::route::{Bend, Candidate, Cost, Limits, Rates};
use crate::run::{Allowance, Joint, JointKind, Placed, Port};
use crate::shop::SawStep;
use crate::tube::Tube;
use crate::units::{Angle, Length};
use serde::Serialize;
use std::collections::BTreeMap;

/// The format's name and version. Fields may be added within a version; none is
/// renamed, removed or given another meaning.
pub const FORMAT: &str = "runwright-plan-1";

const FILE: &str = "plan.json";

/// Writes `plan.json`.
#[derive(Clone, Copy, Debug, Default)]
pub struct PlanJson;

impl Exporter for PlanJson {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let file = PlanFile::new(plan);
        let mut bytes = serde_json::to_vec_pretty(&file).map_err(|e| ExportError::new(FILE, e))?;
        bytes.push(b'\n');
        Ok(vec![OutFile::new(FILE, bytes)])
    }
}

#[derive(Serialize)]
struct PlanFile<'a> {
    format: &'static str,
    made_by: String,
    job: &'a str,
    units: &'static str,
    ports: BTreeMap<&'a str, PortOut>,
    runs: Vec<RunOut<'a>>,
    alternatives: Vec<AlternativeOut<'a>>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct PortOut {
    center_mm: [f64; 3],
    outward: [f64; 3],
    socket_mm: f64,
    straight_mm: f64,
}

#[derive(Serialize)]
struct RunOut<'a> {
    name: &'a str,
    from: &'a str,
    to: &'a str,
    tube: TubeOut<'a>,
    limits: LimitsOut,
    allowance: AllowanceOut,
    rates: RatesOut,
    /// The polyline from the first port's face to the last port's.
    vertices_mm: Vec<[f64; 3]>,
    /// Least and greatest corner of the box round the outside.
    box_mm: [[f64; 3]; 2],
    length_mm: f64,
    cut_length_mm: f64,
    weld_mm: f64,
    /// Arcs of stock bends; none in a run of pies.
    bends: [(); 0],
    pie_bends: Vec<BendOut>,
    straights_mm: Vec<f64>,
    pieces: Vec<PieceOut>,
    joints: Vec<JointOut>,
    saw: Vec<SawOut>,
    /// To other runs and to itself; null with nothing near.
    clearance_mm: Option<f64>,
    cost: CostOut,
    stopped: &'static str,
    searches: u32,
}

#[derive(Serialize)]
struct TubeOut<'a> {
    od_mm: f64,
    wall_mm: f64,
    material: &'a str,
}

#[derive(Serialize)]
struct LimitsOut {
    clr_min_mm: f64,
    clr_max_mm: f64,
    usual_cut_deg: f64,
    max_cut_deg: f64,
    min_short_side_mm: f64,
    between_mm: f64,
}

#[derive(Serialize)]
struct AllowanceOut {
    gap_mm: f64,
    shrinkage_mm: f64,
}

#[derive(Serialize)]
struct RatesOut {
    labor_per_hour: f64,
    tube_per_meter: f64,
    setup_minutes: f64,
    cut_minutes: f64,
    fit_up_minutes: f64,
    weld_mm_per_minute: f64,
    kerf_mm: f64,
}

#[derive(Serialize)]
struct BendOut {
    corner_mm: [f64; 3],
    turn_deg: f64,
    clr_mm: f64,
    joints: u32,
    cut_deg: f64,
}

#[derive(Serialize)]
struct PieceOut {
    number: usize,
    /// Edge of the polyline, vertex to vertex.
    length_mm: f64,
    /// Center length as cut: with sockets and allowances.
    cut_length_mm: f64,
    start_cut_deg: f64,
    end_cut_deg: f64,
    /// From the start's long side to the end's, clockwise looking downstream.
    clock_deg: f64,
    long_mm: f64,
    short_mm: f64,
}

#[derive(Serialize)]
struct JointOut {
    number: usize,
    kind: &'static str,
    at_mm: [f64; 3],
    /// Normal of the joint's plane, downstream.
    normal: [f64; 3],
    cut_deg: f64,
    deflection_deg: f64,
    clock_deg: f64,
    weld_mm: f64,
}

#[derive(Serialize)]
struct SawOut {
    piece: usize,
    feed_mm: f64,
    rotate_deg: f64,
    mark_deg: f64,
    angle_deg: f64,
}

#[derive(Serialize)]
struct CostOut {
    setups: u32,
    cuts: u32,
    joints: u32,
    weld_mm: f64,
    tube_mm: f64,
    minutes: f64,
    money: f64,
}

#[derive(Serialize)]
struct AlternativeOut<'a> {
    run: &'a str,
    bends: usize,
    joints: u32,
    turns_deg: Vec<f64>,
    length_mm: f64,
    vertices_mm: Vec<[f64; 3]>,
    cost: CostOut,
}

impl<'a> PlanFile<'a> {
    fn new(plan: &'a Plan) -> Self {
        let tasks = plan.job.runs.iter().map(|run| &run.task);
        let runs = plan.runs.iter().zip(tasks).map(|(run, task)| {
            let ends = (task.start.name.as_str(), task.end.name.as_str());
            RunOut::new(run, ends, &task.limits, task.allowance, &task.rates)
        });
        let alternatives = plan.runs.iter().flat_map(|run| {
            let others = run.solution.alternatives.iter();
            others.map(|(candidate, _)| AlternativeOut::new(&run.name, candidate))
        });
        let ports = plan.job.ports.iter();
        Self {
            format: FORMAT,
            made_by: format!("runwright {}", env!("CARGO_PKG_VERSION")),
            job: &plan.job.name,
            units: plan.job.style.unit.symbol(),
            ports: ports
                .map(|(name, port)| (name.as_str(), port.into()))
                .collect(),
            runs: runs.collect(),
            alternatives: alternatives.collect(),
            warnings: plan.warnings.iter().map(|w| w.message.clone()).collect(),
        }
    }
}

impl<'a> RunOut<'a> {
    fn new(
        planned: &'a PlannedRun,
        (from, to): (&'a str, &'a str),
        limits: &Limits,
        allowance: Allowance,
        rates: &Rates,
    ) -> Self {
        let run = planned.run();
        let route = &planned.solution.best.route;
        Self {
            name: &planned.name,
            from,
            to,
            tube: run.tube().into(),
            limits: limits.into(),
            allowance: AllowanceOut {
                gap_mm: mm(allowance.gap),
                shrinkage_mm: mm(allowance.shrinkage),
            },
            rates: rates.into(),
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
            bends: [],
            pie_bends: route.bends.iter().map(BendOut::from).collect(),
            straights_mm: route.straights().into_iter().map(mm).collect(),
            pieces: numbered(run.pieces(), 1, PieceOut::new),
            joints: numbered(run.joints(), 0, |number, joint| {
                JointOut::new(number, joint, run.tube().radius())
            }),
            saw: planned.saw.steps.iter().map(SawOut::from).collect(),
            clearance_mm: planned.clearance.map(mm),
            cost: (&planned.solution.best.cost).into(),
            stopped: planned.solution.stop.name(),
            searches: planned.solution.searches,
        }
    }
}

fn numbered<T, U>(items: &[T], first: usize, make: impl Fn(usize, &T) -> U) -> Vec<U> {
    let items = items.iter().enumerate();
    items.map(|(i, item)| make(first + i, item)).collect()
}

fn mm(length: Length) -> f64 {
    positive_zero(length.mm())
}

fn deg(angle: Angle) -> f64 {
    positive_zero(angle.degrees())
}

/// Never −0, which some readers stumble over.
fn positive_zero(value: f64) -> f64 {
    value + 0.0
}

impl From<&Port> for PortOut {
    fn from(port: &Port) -> Self {
        Self {
            center_mm: port.center.into(),
            outward: port.outward.into_inner().into(),
            socket_mm: mm(port.socket),
            straight_mm: mm(port.straight),
        }
    }
}

impl<'a> From<&'a Tube> for TubeOut<'a> {
    fn from(tube: &'a Tube) -> Self {
        Self {
            od_mm: mm(tube.od()),
            wall_mm: mm(tube.wall()),
            material: tube.material(),
        }
    }
}

impl From<&Limits> for LimitsOut {
    fn from(limits: &Limits) -> Self {
        Self {
            clr_min_mm: mm(limits.clr_min),
            clr_max_mm: mm(limits.clr_max),
            usual_cut_deg: deg(limits.usual_cut),
            max_cut_deg: deg(limits.max_cut),
            min_short_side_mm: mm(limits.min_short_side),
            between_mm: mm(limits.min_between),
        }
    }
}

impl From<&Rates> for RatesOut {
    fn from(rates: &Rates) -> Self {
        Self {
            labor_per_hour: rates.labor_per_hour,
            tube_per_meter: rates.tube_per_meter,
            setup_minutes: rates.setup_minutes,
            cut_minutes: rates.cut_minutes,
            fit_up_minutes: rates.fit_up_minutes,
            weld_mm_per_minute: mm(rates.weld_per_minute),
            kerf_mm: mm(rates.kerf),
        }
    }
}

impl From<&Bend> for BendOut {
    fn from(bend: &Bend) -> Self {
        Self {
            corner_mm: bend.corner.into(),
            turn_deg: deg(bend.turn),
            clr_mm: mm(bend.clr),
            joints: bend.joints(),
            cut_deg: deg(bend.cut()),
        }
    }
}

impl PieceOut {
    fn new(number: usize, placed: &Placed) -> Self {
        let piece = &placed.piece;
        Self {
            number,
            length_mm: mm(placed.edge),
            cut_length_mm: mm(piece.length()),
            start_cut_deg: deg(piece.start().angle),
            end_cut_deg: deg(piece.end().angle),
            clock_deg: deg(piece.clock()),
            long_mm: mm(piece.long_side()),
            short_mm: mm(piece.short_side()),
        }
    }
}

impl JointOut {
    fn new(number: usize, joint: &Joint, radius: Length) -> Self {
        Self {
            number,
            kind: match joint.kind {
                JointKind::Flange => "flange",
                JointKind::Miter => "miter",
                JointKind::Square => "square",
            },
            at_mm: joint.plane.point.into(),
            normal: joint.plane.normal.into_inner().into(),
            cut_deg: deg(joint.cut()),
            deflection_deg: deg(joint.deflection),
            clock_deg: deg(joint.clock),
            weld_mm: mm(joint.weld_length(radius)),
        }
    }
}

impl From<&SawStep> for SawOut {
    fn from(step: &SawStep) -> Self {
        Self {
            piece: step.piece,
            feed_mm: mm(step.feed),
            rotate_deg: deg(step.rotate),
            mark_deg: deg(step.mark),
            angle_deg: deg(step.angle),
        }
    }
}

impl From<&Cost> for CostOut {
    fn from(cost: &Cost) -> Self {
        Self {
            setups: cost.setups,
            cuts: cost.cuts,
            joints: cost.joints,
            weld_mm: mm(cost.weld),
            tube_mm: mm(cost.tube),
            minutes: cost.minutes,
            money: cost.money,
        }
    }
}

impl<'a> AlternativeOut<'a> {
    fn new(run: &'a str, candidate: &Candidate) -> Self {
        let bends = &candidate.route.bends;
        let points = candidate.run.centerline().points();
        Self {
            run,
            bends: bends.len(),
            joints: candidate.route.joint_count(),
            turns_deg: bends.iter().map(|bend| deg(bend.turn)).collect(),
            length_mm: mm(candidate.run.length()),
            vertices_mm: points.iter().map(|&p| p.into()).collect(),
            cost: (&candidate.cost).into(),
        }
    }
}
