//! [`Place`]: where something comes near to what is in the way.

use crate::geometry::Point;
use crate::route::ROOM_SLACK;
use crate::run::{Outside, Standoff};
use crate::scene::Obstacle;
use crate::units::Length;

/// What is in the way, and what of a run it is asked about.
#[derive(Clone, Debug, PartialEq)]
pub struct Rule {
    /// The body and the clearance to keep from it.
    pub obstacle: Obstacle,
    /// The run's wrap and the stretch at its ports that is exempt.
    pub outside: Outside,
}

/// Where a piece of a run, or a triangle of a mesh, comes nearest to an obstacle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// Number of the piece or the triangle, from 1.
    pub number: usize,
    /// Which of the obstacles.
    pub obstacle: usize,
    /// Room beyond the clearance that is asked for; negative where there is too little.
    pub room: Length,
    /// Distance from the obstacle; negative where they run into each other.
    pub clear: Length,
    /// The place on the outside of what is checked.
    pub on_part: Point,
    /// The nearest place of the obstacle.
    pub on_obstacle: Point,
}

/// A stretch of a run at a port that an obstacle is not asked about.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exempt {
    /// 0 at the run's first port, 1 at its last.
    pub end: usize,
    /// Length of centerline from the face.
    pub length: Length,
    /// Where it comes nearest all the same.
    pub nearest: Place,
}

impl Rule {
    /// Whether the obstacle is the room about a port that the run itself leaves: its tube
    /// stands in that room, so that the place where it leaves it is no tightest one.
    pub fn is_own_room(&self) -> bool {
        self.obstacle.reach > Length::ZERO
    }
}

impl Place {
    pub(super) fn of_standoff(standoff: &Standoff, obstacle: usize, clearance: Length) -> Self {
        Self {
            number: standoff.piece,
            obstacle,
            room: standoff.distance,
            clear: standoff.distance + clearance,
            on_part: standoff.on_run,
            on_obstacle: standoff.on_obstacle,
        }
    }

    /// Whether there is as much room as a planned run must have.
    pub fn is_clear(&self) -> bool {
        self.room >= -ROOM_SLACK
    }
}

/// The tightest first; of equal ones by obstacle and number.
pub(super) fn sort(places: &mut [Place]) {
    places.sort_by(|a, b| {
        let by_room = a.room.mm().total_cmp(&b.room.mm());
        by_room.then((a.obstacle, a.number).cmp(&(b.obstacle, b.number)))
    });
}
