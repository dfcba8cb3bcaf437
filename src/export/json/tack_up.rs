//! What `plan.json` says of how a run is tacked up and what a tape should read.

use super::numbers::{deg, mm, positive_zero};
use crate::geometry::{Level, Point};
use crate::shop::{
    BuiltFace, Fixed, GapWidth, MatchMark, Origin, PortMark, TackGap, TackStep, TackUp, Tape,
};
use crate::survey::Pin;
use schemars::JsonSchema;
use serde::Serialize;

/// A fixed place of the job.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Pin", deny_unknown_fields)]
pub(super) struct PinOut {
    /// Where it is: x, y, z in the job's frame.
    at_mm: [f64; 3],
    /// Standard deviation of each coordinate.
    sigma_mm: f64,
}

/// What a level and headings refer to.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Level", deny_unknown_fields)]
pub(super) struct LevelOut {
    /// Straight up: unit vector in the job's frame.
    up: [f64; 3],
    /// Where headings begin, over the ground: unit vector square to it.
    ahead: [f64; 3],
}

/// A run's tack-up.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "TackUp", deny_unknown_fields)]
pub(super) struct TackUpOut<'a> {
    /// How many standard deviations each tolerance is.
    deviations: f64,
    /// One a joint, in the order of the work.
    steps: Vec<StepOut<'a>>,
    /// What is open before the closure is cut; null without one.
    gap: Option<GapOut>,
}

/// A joint of the tack-up.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Step", deny_unknown_fields)]
struct StepOut<'a> {
    /// Name of the port that it is built from: the run's first or last.
    from: &'a str,
    /// Number of the joint in the run: 0 at the first port, then in order of flow.
    joint: usize,
    /// The piece that is put on, from 1; null where the joint only closes what stands.
    piece: Option<usize>,
    /// Marks that are brought together.
    marks: MarksOut,
    /// How the piece is turned on a port; null at other joints.
    port: Option<PortMarkOut>,
    /// Angle between the axes that a protractor shows.
    deflection_deg: f64,
    /// The newest face; null of a closure.
    face: Option<FaceOut>,
    /// Tapes to read once the joint is tacked.
    checks: Vec<CheckOut<'a>>,
}

/// Marks on the two sides of a joint, which meet.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Marks", deny_unknown_fields)]
struct MarksOut {
    /// On the piece upstream; null at the first port.
    before: Option<MarkOut>,
    /// On the piece downstream; null at the last port.
    after: Option<MarkOut>,
    /// Whether it is enough to bring the pieces' own lines together.
    lines_together: bool,
}

/// A mark on a piece.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Mark", deny_unknown_fields)]
struct MarkOut {
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// From the piece's own line to the mark, clockwise looking downstream. That line is the long
    /// side of its start, or of its end where the start is square; on a stock bend the outside of
    /// the bend.
    clock_deg: f64,
    /// The same round the outside.
    round_mm: f64,
}

/// How a piece is turned on a port.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "PortMark", deny_unknown_fields)]
struct PortMarkOut {
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// The side of the port that counting begins at: top, or ahead of a tube that is
    /// nearly plumb.
    from: &'static str,
    /// From the side that 'from' and 'zero' tell to the piece's own line, clockwise looking
    /// downstream.
    clock_deg: f64,
    /// The same round the outside.
    round_mm: f64,
    /// Unit vector from the axis toward the side that counting begins at, square to the axis, in
    /// the job's frame.
    zero: [f64; 3],
}

/// The newest face of what is built from a port.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Face", deny_unknown_fields)]
struct FaceOut {
    /// The piece that it is cut on, from 1.
    piece: usize,
    /// Where the tube's axis meets it while the joints are tacked.
    center_mm: [f64; 3],
    /// Its normal, out of the tube: unit vector.
    normal: [f64; 3],
    /// Its saw angle off square.
    cut_deg: f64,
}

/// A tape, straight from a fixed place to a place on the newest face.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Check", deny_unknown_fields)]
struct CheckOut<'a> {
    /// As it is written: the pin, or the port and the clock of the mark on its rim.
    from: String,
    /// Name of the pin; null of a mark on a port's rim.
    pin: Option<&'a str>,
    /// Clock of the mark on the port's rim, clockwise looking downstream from its top, or from
    /// ahead where the port is nearly plumb; null of a pin.
    rim_clock_deg: Option<f64>,
    /// Where the tape is held.
    from_mm: [f64; 3],
    /// The place on the newest face: its center, or a quarter of its rim from the long side
    /// clockwise looking downstream.
    #[schemars(extend("enum" = ["center", "long", "right", "short", "left"]))]
    to: &'static str,
    /// Where that is while the joints are tacked.
    to_mm: [f64; 3],
    /// What the tape reads while the joints are tacked and no weld has pulled yet.
    distance_mm: f64,
    /// What it reads once the joints are welded.
    welded_mm: f64,
    /// How far off it may be, either way: as many standard deviations as 'deviations' says.
    tolerance_mm: f64,
    /// Whether the line keeps out of the tube.
    free: bool,
}

/// What is open where the closure goes.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "TackGap", deny_unknown_fields)]
struct GapOut {
    /// The closure, from 1.
    piece: usize,
    /// Straight lines across it: at the center, then from rim to rim at the closure's quarters.
    widths: Vec<WidthOut>,
}

/// A straight line across the gap.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Width", deny_unknown_fields)]
struct WidthOut {
    /// Where round the closure, from its own line clockwise looking downstream.
    #[schemars(extend("enum" = ["center", "long", "right", "short", "left"]))]
    at: &'static str,
    /// On the end upstream while the joints are tacked.
    from_mm: [f64; 3],
    /// On the end downstream.
    to_mm: [f64; 3],
    /// What a tape reads while the joints are tacked and no weld has pulled yet.
    distance_mm: f64,
    /// What it reads once all other joints are welded.
    welded_mm: f64,
    /// How far off it may be, either way: as many standard deviations as 'deviations' says.
    tolerance_mm: f64,
}

impl From<&Pin> for PinOut {
    fn from(pin: &Pin) -> Self {
        Self {
            at_mm: point(pin.at),
            sigma_mm: mm(pin.good_to),
        }
    }
}

impl<'a> TackUpOut<'a> {
    pub(super) fn new(tack_up: &'a TackUp, ports: [&'a str; 2]) -> Self {
        let step = |step: &'a TackStep| StepOut {
            from: match step.origin {
                Origin::First => ports[0],
                Origin::Last => ports[1],
            },
            joint: step.joint,
            piece: step.piece,
            marks: MarksOut {
                before: step.marks.before.map(MarkOut::from),
                after: step.marks.after.map(MarkOut::from),
                lines_together: step.marks.are_together(),
            },
            port: step.port.as_ref().map(PortMarkOut::from),
            deflection_deg: deg(step.deflection),
            face: step.face.as_ref().map(FaceOut::from),
            checks: step.tapes.iter().map(CheckOut::from).collect(),
        };
        Self {
            deviations: tack_up.deviations,
            steps: tack_up.steps.iter().map(step).collect(),
            gap: tack_up.gap.as_ref().map(GapOut::from),
        }
    }
}

impl From<MatchMark> for MarkOut {
    fn from(mark: MatchMark) -> Self {
        Self {
            piece: mark.piece,
            clock_deg: deg(mark.clock),
            round_mm: mm(mark.round),
        }
    }
}

impl From<Level> for LevelOut {
    fn from(level: Level) -> Self {
        Self {
            up: level.up.map(positive_zero).into(),
            ahead: level.ahead.map(positive_zero).into(),
        }
    }
}

impl From<&PortMark> for PortMarkOut {
    fn from(mark: &PortMark) -> Self {
        Self {
            piece: mark.piece,
            from: mark.from.word(),
            clock_deg: deg(mark.clock),
            round_mm: mm(mark.round),
            zero: mark.zero.map(positive_zero).into(),
        }
    }
}

impl From<&BuiltFace> for FaceOut {
    fn from(face: &BuiltFace) -> Self {
        Self {
            piece: face.piece,
            center_mm: point(face.center + face.unshrunk),
            normal: face.outward.map(positive_zero).into(),
            cut_deg: deg(face.cut),
        }
    }
}

impl<'a> From<&'a Tape> for CheckOut<'a> {
    fn from(tape: &'a Tape) -> Self {
        let (pin, rim_clock_deg) = match &tape.from {
            Fixed::Pin(name) => (Some(name.as_str()), None),
            Fixed::Rim { clock, .. } => (None, Some(deg(*clock))),
        };
        Self {
            from: tape.from.words(),
            pin,
            rim_clock_deg,
            from_mm: point(tape.from_at),
            to: tape.to.word(),
            to_mm: point(tape.to_at),
            distance_mm: mm(tape.distance),
            welded_mm: mm(tape.welded),
            tolerance_mm: mm(tape.tolerance),
            free: tape.free,
        }
    }
}

impl From<&TackGap> for GapOut {
    fn from(gap: &TackGap) -> Self {
        Self {
            piece: gap.piece,
            widths: gap.widths.iter().map(WidthOut::from).collect(),
        }
    }
}

impl From<&GapWidth> for WidthOut {
    fn from(width: &GapWidth) -> Self {
        Self {
            at: width.spot.word(),
            from_mm: point(width.from_at),
            to_mm: point(width.to_at),
            distance_mm: mm(width.distance),
            welded_mm: mm(width.welded),
            tolerance_mm: mm(width.tolerance),
        }
    }
}

fn point(point: Point) -> [f64; 3] {
    point.coords.map(positive_zero).into()
}
