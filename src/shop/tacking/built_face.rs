//! [`BuiltFace`]: the newest face of what is tacked up, and the places on it that a tape
//! finds.

use super::lines::Lines;
use super::origin::Origin;
use crate::geometry::{Direction, Plane, Point, Vector, toward};
use crate::run::{Allowance, JointKind, Port, Run};
use crate::tube::Cut;
use crate::units::{Angle, Length};

/// A place on a built face.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spot {
    /// Where the tube's axis meets it.
    Center,
    /// The tip of the long side; on a square face where the piece's own line ends.
    Long,
    /// A quarter turn clockwise from there, looking downstream.
    Right,
    /// Opposite to the long side.
    Short,
    /// A quarter turn the other way.
    Left,
}

impl Spot {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::Center,
        Self::Long,
        Self::Right,
        Self::Short,
        Self::Left,
    ];

    /// Its clock from the long side; none of the center.
    pub const fn clock(self) -> Option<Angle> {
        match self {
            Self::Center => None,
            Self::Long => Some(Angle::ZERO),
            Self::Right => Some(Angle::QUARTER),
            Self::Short => Some(Angle::HALF),
            Self::Left => Some(Angle::from_degrees(270.0)),
        }
    }

    /// In one word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Center => "center",
            Self::Long => "long",
            Self::Right => "right",
            Self::Short => "short",
            Self::Left => "left",
        }
    }
}

/// The newest face of what is built from one port, as it is planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BuiltFace {
    /// The piece that it is cut on, from 1.
    pub piece: usize,
    /// Which port that was built from.
    pub origin: Origin,
    /// Where the tube's axis meets it once all welds are laid.
    pub center: Point,
    /// Direction of flow there.
    pub axis: Direction,
    /// Where its long side is; on a square face the piece's own line.
    pub long: Direction,
    /// Its saw angle.
    pub cut: Angle,
    /// Its normal, out of the tube.
    pub outward: Direction,
    /// How far it stands from there while joints are tacked and no weld has pulled yet.
    pub unshrunk: Vector,
    radius: Length,
}

impl BuiltFace {
    /// Of the piece at `index`, built from `origin`. A face stands behind its joint's plane
    /// by its part of the gap less the shrinkage, and in a socket past it.
    pub(in crate::shop) fn new(
        run: &Run,
        ports: [&Port; 2],
        allowance: Allowance,
        lines: &Lines,
        origin: Origin,
        index: usize,
    ) -> Self {
        let placed = &run.pieces()[index];
        let joint = &run.joints()[origin.face_joint(index)];
        let (axis, cut, line) = match origin {
            Origin::First => (placed.end_axis(), placed.piece.end(), lines.end(index)),
            Origin::Last => (placed.axis, placed.piece.start(), lines.start(index)),
        };
        let socket = match (joint.kind, origin) {
            (JointKind::Flange, Origin::First) => ports[1].socket,
            (JointKind::Flange, Origin::Last) => ports[0].socket,
            _ => Length::ZERO,
        };
        let past = allowance.past(joint, socket);
        let out = axis.into_inner() * origin.sign();
        Self {
            piece: index + 1,
            origin,
            center: joint.plane.point + out * past.mm(),
            axis,
            long: long(cut, &axis, placed.zero, line),
            cut: cut.angle,
            outward: Direction::new_unchecked(joint.plane.normal.into_inner() * origin.sign()),
            unshrunk: unshrunk(run, ports, allowance, origin, index),
            radius: run.tube().radius(),
        }
    }

    /// A place on it once all welds are laid: on the tube's outside, R·tan κ·cos t beyond the
    /// center at the clock t from the long side.
    pub fn at(&self, spot: Spot) -> Point {
        spot.clock().map_or(self.center, |clock| {
            self.on_rim(&toward(&self.axis, &self.long, clock))
        })
    }

    /// On the rim toward `side`, square to the axis.
    pub(in crate::shop) fn on_rim(&self, side: &Direction) -> Point {
        let reach = self.radius * self.cut.tan() * self.long.dot(side);
        let along = self.axis.into_inner() * (self.origin.sign() * reach.mm());
        self.center + side.into_inner() * self.radius.mm() + along
    }

    /// The plane that it lies on, ahead out of the tube.
    pub(in crate::shop) fn plane(&self) -> Plane {
        Plane {
            point: self.center,
            normal: self.outward,
        }
    }
}

fn long(cut: Cut, axis: &Direction, zero: Direction, line: Direction) -> Direction {
    if cut.angle > Angle::ZERO {
        toward(axis, &zero, cut.clock)
    } else {
        line
    }
}

/// How much farther out a face stands while no weld has pulled: the shrinkage of every
/// joint on the way, square to it. In a socket the weld pulls nothing together.
fn unshrunk(
    run: &Run,
    ports: [&Port; 2],
    allowance: Allowance,
    origin: Origin,
    index: usize,
) -> Vector {
    let last = run.pieces().len();
    let (joints, way) = match origin {
        Origin::First => (0..=index, 1.0),
        Origin::Last => (index + 1..=last, -1.0),
    };
    let sockets = ports.map(|port| port.socket);
    allowance.pull(run, sockets, joints) * way
}
