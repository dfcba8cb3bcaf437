//! What `plan.json` says of weld seams.

use super::numbers::{deg, mm};
use crate::shop::{SeamMargin, SeamPlan};
use crate::units::{Angle, Length};
use schemars::JsonSchema;
use serde::Serialize;

/// A run's seams.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Seams", deny_unknown_fields)]
pub(super) struct SeamsOut {
    /// What was asked for: staggered, in_line or any.
    #[schemars(extend("enum" = ["staggered", "in_line", "any"]))]
    lie: &'static str,
    /// Clock from the line scribed along the run's first stick to its seam, clockwise looking
    /// downstream.
    offset_deg: f64,
    /// The same round the outside.
    offset_mm: f64,
    /// The same for every stick that the run is cut from.
    sticks: Vec<StickOut>,
    /// Where the seam lies on each piece.
    pieces: Vec<PieceOut>,
    /// How far apart seams are at each joint between pieces.
    joints: Vec<JointOut>,
    /// Where a seam comes nearest to the inside or outside of a bend; null without miters.
    worst: Option<WorstOut>,
}

/// The seam of a stick, from its scribed line.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "SeamStick", deny_unknown_fields)]
struct StickOut {
    /// From 1, in the tube's layout.
    stick: usize,
    /// Clock from the scribed line to the seam, clockwise looking downstream.
    offset_deg: f64,
    /// The same round the outside.
    offset_mm: f64,
}

/// The seam of a piece.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "SeamPiece", deny_unknown_fields)]
struct PieceOut {
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// The stick that it is cut from, from 1 in the tube's layout.
    stick: usize,
    /// From the piece's own line, clockwise looking downstream; null where it may be rolled
    /// to suit.
    clock_deg: Option<f64>,
    /// Whether it is turned end for end.
    turned: bool,
}

/// Two seams at a joint.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "SeamJoint", deny_unknown_fields)]
struct JointOut {
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    joint: usize,
    /// How far apart the two seams are round it.
    apart_deg: f64,
}

/// Where a seam comes nearest to the inside or outside of a bend.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "SeamWorst", deny_unknown_fields)]
struct WorstOut {
    /// How far round the tube it is from that.
    margin_deg: f64,
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    joint: usize,
}

impl SeamsOut {
    pub(super) fn new(plan: &SeamPlan, circumference: Length) -> Self {
        let round = |offset: Angle| mm(circumference * (offset / Angle::FULL));
        let sticks = plan.sticks();
        let offset = sticks.first().map_or(Angle::ZERO, |(_, offset)| *offset);
        let sticks = sticks.into_iter().map(|(stick, offset)| StickOut {
            stick: stick + 1,
            offset_deg: deg(offset),
            offset_mm: round(offset),
        });
        let pieces = plan.pieces.iter().map(|seam| PieceOut {
            piece: seam.number,
            stick: seam.stick + 1,
            clock_deg: seam.clock.map(deg),
            turned: seam.turned,
        });
        let joints = plan.joints.iter().map(|seam| JointOut {
            joint: seam.joint,
            apart_deg: deg(seam.apart),
        });
        Self {
            lie: plan.seams.word(),
            offset_deg: deg(offset),
            offset_mm: round(offset),
            sticks: sticks.collect(),
            pieces: pieces.collect(),
            joints: joints.collect(),
            worst: plan.worst.as_ref().map(WorstOut::from),
        }
    }
}

impl From<&SeamMargin> for WorstOut {
    fn from(worst: &SeamMargin) -> Self {
        Self {
            margin_deg: deg(worst.margin),
            piece: worst.piece,
            joint: worst.joint,
        }
    }
}
