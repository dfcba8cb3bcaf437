//! `plan.json`: the plan for other programs. Stable, versioned, with the unit in
//! every name.

use super::numbers::mm;
use super::quote::{CautionOut, QuoteOut, QuotingOut, cautions};
use super::room::ScanOut;
use super::run::RunOut;
use super::scatter::ScatterOut;
use super::stack_up::AccuracyOut;
use super::sticks::{StickLayoutOut, StickStockOut, layouts};
use super::survey::SurveyOut;
use super::tack_up::{LevelOut, PinOut};
use super::ways::AlternativeOut;
use crate::export::{ExportError, Exporter, OutFile};
use crate::job::{Job, Problem};
use crate::plan::{FORMAT, Plan};
use crate::run::Port;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;

const FILE: &str = "plan.json";

/// Writes `plan.json`.
#[derive(Clone, Copy, Debug, Default)]
pub struct PlanJson;

/// The JSON Schema of `plan.json`.
pub fn plan_schema() -> Value {
    schema_of::<PlanFile<'_>>()
}

/// The JSON Schema of what is written.
pub(in crate::export) fn schema_of<T: JsonSchema>() -> Value {
    SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator()
        .into_root_schema_for::<T>()
        .to_value()
}

impl Exporter for PlanJson {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let file = PlanFile::new(plan);
        let mut bytes = serde_json::to_vec_pretty(&file).map_err(|e| ExportError::new(FILE, e))?;
        bytes.push(b'\n');
        Ok(vec![OutFile::new(FILE, bytes)])
    }
}

/// A plan, for other programs. Lengths end in _mm, angles in _deg; points and unit vectors are x,
/// y, z in the job's right-handed frame. Clocks are about the tube's axis, positive clockwise
/// looking downstream; a piece's own zero is the long side of its start, or of its end where the
/// start is square. 'packet', 'close' and 'clear' read again: format, job, units, fraction, pins,
/// level, accuracy, stick_stock, quoting, warnings, warning_help; of ports socket_mm and known; of
/// runs name, tube, allowance, vertices_mm, ends, clr_mm and corner_mm of bends, rates, cost,
/// service, other_ways, lie of seams, and piece and trim_mm of the stack-up's closure. All else is
/// only told, and computed again from these: to change it here changes nothing, least of all the
/// quote or the lengths of pieces.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Runwright plan", rename = "Plan", deny_unknown_fields)]
pub(super) struct PlanFile<'a> {
    /// Name and version of the format: keys may be added within a version, none is renamed, removed
    /// or given another meaning.
    format: &'static str,
    /// The program and its version.
    made_by: String,
    /// What the job is called.
    job: &'a str,
    /// The job's unit, which paper is printed in. Numbers here are in the units that their keys
    /// name.
    #[schemars(extend("enum" = ["in", "mm", "cm", "m", "ft"]))]
    units: &'static str,
    /// Finest part of an inch that is printed: 32 for thirty-seconds.
    fraction: u32,
    /// Ports of the job, by name.
    ports: BTreeMap<&'a str, PortOut<'a>>,
    /// Fixed places to measure from; none in a job without.
    pins: BTreeMap<&'a str, PinOut>,
    /// Which way is up, and what headings count from.
    level: LevelOut,
    /// How well the shop is taken to work, one standard deviation.
    accuracy: AccuracyOut,
    /// What the shop cuts its tube from.
    stick_stock: StickStockOut<'a>,
    /// Which sticks the runs are cut from, one layout a tube; none without sticks.
    sticks: Vec<StickLayoutOut<'a>>,
    /// Scans; none in a job without.
    scans: Vec<ScanOut<'a>>,
    /// The job's runs, in its order.
    runs: Vec<RunOut<'a>>,
    /// Other ways to make the runs that were found.
    alternatives: Vec<AlternativeOut<'a>>,
    /// Rates of the quote beside each run's.
    quoting: QuotingOut<'a>,
    /// What the job costs and what to charge. Only told: it is computed again from 'cost', 'rates'
    /// and 'quoting'.
    quote: QuoteOut,
    /// What to mind about the material.
    cautions: Vec<CautionOut>,
    /// What the user should know before cutting.
    warnings: Vec<String>,
    /// What to do about each of the warnings.
    warning_help: Vec<&'a str>,
}

/// A flange or tube end.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Port", deny_unknown_fields)]
pub(super) struct PortOut<'a> {
    /// Center of the face: x, y, z in the job's frame.
    center_mm: [f64; 3],
    /// Unit vector from the face into free space, at both ends of a run.
    outward: [f64; 3],
    /// How far tube goes in past the face.
    socket_mm: f64,
    /// Least straight tube out of the face.
    straight_mm: f64,
    /// How well center and outward are known.
    known: ScatterOut,
    /// What was measured; null where center and outward are given and nothing else.
    measured: Option<SurveyOut<'a>>,
}

impl<'a> PlanFile<'a> {
    pub(super) fn new(plan: &'a Plan) -> Self {
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
            level: plan.job.level().into(),
            accuracy: (&plan.job.accuracy).into(),
            stick_stock: StickStockOut::new(&plan.job.stick_stock, plan.job.kerf()),
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

impl<'a> PortOut<'a> {
    pub(super) fn new(port: &Port, job: &'a Job) -> Self {
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
