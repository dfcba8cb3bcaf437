//! [`Port`]: where a run begins or ends.

use super::Freedom;
use crate::geometry::{Direction, Point};
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
}

impl Port {
    /// A bare port: no socket, no straight asked for.
    pub fn new(name: &str, center: Point, outward: Direction) -> Self {
        Self {
            name: name.to_owned(),
            center,
            outward,
            socket: Length::ZERO,
            straight: Length::ZERO,
            freedom: Freedom::default(),
        }
    }
}
