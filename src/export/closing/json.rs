//! `closure.json`: what closes the gap, for other programs.

use super::piece_json::{ClosureOut, SleeveOut, TrimOut};
use crate::closure::{Closure, Gap, Reclock, Several, Side, Way, Widths};
use crate::export::json::{
    ArcOut, JointOut, PieceOut, ScatterOut, SurveyOut, TubeOut, deg, mm, numbered,
};
use crate::export::{ExportError, OutFile};
use crate::geometry::Direction;
use crate::plan::{Advice, BetweenEnds, Closing, Found, MetEnd};
use crate::tube::StockBend;
use crate::units::Length;
use serde::Serialize;

/// Name and version of `closure.json`. Fields may be added within a version.
const FORMAT: &str = "runwright-closure-1";

/// Writes `closure.json`.
pub fn closing_json(closing: &Closing) -> Result<OutFile, ExportError> {
    const FILE: &str = "closure.json";
    let out = ClosingOut::new(closing);
    let mut bytes = serde_json::to_vec_pretty(&out).map_err(|e| ExportError::new(FILE, e))?;
    bytes.push(b'\n');
    Ok(OutFile::new(FILE, bytes))
}

#[derive(Serialize)]
pub(super) struct ClosingOut<'a> {
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
pub(super) struct FitUpOut {
    gap_mm: f64,
    most_gap_mm: f64,
    high_low_mm: f64,
    short_side_mm: f64,
    most_cut_deg: f64,
    shave_mm: f64,
}

#[derive(Serialize)]
pub(super) struct EndOut<'a> {
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
    /// Joints whose welds will still pull it, by how much from where it was measured: center
    /// and all else are as it stands then.
    to_weld: &'a [usize],
    pull_mm: [f64; 3],
    known_to: ScatterOut,
    rim_known_to: ScatterOut,
    measured: Option<SurveyOut<'a>>,
}

#[derive(Serialize)]
pub(super) struct WayOut {
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
pub(super) struct ReclockOut {
    turns: Vec<TurnOut>,
    minutes: f64,
}

#[derive(Serialize)]
pub(super) struct TurnOut {
    joint: usize,
    /// Clockwise looking downstream, of the part on the gap's side.
    by_deg: f64,
    high_low_mm: f64,
    tacked: bool,
}

#[derive(Serialize)]
pub(super) struct SeveralOut<'a> {
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
pub(super) struct GapOut {
    /// As it is once all is welded.
    width_mm: f64,
    /// By how much that is more than as measured.
    opens_mm: f64,
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
pub(super) struct StationOut {
    clock_deg: f64,
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
