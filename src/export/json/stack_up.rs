//! What `plan.json` says of how far off a run may end.

use super::numbers::{deg, mm};
use super::scatter::ScatterOut;
use crate::shop::{Accuracy, Cause, Closing, Share, StackUp};
use schemars::JsonSchema;
use serde::Serialize;

/// How well the shop works: one standard deviation each.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Accuracy", deny_unknown_fields)]
pub(super) struct AccuracyOut {
    /// Saw angle of one cut.
    cut_deg: f64,
    /// Setting of the saw, shared by all miters that are cut at it.
    setting_deg: f64,
    /// Length of a piece.
    length_mm: f64,
    /// Clock of a joint.
    clock_deg: f64,
    /// Turn of a stock bend.
    bend_deg: f64,
}

/// The error stack-up of a run. All deviations are one standard deviation.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StackUp", deny_unknown_fields)]
pub(super) struct StackUpOut<'a> {
    /// The far face against where it is planned, the first port held: by the making alone.
    built: ScatterOut,
    /// The far face against the real flange: by the making, and by what is not known of both ports.
    /// No length that is left open.
    gap: ScatterOut,
    /// Parts of the gap's mean square distance, greatest first.
    shares: Vec<ShareOut<'a>>,
    /// The piece to leave for last; null if none is long enough.
    closure: Option<ClosureOut>,
    /// Every piece as the one to leave, in order of flow.
    could_close: Vec<ClosureOut>,
}

/// Part that one error has in the gap. Which error it is stands in one of joint, piece, port and
/// cut.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Share", deny_unknown_fields)]
struct ShareOut<'a> {
    /// What is off.
    #[schemars(extend("enum" = ["cut", "setting", "face", "clock", "length", "bend", "port"]))]
    kind: &'static str,
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    joint: Option<usize>,
    /// Number of the piece in the run, from 1 in order of flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    piece: Option<usize>,
    /// Name of the port.
    #[serde(skip_serializing_if = "Option::is_none")]
    port: Option<&'a str>,
    /// What the saw was set to.
    #[serde(skip_serializing_if = "Option::is_none")]
    cut_deg: Option<f64>,
    /// Its part of the gap's mean square distance, 0 to 1.
    fraction: f64,
}

/// A piece as the one to leave for last and cut to fit.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "ClosurePiece", deny_unknown_fields)]
struct ClosureOut {
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// How much longer than listed to leave it. Read again.
    trim_mm: f64,
    /// The same if both ports were exactly known.
    trim_by_making_mm: f64,
    /// Standard deviation of the misfit along its axis.
    along_mm: f64,
    /// Misfit square to its axis, seen from the tube before and from the tube after: root mean
    /// square.
    sideways_mm: [f64; 2],
    /// How askew it stands to the tube before and to the tube after: root mean square.
    askew_deg: [f64; 2],
    /// What its short side keeps if all of the trim's length is missing.
    left_mm: f64,
}

impl From<&Accuracy> for AccuracyOut {
    fn from(accuracy: &Accuracy) -> Self {
        Self {
            cut_deg: deg(accuracy.cut),
            setting_deg: deg(accuracy.setting),
            length_mm: mm(accuracy.length),
            clock_deg: deg(accuracy.clock),
            bend_deg: deg(accuracy.bend),
        }
    }
}

impl<'a> From<&'a StackUp> for StackUpOut<'a> {
    fn from(stack_up: &'a StackUp) -> Self {
        Self {
            built: ScatterOut::new(&stack_up.built, &stack_up.axis),
            gap: ScatterOut::new(&stack_up.gap, &stack_up.axis),
            shares: stack_up.shares.iter().map(ShareOut::from).collect(),
            closure: stack_up.closing.as_ref().map(ClosureOut::from),
            could_close: stack_up.could_close.iter().map(ClosureOut::from).collect(),
        }
    }
}

impl<'a> From<&'a Share> for ShareOut<'a> {
    fn from(share: &'a Share) -> Self {
        let out = Self {
            kind: share.cause.kind(),
            joint: None,
            piece: None,
            port: None,
            cut_deg: None,
            fraction: share.fraction,
        };
        match &share.cause {
            Cause::Cut { joint } | Cause::Face { joint } | Cause::Clock { joint } => Self {
                joint: Some(*joint),
                ..out
            },
            Cause::Length { piece } | Cause::Bend { piece } => Self {
                piece: Some(*piece),
                ..out
            },
            Cause::Setting { angle } => Self {
                cut_deg: Some(deg(*angle)),
                ..out
            },
            Cause::Port { name } => Self {
                port: Some(name),
                ..out
            },
        }
    }
}

impl From<&Closing> for ClosureOut {
    fn from(closing: &Closing) -> Self {
        Self {
            piece: closing.piece,
            trim_mm: mm(closing.trim),
            trim_by_making_mm: mm(closing.trim_by_making),
            along_mm: mm(closing.along),
            sideways_mm: closing.sideways.map(mm),
            askew_deg: closing.askew.map(deg),
            left_mm: mm(closing.left),
        }
    }
}
