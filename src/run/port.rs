//! [`Port`]: where a run begins or ends.

use super::Freedom;
use crate::geometry::{Direction, Point, Scatter};
use crate::scene::{Body, Obstacle, Side, Solid};
use crate::units::Length;

/// A flange or tube end.
///
/// `outward` points from the face into free space at *both* ends of a run, so a
/// run leaves its first port along `outward` and arrives at its last port
/// against it.
#[derive(Clone, Debug, PartialEq)]
pub struct Port {
    /// The user's name for it.
    pub name: String,
    /// Center of the face, mm in the job's frame.
    pub center: Point,
    /// From the face into free space.
    pub outward: Direction,
    /// How far the tube reaches into the flange past the face.
    pub socket: Length,
    /// Least straight tube between the face and the first bend.
    pub straight: Length,
    /// How far it may still be moved to suit the run.
    pub freedom: Freedom,
    /// The flange about it.
    pub flange: Option<Flange>,
    /// How well its center and direction are known.
    pub scatter: Scatter,
}

/// A flange about a port, and the room that its bolts and a wrench need.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flange {
    /// Radius that holds the flange and the wrench.
    pub radius: Length,
    /// How far out of the face they need room.
    pub wrench: Length,
}

impl Port {
    /// The room in front of the port's flange, where the port stands as given: every
    /// run keeps out of it, but for the tube that leaves the port.
    pub fn wrench_room(&self) -> Option<Obstacle> {
        let flange = self.flange?;
        Some(Obstacle {
            name: format!("wrench room at {}", self.name),
            body: Body::Solid(Solid::Cylinder {
                from: self.center,
                to: self.center + self.outward.into_inner() * flange.wrench.mm(),
                radius: flange.radius,
            }),
            side: Side::KeepOut,
            clearance: Length::ZERO,
            reach: flange.wrench,
        })
    }

    /// A bare port, exactly known: no socket, no straight asked for.
    pub fn new(name: &str, center: Point, outward: Direction) -> Self {
        Self {
            name: name.to_owned(),
            center,
            outward,
            socket: Length::ZERO,
            straight: Length::ZERO,
            freedom: Freedom::default(),
            flange: None,
            scatter: Scatter::none(),
        }
    }
}
