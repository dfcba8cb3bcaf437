//! A mesh's tightest places that are really different.
//!
//! Every triangle has a lower bound of its room: that of its middle, less its reach. The
//! triangle with the least bound is measured, and comes back in line with what it has,
//! until what stands first is measured: that is the tightest place left. Those near one
//! that was taken are passed over. So few triangles of a large mesh are measured, and
//! the order does not depend on the number of threads.

use super::place::{Place, sort};
use crate::geometry::Point;
use crate::scan::{Convex, Mesh};
use crate::scene::{Body, Obstacle, Side};
use crate::units::Length;
use rayon::prelude::*;
use std::cmp::Ordering;
use std::collections::{BinaryHeap, HashMap};

/// Places of one obstacle nearer to each other than this, on the mesh, count as one.
pub const APART: Length = Length::from_mm(25.0);

/// Most places that are told of one obstacle.
pub const MOST_PLACES: usize = 2000;

/// Where `mesh` comes nearest to each obstacle, the tightest first: places without room,
/// and with them at least the `enough` tightest, as far as there are so many; one a
/// triangle, and no more than [`MOST_PLACES`] an obstacle.
///
/// To a scan and to a solid that is kept out of, exact to 5e-8 of the distance as long as
/// they are apart. Where they cross, a scan has distance zero, and a solid minus the
/// depth of the triangle's deepest corner. To what must be kept within, exact: a convex
/// body's distance is greatest at a corner.
pub fn places_of_mesh(mesh: &Mesh, obstacles: &[Obstacle], enough: usize) -> Vec<Place> {
    let mut places = Vec::new();
    for (i, obstacle) in obstacles.iter().enumerate() {
        places.extend(places_of(mesh, obstacle, i, enough.min(MOST_PLACES)));
    }
    sort(&mut places);
    places
}

/// A triangle in line: what comes first has the least room.
struct Waiting {
    /// Room, mm; a lower bound until it was measured.
    room: f64,
    triangle: u32,
    measured: Option<Box<Place>>,
}

fn places_of(mesh: &Mesh, obstacle: &Obstacle, number: usize, enough: usize) -> Vec<Place> {
    let bounds: Vec<Waiting> = (0..mesh.triangles.len())
        .into_par_iter()
        .map(|triangle| Waiting {
            room: least_room(&mesh.corners(triangle), obstacle),
            triangle: triangle as u32,
            measured: None,
        })
        .collect();
    let mut line = BinaryHeap::from(bounds);
    let mut taken = Taken::default();
    let mut places: Vec<Place> = Vec::new();
    while let Some(next) = line.pop() {
        let done = places.len() >= enough && next.room >= 0.0;
        if done || places.len() >= MOST_PLACES {
            break;
        }
        let corners = mesh.corners(next.triangle as usize);
        let Some(place) = next.measured else {
            if !taken.covers(&corners) {
                let place = measure(&corners, obstacle, number, next.triangle as usize);
                line.push(Waiting {
                    room: place.room.mm(),
                    triangle: next.triangle,
                    measured: Some(Box::new(place)),
                });
            }
            continue;
        };
        if !taken.is_near(&place.on_part, 0.0) {
            taken.take(place.on_part);
            places.push(*place);
        }
    }
    places
}

/// No more than the triangle's room, mm: no distance changes by more than the point moves.
fn least_room(corners: &[Point; 3], obstacle: &Obstacle) -> f64 {
    let (middle, reach) = corners.ball();
    obstacle.margin_at(&middle) - reach
}

/// Where the triangle comes nearest.
fn measure(corners: &[Point; 3], obstacle: &Obstacle, number: usize, triangle: usize) -> Place {
    let (distance, on_part, on_obstacle) = match (&obstacle.body, obstacle.side) {
        (Body::Scan(surface), _) => match surface.contact(corners, f64::INFINITY) {
            Some(contact) => (contact.distance, contact.on_body, contact.on_surface),
            None => lowest_corner(corners, obstacle),
        },
        (Body::Solid(_), Side::KeepIn) => lowest_corner(corners, obstacle),
        (Body::Solid(_), Side::KeepOut) => match obstacle.gap(corners) {
            Some(gap) if gap.distance > 0.0 => (gap.distance, gap.on_first, gap.on_second),
            Some(gap) => {
                let corner = lowest_corner(corners, obstacle);
                if corner.0 < 0.0 {
                    corner
                } else {
                    (0.0, gap.on_first, gap.on_second)
                }
            }
            None => lowest_corner(corners, obstacle),
        },
    };
    Place {
        number: triangle + 1,
        obstacle: number,
        room: Length::from_mm(distance) - obstacle.clearance,
        clear: Length::from_mm(distance),
        on_part,
        on_obstacle,
    }
}

/// Signed distance, mm, of the corner that has least of it, and the place twice.
fn lowest_corner(corners: &[Point; 3], obstacle: &Obstacle) -> (f64, Point, Point) {
    let clearance = obstacle.clearance.mm();
    let distance = |corner: &Point| obstacle.margin_at(corner) + clearance;
    let [a, b, c] = corners.map(|corner| (distance(&corner), corner, corner));
    let lower = |x: (f64, Point, Point), y: (f64, Point, Point)| if y.0 < x.0 { y } else { x };
    lower(lower(a, b), c)
}

/// Places that were taken, by cells of [`APART`].
#[derive(Default)]
struct Taken {
    cells: HashMap<[i64; 3], Vec<Point>>,
}

impl Taken {
    fn cell(place: &Point) -> [i64; 3] {
        let [x, y, z]: [f64; 3] = (place.coords / APART.mm()).into();
        [x, y, z].map(|x| x.floor() as i64)
    }

    fn take(&mut self, place: Point) {
        self.cells
            .entry(Self::cell(&place))
            .or_default()
            .push(place);
    }

    /// Whether all within `reach`, mm, of `place` is near one that was taken.
    fn is_near(&self, place: &Point, reach: f64) -> bool {
        let [x, y, z] = Self::cell(place);
        let around = || -1..=1_i64;
        let mut cells = around().flat_map(move |dx| {
            around().flat_map(move |dy| {
                around().map(move |dz| {
                    [
                        x.saturating_add(dx),
                        y.saturating_add(dy),
                        z.saturating_add(dz),
                    ]
                })
            })
        });
        let near = |other: &Point| (other - place).norm() + reach <= APART.mm();
        cells.any(|cell| {
            self.cells
                .get(&cell)
                .is_some_and(|all| all.iter().any(near))
        })
    }

    /// Whether all of a triangle is near one that was taken.
    fn covers(&self, corners: &[Point; 3]) -> bool {
        let (middle, reach) = corners.ball();
        self.is_near(&middle, reach)
    }
}

impl Ord for Waiting {
    /// The greatest has the least room: a heap gives the greatest first.
    fn cmp(&self, other: &Self) -> Ordering {
        let by_room = other.room.total_cmp(&self.room);
        by_room.then(other.triangle.cmp(&self.triangle))
    }
}

impl PartialOrd for Waiting {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl PartialEq for Waiting {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Waiting {}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Solid;

    /// A flat strip along x at z = 0, in squares of 10 mm.
    fn strip(squares: u32) -> Mesh {
        let points = (0..=squares).flat_map(|i| {
            let x = f64::from(i) * 10.0;
            [Point::new(x, 0.0, 0.0), Point::new(x, 10.0, 0.0)]
        });
        let triangles = (0..squares).flat_map(|i| {
            let i = 2 * i;
            [[i, i + 1, i + 2], [i + 1, i + 3, i + 2]]
        });
        Mesh {
            points: points.collect(),
            triangles: triangles.collect(),
            groups: Vec::new(),
        }
    }

    fn obstacle(solid: Solid, side: Side) -> Obstacle {
        Obstacle {
            name: "it".to_owned(),
            body: Body::Solid(solid),
            side,
            clearance: Length::from_mm(5.0),
            reach: Length::ZERO,
        }
    }

    #[test]
    fn a_triangle_s_middle_may_be_nearest() {
        let ball = Solid::Capsule {
            from: Point::new(53.0, 4.0, 12.0),
            to: Point::new(53.0, 4.0, 12.0),
            radius: Length::from_mm(4.0),
        };
        let places = places_of_mesh(&strip(40), &[obstacle(ball, Side::KeepOut)], 3);
        assert!((places[0].clear.mm() - 8.0).abs() < 1e-6, "{places:?}");
        assert!((places[0].room.mm() - 3.0).abs() < 1e-6);
        assert!((places[0].on_part - Point::new(53.0, 4.0, 0.0)).norm() < 1e-3);
        // The others are really different, and farther.
        assert_eq!(places.len(), 3);
        assert!((places[1].on_part - places[0].on_part).norm() >= APART.mm());
        assert!(places[1].room > places[0].room);
    }

    #[test]
    fn what_crosses_is_as_deep_as_its_corners() {
        let block = Solid::between(Point::new(95.0, -50.0, -3.0), Point::new(500.0, 50.0, 50.0));
        let places = places_of_mesh(&strip(40), &[obstacle(block, Side::KeepOut)], 1);
        assert!((places[0].clear.mm() + 3.0).abs() < 1e-9, "{:?}", places[0]);
        // All places without room are told, however few were asked for.
        assert!(places.len() > 5);
    }

    #[test]
    fn what_is_kept_within_is_measured_at_corners() {
        let block = Solid::between(
            Point::new(-20.0, -20.0, -30.0),
            Point::new(420.0, 30.0, 30.0),
        );
        let places = places_of_mesh(&strip(40), &[obstacle(block, Side::KeepIn)], 1);
        assert!(
            (places[0].clear.mm() - 20.0).abs() < 1e-9,
            "{:?}",
            places[0]
        );
    }
}
