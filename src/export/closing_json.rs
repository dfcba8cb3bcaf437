//! `closure.json`, the updated `plan.json` and `closure.stl`.

use super::arc_json::ArcOut;
use super::plan_json::{JointOut, PieceOut, TubeOut, deg, mm, numbered};
use super::scatter_json::ScatterOut;
use super::stl::stl;
use super::survey_json::SurveyOut;
use super::{ExportError, OutFile};
use crate::closure::{Closure, Gap, Reclock, Seam, Several, Side, Trim, Way, Widths};
use crate::geometry::{Direction, Point};
use crate::plan::{Advice, BetweenEnds, Closing, Found, MetEnd};
use crate::run::Run;
use crate::tube::{Edge, Facets, Sleeve, StockBend};
use crate::units::{Angle, Length};
use serde::Serialize;
use serde_json::{Map, Value, json};

/// Name and version of `closure.json`. Fields may be added within a version.
const FORMAT: &str = "runwright-closure-1";
/// Keys of a run that still say what was planned, once the others say what was built.
const AS_PLANNED: [&str; 12] = [
    "limits",
    "pie_bends",
    "straights_mm",
    "saw",
    "stack_up",
    "obstacles",
    "through",
    "copied",
    "cost",
    "reasons",
    "stopped",
    "searches",
];
/// Stations of the tables.
const STATIONS: u32 = 24;

/// Writes `closure.json`.
pub fn closing_json(closing: &Closing) -> Result<OutFile, ExportError> {
    const FILE: &str = "closure.json";
    let out = ClosingOut::new(closing);
    let mut bytes = serde_json::to_vec_pretty(&out).map_err(|e| ExportError::new(FILE, e))?;
    bytes.push(b'\n');
    Ok(OutFile::new(FILE, bytes))
}

/// `closure.stl`: the piece by itself, standing on its start, axis up, clock zero along x;
/// one each for several. And `closure-in-place.stl`: all of it in the job's frame. None
/// where nothing closes the gap.
pub fn closing_stls(closing: &Closing, chord: Length) -> Result<Vec<OutFile>, ExportError> {
    const IN_PLACE: &str = "closure-in-place.stl";
    let facets = Facets::within(closing.tube.radius(), chord);
    let between = match &closing.found {
        Found::Widths { gap, .. } => {
            let mesh = gap.sleeve.mesh(facets);
            return Ok(vec![stl("closure.stl", [&mesh].into_iter())?]);
        }
        Found::Ends(between) => between,
    };
    if let Some(closure) = between.closure() {
        let own = closure.sleeve.mesh(facets);
        let placed = closure.axis.place(&closure.zero, own.clone());
        return Ok(vec![
            stl("closure.stl", [&own].into_iter())?,
            stl(IN_PLACE, [&placed].into_iter())?,
        ]);
    }
    let Some(Ok(several)) = &between.several else {
        return Ok(Vec::new());
    };
    let mut files = Vec::new();
    for (i, placed) in several.pieces().iter().enumerate() {
        let name = format!("closure-{}.stl", closing.piece_name(i));
        files.push(stl(&name, [&placed.piece.mesh(facets)].into_iter())?);
    }
    files.push(stl(IN_PLACE, several.meshes(facets).iter())?);
    Ok(files)
}

/// `plan.json` again, with `run` in the place of the run that was planned: its shape as it
/// was built and closed. What was asked for and what it was to cost stays.
pub fn closing_plan_json(
    plan: &Value,
    closing: &Closing,
    run: &Run,
) -> Result<OutFile, ExportError> {
    const FILE: &str = "plan.json";
    let failed = |reason: &str| ExportError::new(FILE, reason);
    let mut plan = plan.clone();
    let planned = closing
        .plan
        .as_ref()
        .ok_or_else(|| failed("there is no plan"))?;
    let runs = plan.get_mut("runs").and_then(Value::as_array_mut);
    let own = runs.and_then(|runs| {
        let named = |run: &&mut Value| {
            run.get("name").and_then(Value::as_str) == Some(planned.run.name.as_str())
        };
        runs.iter_mut().find(named)
    });
    let own = own.and_then(Value::as_object_mut);
    let own = own.ok_or_else(|| failed("the run is not in it"))?;
    for (key, value) in shape(run, own, &closing.stock) {
        own.insert(key, value);
    }
    let piece = closure_number(closing);
    if let (Some(number), Some(closure)) = (piece, closing.closure())
        && let Some(place) = own
            .get_mut("pieces")
            .and_then(|pieces| pieces.get_mut(number - 1))
    {
        patch_piece(place, &closure.sleeve);
    }
    let out =
        serde_json::to_value(ClosingOut::new(closing)).map_err(|e| ExportError::new(FILE, e))?;
    own.insert("closed".to_owned(), out);
    own.insert("as_planned".to_owned(), json!(AS_PLANNED));
    let mut bytes = serde_json::to_vec_pretty(&plan).map_err(|e| ExportError::new(FILE, e))?;
    bytes.push(b'\n');
    Ok(OutFile::new(FILE, bytes))
}

/// Number of the closing piece among those of the finished run.
fn closure_number(closing: &Closing) -> Option<usize> {
    let plan = closing.plan.as_ref()?;
    let Found::Ends(between) = &closing.found else {
        return None;
    };
    Some(if between.ends[0].port.is_some() {
        1
    } else {
        plan.piece
    })
}

/// The keys that say where the run is and what it is made of.
fn shape(run: &Run, old: &Map<String, Value>, stock: &[StockBend]) -> Vec<(String, Value)> {
    let points: Vec<[f64; 3]> = run
        .centerline()
        .points()
        .iter()
        .map(|&p| p.into())
        .collect();
    let (low, high) = run.bounds();
    let ends = run.centerline().ends();
    let names: Vec<&Value> = (0..2)
        .map(|i| {
            old.get("ends")
                .and_then(|ends| ends.get(i)?.get("port"))
                .unwrap_or(&Value::Null)
        })
        .collect();
    let end = |i: usize| {
        let (center, outward): (Point, Direction) = ends[i];
        json!({
            "port": names[i],
            "center_mm": <[f64; 3]>::from(center),
            "outward": <[f64; 3]>::from(outward.into_inner()),
        })
    };
    let pieces = numbered(run.pieces(), 1, PieceOut::new);
    let radius = run.tube().radius();
    let joints = numbered(run.joints(), 0, |number, joint| {
        JointOut::new(number, joint, radius)
    });
    let bends = ArcOut::of(run.pieces(), 1, stock);
    let clearance = run.self_clearance().map(|clearance| mm(clearance.distance));
    let all = json!({
        "vertices_mm": points,
        "box_mm": [<[f64; 3]>::from(low), <[f64; 3]>::from(high)],
        "length_mm": mm(run.length()),
        "cut_length_mm": mm(run.cut_length()),
        "weld_mm": mm(run.weld_length()),
        "ends": [end(0), end(1)],
        "bends": bends,
        "pieces": pieces,
        "joints": joints,
        "clearance_mm": clearance,
    });
    match all {
        Value::Object(all) => all.into_iter().collect(),
        _ => Vec::new(),
    }
}

/// The closing piece as it is cut, which need not be a true miter.
fn patch_piece(place: &mut Value, sleeve: &Sleeve) {
    let Some(piece) = place.as_object_mut() else {
        return;
    };
    let cut = |edge: &Edge| match edge {
        Edge::Cut(cut) => Some(deg(cut.angle)),
        Edge::Scribed(_) => None,
    };
    let clock = match (sleeve.start(), sleeve.end()) {
        (Edge::Cut(start), Edge::Cut(end)) => Some(deg((end.clock - start.clock).wrapped())),
        _ => None,
    };
    for (key, value) in [
        ("cut_length_mm", Some(mm(sleeve.length()))),
        ("start_cut_deg", cut(sleeve.start())),
        ("end_cut_deg", cut(sleeve.end())),
        ("clock_deg", clock),
        ("long_mm", Some(mm(sleeve.long_side().0))),
        ("short_mm", Some(mm(sleeve.short_side().0))),
    ] {
        piece.insert(key.to_owned(), json!(value));
    }
}

#[derive(Serialize)]
struct ClosingOut<'a> {
    format: &'static str,
    units: &'static str,
    run: Option<&'a str>,
    /// Number of the plan's piece that was left for last.
    piece: Option<usize>,
    tube: TubeOut<'a>,
    fit_up: FitUpOut,
    /// "one piece", "turn joints", "several pieces", "nothing" or "widths".
    advice: &'static str,
    ends: Vec<EndOut<'a>>,
    ways: Vec<WayOut>,
    /// The piece to cut.
    closure: Option<ClosureOut>,
    reclock: Option<ReclockOut>,
    several: Option<SeveralOut<'a>>,
    gap: Option<GapOut>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct FitUpOut {
    gap_mm: f64,
    most_gap_mm: f64,
    high_low_mm: f64,
    short_side_mm: f64,
    most_cut_deg: f64,
    shave_mm: f64,
}

#[derive(Serialize)]
struct EndOut<'a> {
    side: &'static str,
    joint: Option<usize>,
    port: Option<&'a str>,
    center_mm: [f64; 3],
    /// Of the tube, out into the gap.
    axis: [f64; 3],
    /// Of the rim's plane, out of the tube; null where it is ragged.
    normal: Option<[f64; 3]>,
    mark_mm: Option<[f64; 3]>,
    /// How far off the plan: x, y, z, and the angle between the axes.
    off_mm: Option<[f64; 3]>,
    off_deg: Option<f64>,
    known_to: ScatterOut,
    rim_known_to: ScatterOut,
    measured: Option<SurveyOut<'a>>,
}

#[derive(Serialize)]
struct WayOut {
    trimmed: [bool; 2],
    /// Whether it can be welded.
    good: bool,
    /// Why no piece goes in; null where one does.
    refused: Option<String>,
    high_low_mm: Option<f64>,
    long_mm: Option<f64>,
    minutes: Option<f64>,
}

#[derive(Serialize)]
struct ClosureOut {
    /// The center of its start, on its axis.
    start_mm: [f64; 3],
    /// Its axis, downstream.
    axis: [f64; 3],
    /// Where its clock zero points.
    zero: [f64; 3],
    corners_mm: [[f64; 3]; 2],
    #[serde(flatten)]
    sleeve: SleeveOut,
    seams: [SeamOut; 2],
    trims: [Option<TrimOut>; 2],
    /// Clocks of the marks on the built ends.
    marks_deg: [Option<f64>; 2],
    minutes: f64,
}

#[derive(Serialize)]
struct SleeveOut {
    length_mm: f64,
    long_mm: f64,
    short_mm: f64,
    start: EdgeOut,
    end: EdgeOut,
    ordinates: Vec<OrdinateOut>,
}

#[derive(Serialize)]
struct EdgeOut {
    kind: &'static str,
    cut_deg: Option<f64>,
    long_side_deg: Option<f64>,
}

/// Heights along the axis from the center of the start.
#[derive(Serialize)]
struct OrdinateOut {
    clock_deg: f64,
    start_mm: f64,
    end_mm: f64,
}

#[derive(Serialize)]
struct SeamOut {
    cut_deg: f64,
    built_cut_deg: f64,
    deflection_deg: f64,
    high_low_mm: f64,
    high_low_at_deg: f64,
    high_low_rms_mm: f64,
    gap_mm: f64,
    gap_sigma_mm: f64,
}

#[derive(Serialize)]
struct TrimOut {
    /// On the tube's axis.
    at_mm: [f64; 3],
    /// Of the cut's plane, out of the tube.
    normal: [f64; 3],
    cut_deg: f64,
    off_mm: f64,
    least_mm: f64,
    most_mm: f64,
}

#[derive(Serialize)]
struct ReclockOut {
    turns: Vec<TurnOut>,
    minutes: f64,
}

#[derive(Serialize)]
struct TurnOut {
    joint: usize,
    /// Clockwise looking downstream, of the part on the gap's side.
    by_deg: f64,
    high_low_mm: f64,
    tacked: bool,
}

#[derive(Serialize)]
struct SeveralOut<'a> {
    vertices_mm: Vec<[f64; 3]>,
    pieces: Vec<PieceOut>,
    bends: Vec<ArcOut<'a>>,
    /// Clocks of the marks on the built ends, on the first and on the last piece.
    marks_deg: [Option<f64>; 2],
    joints: Vec<JointOut>,
    trims: [Option<TrimOut>; 2],
    minutes: f64,
}

#[derive(Serialize)]
struct GapOut {
    width_mm: f64,
    fit_sigma_mm: f64,
    /// How many times more the stations disagree than their accuracy explains; 1 where
    /// chance does.
    disagreement: f64,
    left_mm: Vec<f64>,
    /// Stations, from 1, that are left out; or of which one is off.
    slips: Vec<Vec<usize>>,
    stations: Vec<StationOut>,
    #[serde(flatten)]
    sleeve: SleeveOut,
}

#[derive(Serialize)]
struct StationOut {
    clock_deg: f64,
    width_mm: f64,
}

impl<'a> ClosingOut<'a> {
    fn new(closing: &'a Closing) -> Self {
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
                Found::Widths { widths, gap, .. } => Some(GapOut::new(widths, gap)),
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

const fn advice(between: &BetweenEnds) -> &'static str {
    match between.advice {
        Advice::OnePiece => "one piece",
        Advice::Reclock => "turn joints",
        Advice::Several => "several pieces",
        Advice::Nothing => "nothing",
    }
}

impl<'a> EndOut<'a> {
    fn new(end: &'a MetEnd, side: Side) -> Self {
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

impl From<&Closure> for ClosureOut {
    fn from(closure: &Closure) -> Self {
        Self {
            start_mm: closure.axis.through.into(),
            axis: closure.axis.along.into_inner().into(),
            zero: closure.zero.into_inner().into(),
            corners_mm: closure.corners.map(Into::into),
            sleeve: (&closure.sleeve).into(),
            seams: closure.seams.each_ref().map(SeamOut::from),
            trims: closure
                .trims
                .each_ref()
                .map(|trim| trim.as_ref().map(TrimOut::from)),
            marks_deg: closure.marks.map(|mark| mark.map(deg)),
            minutes: closure.minutes,
        }
    }
}

impl From<&Sleeve> for SleeveOut {
    fn from(sleeve: &Sleeve) -> Self {
        let clock = |i: u32| Angle::FULL * (f64::from(i) / f64::from(STATIONS));
        let ordinate = |clock: Angle| OrdinateOut {
            clock_deg: deg(clock),
            start_mm: mm(sleeve.start_at(clock)),
            end_mm: mm(sleeve.end_at(clock)),
        };
        Self {
            length_mm: mm(sleeve.length()),
            long_mm: mm(sleeve.long_side().0),
            short_mm: mm(sleeve.short_side().0),
            start: sleeve.start().into(),
            end: sleeve.end().into(),
            ordinates: (0..STATIONS).map(clock).map(ordinate).collect(),
        }
    }
}

impl From<&Edge> for EdgeOut {
    fn from(edge: &Edge) -> Self {
        match edge {
            Edge::Cut(cut) => Self {
                kind: "cut",
                cut_deg: Some(deg(cut.angle)),
                long_side_deg: Some(deg(cut.clock)),
            },
            Edge::Scribed(_) => Self {
                kind: "scribed",
                cut_deg: None,
                long_side_deg: None,
            },
        }
    }
}

impl From<&Seam> for SeamOut {
    fn from(seam: &Seam) -> Self {
        Self {
            cut_deg: deg(seam.cut),
            built_cut_deg: deg(seam.built_cut),
            deflection_deg: deg(seam.deflection),
            high_low_mm: mm(seam.high_low),
            high_low_at_deg: deg(seam.at),
            high_low_rms_mm: mm(seam.rms),
            gap_mm: mm(seam.gap),
            gap_sigma_mm: mm(seam.gap_good_to),
        }
    }
}

impl From<&Trim> for TrimOut {
    fn from(trim: &Trim) -> Self {
        Self {
            at_mm: trim.plane.point.into(),
            normal: trim.plane.normal.into_inner().into(),
            cut_deg: deg(trim.cut),
            off_mm: mm(trim.off),
            least_mm: mm(trim.least),
            most_mm: mm(trim.most),
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
    fn new(several: &Several, between: &BetweenEnds, stock: &'a [StockBend]) -> Self {
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
    fn new(widths: &Widths, gap: &Gap) -> Self {
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
            fit_sigma_mm: mm(gap.fit_good_to),
            disagreement: gap.disagreement,
            left_mm: gap.left.iter().map(|left| mm(*left)).collect(),
            slips: slips.collect(),
            stations: stations.collect(),
            sleeve: (&gap.sleeve).into(),
        }
    }
}
