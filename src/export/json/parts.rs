//! What a run is made of, in `plan.json`: bends, pieces, joints, cuts.

use super::numbers::{deg, mm};
use crate::route::Bend;
use crate::run::{Joint, JointKind, Placed};
use crate::shop::{SawCut, piece_mass_kg};
use crate::units::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// A bend made of pies.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "PieBend", deny_unknown_fields)]
pub(super) struct BendOut {
    /// Where the axes before and after the bend meet.
    corner_mm: [f64; 3],
    /// How far it turns.
    turn_deg: f64,
    /// Radius of the arc that the polyline is tangent to.
    clr_mm: f64,
    /// How many miter joints it has.
    joints: u32,
    /// Saw angle off square of each: half of the deflection of a joint.
    cut_deg: f64,
}

/// A piece of a run. A piece that closes a gap may have an end that is scribed to fit; its cut is
/// null then.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Piece", deny_unknown_fields)]
pub(in crate::export) struct PieceOut {
    /// Number of the piece in the run, from 1 in order of flow.
    number: usize,
    /// Straight tube, or a stock bend.
    #[schemars(extend("enum" = ["straight", "stock-bend"]))]
    kind: &'static str,
    /// Edge of the polyline, vertex to vertex; of a stock bend along its center.
    length_mm: f64,
    /// Center length as cut: with sockets and allowances.
    cut_length_mm: f64,
    /// Saw angle off square of the end where flow enters.
    #[schemars(with = "Option<f64>")]
    start_cut_deg: f64,
    /// Saw angle off square of the end where flow leaves.
    #[schemars(with = "Option<f64>")]
    end_cut_deg: f64,
    /// From the start's long side to the end's, clockwise looking downstream.
    #[schemars(with = "Option<f64>")]
    clock_deg: f64,
    /// Longest side, along the outside.
    long_mm: f64,
    /// Shortest side, along the outside.
    short_mm: f64,
    /// Mass as cut; null where the material's density is not known.
    mass_kg: Option<f64>,
}

/// A joint between two pieces, or between a piece and a port.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Joint", deny_unknown_fields)]
pub(in crate::export) struct JointOut {
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    number: usize,
    /// A miter, a square joint, or a port.
    #[schemars(extend("enum" = ["flange", "miter", "square"]))]
    kind: &'static str,
    /// Where the joint's plane meets the centerline.
    at_mm: [f64; 3],
    /// Normal of the joint's plane, downstream.
    normal: [f64; 3],
    /// Saw angle off square of both faces: half of the deflection.
    cut_deg: f64,
    /// Angle between the axes before and after.
    deflection_deg: f64,
    /// How far the bend's plane has turned since the bend before, clockwise looking downstream; 0
    /// at the first.
    clock_deg: f64,
    /// Length of weld round the outside.
    weld_mm: f64,
}

/// The cut at which a piece drops off, where the run is cut in order of flow. Clocks are seen from
/// the free end along the stick.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "RunCut", deny_unknown_fields)]
pub(super) struct SawOut {
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// How far to push the stick, along its center: the piece and kerf/cos of the saw angle.
    feed_mm: f64,
    /// How far to turn the stick before this cut, clockwise looking along it from its free end.
    rotate_deg: f64,
    /// Clock of this cut's long side, on what drops off, from the line scribed along the stick.
    mark_deg: f64,
    /// What the saw is set to, off square.
    angle_deg: f64,
    /// From a stop to the saw at the long side of this cut.
    stop_mm: f64,
    /// Whether the cut also makes the next piece's start, so that the two faces mate as cut.
    mates: bool,
    /// Whether the stick is turned by just 180° before this cut.
    half_turn: bool,
    /// Whether saw and stop stay as they were at the cut before, so that alike pieces are cut in
    /// one go.
    again: bool,
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
    pub(in crate::export) fn new(number: usize, placed: &Placed) -> Self {
        let piece = &placed.piece;
        Self {
            number,
            kind: piece.name(),
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
    pub(in crate::export) fn new(number: usize, joint: &Joint, radius: Length) -> Self {
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

impl SawOut {
    /// The cut at which a piece drops off.
    pub(in crate::export) fn new(cut: &SawCut) -> Option<Self> {
        Some(Self {
            piece: cut.piece()?,
            feed_mm: mm(cut.feed),
            rotate_deg: deg(cut.rotate),
            mark_deg: deg(cut.mark),
            angle_deg: deg(cut.angle),
            stop_mm: mm(cut.stop),
            mates: cut.mates,
            half_turn: cut.is_half_turn(),
            again: cut.again,
        })
    }
}
