//! The closing piece in `closure.json`: its edges, how it meets the built ends, what comes off them.

use crate::closure::{Closure, Seam, Trim};
use crate::export::json::{deg, mm};
use crate::tube::{Edge, Sleeve};
use crate::units::Angle;
use schemars::JsonSchema;
use serde::Serialize;

/// Stations of the tables.
const STATIONS: u32 = 24;

/// The piece that closes the gap.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Closure", deny_unknown_fields)]
pub(super) struct ClosureOut {
    /// The center of its start, on its axis.
    start_mm: [f64; 3],
    /// Its axis, downstream.
    axis: [f64; 3],
    /// Where its clock zero points.
    zero: [f64; 3],
    /// Where its axis meets the middle of each gap.
    corners_mm: [[f64; 3]; 2],
    #[serde(flatten)]
    sleeve: SleeveOut,
    /// How it meets the end before and the end after.
    seams: [SeamOut; 2],
    /// What comes off the end before and the end after; null where nothing does.
    trims: [Option<TrimOut>; 2],
    /// Clocks of the marks on the built ends, on the piece, clockwise looking downstream from its
    /// zero; null without a mark.
    marks_deg: [Option<f64>; 2],
    /// Shop time.
    minutes: f64,
}

/// A piece between two edges.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Sleeve", deny_unknown_fields)]
pub(super) struct SleeveOut {
    /// Along its axis.
    length_mm: f64,
    /// Longest side.
    long_mm: f64,
    /// Shortest side.
    short_mm: f64,
    /// Where flow enters.
    start: EdgeOut,
    /// Where flow leaves.
    end: EdgeOut,
    /// Heights of both edges round the tube, to draw them.
    ordinates: Vec<OrdinateOut>,
}

/// The end of a piece.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Edge", deny_unknown_fields)]
pub(super) struct EdgeOut {
    /// Cut on a plane, or scribed to fit.
    #[schemars(extend("enum" = ["cut", "scribed"]))]
    kind: &'static str,
    /// Saw angle off square; null where it is scribed.
    cut_deg: Option<f64>,
    /// Clock of its long side, clockwise looking downstream; null where it is scribed.
    long_side_deg: Option<f64>,
}

/// Heights along the axis from the center of the start.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Ordinate", deny_unknown_fields)]
pub(super) struct OrdinateOut {
    /// Clockwise looking downstream.
    clock_deg: f64,
    /// Of the edge where flow enters.
    start_mm: f64,
    /// Of the edge where flow leaves.
    end_mm: f64,
}

/// Where the piece meets a built end.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Seam", deny_unknown_fields)]
pub(super) struct SeamOut {
    /// Saw angle off square of the piece.
    cut_deg: f64,
    /// Saw angle off square of the built end.
    built_cut_deg: f64,
    /// Angle between the two axes.
    deflection_deg: f64,
    /// Greatest step from wall to wall: how far the built outside stands out of the piece's;
    /// negative where it stands back.
    high_low_mm: f64,
    /// Clock of that on the piece.
    high_low_at_deg: f64,
    /// Root mean square of the step round the tube.
    high_low_rms_mm: f64,
    /// Gap that is left, square to the seam.
    gap_mm: f64,
    /// Standard deviation of the gap at its worst side, as the built rim is only known so well.
    gap_sigma_mm: f64,
}

/// What comes off a built end that is cut again.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Trim", deny_unknown_fields)]
pub(super) struct TrimOut {
    /// Where the cut's plane meets the tube's axis.
    at_mm: [f64; 3],
    /// Of the cut's plane, out of the tube: unit vector.
    normal: [f64; 3],
    /// Saw angle off square.
    cut_deg: f64,
    /// How much comes off along the axis.
    off_mm: f64,
    /// Least that comes off round the tube.
    least_mm: f64,
    /// Most that comes off round the tube.
    most_mm: f64,
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
