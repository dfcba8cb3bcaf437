//! [`Rooms`]: the room at every vertex of an outside.

use super::Rule;
use crate::geometry::Point;
use crate::run::Run;
use crate::scan::Mesh;
use crate::scene::Obstacle;
use crate::units::Length;
use rayon::prelude::*;
use std::f64::consts::TAU;

/// Cells a radius: about 20 round a tube, so that colors show.
const CELLS_TO_A_RADIUS: f64 = 3.0;
/// Most cells of one run: longer ones get larger cells.
const MOST_CELLS: f64 = 500_000.0;

/// A mesh with the room at each of its vertices.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rooms {
    /// Corners, mm.
    pub points: Vec<Point>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
    /// Room beyond the clearance of the obstacle that leaves least of it, mm. What the
    /// run's ports exempt does not count, nor the room about these ports unless the run
    /// comes back into it; where that leaves none, all do.
    pub rooms: Vec<f64>,
    /// Whether any obstacle is asked about there.
    pub asked: Vec<bool>,
}

impl Rooms {
    /// Takes in another mesh beside this one.
    pub fn append(&mut self, other: Self) {
        let first = self.points.len() as u32;
        self.points.extend(other.points);
        let triangles = other.triangles.into_iter();
        self.triangles
            .extend(triangles.map(|corners| corners.map(|corner| corner + first)));
        self.rooms.extend(other.rooms);
        self.asked.extend(other.asked);
    }
}

/// The outside of a run, wrap included, in cells of about a third of its radius.
pub fn rooms_of_run(run: &Run, rules: &[Rule]) -> Rooms {
    let wrap = rules
        .iter()
        .map(|rule| rule.outside.wrap)
        .fold(Length::ZERO, Length::max);
    let radius = run.tube().radius() + wrap;
    let wanted = radius / CELLS_TO_A_RADIUS;
    let cells = (run.length() / wanted) * (radius / wanted * TAU);
    let cell = wanted * (cells / MOST_CELLS).max(1.0).sqrt();
    let skin = run.skin(wrap, cell);
    let total = run.length();
    let places = skin.mesh.vertices.par_iter().zip(&skin.along);
    let found: Vec<(f64, bool)> = places
        .map(|(point, along)| {
            let from_end = along.min(total - *along);
            room_at(point, rules, from_end)
        })
        .collect();
    let (rooms, asked) = found.into_iter().unzip();
    let triangles = skin.mesh.triangles.iter();
    Rooms {
        triangles: triangles.map(|corners| corners.map(|i| i as u32)).collect(),
        points: skin.mesh.vertices,
        rooms,
        asked,
    }
}

/// Least room, and whether anything is asked about `from_end` of the nearer port.
fn room_at(point: &Point, rules: &[Rule], from_end: Length) -> (f64, bool) {
    let rooms = |wanted: &dyn Fn(&Rule, f64) -> bool| {
        let rooms = rules
            .iter()
            .map(|rule| (rule, rule.obstacle.margin_at(point)));
        let rooms = rooms.filter(|(rule, room)| wanted(rule, *room));
        rooms.map(|(_, room)| room).reduce(f64::min)
    };
    // Where the tube leaves its own port's room is no tight place.
    let counts = |rule: &Rule, room: f64| !rule.is_own_room() || room < 0.0;
    let asked = rooms(&|rule, room| from_end >= rule.outside.exempt && counts(rule, room));
    if let Some(room) = asked {
        return (room, true);
    }
    let other = rooms(&|rule, _| !rule.is_own_room());
    let any = other.or_else(|| rooms(&|_, _| true));
    (any.unwrap_or(f64::INFINITY), false)
}

/// A mesh as it is.
pub fn rooms_of_mesh(mesh: &Mesh, obstacles: &[Obstacle]) -> Rooms {
    let rooms: Vec<f64> = mesh
        .points
        .par_iter()
        .map(|point| {
            let rooms = obstacles.iter().map(|obstacle| obstacle.margin_at(point));
            rooms.fold(f64::INFINITY, f64::min)
        })
        .collect();
    Rooms {
        points: mesh.points.clone(),
        triangles: mesh.triangles.clone(),
        asked: vec![true; rooms.len()],
        rooms,
    }
}
