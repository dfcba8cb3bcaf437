//! What a run is made of, in `plan.json`: bends, pieces, joints, cuts.

use super::numbers::{deg, mm};
use crate::route::Bend;
use crate::run::{Joint, JointKind, Placed};
use crate::shop::{SawCut, piece_mass_kg};
use crate::tube::Part;
use crate::units::Length;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct BendOut {
    corner_mm: [f64; 3],
    turn_deg: f64,
    clr_mm: f64,
    joints: u32,
    cut_deg: f64,
}

#[derive(Serialize)]
pub(in crate::export) struct PieceOut {
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
pub(in crate::export) struct JointOut {
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
pub(super) struct SawOut {
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
