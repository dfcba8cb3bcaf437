//! What `plan.json` says of how a run is tacked up and what a tape should read.

use super::numbers::{deg, mm, positive_zero};
use crate::geometry::{Level, Point};
use crate::shop::{
    BuiltFace, Fixed, GapWidth, MatchMark, Origin, PortMark, TackGap, TackStep, TackUp, Tape,
};
use crate::survey::Pin;
use serde::Serialize;

/// A fixed place of the job.
#[derive(Serialize)]
pub(super) struct PinOut {
    at_mm: [f64; 3],
    /// Standard deviation of each coordinate.
    sigma_mm: f64,
}

/// What a level and headings refer to.
#[derive(Serialize)]
pub(super) struct LevelOut {
    up: [f64; 3],
    /// Square to it.
    ahead: [f64; 3],
}

/// A run's tack-up.
#[derive(Serialize)]
pub(super) struct TackUpOut<'a> {
    /// How many standard deviations each tolerance is.
    deviations: f64,
    /// One a joint, in the order of the work.
    steps: Vec<StepOut<'a>>,
    /// What is open before the closure is cut; null without one.
    gap: Option<GapOut>,
}

#[derive(Serialize)]
struct StepOut<'a> {
    /// The port that it is built from: the first or the last.
    from: &'a str,
    joint: usize,
    /// The piece that is put on; null where the joint only closes what stands.
    piece: Option<usize>,
    marks: MarksOut,
    /// How the piece is turned on a port; null at other joints.
    port: Option<PortMarkOut>,
    deflection_deg: f64,
    /// The newest face; null of a closure.
    face: Option<FaceOut>,
    checks: Vec<CheckOut<'a>>,
}

/// Marks that meet; null at a port.
#[derive(Serialize)]
struct MarksOut {
    before: Option<MarkOut>,
    after: Option<MarkOut>,
    /// Whether it is enough to bring the pieces' own lines together.
    lines_together: bool,
}

#[derive(Serialize)]
struct MarkOut {
    piece: usize,
    /// From the piece's own line, clockwise looking downstream.
    clock_deg: f64,
    /// The same round the outside.
    round_mm: f64,
}

#[derive(Serialize)]
struct PortMarkOut {
    piece: usize,
    /// The side of the port that counting begins at: top, or ahead of a tube that is
    /// nearly plumb.
    from: &'static str,
    /// To the piece's own line, clockwise looking downstream.
    clock_deg: f64,
    /// The same round the outside.
    round_mm: f64,
    /// From the axis toward that side, square to it.
    zero: [f64; 3],
}

#[derive(Serialize)]
struct FaceOut {
    piece: usize,
    /// While the joints are tacked.
    center_mm: [f64; 3],
    /// Out of the tube.
    normal: [f64; 3],
    cut_deg: f64,
}

/// A tape, straight from a fixed place to a place on the newest face.
#[derive(Serialize)]
struct CheckOut<'a> {
    /// As it is written: the pin, or the port and the clock of the mark on its rim.
    from: String,
    /// Null of a mark.
    pin: Option<&'a str>,
    /// Null of a pin.
    rim_clock_deg: Option<f64>,
    from_mm: [f64; 3],
    to: &'static str,
    to_mm: [f64; 3],
    /// While the joints are tacked.
    distance_mm: f64,
    /// Once they are welded.
    welded_mm: f64,
    tolerance_mm: f64,
    /// Whether the line keeps out of the tube.
    free: bool,
}

#[derive(Serialize)]
struct GapOut {
    /// The closure.
    piece: usize,
    widths: Vec<WidthOut>,
}

#[derive(Serialize)]
struct WidthOut {
    at: &'static str,
    from_mm: [f64; 3],
    to_mm: [f64; 3],
    distance_mm: f64,
    welded_mm: f64,
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
