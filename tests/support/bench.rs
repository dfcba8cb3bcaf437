//! A run put together piece by piece with finite errors, as on a bench: what the
//! stack-up, which is of first order, is held against. Nothing here comes from it.
#![allow(dead_code, reason = "each user takes what it needs")]

use super::support::Numbers;
use nalgebra::{Matrix3, Rotation3};
use runwright::geometry::{Direction, Point, Polyline, Vector, perpendicular};
use runwright::run::{Allowance, Centerline, JointKind, Placed, Port, Run};
use runwright::shop::Accuracy;
use runwright::units::Length;
use std::f64::consts::TAU;

/// A place on the bench: z downstream, x toward where the next bend goes, unless it is
/// clocked.
#[derive(Clone, Copy, Debug)]
pub struct Frame {
    pub point: Point,
    pub turn: Rotation3<f64>,
}

impl Frame {
    /// At the start of a run, toward its first turn.
    pub fn start(run: &Run) -> Self {
        let axes = run.centerline().directions();
        let z = axes[0];
        let x = axes
            .iter()
            .map(|axis| axis.into_inner() - z.into_inner() * axis.dot(&z))
            .find(|across| across.norm() > 1e-6)
            .map_or(perpendicular(&z), Direction::new_normalize);
        let columns = [x.into_inner(), z.cross(&x), z.into_inner()];
        Self {
            point: run.centerline().points()[0],
            turn: Rotation3::from_matrix_unchecked(Matrix3::from_columns(&columns)),
        }
    }

    pub fn axis(&self) -> Vector {
        self.turn * Vector::z()
    }

    fn go(&mut self, along: f64) {
        self.point += self.axis() * along;
    }

    fn turn_by(&mut self, own: Vector) {
        self.turn *= Rotation3::new(own);
    }

    /// Moved as a body about its own place.
    pub fn moved(&self, shift: Vector, turn: Vector) -> Self {
        Self {
            point: self.point + shift,
            turn: Rotation3::new(turn) * self.turn,
        }
    }
}

/// How well a port is known: the same any way, and the same lean any way.
#[derive(Clone, Copy, Debug)]
pub struct Known {
    pub shift: f64,
    pub lean: f64,
}

impl Known {
    pub const EXACTLY: Self = Self {
        shift: 0.0,
        lean: 0.0,
    };

    /// One motion of the port whose axis is given.
    pub fn motion(&self, numbers: &mut Numbers, axis: &Direction) -> (Vector, Vector) {
        let mut three = |size: f64| Vector::from([(); 3].map(|()| size * numbers.normal()));
        let (shift, turn) = (three(self.shift), three(self.lean));
        (shift, turn - axis.into_inner() * axis.dot(&turn))
    }
}

/// What one build of a run is off by, in radians and millimeters.
pub struct Errors {
    cut: Vec<f64>,
    faces: Vec<[Vector; 2]>,
    clock: Vec<f64>,
    length: Vec<f64>,
    bend: Vec<f64>,
    in_socket: [bool; 2],
    /// What stands open at every joint between pieces as cut, flanges too, square to it;
    /// `None` puts together edges, face to face.
    gap: Option<f64>,
}

impl Errors {
    /// Drawn at random; `settings` are the errors of the saw's setting at each joint.
    pub fn drawn(
        run: &Run,
        in_socket: [bool; 2],
        accuracy: &Accuracy,
        settings: &[f64],
        numbers: &mut Numbers,
    ) -> Self {
        let joints = run.joints().len();
        let mut draw =
            |size: f64| -> Vec<f64> { (0..joints).map(|_| size * numbers.normal()).collect() };
        let cut = draw(accuracy.cut.radians());
        let clock = draw(accuracy.clock.radians());
        let length = draw(accuracy.length.mm());
        let bend = draw(accuracy.bend.radians());
        let mut lean = || {
            let (size, way) = (numbers.normal(), numbers.between(0.0, TAU));
            Vector::new(way.cos(), way.sin(), 0.0) * (size * accuracy.cut.radians())
        };
        Self {
            cut: cut.iter().zip(settings).map(|(a, b)| a + b).collect(),
            faces: (0..joints).map(|_| [lean(), lean()]).collect(),
            clock,
            length,
            bend,
            in_socket,
            gap: None,
        }
    }

    /// Pieces as they are cut, with `gap` mm open at each joint.
    pub fn with_gap(self, gap: f64) -> Self {
        Self {
            gap: Some(gap),
            ..self
        }
    }

    pub fn none(run: &Run) -> Self {
        let settings = vec![0.0; run.joints().len()];
        let mut numbers = Numbers::new(0);
        Self::drawn(run, [true; 2], &Accuracy::EXACT, &settings, &mut numbers)
    }
}

/// Where a build has come to.
pub struct Reached {
    /// On the last tube, before the cut at its end.
    pub tube: Frame,
    /// Normal of that cut's face.
    pub face: Vector,
    /// The end's face as a body.
    pub end: Frame,
}

/// The first `count` pieces of `run`, put together from `start`.
pub fn build(run: &Run, start: Frame, errors: &Errors, count: usize) -> Reached {
    let mut at = start;
    let last = run.pieces().len();
    let mut reached = Reached {
        tube: at,
        face: at.axis(),
        end: at,
    };
    for (i, placed) in run.pieces().iter().enumerate().take(count) {
        if i == 0 && !errors.in_socket[0] {
            at.turn_by(errors.faces[0][0]);
        }
        let gap = errors.gap.unwrap_or(0.0);
        if i == 0 {
            // A flange stays where it is: the tube begins where the gap ends.
            at.go(gap);
        }
        piece(&mut at, run, placed, i, errors);
        reached.tube = at;
        let joint = &run.joints()[i + 1];
        // Two faces that lean by κ to their tubes and stand `gap` apart: half of it is
        // gone along either tube.
        let half = gap / 2.0 / (joint.deflection.radians() / 2.0).cos();
        match joint.kind {
            JointKind::Miter => {
                at.go(half);
                at.turn_by(Vector::z() * (joint.clock.radians() + errors.clock[i + 1]));
                let lean = joint.deflection.radians() / 2.0 + errors.cut[i + 1];
                at.turn_by(Vector::y() * lean);
                reached.face = at.axis();
                // The other side of the same cut, turned half round.
                at.turn_by(Vector::y() * lean);
                at.go(half);
            }
            JointKind::Square => {
                at.go(gap);
                at.turn_by(errors.faces[i + 1][0]);
                reached.face = at.axis();
                at.turn_by(errors.faces[i + 1][1]);
            }
            JointKind::Flange => {
                at.go(gap);
                if !(i + 1 == last && errors.in_socket[1]) {
                    at.turn_by(errors.faces[i + 1][0]);
                }
                reached.face = at.axis();
            }
        }
        reached.end = at;
    }
    reached
}

fn piece(at: &mut Frame, run: &Run, placed: &Placed, i: usize, errors: &Errors) {
    let Some(arc) = placed.arc else {
        let length = match errors.gap {
            Some(_) => placed.piece.length(),
            None => placed.edge,
        };
        at.go(length.mm() + errors.length[i]);
        return;
    };
    let joints = [&run.joints()[i], &run.joints()[i + 1]];
    at.turn_by(Vector::z() * (joints[0].clock.radians() + errors.clock[i]));
    let legs = match (errors.gap, placed.piece.bent()) {
        (Some(_), Some(bent)) => bent.legs,
        _ => joints.map(|joint| arc.leg(joint.plane.point)),
    };
    at.go(legs[0].mm());
    let turn = arc.turn().radians() + errors.bend[i];
    let along = Vector::new(1.0 - turn.cos(), 0.0, turn.sin()) * arc.clr.mm();
    at.point += at.turn * along;
    at.turn_by(Vector::y() * turn);
    at.go(legs[1].mm() + errors.length[i]);
}

/// The same run from its other end.
pub fn reversed(run: &Run, start: &Port, end: &Port) -> Run {
    reversed_with(run, start, end, Allowance::default())
}

/// The same with its pieces cut for gap and shrinkage.
pub fn reversed_with(run: &Run, start: &Port, end: &Port, allowance: Allowance) -> Run {
    let mut points: Vec<Point> = run.centerline().points().to_vec();
    points.reverse();
    let clr_at = |point: &Point| -> Option<Length> {
        let arcs = run.pieces().iter().filter_map(|placed| placed.arc);
        let mut arcs = arcs.filter(|arc| (arc.corner - point).norm() < 1e-9);
        arcs.next().map(|arc| arc.clr)
    };
    let bends = points.iter().map(clr_at).collect();
    let polyline = Polyline::new(points).expect("edges have length");
    let centerline = Centerline::new(polyline, bends).expect("arcs fit");
    Run::new(run.tube(), end, start, centerline, allowance).expect("it is a run")
}
