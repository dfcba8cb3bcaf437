//! `plan.json`: the plan for other programs. Stable, versioned, with the unit in
//! every name.

use super::arc_json::{ArcOut, arcs};
use super::quote_json::{
    BoughtOut, CautionOut, GrowthOut, OtherWayOut, QuoteOut, QuotingOut, ServiceOut, bought,
    cautions, other_ways,
};
use super::scatter_json::ScatterOut;
use super::seams_json::SeamsOut;
use super::stack_up_json::{AccuracyOut, StackUpOut};
use super::sticks_json::{StickLayoutOut, StickStockOut, layouts};
use super::survey_json::SurveyOut;
use super::tack_up_json::{PinOut, TackUpOut};
use super::{ExportError, Exporter, OutFile};
use crate::geometry::{Direction, Point};
use crate::job::{Job, JobCopy, JobRun, LoadedScan, Problem};
use crate::plan::{FORMAT, Plan, PlannedRun};
use crate::route::{Bend, Candidate, Rates, Reason, Task};
use crate::run::{Joint, JointKind, Placed, Port, Run};
use crate::shop::{QuoteRates, SawStep, Work, piece_mass_kg};
use crate::survey::{Suspect, TracedJoint};
use crate::tube::{Part, StockBend, Tube};
use crate::units::{Angle, Length};
use serde::Serialize;
use std::collections::BTreeMap;

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
    /// Finest part of an inch that is printed: 32 for thirty-seconds.
    fraction: u32,
    ports: BTreeMap<&'a str, PortOut<'a>>,
    /// Fixed places to measure from; none in a job without.
    pins: BTreeMap<&'a str, PinOut>,
    /// How well the shop is taken to work, one standard deviation.
    accuracy: AccuracyOut,
    /// What the shop cuts its tube from.
    stick_stock: StickStockOut<'a>,
    /// Which sticks the runs are cut from, one layout a tube; none without sticks.
    sticks: Vec<StickLayoutOut<'a>>,
    /// Scans; none in a job without.
    scans: Vec<ScanOut<'a>>,
    runs: Vec<RunOut<'a>>,
    alternatives: Vec<AlternativeOut<'a>>,
    /// Rates of the quote beside each run's.
    quoting: QuotingOut<'a>,
    quote: QuoteOut,
    cautions: Vec<CautionOut>,
    warnings: Vec<String>,
    /// What to do about each of the warnings.
    warning_help: Vec<&'a str>,
}

#[derive(Serialize)]
struct PortOut<'a> {
    center_mm: [f64; 3],
    outward: [f64; 3],
    socket_mm: f64,
    straight_mm: f64,
    /// How well center and outward are known.
    known: ScatterOut,
    /// What was measured; null where center and outward are given and nothing else.
    measured: Option<SurveyOut<'a>>,
}

#[derive(Serialize)]
struct RunOut<'a> {
    name: &'a str,
    from: &'a str,
    to: &'a str,
    tube: TubeOut<'a>,
    limits: LimitsOut<'a>,
    allowance: AllowanceOut,
    rates: RatesOut,
    /// The polyline from the first port's face to the last port's.
    vertices_mm: Vec<[f64; 3]>,
    /// Least and greatest corner of the box round the outside.
    box_mm: [[f64; 3]; 2],
    length_mm: f64,
    cut_length_mm: f64,
    weld_mm: f64,
    /// Both ends as the run meets them: a port may have been free to move.
    ends: [EndOut<'a>; 2],
    /// Arcs of stock bends; none in a run of pies.
    bends: Vec<ArcOut<'a>>,
    pie_bends: Vec<BendOut>,
    straights_mm: Vec<f64>,
    pieces: Vec<PieceOut>,
    joints: Vec<JointOut>,
    saw: Vec<SawOut>,
    /// How far off it may end, and which piece to leave for last.
    stack_up: StackUpOut<'a>,
    /// In which order to put it together, and what a tape should read.
    tack_up: TackUpOut<'a>,
    /// Where the tube's weld seam comes to lie; null in seamless tube.
    seams: Option<SeamsOut>,
    /// Thickness of the wrap round the tube.
    wrap_mm: f64,
    /// To other runs and to itself; null with nothing near.
    clearance_mm: Option<f64>,
    /// To each body of the scene.
    obstacles: Vec<ObstacleOut<'a>>,
    through: Vec<PassOut<'a>>,
    /// The tube that the run is a copy of; null where it was searched for.
    copied: Option<CopiedOut>,
    cost: CostOut,
    /// How it is used.
    service: ServiceOut,
    /// As cut, weld metal not counted; null where the density is not known.
    mass_kg: Option<f64>,
    /// By heat; null where the material's expansion is not known.
    growth: Option<GrowthOut>,
    /// The same ports joined by bends of another kind.
    other_ways: Vec<OtherWayOut>,
    /// What speaks for this run among those found.
    reasons: Vec<&'static str>,
    stopped: &'static str,
    searches: u32,
}

/// How well a copied run fits its tube.
#[derive(Serialize)]
struct CopiedOut {
    from: &'static str,
    accuracy_mm: f64,
    points: usize,
    points_left_out: usize,
    /// Of the points that count; null without any.
    rms_mm: Option<f64>,
    /// Sum of squares of what is left, in deviations, and its degrees of freedom.
    chi_square: f64,
    degrees_of_freedom: usize,
    joints: Vec<CopiedJointOut>,
    ends: [CopiedEndOut; 2],
    /// What is left of each point, in the job's order.
    left_mm: Vec<f64>,
    suspects: Vec<SuspectOut>,
}

#[derive(Serialize)]
struct CopiedJointOut {
    number: usize,
    at_mm: [f64; 3],
    /// Standard deviation of the place, the greatest any way.
    sigma_mm: f64,
    /// Of the place's coordinates, row by row.
    covariance_mm2: [[f64; 3]; 3],
    deflection_deg: f64,
    deflection_sigma_deg: f64,
    /// How far apart the two pieces' own lines pass; null where a piece has too few
    /// points for one.
    apart_mm: Option<f64>,
    /// Of the points beside the joint; null without any.
    rms_mm: Option<f64>,
}

#[derive(Serialize)]
struct CopiedEndOut {
    shift_mm: f64,
    lean_deg: f64,
}

#[derive(Serialize)]
struct SuspectOut {
    /// Where it stands in the job.
    path: String,
    off_mm: f64,
    /// Of a port; null of a point.
    lean_deg: Option<f64>,
    left_out: bool,
}

#[derive(Serialize)]
struct EndOut<'a> {
    port: &'a str,
    center_mm: [f64; 3],
    outward: [f64; 3],
}

#[derive(Serialize)]
struct ObstacleOut<'a> {
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
struct ScanOut<'a> {
    name: &'a str,
    file: &'a str,
    triangles: usize,
    /// Least and greatest corner, in the job's frame.
    box_mm: [[f64; 3]; 2],
    parts: Vec<ScanPartOut<'a>>,
}

#[derive(Serialize)]
struct ScanPartOut<'a> {
    name: &'a str,
    triangles: usize,
    clearance_mm: f64,
}

#[derive(Serialize)]
struct PassOut<'a> {
    name: &'a str,
    room_mm: f64,
}

#[derive(Serialize)]
pub(super) struct TubeOut<'a> {
    od_mm: f64,
    wall_mm: f64,
    material: &'a str,
    /// Density, and where it is from; null where it is not known.
    density_g_per_cm3: Option<f64>,
    density_source: Option<&'a str>,
    /// The job's own; null where it gives none.
    own_density_g_per_cm3: Option<f64>,
    own_expansion_per_c: Option<f64>,
}

#[derive(Serialize)]
struct LimitsOut<'a> {
    clr_min_mm: f64,
    clr_max_mm: f64,
    usual_cut_deg: f64,
    max_cut_deg: f64,
    min_short_side_mm: f64,
    between_mm: f64,
    /// CLRs that pies may have, if not any in the range.
    clrs_mm: Vec<f64>,
    /// Angles that the saw has stops for, if not any.
    saw_angles_deg: Vec<f64>,
    one_setting: bool,
    most_bends: usize,
    pies: bool,
    stock: Vec<&'a str>,
    wished_length_mm: Option<f64>,
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
    stop_minutes: f64,
    clock_minutes: f64,
    cut_minutes: f64,
    fit_up_minutes: f64,
    weld_mm_per_minute: f64,
    kerf_mm: f64,
    run_per_meter: f64,
    flow_loss: f64,
    off_length_per_meter: f64,
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
pub(super) struct PieceOut {
    number: usize,
    kind: &'static str,
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
    /// Null where the material's density is not known.
    mass_kg: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct JointOut {
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
    /// From a stop to the saw at the long side of this cut.
    stop_mm: f64,
    /// Whether the cut also makes the next piece's start.
    mates: bool,
    half_turn: bool,
    /// Whether saw and stop stay as they were at the cut before.
    again: bool,
}

#[derive(Serialize)]
struct CostOut {
    setups: u32,
    stops: u32,
    clocks: u32,
    cuts: u32,
    joints: u32,
    weld_mm: f64,
    tube_mm: f64,
    stock_bends: u32,
    stock_money: f64,
    /// Stock bends by kind.
    bought: Vec<BoughtOut>,
    minutes: f64,
    money: f64,
    /// Loss of the bends in velocity heads, and what published tables leave open.
    flow_loss: f64,
    flow_loss_low: f64,
    flow_loss_high: f64,
    smallest_short_side_mm: f64,
    /// Shortest side of any straight piece; null without one.
    smallest_straight_mm: Option<f64>,
    rank: f64,
}

#[derive(Serialize)]
struct AlternativeOut<'a> {
    run: &'a str,
    bends: usize,
    joints: u32,
    turns_deg: Vec<f64>,
    /// What each bend is made of: pies, or a stock bend's name.
    made_of: Vec<&'a str>,
    length_mm: f64,
    vertices_mm: Vec<[f64; 3]>,
    cost: CostOut,
    reasons: Vec<&'static str>,
}

impl<'a> PlanFile<'a> {
    fn new(plan: &'a Plan) -> Self {
        let runs = plan
            .runs
            .iter()
            .zip(&plan.job.runs)
            .map(|(run, job_run)| RunOut::new(run, job_run, &plan.job.quote_rates));
        let tasks = plan.job.runs.iter().map(|run| &run.task);
        let alternatives = plan.runs.iter().zip(tasks).flat_map(|(run, task)| {
            let others = run.solution.alternatives.iter();
            others.map(|other| AlternativeOut::new(&run.name, task, other))
        });
        let ports = plan.job.ports.iter();
        let warnings = || plan.job.warnings.iter().chain(&plan.warnings);
        Self {
            format: FORMAT,
            made_by: format!("runwright {}", env!("CARGO_PKG_VERSION")),
            job: &plan.job.name,
            units: plan.job.style.unit.symbol(),
            fraction: plan.job.style.denominator.get(),
            ports: ports
                .map(|(name, port)| (name.as_str(), PortOut::new(port, &plan.job)))
                .collect(),
            pins: plan
                .job
                .pins()
                .iter()
                .map(|pin| (pin.name.as_str(), pin.into()))
                .collect(),
            accuracy: (&plan.job.accuracy).into(),
            stick_stock: StickStockOut::new(&plan.job.stick_stock, kerf(&plan.job)),
            sticks: layouts(plan),
            scans: plan.job.loaded.iter().map(ScanOut::from).collect(),
            runs: runs.collect(),
            alternatives: alternatives.collect(),
            quoting: (&plan.job.quote_rates).into(),
            quote: (&plan.quote()).into(),
            cautions: cautions(plan),
            warnings: warnings().map(Problem::placed_message).collect(),
            warning_help: warnings().map(|problem| problem.help.as_str()).collect(),
        }
    }
}

impl<'a> RunOut<'a> {
    fn new(planned: &'a PlannedRun, job_run: &'a JobRun, rates: &QuoteRates) -> Self {
        let (run, task) = (planned.run(), &job_run.task);
        let route = &planned.solution.best.route;
        Self {
            name: &planned.name,
            from: &task.start.name,
            to: &task.end.name,
            tube: run.tube().into(),
            limits: LimitsOut::new(task, planned.wish),
            allowance: AllowanceOut {
                gap_mm: mm(task.allowance.gap),
                shrinkage_mm: mm(task.allowance.shrinkage),
            },
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
            saw: planned.saw.steps.iter().map(SawOut::from).collect(),
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

impl CopiedOut {
    fn new(copy: &JobCopy, task: &Task) -> Self {
        let traced = &copy.traced;
        let ports = [task.start.name.as_str(), task.end.name.as_str()];
        let joint = |number: usize, joint: &TracedJoint| {
            let spread = joint.scatter.shift();
            CopiedJointOut {
                number,
                at_mm: joint.at.into(),
                sigma_mm: mm(joint.sigma().0),
                covariance_mm2: [0, 1, 2].map(|i| [0, 1, 2].map(|j| positive_zero(spread[(i, j)]))),
                deflection_deg: deg(joint.turn),
                deflection_sigma_deg: deg(joint.turn_sigma),
                apart_mm: joint.own.apart().map(mm),
                rms_mm: joint.rms.map(mm),
            }
        };
        let suspect = |suspect: &Suspect| SuspectOut {
            path: copy.place(suspect.spot, ports).to_string(),
            off_mm: mm(suspect.off),
            lean_deg: suspect.lean.map(deg),
            left_out: suspect.left_out,
        };
        Self {
            from: copy.touched,
            accuracy_mm: mm(copy.accuracy),
            points: traced.left.len(),
            points_left_out: traced.left.iter().filter(|left| !left.counted).count(),
            rms_mm: traced.rms.map(mm),
            chi_square: traced.squares,
            degrees_of_freedom: traced.spare,
            joints: numbered(&traced.joints, 1, joint),
            ends: traced.ends.map(|end| CopiedEndOut {
                shift_mm: mm(end.shift),
                lean_deg: deg(end.lean),
            }),
            left_mm: traced.left.iter().map(|left| mm(left.off)).collect(),
            suspects: traced.suspects.iter().map(suspect).collect(),
        }
    }
}

/// The saw's kerf, which all runs share.
fn kerf(job: &Job) -> Length {
    let first = job.runs.first();
    first.map_or(Length::ZERO, |run| run.task.rates.kerf)
}

pub(super) fn numbered<T, U>(items: &[T], first: usize, make: impl Fn(usize, &T) -> U) -> Vec<U> {
    let items = items.iter().enumerate();
    items.map(|(i, item)| make(first + i, item)).collect()
}

pub(super) fn mm(length: Length) -> f64 {
    positive_zero(length.mm())
}

pub(super) fn deg(angle: Angle) -> f64 {
    positive_zero(angle.degrees())
}

/// Never −0, which some readers stumble over.
pub(super) fn positive_zero(value: f64) -> f64 {
    value + 0.0
}

impl<'a> PortOut<'a> {
    fn new(port: &Port, job: &'a Job) -> Self {
        let survey = job.surveys.iter().find(|survey| survey.port == port.name);
        Self {
            center_mm: port.center.into(),
            outward: port.outward.into_inner().into(),
            socket_mm: mm(port.socket),
            straight_mm: mm(port.straight),
            known: ScatterOut::new(&port.scatter, &port.outward),
            measured: survey.and_then(SurveyOut::new),
        }
    }
}

impl<'a> From<&'a Tube> for TubeOut<'a> {
    fn from(tube: &'a Tube) -> Self {
        Self {
            od_mm: mm(tube.od()),
            wall_mm: mm(tube.wall()),
            material: tube.material(),
            density_g_per_cm3: tube.density(),
            density_source: match tube.own().density {
                Some(_) => Some("the job"),
                None => tube.known().map(|known| known.density_source.text),
            },
            own_density_g_per_cm3: tube.own().density,
            own_expansion_per_c: tube.own().expansion,
        }
    }
}

/// Both ends as the run meets them.
fn ends<'a>(task: &'a Task, run: &Run) -> [EndOut<'a>; 2] {
    let [first, last] = run.centerline().ends();
    let end = |port: &'a Port, (point, outward): (Point, Direction)| EndOut {
        port: &port.name,
        center_mm: point.into(),
        outward: outward.map(positive_zero).into(),
    };
    [end(&task.start, first), end(&task.end, last)]
}

/// The arcs of a run's stock bends, in order of flow.
fn obstacles<'a>(planned: &PlannedRun, task: &'a Task) -> Vec<ObstacleOut<'a>> {
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
        Self {
            name: &scan.name,
            file: &scan.file,
            triangles: scan.triangles,
            box_mm: <[_; 2]>::from(scan.bounds).map(|corner| corner.into()),
            parts: scan.parts.iter().map(part).collect(),
        }
    }
}

fn passes<'a>(run: &Run, task: &'a Task) -> Vec<PassOut<'a>> {
    let (centerline, radius) = (run.centerline(), run.tube().radius());
    let passes = task.passes.iter();
    passes
        .map(|pass| PassOut {
            name: &pass.name,
            room_mm: pass.room_along(centerline, radius),
        })
        .collect()
}

fn words(reasons: &[Reason]) -> Vec<&'static str> {
    reasons.iter().map(|reason| reason.words()).collect()
}

impl<'a> LimitsOut<'a> {
    fn new(task: &'a Task, wish: Option<Length>) -> Self {
        let limits = &task.limits;
        Self {
            clr_min_mm: mm(limits.clr_min),
            clr_max_mm: mm(limits.clr_max),
            usual_cut_deg: deg(limits.usual_cut),
            max_cut_deg: deg(limits.max_cut),
            min_short_side_mm: mm(limits.min_short_side),
            between_mm: mm(limits.min_between),
            clrs_mm: task.clrs.iter().copied().map(mm).collect(),
            saw_angles_deg: task.saw_angles.iter().copied().map(deg).collect(),
            one_setting: task.one_setting,
            most_bends: task.most_bends,
            pies: task.pies,
            stock: task.stock.iter().map(|bend| bend.name.as_str()).collect(),
            wished_length_mm: wish.map(mm),
        }
    }
}

impl From<&Rates> for RatesOut {
    fn from(rates: &Rates) -> Self {
        Self {
            labor_per_hour: rates.labor_per_hour,
            tube_per_meter: rates.tube_per_meter,
            setup_minutes: rates.setup_minutes,
            stop_minutes: rates.stop_minutes,
            clock_minutes: rates.clock_minutes,
            cut_minutes: rates.cut_minutes,
            fit_up_minutes: rates.fit_up_minutes,
            weld_mm_per_minute: mm(rates.weld_per_minute),
            kerf_mm: mm(rates.kerf),
            run_per_meter: rates.run_per_meter,
            flow_loss: rates.flow_loss,
            off_length_per_meter: rates.off_length_per_meter,
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
    pub(super) fn new(number: usize, placed: &Placed) -> Self {
        let piece = &placed.piece;
        Self {
            number,
            kind: match piece {
                Part::Straight(_) => "straight",
                Part::Bent(_) => "stock-bend",
            },
            length_mm: mm(placed.edge),
            cut_length_mm: mm(piece.length()),
            start_cut_deg: deg(piece.start().angle),
            end_cut_deg: deg(piece.end().angle),
            clock_deg: deg(piece.clock()),
            long_mm: mm(piece.long_side()),
            short_mm: mm(piece.short_side()),
            mass_kg: piece_mass_kg(piece),
        }
    }
}

impl JointOut {
    pub(super) fn new(number: usize, joint: &Joint, radius: Length) -> Self {
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
            stop_mm: mm(step.stop),
            mates: step.mates,
            half_turn: step.is_half_turn(),
            again: step.again,
        }
    }
}

impl CostOut {
    fn new(candidate: &Candidate, stock: &[StockBend]) -> Self {
        let cost = &candidate.cost;
        let work = Work::of(candidate, stock);
        Self {
            setups: cost.setups,
            stops: cost.stops,
            clocks: cost.clocks,
            cuts: cost.cuts,
            joints: cost.joints,
            weld_mm: mm(cost.weld),
            tube_mm: mm(cost.tube),
            stock_bends: cost.stock_bends,
            stock_money: cost.stock_money,
            bought: bought(&work.bought),
            minutes: cost.minutes,
            money: cost.money,
            flow_loss: cost.flow.k,
            flow_loss_low: cost.flow.low(),
            flow_loss_high: cost.flow.high(),
            smallest_short_side_mm: mm(candidate.smallest_short_side()),
            smallest_straight_mm: work.smallest.map(mm),
            rank: cost.rank,
        }
    }
}

impl<'a> AlternativeOut<'a> {
    fn new(run: &'a str, task: &'a Task, (candidate, reasons): &(Candidate, Vec<Reason>)) -> Self {
        let bends = &candidate.route.bends;
        let points = candidate.run.centerline().points();
        let made_of = |bend: &Bend| match bend.stock() {
            Some(item) => task.stock[item].name.as_str(),
            None => "pies",
        };
        Self {
            run,
            bends: bends.len(),
            joints: candidate.cost.joints,
            turns_deg: bends.iter().map(|bend| deg(bend.turn)).collect(),
            made_of: bends.iter().map(made_of).collect(),
            length_mm: mm(candidate.run.length()),
            vertices_mm: points.iter().map(|&p| p.into()).collect(),
            cost: CostOut::new(candidate, &task.stock),
            reasons: words(reasons),
        }
    }
}
