//! Solids near a planted run, and in the way of the run that a solver would rather take.

use super::shop::pick;
use crate::support::Numbers;
use nalgebra::Rotation3;
use runwright::geometry::{Direction, Plane, Point, Vector, perpendicular};
use runwright::route::Task;
use runwright::run::Run;
use runwright::scene::{Body, Obstacle, Side, Solid};
use runwright::units::Length;
use std::f64::consts::TAU;

/// Where the easiest answers to crowded problems are blocked. Kept in a file, so
/// that a problem stays what it is while the solver's answers change.
const IN_THE_WAY: &str = include_str!("in_the_way.csv");

/// Room, mm, beyond the clearance that planted runs have at least.
const ROOM: f64 = 1.0;
/// Solids round a run, from and below.
const SOLIDS: (f64, f64) = (3.0, 9.0);
/// Clearances asked for, mm.
const CLEARANCES: [f64; 4] = [0.0, 3.0, 6.0, 12.7];
/// Size of solids, mm: half a block's side, a bar's radius.
const SIZE: (f64, f64) = (10.0, 70.0);
/// Length of bars, mm.
const LENGTH: (f64, f64) = (40.0, 300.0);
/// Room, mm, between the planted run and a wall round it, beyond the least.
const WALL_ROOM: (f64, f64) = (1.0, 40.0);
/// Steps in which a solid is moved off the run.
const MOST_STEPS: usize = 40;
/// Draws of one solid before it is left out.
const MOST_DRAWS: usize = 40;
/// Part by which a solid in the way is made smaller until it is clear.
const SMALLER: f64 = 0.8;
/// Size, mm, below which a solid in the way is not worth putting up.
pub const SMALLEST: f64 = 5.0;

/// A place on an unobstructed answer, and which way the tube goes there.
#[derive(Clone, Debug)]
pub struct Place {
    pub at: Point,
    pub along: Direction,
}

/// Three to eight solids near `run`, clear of it.
pub fn round(numbers: &mut Numbers, task: &Task, run: &Run) -> Vec<Obstacle> {
    let (fewest, end) = SOLIDS;
    let count = numbers.between(fewest, end) as usize;
    let mut obstacles = Vec::new();
    for i in 0..count {
        let way = numbers.between(0.0, 10.0);
        let drawn = if i == 0 && way < 3.0 {
            Some(ground(numbers, task, run))
        } else if i == 1 && way < 2.5 {
            Some(room(numbers, task, run))
        } else {
            (0..MOST_DRAWS).find_map(|_| beside(numbers, task, run))
        };
        obstacles.extend(drawn.map(|obstacle| Obstacle {
            name: format!("solid {}", i + 1),
            ..obstacle
        }));
    }
    obstacles
}

/// A solid less than a tube's diameter from `run`; `None` where this draw gives none.
fn beside(numbers: &mut Numbers, task: &Task, run: &Run) -> Option<Obstacle> {
    let points = run.centerline().points();
    let edge = numbers.between(0.0, points.len() as f64 - 1.0);
    let (i, part) = (edge as usize, edge.fract());
    let near = points[i] + (points[i + 1] - points[i]) * part;
    let away = numbers.direction();
    let reach = task.tube.od().mm() * numbers.between(0.5, 2.5);
    let mut solid = any_solid(numbers, near + away.into_inner() * reach);
    let mut obstacle = keep_out(numbers, solid.clone());
    let wanted = numbers.between(ROOM, task.tube.od().mm());
    for _ in 0..MOST_STEPS {
        let distance = room_left(task, run, &obstacle)?;
        if (ROOM..task.tube.od().mm()).contains(&distance) {
            return Some(obstacle);
        }
        let step = away.into_inner() * (wanted - distance);
        solid = solid.moved(&Rotation3::identity(), &step);
        obstacle.body = solid.clone().into();
    }
    None
}

/// What is left, mm, between a run and what `obstacle` asks.
fn room_left(task: &Task, run: &Run, obstacle: &Obstacle) -> Option<f64> {
    let standoff = run.clearance_to(obstacle, task.outside(obstacle))?;
    Some(standoff.distance.mm())
}

fn keep_out(numbers: &mut Numbers, solid: Solid) -> Obstacle {
    Obstacle {
        name: "solid".to_owned(),
        body: solid.into(),
        side: Side::KeepOut,
        clearance: Length::from_mm(pick(numbers, &CLEARANCES)),
        reach: Length::ZERO,
    }
}

/// A block, capsule or cylinder turned any way round `center`.
fn any_solid(numbers: &mut Numbers, center: Point) -> Solid {
    let (small, large) = SIZE;
    let (short, long) = LENGTH;
    let way = numbers.between(0.0, 3.0);
    if way < 1.0 {
        return Solid::Box {
            center,
            axes: any_turn(numbers),
            half: Vector::from([(); 3].map(|()| numbers.between(small, large))),
        };
    }
    let half = numbers.direction().into_inner() * (numbers.between(short, long) / 2.0);
    let radius = Length::from_mm(numbers.between(small, large) / 2.0);
    let (from, to) = (center - half, center + half);
    if way < 2.0 {
        Solid::Capsule { from, to, radius }
    } else {
        Solid::Cylinder { from, to, radius }
    }
}

fn any_turn(numbers: &mut Numbers) -> Rotation3<f64> {
    let axis = numbers.direction();
    Rotation3::from_axis_angle(&axis, numbers.between(0.0, TAU))
}

/// The ground under `run`, any way up.
fn ground(numbers: &mut Numbers, task: &Task, run: &Run) -> Obstacle {
    let normal = numbers.direction();
    let plane = |point| Solid::HalfSpace(Plane { point, normal });
    let mut obstacle = keep_out(numbers, plane(task.start.center));
    let (least, most) = WALL_ROOM;
    let wanted = ROOM + numbers.between(least, most);
    let left = room_left(task, run, &obstacle).unwrap_or(0.0);
    obstacle.body = plane(task.start.center + normal.into_inner() * (left - wanted)).into();
    obstacle
}

/// A box round `run`.
fn room(numbers: &mut Numbers, task: &Task, run: &Run) -> Obstacle {
    let axes = any_turn(numbers);
    let local = |point: &Point| axes.inverse() * point;
    let points: Vec<Point> = run.centerline().points().iter().map(local).collect();
    let least = points.iter().skip(1).fold(points[0], |a, b| a.inf(b));
    let most = points.iter().skip(1).fold(points[0], |a, b| a.sup(b));
    let clearance = Length::from_mm(pick(numbers, &CLEARANCES));
    let widened = task.tube.radius() / task.limits.max_cut.cos();
    let (near, far) = WALL_ROOM;
    let spare = ROOM + (widened + clearance).mm();
    let grown = |half: f64| half + spare + numbers.between(near, far);
    Obstacle {
        name: "room".to_owned(),
        body: Body::Solid(Solid::Box {
            center: axes * nalgebra::center(&least, &most),
            axes,
            half: ((most - least) / 2.0).map(grown),
        }),
        side: Side::KeepIn,
        clearance,
        reach: Length::ZERO,
    }
}

/// A block or capsule across the tube at `place`, as large as the planted `run` leaves
/// room for.
pub fn blocker(numbers: &mut Numbers, task: &Task, run: &Run, place: &Place) -> Option<Obstacle> {
    let (_, large) = SIZE;
    let (_, long) = LENGTH;
    let mut size = numbers.between(large / 4.0, large / 2.0);
    let mut reach = numbers.between(long / 4.0, long / 2.0);
    let turn = Rotation3::from_axis_angle(&place.along, numbers.between(0.0, TAU));
    let across = turn * perpendicular(&place.along);
    let is_block = numbers.between(0.0, 1.0) < 0.5;
    let mut obstacle = keep_out(numbers, Solid::between(place.at, place.at));
    obstacle.name = "in the way".to_owned();
    while size >= SMALLEST {
        obstacle.body = Body::Solid(if is_block {
            block(place, &across, size, reach)
        } else {
            bar(place, &across, size, reach)
        });
        if room_left(task, run, &obstacle).is_none_or(|left| left >= ROOM) {
            return Some(obstacle);
        }
        size *= SMALLER;
        reach *= SMALLER * SMALLER;
    }
    None
}

fn block(place: &Place, across: &Direction, size: f64, reach: f64) -> Solid {
    Solid::Box {
        center: place.at,
        axes: Rotation3::face_towards(&place.along, across),
        half: Vector::new(size, reach.max(size), size),
    }
}

fn bar(place: &Place, across: &Direction, size: f64, reach: f64) -> Solid {
    let half = across.into_inner() * reach;
    Solid::Capsule {
        from: place.at - half,
        to: place.at + half,
        radius: Length::from_mm(size),
    }
}

/// Where answers to the problem of this name are blocked, if they are.
pub fn in_the_way(name: &str) -> Vec<Place> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(IN_THE_WAY.as_bytes());
    let rows = reader.deserialize::<(String, [f64; 3], [f64; 3])>();
    let rows = rows.map(|row| row.expect("in_the_way.csv is well made"));
    rows.filter(|row| row.0 == name)
        .map(|row| Place {
            at: Point::from(row.1),
            along: Direction::new_normalize(Vector::from(row.2)),
        })
        .collect()
}
