//! [`distances`]: how far the points of a lattice are from a surface.
//!
//! First every triangle tells the points round the cells it crosses how near it is;
//! then points tell their neighbors which triangle is theirs, in sweeps to and fro
//! (Danielsson 1980), and each takes the nearer. Distances are those to real triangles,
//! so never less than true; a neighbor may know none of the nearest, which makes some a
//! little more. Time grows with the triangles and with the points.

use super::fast::fast;
use super::{Lattice, Surface};
use parry3d_f64::math::Vector as Fast;
use parry3d_f64::query::PointQuery;
use parry3d_f64::shape::Triangle;
use rayon::prelude::*;

/// Slabs that triangles are told to side by side.
const SLABS: usize = 4;
/// Triangles larger than this many cells are split before they tell.
const LARGEST: f64 = 4.0;
/// Bound on the splitting: each halves a side.
const MOST_SPLITS: u32 = 12;
/// No triangle known yet.
const NONE: u32 = u32::MAX;

/// What a point knows.
#[derive(Clone, Copy)]
struct Known {
    triangle: u32,
    distance: f32,
    /// The triangle's nearest place.
    at: [f32; 3],
}

/// Distances, mm, of a lattice's points from `surface`; those beyond `far` are `far`.
pub fn distances(surface: &Surface, lattice: &Lattice, far: f64) -> Vec<f32> {
    let none = Known {
        triangle: NONE,
        distance: far as f32,
        at: [0.0; 3],
    };
    let mut known = vec![none; lattice.len()];
    tell_all(surface, lattice, &mut known);
    let sweeper = Sweeper { surface, lattice };
    sweeper.within_planes(&mut known);
    sweeper.across_planes(&mut known);
    sweeper.within_planes(&mut known);
    known.into_iter().map(|known| known.distance).collect()
}

/// Every triangle tells the points round the cells that it crosses.
fn tell_all(surface: &Surface, lattice: &Lattice, known: &mut [Known]) {
    let [x, y, z] = lattice.count;
    let planes = z.div_ceil(SLABS);
    let slabs = known.par_chunks_mut(x * y * planes).enumerate();
    slabs.for_each(|(slab, known)| {
        let planes = slab * planes..(slab * planes + known.len() / (x * y));
        let mut slab = Slab {
            lattice,
            planes,
            known,
        };
        for triangle in 0..surface.mesh().triangles.len() {
            let corners = surface.mesh().corners(triangle);
            let whole = Triangle::from(corners.map(fast));
            slab.tell(triangle as u32, &whole, &whole, MOST_SPLITS);
        }
    });
}

impl Known {
    /// Takes a triangle if it is nearer to `place`.
    fn improve(&mut self, triangle: u32, shape: &Triangle, place: Fast) {
        let at = shape.project_local_point(place, true).point;
        let distance = at.distance(place) as f32;
        if distance < self.distance {
            *self = Self {
                triangle,
                distance,
                at: [at.x as f32, at.y as f32, at.z as f32],
            };
        }
    }
}

/// Some planes of a lattice.
struct Slab<'a> {
    lattice: &'a Lattice,
    planes: std::ops::Range<usize>,
    known: &'a mut [Known],
}

impl Slab<'_> {
    /// Tells the points round the cells that `part` of a triangle crosses.
    fn tell(&mut self, triangle: u32, whole: &Triangle, part: &Triangle, splits: u32) {
        let Lattice {
            origin,
            cell,
            count,
        } = self.lattice;
        let aabb = part.local_aabb();
        let to_cells = |place: Fast| (place - fast(*origin)) / *cell;
        let (low, high) = (to_cells(aabb.mins), to_cells(aabb.maxs));
        let (low, high) = ([low.x, low.y, low.z], [high.x, high.y, high.z]);
        let misses = (0..3).any(|axis| high[axis] < -1.0 || low[axis] > count[axis] as f64);
        let (first, last) = (self.planes.start as f64, self.planes.end as f64);
        if misses || high[2] < first - 1.0 || low[2] > last {
            return;
        }
        if splits > 0 && (0..3).any(|axis| high[axis] - low[axis] > LARGEST) {
            for half in halves(part) {
                self.tell(triangle, whole, &half, splits - 1);
            }
            return;
        }
        let range = |axis: usize, from: usize, to: usize| {
            let low = (low[axis].floor().max(0.0) as usize).max(from);
            low..(high[axis].ceil() as usize + 1).min(to)
        };
        for k in range(2, self.planes.start, self.planes.end) {
            for j in range(1, 0, count[1]) {
                for i in range(0, 0, count[0]) {
                    let index = i + count[0] * (j + count[1] * (k - self.planes.start));
                    let place = fast(self.lattice.at([i, j, k]));
                    self.known[index].improve(triangle, whole, place);
                }
            }
        }
    }
}

/// A triangle cut across its longest side.
fn halves(triangle: &Triangle) -> [Triangle; 2] {
    let corners = [triangle.a, triangle.b, triangle.c];
    let side = |i: usize| corners[(i + 1) % 3].distance_squared(corners[i]);
    let longest = (0..3).fold(0, |best, i| if side(i) > side(best) { i } else { best });
    let [from, to, apex] = [0, 1, 2].map(|i| corners[(longest + i) % 3]);
    let middle = (from + to) * 0.5;
    [
        Triangle::new(from, middle, apex),
        Triangle::new(middle, to, apex),
    ]
}

struct Sweeper<'a> {
    surface: &'a Surface,
    lattice: &'a Lattice,
}

impl Sweeper<'_> {
    /// To and fro within each plane.
    fn within_planes(&self, known: &mut [Known]) {
        let [x, y, _] = self.lattice.count;
        known
            .par_chunks_mut(x * y)
            .enumerate()
            .for_each(|(k, plane)| {
                for index in 0..plane.len() {
                    self.learn_in_plane(plane, index, k, -1);
                }
                for index in (0..plane.len()).rev() {
                    self.learn_in_plane(plane, index, k, 1);
                }
            });
    }

    /// Learns from the neighbors passed on the way: beside, and in the row before.
    fn learn_in_plane(&self, plane: &mut [Known], index: usize, k: usize, back: isize) {
        let [x, y, _] = self.lattice.count;
        let (i, j) = (index % x, index / x);
        let mut here = plane[index];
        for (di, dj) in [(1, 0), (0, 1), (1, 1), (-1, 1)] {
            let (Some(i), Some(j)) = (
                i.checked_add_signed(di * back).filter(|i| *i < x),
                j.checked_add_signed(dj * back).filter(|j| *j < y),
            ) else {
                continue;
            };
            self.learn(&mut here, plane[i + x * j], [index % x, index / x, k]);
        }
        plane[index] = here;
    }

    /// From plane to plane, up and then down.
    fn across_planes(&self, known: &mut [Known]) {
        let [x, y, z] = self.lattice.count;
        for k in 1..z {
            let (before, from_here) = known.split_at_mut(x * y * k);
            let before = &before[x * y * (k - 1)..];
            self.learn_from_plane(&mut from_here[..x * y], before, k);
        }
        for k in (0..z - 1).rev() {
            let (to_here, after) = known.split_at_mut(x * y * (k + 1));
            self.learn_from_plane(&mut to_here[x * y * k..], &after[..x * y], k);
        }
    }

    fn learn_from_plane(&self, plane: &mut [Known], beside: &[Known], k: usize) {
        let [x, y, _] = self.lattice.count;
        plane.par_chunks_mut(x).enumerate().for_each(|(j, row)| {
            for (i, here) in row.iter_mut().enumerate() {
                for (di, dj) in [(0, 0), (-1, 0), (1, 0), (0, -1), (0, 1)] {
                    let (Some(di), Some(dj)) = (
                        i.checked_add_signed(di).filter(|i| *i < x),
                        j.checked_add_signed(dj).filter(|j| *j < y),
                    ) else {
                        continue;
                    };
                    self.learn(here, beside[di + x * dj], [i, j, k]);
                }
            }
        });
    }

    /// Takes a neighbor's triangle where it is nearer.
    fn learn(&self, here: &mut Known, neighbor: Known, place: [usize; 3]) {
        if neighbor.triangle == NONE || neighbor.triangle == here.triangle {
            return;
        }
        let place = fast(self.lattice.at(place));
        // The neighbor's nearest place, rather than its triangle's, tells nearly as well.
        let [x, y, z] = neighbor.at.map(f64::from);
        let least = f64::from(here.distance);
        if Fast::new(x, y, z).distance_squared(place) >= least * least {
            return;
        }
        let corners = self.surface.mesh().corners(neighbor.triangle as usize);
        let shape = Triangle::from(corners.map(fast));
        here.improve(neighbor.triangle, &shape, place);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use crate::scan::{Group, Mesh};

    /// A wavy sheet of `n` by `n` squares, 1 mm a square, at height 5·sin x/7.
    pub(crate) fn waves(n: u32) -> Mesh {
        let at = |i: u32, j: u32| {
            let (x, y) = (f64::from(i), f64::from(j));
            Point::new(x, y, 5.0 * (x / 7.0).sin() + 3.0 * (y / 5.0).cos())
        };
        let points = (0..=n).flat_map(|j| (0..=n).map(move |i| at(i, j)));
        let square = |i: u32, j: u32| {
            let corner = i + (n + 1) * j;
            [
                [corner, corner + 1, corner + n + 1],
                [corner + 1, corner + n + 2, corner + n + 1],
            ]
        };
        let triangles: Vec<[u32; 3]> = (0..n)
            .flat_map(|j| (0..n).flat_map(move |i| square(i, j)))
            .collect();
        Mesh {
            points: points.collect(),
            groups: vec![Group {
                name: String::new(),
                triangles: 0..triangles.len(),
            }],
            triangles,
        }
    }

    #[test]
    fn points_of_a_lattice_know_their_distance() {
        let surface = Surface::new(waves(40));
        let lattice = Lattice::filling(
            &Point::new(-30.0, -20.0, -40.0),
            &Point::new(60.0, 70.0, 45.0),
            40_000,
            0.1,
        );
        let found = distances(&surface, &lattice, 500.0);
        let mut worst = 0.0_f64;
        for (index, &distance) in found.iter().enumerate() {
            let exact = surface.nearest(&lattice.point(index), f64::MAX).unwrap();
            let over = f64::from(distance) - exact.distance;
            assert!(over > -1e-4, "never less than true");
            worst = worst.max(over);
        }
        assert!(worst < 0.2 * lattice.cell, "{worst} of {}", lattice.cell);
    }
}
