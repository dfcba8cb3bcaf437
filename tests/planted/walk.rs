//! [`Walk`]: a planted route as it is walked, straight by straight and bend by bend.

use super::shop::{Shop, pick};
use crate::support::Numbers;
use nalgebra::Rotation3;
use runwright::geometry::{Direction, Point, perpendicular};
use runwright::route::{Bend, Candidate, Make, Route, Task};
use runwright::run::Port;
use runwright::units::{Angle, Length};
use std::f64::consts::{PI, TAU};

/// Turns of easy bends, degrees.
const EASY_TURN: (f64, f64) = (12.0, 115.0);
/// Straights of easy runs, in outside diameters.
const EASY_STRAIGHT: (f64, f64) = (0.6, 3.5);
/// What tight runs have above the least straights, mm.
const TIGHT_SPARE: (f64, f64) = (0.0, 3.0);
/// Joints of a tight bend.
const TIGHT_JOINTS: (f64, f64) = (1.0, 7.0);
/// Part of what its joints can turn that a tight bend turns.
const TIGHT_PART: (f64, f64) = (0.96, 1.0);
/// The shared cut of runs of one saw setting, degrees.
const SHARED_CUT: (f64, f64) = (6.0, 9.0);
/// Joints of a bend in such a run.
const SHARED_JOINTS: (f64, f64) = (1.0, 6.0);
/// How far from the job's origin runs begin, mm.
const ORIGIN: f64 = 500.0;
/// Rounding of a turn that is a multiple of a joint's.
const SAME_TURN: f64 = 1e-9;

/// A bend as it is drawn.
pub struct Corner {
    turn: Angle,
    joints: u32,
    clr: Length,
    /// Of its plane against the one before.
    clock: f64,
}

/// Straights and bends; one more straight than bends.
pub struct Walk {
    straights: Vec<Length>,
    corners: Vec<Corner>,
}

impl Walk {
    pub fn easy(numbers: &mut Numbers, shop: &Shop) -> Self {
        let bends = pick(numbers, &[1, 2, 2, 3, 3]);
        let corners = (0..bends).map(|_| free_corner(numbers, shop)).collect();
        Self {
            straights: generous(numbers, shop, bends),
            corners,
        }
    }

    pub fn tight(numbers: &mut Numbers, shop: &Shop) -> Self {
        let bends = pick(numbers, &[1, 2, 2, 3, 3]);
        let corners = (0..bends).map(|_| full_corner(numbers, shop)).collect();
        Self {
            straights: least(numbers, shop, bends),
            corners,
        }
    }

    pub fn one_setting(numbers: &mut Numbers, shop: &Shop) -> Self {
        let bends = pick(numbers, &[2, 2, 3, 3, 4]);
        let (low, high) = SHARED_CUT;
        let cut = Angle::from_degrees(numbers.between(low, high));
        let corners = (0..bends).map(|_| shared_corner(numbers, shop, cut));
        let corners = corners.collect();
        let straights = if numbers.between(0.0, 1.0) < 0.6 {
            generous(numbers, shop, bends)
        } else {
            least(numbers, shop, bends)
        };
        Self { straights, corners }
    }

    /// The task and its run, somewhere in space; `None` where the program would not
    /// accept the run.
    pub fn plant(&self, shop: &Shop, numbers: &mut Numbers) -> Option<(Task, Candidate)> {
        let axis = numbers.direction();
        let route = self.route(axis, numbers);
        let start = Port::new("start", route.start, axis);
        let end = Port::new("end", route.end, -route.end_directions()?[1]);
        let task = Task {
            most_bends: shop.most_bends(self.corners.len()),
            ..shop.task(start, end)
        };
        let candidate = task.candidate(route).ok()?;
        Some((task, candidate))
    }

    fn route(&self, axis: Direction, numbers: &mut Numbers) -> Route {
        let coordinates = [(); 3].map(|()| numbers.between(-ORIGIN, ORIGIN));
        let start = Point::from(coordinates);
        let (mut at, mut along) = (start, axis);
        let mut square = perpendicular(&axis);
        let mut bends = Vec::new();
        for (corner, straight) in self.corners.iter().zip(&self.straights) {
            square = Rotation3::from_axis_angle(&along, corner.clock) * square;
            let bend = corner.bend(at, *straight, along, &square);
            along = bend.outgoing;
            at = bend.corner + along.into_inner() * bend.take_out().mm();
            bends.push(bend);
        }
        let last = self.straights[self.corners.len()];
        Route {
            start,
            end: at + along.into_inner() * last.mm(),
            bends,
        }
    }
}

impl Corner {
    /// The bend `straight` after `at`, about the axis `square`.
    fn bend(&self, at: Point, straight: Length, along: Direction, square: &Direction) -> Bend {
        let turn = Rotation3::from_axis_angle(square, self.turn.radians());
        let take_out = self.clr * (self.turn / 2.0).tan();
        Bend {
            corner: at + along.into_inner() * (straight + take_out).mm(),
            incoming: along,
            outgoing: turn * along,
            turn: self.turn,
            clr: self.clr,
            make: Make::Pies {
                joints: self.joints,
            },
        }
    }
}

/// A clock: in the plane of the bend before in three of ten.
fn clock(numbers: &mut Numbers) -> f64 {
    let way = numbers.between(0.0, 10.0);
    if way < 1.5 {
        0.0
    } else if way < 3.0 {
        PI
    } else {
        numbers.between(0.0, TAU)
    }
}

/// A bend of any turn, with the fewest joints at the usual cut.
fn free_corner(numbers: &mut Numbers, shop: &Shop) -> Corner {
    let (low, high) = EASY_TURN;
    let turn = Angle::from_degrees(numbers.between(low, high));
    let joints = turn / (shop.limits.usual_cut * 2.0);
    Corner {
        turn,
        joints: (joints - SAME_TURN).ceil().max(1.0) as u32,
        clr: shop.radii.draw(numbers),
        clock: clock(numbers),
    }
}

/// A bend that nearly, or quite, uses its joints up.
fn full_corner(numbers: &mut Numbers, shop: &Shop) -> Corner {
    let (low, high) = TIGHT_JOINTS;
    let joints = numbers.between(low, high) as u32;
    let (least, most) = TIGHT_PART;
    let nearly = numbers.between(least, most);
    let part = pick(numbers, &[1.0, nearly]);
    Corner {
        turn: shop.limits.usual_cut * (2.0 * f64::from(joints) * part),
        joints,
        clr: shop.radii.draw(numbers),
        clock: clock(numbers),
    }
}

fn shared_corner(numbers: &mut Numbers, shop: &Shop, cut: Angle) -> Corner {
    let (low, high) = SHARED_JOINTS;
    let joints = numbers.between(low, high) as u32;
    Corner {
        turn: cut * (2.0 * f64::from(joints)),
        joints,
        clr: shop.radii.draw(numbers),
        clock: clock(numbers),
    }
}

/// Straights with room to spare.
fn generous(numbers: &mut Numbers, shop: &Shop, bends: usize) -> Vec<Length> {
    let (low, high) = EASY_STRAIGHT;
    let least = least_straights(shop, bends);
    let spare = |least: Length| least + shop.tube.od() * numbers.between(low, high);
    least.into_iter().map(spare).collect()
}

/// Straights near their limits.
fn least(numbers: &mut Numbers, shop: &Shop, bends: usize) -> Vec<Length> {
    let (low, high) = TIGHT_SPARE;
    let least = least_straights(shop, bends);
    let spare = |least: Length| least + Length::from_mm(numbers.between(low, high));
    least.into_iter().map(spare).collect()
}

fn least_straights(shop: &Shop, bends: usize) -> Vec<Length> {
    let mut straights = vec![shop.limits.min_between; bends + 1];
    straights[0] = shop.port_straights[0];
    straights[bends] = shop.port_straights[1];
    straights
}
