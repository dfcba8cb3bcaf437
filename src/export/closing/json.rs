//! `closure.json`: what closes the gap, for other programs.

use super::piece_json::{ClosureOut, SleeveOut, TrimOut};
use crate::closure::{Closure, Gap, Reclock, Several, Side, Way, Widths};
use crate::export::json::{
    ArcOut, JointOut, PieceOut, ScatterOut, SurveyOut, TubeOut, deg, mm, numbered, schema_of,
};
use crate::export::{ExportError, OutFile};
use crate::geometry::Direction;
use crate::plan::{Advice, BetweenEnds, Closing, Found, MetEnd};
use crate::tube::StockBend;
use crate::units::Length;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

/// Name and version of `closure.json`. Fields may be added within a version.
const FORMAT: &str = "runwright-closure-1";

/// The JSON Schema of `closure.json`.
pub fn closure_schema() -> Value {
    schema_of::<ClosingOut<'_>>()
}

/// Writes `closure.json`.
pub fn closing_json(closing: &Closing) -> Result<OutFile, ExportError> {
    const FILE: &str = "closure.json";
    let out = ClosingOut::new(closing);
    let mut bytes = serde_json::to_vec_pretty(&out).map_err(|e| ExportError::new(FILE, e))?;
    bytes.push(b'\n');
    Ok(OutFile::new(FILE, bytes))
}

/// What closes a gap, for other programs; no command reads it again. Lengths end in _mm, angles in
/// _deg; points and unit vectors are x, y, z in the job's right-handed frame. Clocks are about the
/// tube's axis, positive clockwise looking downstream, from the closing piece's own zero unless
/// said. Where a pair stands, the first is the end before the gap, upstream.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "Runwright closure", rename = "Closing", deny_unknown_fields)]
pub(super) struct ClosingOut<'a> {
    /// Name and version of the format: keys may be added within a version, none is renamed, removed
    /// or given another meaning.
    format: &'static str,
    /// The unit that paper is printed in. Numbers here are in the units that their keys name.
    #[schemars(extend("enum" = ["in", "mm", "cm", "m", "ft"]))]
    units: &'static str,
    /// Name of the run; null without a plan.
    run: Option<&'a str>,
    /// Number of the plan's piece that was left for last; null without a plan.
    piece: Option<usize>,
    /// The tube.
    tube: TubeOut<'a>,
    /// What the closing piece must keep.
    fit_up: FitUpOut,
    /// What to do.
    #[schemars(extend("enum" = ["one piece", "turn joints", "several pieces", "nothing", "widths"]))]
    advice: &'static str,
    /// The built ends, upstream first; none where widths were measured.
    ends: Vec<EndOut<'a>>,
    /// Every choice of which ends are cut again, and what comes of it.
    ways: Vec<WayOut>,
    /// The piece to cut; null where none goes in.
    closure: Option<ClosureOut>,
    /// Joints to turn so that one piece goes in; null where nothing was looked for or found.
    reclock: Option<ReclockOut>,
    /// Several pieces in place of one; null where nothing was looked for or found.
    several: Option<SeveralOut<'a>>,
    /// What the widths tell; null where ends were measured.
    gap: Option<GapOut>,
    /// What the user should know before cutting.
    warnings: Vec<String>,
}

/// What a closing piece must keep to be welded.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "FitUp", deny_unknown_fields)]
pub(super) struct FitUpOut {
    /// Root gap that is left at each seam once it is welded.
    gap_mm: f64,
    /// Greatest gap that is still welded.
    most_gap_mm: f64,
    /// Greatest step from wall to wall.
    high_low_mm: f64,
    /// Least short side.
    short_side_mm: f64,
    /// Greatest saw angle off square.
    most_cut_deg: f64,
    /// Least that comes off an end that is cut again.
    shave_mm: f64,
}

/// A built end, or the port where nothing is built from it.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "BuiltEnd", deny_unknown_fields)]
pub(super) struct EndOut<'a> {
    /// Upstream of the gap, or downstream.
    side: &'static str,
    /// The plan's joint at which it was measured; null without a plan.
    joint: Option<usize>,
    /// Name of the port, where nothing is built from it; null else.
    port: Option<&'a str>,
    /// Where the tube's axis meets its rim: x, y, z in the job's frame.
    center_mm: [f64; 3],
    /// Of the tube, out into the gap: unit vector.
    axis: [f64; 3],
    /// Of the rim's plane, out of the tube; null where it is ragged.
    normal: Option<[f64; 3]>,
    /// Where the mark on its rim is; null without one.
    mark_mm: Option<[f64; 3]>,
    /// How far off the plan: x, y, z; null without a plan.
    off_mm: Option<[f64; 3]>,
    /// Angle between its axis and the planned one; null without a plan.
    off_deg: Option<f64>,
    /// Joints whose welds will still pull it: center and all else are as it stands then.
    to_weld: &'a [usize],
    /// By how much from where it was measured.
    pull_mm: [f64; 3],
    /// How well the axis is known.
    known_to: ScatterOut,
    /// How well the rim is known.
    rim_known_to: ScatterOut,
    /// What was measured of it; null of a port that is given.
    measured: Option<SurveyOut<'a>>,
}

/// A choice of which ends are cut again.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Way", deny_unknown_fields)]
pub(super) struct WayOut {
    /// Whether the end before and the end after is cut again.
    trimmed: [bool; 2],
    /// Whether it can be welded.
    good: bool,
    /// Why no piece goes in; null where one does.
    refused: Option<String>,
    /// Greatest step from wall to wall; null where no piece goes in.
    high_low_mm: Option<f64>,
    /// The piece's long side; null where no piece goes in.
    long_mm: Option<f64>,
    /// Shop time; null where no piece goes in.
    minutes: Option<f64>,
}

/// Joints to turn so that one piece goes in.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Reclock", deny_unknown_fields)]
pub(super) struct ReclockOut {
    /// What to turn.
    turns: Vec<TurnOut>,
    /// Shop time.
    minutes: f64,
}

/// A joint to turn.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Turn", deny_unknown_fields)]
pub(super) struct TurnOut {
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    joint: usize,
    /// Clockwise looking downstream, of the part on the gap's side.
    by_deg: f64,
    /// Step from wall to wall that the turn leaves at the joint.
    high_low_mm: f64,
    /// Whether it is tacked and not welded.
    tacked: bool,
}

/// Several pieces in place of one.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Several", deny_unknown_fields)]
pub(super) struct SeveralOut<'a> {
    /// Their polyline, from built end to built end.
    vertices_mm: Vec<[f64; 3]>,
    /// In order of flow.
    pieces: Vec<PieceOut>,
    /// Arcs of stock bends among them.
    bends: Vec<ArcOut<'a>>,
    /// Clocks of the marks on the built ends, on the first and on the last piece.
    marks_deg: [Option<f64>; 2],
    /// Between them, both ends included.
    joints: Vec<JointOut>,
    /// What comes off the built ends; null where nothing does.
    trims: [Option<TrimOut>; 2],
    /// Shop time.
    minutes: f64,
}

/// A gap whose widths were measured.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Gap", deny_unknown_fields)]
pub(super) struct GapOut {
    /// As it is once all is welded.
    width_mm: f64,
    /// By how much that is more than as measured.
    opens_mm: f64,
    /// Standard deviation of the piece's length by the fit.
    fit_sigma_mm: f64,
    /// How many times more the stations disagree than their accuracy explains; 1 where
    /// chance does.
    disagreement: f64,
    /// Width less fit at each station, those that are left out too.
    left_mm: Vec<f64>,
    /// Stations, from 1, that are left out; or of which one is off.
    slips: Vec<Vec<usize>>,
    /// Where widths were measured.
    stations: Vec<StationOut>,
    #[serde(flatten)]
    sleeve: SleeveOut,
}

/// A width from rim to rim.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Station", deny_unknown_fields)]
pub(super) struct StationOut {
    /// Clockwise looking downstream.
    clock_deg: f64,
    /// As measured.
    width_mm: f64,
}

impl<'a> ClosingOut<'a> {
    pub(super) fn new(closing: &'a Closing) -> Self {
        let fit_up = &closing.fit_up;
        let tube = &closing.tube;
        let plan = closing.plan.as_ref();
        let between = match &closing.found {
            Found::Ends(between) => Some(between.as_ref()),
            Found::Widths { .. } => None,
        };
        let several = between.and_then(|between| {
            let several = between.several.as_ref()?.as_ref().ok()?;
            Some(SeveralOut::new(several, between, &closing.stock))
        });
        Self {
            format: FORMAT,
            units: closing.style.unit.symbol(),
            run: plan.map(|plan| plan.run.name.as_str()),
            piece: plan.map(|plan| plan.piece),
            tube: tube.into(),
            fit_up: FitUpOut {
                gap_mm: mm(fit_up.gap),
                most_gap_mm: mm(fit_up.most_gap),
                high_low_mm: mm(fit_up.high_low),
                short_side_mm: mm(fit_up.short_side),
                most_cut_deg: deg(fit_up.most_cut),
                shave_mm: mm(fit_up.shave),
            },
            advice: between.map_or("widths", advice),
            ends: between.map_or_else(Vec::new, |between| {
                let ends = between.ends.iter().zip(Side::BOTH);
                ends.map(|(end, side)| EndOut::new(end, side)).collect()
            }),
            ways: between.map_or_else(Vec::new, |between| {
                between.ways.list.iter().map(WayOut::from).collect()
            }),
            closure: closing.closure().map(ClosureOut::from),
            reclock: between.and_then(|between| between.reclock.as_ref().map(ReclockOut::from)),
            several,
            gap: match &closing.found {
                Found::Widths {
                    widths, opens, gap, ..
                } => Some(GapOut::new(widths, *opens, gap)),
                Found::Ends(_) => None,
            },
            warnings: closing
                .warnings
                .iter()
                .map(|problem| problem.placed_message())
                .collect(),
        }
    }
}

pub(super) const fn advice(between: &BetweenEnds) -> &'static str {
    match between.advice {
        Advice::OnePiece => "one piece",
        Advice::Reclock => "turn joints",
        Advice::Several => "several pieces",
        Advice::Nothing => "nothing",
    }
}

impl<'a> EndOut<'a> {
    pub(super) fn new(end: &'a MetEnd, side: Side) -> Self {
        let built = &end.built;
        let array = |direction: &Direction| <[f64; 3]>::from(direction.into_inner());
        Self {
            side: side.word(),
            joint: end.joint,
            port: end.port.as_ref().map(|port| port.name.as_str()),
            center_mm: built.center.into(),
            axis: array(&built.axis),
            normal: built.plane().map(|plane| array(&plane.normal)),
            mark_mm: built.mark.as_ref().map(|(at, _)| (*at).into()),
            off_mm: end.off.map(|(shift, _)| shift.into()),
            off_deg: end.off.map(|(_, lean)| deg(lean)),
            to_weld: &end.to_weld,
            pull_mm: end.pull.into(),
            known_to: ScatterOut::new(&built.axis_scatter, &built.axis),
            rim_known_to: ScatterOut::new(&built.rim_scatter, &built.normal()),
            measured: end
                .survey
                .as_ref()
                .and_then(|(end, _)| SurveyOut::new(&end.survey)),
        }
    }
}

impl From<&Way> for WayOut {
    fn from(way: &Way) -> Self {
        let closure = way.closure.as_ref().ok();
        Self {
            trimmed: way.trimmed,
            good: closure.is_some_and(Closure::is_good),
            refused: way.closure.as_ref().err().map(ToString::to_string),
            high_low_mm: closure.map(|closure| mm(closure.high_low())),
            long_mm: closure.map(|closure| mm(closure.sleeve.long_side().0)),
            minutes: closure.map(|closure| closure.minutes),
        }
    }
}

impl From<&Reclock> for ReclockOut {
    fn from(reclock: &Reclock) -> Self {
        let turns = reclock.turns.iter().map(|turn| TurnOut {
            joint: turn.joint.joint,
            by_deg: deg(turn.by),
            high_low_mm: mm(turn.high_low),
            tacked: turn.joint.tacked,
        });
        Self {
            turns: turns.collect(),
            minutes: reclock.minutes,
        }
    }
}

impl<'a> SeveralOut<'a> {
    pub(super) fn new(several: &Several, between: &BetweenEnds, stock: &'a [StockBend]) -> Self {
        let radius = several.candidate.run.tube().radius();
        let ends = [&between.ends[0].built, &between.ends[1].built];
        Self {
            vertices_mm: several.vertices().iter().map(|&p| p.into()).collect(),
            pieces: numbered(several.pieces(), 1, PieceOut::new),
            bends: ArcOut::of(several.pieces(), 1, stock),
            marks_deg: several.marks(ends).map(|mark| mark.map(deg)),
            joints: numbered(several.joints(), 0, |number, joint| {
                JointOut::new(number, joint, radius)
            }),
            trims: several
                .trims
                .each_ref()
                .map(|trim| trim.as_ref().map(TrimOut::from)),
            minutes: several.minutes,
        }
    }
}

impl GapOut {
    pub(super) fn new(widths: &Widths, opens: Length, gap: &Gap) -> Self {
        let stations = widths.stations.iter().map(|at| StationOut {
            clock_deg: deg(at.clock),
            width_mm: mm(at.width),
        });
        let slips = gap
            .slips
            .iter()
            .map(|slip| slip.stations.iter().map(|i| i + 1).collect());
        Self {
            width_mm: mm(gap.width),
            opens_mm: mm(opens),
            fit_sigma_mm: mm(gap.fit_good_to),
            disagreement: gap.disagreement,
            left_mm: gap.left.iter().map(|left| mm(*left)).collect(),
            slips: slips.collect(),
            stations: stations.collect(),
            sleeve: (&gap.sleeve).into(),
        }
    }
}
