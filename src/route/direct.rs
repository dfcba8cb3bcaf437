//! Routes that two given ports leave no choice about: straight tube, and one bend where
//! their axes cross.

use super::limits::Limits;
use super::task::HAIR_ANGLE;
use super::{Bend, Candidate, Make, Rejection, Route, Task};
use crate::geometry::{Direction, Point, angle_between};
use crate::run::Port;
use crate::units::{Angle, Length};

/// Axes that miss each other by less than this are taken to cross: a tenth of what any
/// jig or flange is true to. The run still meets both faces' centers exactly.
const HAIR: Length = Length::from_mm(0.01);
/// Squared sine below which two axes are parallel.
const PARALLEL: f64 = 1e-12;
/// Rounding, mm, when a bend fills the room that it has.
const ROOM_TOLERANCE: f64 = 1e-9;
/// CLRs tried across a range for a single bend.
const CLR_STEPS: u32 = 32;

/// Straight tube, if the ports face each other to within a hair.
pub(super) fn straight(task: &Task) -> Option<Result<Candidate, Rejection>> {
    let (start, end) = (&task.start, &task.end);
    let chord = Direction::try_new(end.center - start.center, f64::MIN_POSITIVE)?;
    let in_line = is_hair(&chord, &start.outward) && is_hair(&-chord, &end.outward);
    in_line.then(|| {
        task.candidate(Route {
            start: start.center,
            end: end.center,
            bends: Vec::new(),
        })
    })
}

/// Every way to make the one bend, if the axes cross to within a hair ahead of both
/// ports.
pub(super) fn one_bend(task: &Task) -> Vec<Result<Candidate, Rejection>> {
    let (start, end) = (&task.start, &task.end);
    let Some(corner) = axes_cross(start, end) else {
        return Vec::new();
    };
    let (to, back) = (corner - start.center, corner - end.center);
    let (s, t) = (Length::from_mm(to.norm()), Length::from_mm(back.norm()));
    let (incoming, outward) = (Direction::new_normalize(to), Direction::new_normalize(back));
    if !(is_hair(&incoming, &start.outward) && is_hair(&outward, &end.outward)) {
        return Vec::new();
    }
    let outgoing = -outward;
    let turn = angle_between(&incoming, &outgoing);
    let room = (s - start.straight).min(t - end.straight);
    let fits = |clr: Length| clr * (turn / 2.0).tan() - room <= Length::from_mm(ROOM_TOLERANCE);
    let pies = clrs(task, room / (turn / 2.0).tan())
        .into_iter()
        .filter_map(|clr| {
            Some((
                clr,
                Make::Pies {
                    joints: joints(task, turn, clr)?,
                },
            ))
        });
    let stock = task
        .stock
        .iter()
        .enumerate()
        .filter(|(_, stock)| turn <= stock.turn + HAIR_ANGLE)
        .map(|(item, stock)| (stock.clr, Make::Stock { item }));
    pies.chain(stock)
        .filter(|(clr, _)| fits(*clr))
        .map(|(clr, make)| {
            let bend = Bend {
                corner,
                incoming,
                outgoing,
                turn,
                clr,
                make,
            };
            task.candidate(Route {
                start: start.center,
                end: end.center,
                bends: vec![bend],
            })
        })
        .collect()
}

/// CLRs to try, none above `greatest`.
fn clrs(task: &Task, greatest: Length) -> Vec<Length> {
    if !task.clrs.is_empty() {
        return task.clrs.clone();
    }
    let least = task.limits.clr_min;
    let range = task.limits.clr_max.min(greatest).max(least) - least;
    let steps = if range > Length::ZERO { CLR_STEPS } else { 0 };
    (0..=steps)
        .map(|step| least + range * (f64::from(step) / f64::from(steps.max(1))))
        .collect()
}

/// Joints that make the turn, if the saw has a stop for it.
fn joints(task: &Task, turn: Angle, clr: Length) -> Option<u32> {
    let limits: Limits = task.search_limits();
    if !task.pies {
        return None;
    }
    if task.saw_angles.is_empty() {
        return limits.joints_for(turn, clr, task.tube.radius());
    }
    let joints = task.saw_angles.iter().filter_map(|cut| {
        let joints = (turn / (*cut * 2.0)).round().max(1.0);
        let off = (turn - *cut * (2.0 * joints)).abs();
        (off <= HAIR_ANGLE).then_some(joints as u32)
    });
    joints.min()
}

/// Where both ports' axes cross ahead of them, to within a hair; `None` if they miss,
/// run parallel or cross behind a port.
fn axes_cross(start: &Port, end: &Port) -> Option<Point> {
    let (a, b) = (start.outward.into_inner(), end.outward.into_inner());
    let chord = end.center - start.center;
    let cross = a.cross(&b);
    let square = cross.norm_squared();
    if square < PARALLEL {
        return None;
    }
    let s = chord.cross(&b).dot(&cross) / square;
    let t = chord.cross(&a).dot(&cross) / square;
    let (p, q) = (start.center + a * s, end.center + b * t);
    let crosses = s > 0.0 && t > 0.0 && (q - p).norm() <= HAIR.mm();
    crosses.then(|| nalgebra::center(&p, &q))
}

/// Whether a direction is a measured one to within what no jig shows.
fn is_hair(direction: &Direction, measured: &Direction) -> bool {
    angle_between(direction, measured) <= HAIR_ANGLE
}
