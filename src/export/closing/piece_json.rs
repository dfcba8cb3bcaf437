//! The closing piece in `closure.json`: its edges, how it meets the built ends, what comes off them.

use crate::closure::{Closure, Seam, Trim};
use crate::export::json::{deg, mm};
use crate::tube::{Edge, Sleeve};
use crate::units::Angle;
use serde::Serialize;

/// Stations of the tables.
const STATIONS: u32 = 24;

#[derive(Serialize)]
pub(super) struct ClosureOut {
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
pub(super) struct SleeveOut {
    length_mm: f64,
    long_mm: f64,
    short_mm: f64,
    start: EdgeOut,
    end: EdgeOut,
    ordinates: Vec<OrdinateOut>,
}

#[derive(Serialize)]
pub(super) struct EdgeOut {
    kind: &'static str,
    cut_deg: Option<f64>,
    long_side_deg: Option<f64>,
}

/// Heights along the axis from the center of the start.
#[derive(Serialize)]
pub(super) struct OrdinateOut {
    clock_deg: f64,
    start_mm: f64,
    end_mm: f64,
}

#[derive(Serialize)]
pub(super) struct SeamOut {
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
pub(super) struct TrimOut {
    /// On the tube's axis.
    at_mm: [f64; 3],
    /// Of the cut's plane, out of the tube.
    normal: [f64; 3],
    cut_deg: f64,
    off_mm: f64,
    least_mm: f64,
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
