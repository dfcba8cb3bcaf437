//! [`Build`]: a run as it is put together, and every error made on the way.

use super::accuracy::Accuracy;
use super::cause::Cause;
use super::motion::Motion;
use super::source::Source;
use crate::geometry::{Direction, Point, Vector, perpendicular};
use crate::route::saw_settings;
use crate::run::{JointKind, Placed, Port, Run};
use crate::units::Angle;
use std::f64::consts::FRAC_1_SQRT_2;

/// How much a deflection is off beside the saw's angle: κ counts on both sides of a
/// miter.
const SIDES: f64 = 2.0;

/// A run that is tacked up in order from its first port, or from both ports toward one
/// piece that is left for last.
#[derive(Clone, Copy, Debug)]
pub(in crate::shop) struct Build<'a> {
    pub run: &'a Run,
    pub accuracy: &'a Accuracy,
    /// Whether the tube goes into a socket at the first and at the last port.
    pub in_socket: [bool; 2],
    /// Index of the piece that is left for last. It is cut to fit, so its length and its
    /// two joints are no sources, and what lies beyond it is built from the last port.
    pub closure: Option<usize>,
}

/// Places along a run in order of flow, by which a closure's two sides are told apart.
#[derive(Clone, Copy)]
enum Station {
    Joint(usize),
    /// By its index.
    Piece(usize),
}

impl Station {
    /// Joint 0, piece 1, joint 1, piece 2, …
    const fn order(self) -> usize {
        match self {
            Self::Joint(joint) => 2 * joint,
            Self::Piece(piece) => 2 * piece + 1,
        }
    }
}

impl<'a> Build<'a> {
    pub fn new(run: &'a Run, ports: [&Port; 2], accuracy: &'a Accuracy) -> Self {
        Self {
            run,
            accuracy,
            in_socket: ports.map(|port| port.socket.mm() > 0.0),
            closure: None,
        }
    }

    /// With the piece at `index` left for last.
    pub fn leaving(self, index: usize) -> Self {
        Self {
            closure: Some(index),
            ..self
        }
    }

    /// All sources of error, in order of flow, settings of the saw last.
    pub fn sources(&self) -> Vec<Source> {
        let pieces = self.run.pieces().len();
        let mut sources = Vec::new();
        for number in 0..=pieces {
            sources.extend(self.at_joint(number));
            sources.extend(
                (number < pieces)
                    .then(|| self.of_piece(number))
                    .into_iter()
                    .flatten(),
            );
        }
        sources.extend(self.settings());
        sources
    }

    /// Whether what stands here is cut to fit, with the closure.
    fn is_fitted(&self, station: Station) -> bool {
        self.closure
            .is_some_and(|closure| station.order().abs_diff(Station::Piece(closure).order()) <= 1)
    }

    /// Whether what stands here is built from the last port.
    fn is_from_end(&self, station: Station) -> bool {
        self.closure
            .is_some_and(|closure| station.order() > Station::Piece(closure).order())
    }

    /// Errors of what meets at a joint; none where it is cut to fit.
    pub fn at_joint(&self, joint: usize) -> Vec<Source> {
        if self.is_fitted(Station::Joint(joint)) {
            return Vec::new();
        }
        match self.run.joints()[joint].kind {
            JointKind::Miter => self.at_miter(joint),
            // Two faces, each off by half the variance about either axis.
            JointKind::Square => self.at_faces(joint, 1.0),
            JointKind::Flange if self.in_socket[usize::from(joint > 0)] => Vec::new(),
            JointKind::Flange => self.at_faces(joint, FRAC_1_SQRT_2),
        }
    }

    fn at_miter(&self, joint: usize) -> Vec<Source> {
        let place = self.run.joints()[joint].plane.point;
        let one = |cause: Cause, axis: Direction, angle: Angle| Source {
            cause,
            motions: vec![Motion::turn(axis.into_inner() * angle.radians(), place)],
        };
        let [before, after] = self.axes(joint);
        let clocked = self.clock_axis(Station::Joint(joint), before, after);
        let bent = square_to(&before, &after);
        vec![
            one(Cause::Clock { joint }, clocked, self.accuracy.clock),
            one(Cause::Cut { joint }, bent, self.accuracy.cut * SIDES),
        ]
    }

    /// Lean of square faces, the same any way round: `part` of a face's error about each
    /// of two axes square to the tube.
    fn at_faces(&self, joint: usize, part: f64) -> Vec<Source> {
        let plane = self.run.joints()[joint].plane;
        let first = perpendicular(&plane.normal);
        let lean = part * self.accuracy.cut.radians();
        let about = |axis: Vector| Source {
            cause: Cause::Face { joint },
            motions: vec![Motion::turn(axis * lean, plane.point)],
        };
        vec![about(first.into_inner()), about(plane.normal.cross(&first))]
    }

    /// Errors of a piece itself; none where it is cut to fit.
    pub fn of_piece(&self, index: usize) -> Vec<Source> {
        if self.is_fitted(Station::Piece(index)) {
            return Vec::new();
        }
        let placed = &self.run.pieces()[index];
        // Along the tube that is built on to next.
        let axis = if self.is_from_end(Station::Piece(index)) {
            placed.axis
        } else {
            placed.end_axis()
        };
        let length = Source {
            cause: Cause::Length { piece: index + 1 },
            motions: vec![Motion::shift(axis.into_inner() * self.accuracy.length.mm())],
        };
        let mut sources = self.of_bend(index, placed);
        sources.push(length);
        sources
    }

    fn of_bend(&self, index: usize, placed: &Placed) -> Vec<Source> {
        let Some(arc) = placed.arc else {
            return Vec::new();
        };
        let turned = |cause: Cause, axis: Vector, angle: Angle, about: Point| Source {
            cause,
            motions: vec![Motion::turn(axis * angle.radians(), about)],
        };
        let clocked = self.clock_axis(Station::Piece(index), arc.incoming, arc.outgoing);
        let bent = square_to(&arc.incoming, &arc.outgoing);
        let (joint, piece) = (index, index + 1);
        vec![
            turned(
                Cause::Clock { joint },
                clocked.into_inner(),
                self.accuracy.clock,
                arc.corner,
            ),
            // An arc of fixed CLR that turns a little more goes on round its center.
            turned(
                Cause::Bend { piece },
                bent.into_inner(),
                self.accuracy.bend,
                arc.center(),
            ),
        ]
    }

    /// Errors of the saw's settings, each at every miter that is cut so.
    fn settings(&self) -> Vec<Source> {
        let source = |joints: Vec<usize>| {
            let first = joints.first();
            let angle = first.map_or(Angle::ZERO, |&joint| self.run.joints()[joint].cut());
            let built = joints.into_iter();
            let built = built.filter(|&joint| !self.is_fitted(Station::Joint(joint)));
            Source {
                cause: Cause::Setting { angle },
                motions: built.map(|joint| self.by_setting(joint)).collect(),
            }
        };
        self.miters_by_setting().into_iter().map(source).collect()
    }

    /// The miter joints that are cut at each of the saw's settings.
    pub fn miters_by_setting(&self) -> Vec<Vec<usize>> {
        let joints = self.run.joints();
        let miters: Vec<usize> = (0..joints.len())
            .filter(|&joint| joints[joint].kind == JointKind::Miter)
            .collect();
        let cuts: Vec<Angle> = miters.iter().map(|&joint| joints[joint].cut()).collect();
        let settings = saw_settings(&cuts);
        let count = settings.iter().max().map_or(0, |last| last + 1);
        let mut groups = vec![Vec::new(); count];
        for (joint, setting) in miters.into_iter().zip(settings) {
            groups[setting].push(joint);
        }
        groups
    }

    /// What a wrong setting moves at a miter joint.
    pub fn by_setting(&self, joint: usize) -> Motion {
        let [before, after] = self.axes(joint);
        let axis = square_to(&before, &after).into_inner();
        let error = self.accuracy.setting.radians() * SIDES;
        Motion::turn(axis * error, self.run.joints()[joint].plane.point)
    }

    /// What a turn is clocked about: the axis of the tube that it is built on to.
    fn clock_axis(&self, at: Station, before: Direction, after: Direction) -> Direction {
        if self.is_from_end(at) { after } else { before }
    }

    /// Directions of flow before and after a miter.
    fn axes(&self, joint: usize) -> [Direction; 2] {
        let pieces = self.run.pieces();
        [pieces[joint - 1].end_axis(), pieces[joint].axis]
    }
}

/// The axis of the least rotation from one direction to another: positive turns more.
fn square_to(from: &Direction, to: &Direction) -> Direction {
    Direction::new_normalize(from.cross(to))
}
