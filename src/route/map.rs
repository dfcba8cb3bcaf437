//! [`Map`]: the room among scanned surfaces, as the search sees it.
//!
//! A surface may be open, and has no inside: its distance does not tell a leg that cuts
//! through it which way is out. So the map first finds what the tube can reach from its
//! ports at all, and counts what it cannot reach as solid. With d the distance from a
//! surface and F the places that can be reached,
//!
//! - φ(x) = d(x) where x is reached, or hidden from what is by less than a cell;
//! - φ(x) = max over f in F of d(f) − |x − f| elsewhere, falling the deeper x lies; with
//!   |x − f| counted along steps between neighbors, up to a tenth too long.
//!
//! φ is known at the points of a lattice and smooth between them (quadratic B-splines);
//! it is off by about an eighth of a cell's square over the distance. What is built is
//! measured exactly, and the search corrected by the difference (`scanned.rs`).

use crate::geometry::{Direction, Point, Vector};
use crate::scan::Lattice;
use crate::scene::{Body, Obstacle};
use crate::units::Length;
use rayon::prelude::*;
use std::collections::BinaryHeap;
use std::sync::Arc;

/// Most points of the lattice: some tenths of a second.
const MOST_POINTS: usize = 500_000;
/// Scans, or parts of them, for which there may be as many; more share them, so that
/// memory stays bounded.
const FULL_PARTS: usize = 4;
/// Finest cell, in tube radii: finer shows nothing that a tube could use.
const FINEST: f64 = 0.12;
/// Room round the ports and passes, in parts of the distance between the ports…
const ROOM_PER_CHORD: f64 = 0.6;
/// …and in tube radii.
const ROOM_PER_RADIUS: f64 = 8.0;
/// Part of that room that will do where a port has moved a little.
const ROOM_LEFT: f64 = 0.7;
/// Half a cell's diagonal, in cells: a tube that fits between points is at most this far
/// from one of them, so no way that there is looks closed.
const HALF_DIAGONAL: f64 = 0.866_025_403_784_438_6;
/// How far, in cells, the points that φ between points is made of may lie from the point
/// nearest: half a cell's diagonal and the cell beyond.
const SMOOTHED: f64 = 2.0;
/// What may be hidden from what is reached, in cells, and count as reached: a step of
/// the lattice against the way the distance grows.
const HIDDEN: f64 = 0.75;
/// How far along a port's axis the way out may begin, in tube radii beyond the stretch
/// that is exempt.
const WAY_OUT: f64 = 6.0;
/// Solids that are looked at when the map is made.
const MOST_SOLIDS: usize = 32;

/// What a map is made of.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Ground {
    pub obstacles: Vec<Obstacle>,
    /// Radius of the tube with its wrap.
    pub radius: Length,
    /// Centers and outward directions of the ports.
    pub ports: [(Point, Direction); 2],
    /// Middles of what the run goes through.
    pub passes: Vec<Point>,
    /// Length of centerline at each port that no obstacle is asked about.
    pub exempt: Length,
}

/// The room among scans.
#[derive(Debug)]
pub(super) struct Map {
    pub lattice: Lattice,
    /// One over its cell, a mm.
    per_cell: f64,
    /// φ at the lattice's points for each obstacle that is a scan, mm.
    levels: Vec<Option<Vec<f32>>>,
    /// Room at each point that the least roomy obstacle leaves the tube, mm.
    margins: Vec<f32>,
    /// Whether the tube can get to each point from a port.
    reached: Vec<bool>,
    /// Centers of the ports, and how far from them, mm, a tube is within its exempt
    /// stretch at the most.
    ports: [Point; 2],
    exempt: f64,
    /// Where the ways out of both ports begin; `None` where something covers the port.
    pub mouths: [Option<usize>; 2],
}

impl Map {
    /// The map of `ground`, with what is known of its scans' distances.
    pub fn new(ground: &Ground, lattice: Lattice, known: &[Option<Arc<Vec<f32>>>]) -> Self {
        let margins = ground.margins(&lattice, known);
        let slack = (HALF_DIAGONAL * lattice.cell) as f32;
        let mouths = [0, 1].map(|end| ground.mouth(end, &lattice, &margins, -slack));
        let reached = reach(&lattice, &margins, &mouths, -slack);
        let levels = known
            .iter()
            .map(|known| Some(level(&lattice, known.as_deref()?, &reached)))
            .collect();
        Self {
            per_cell: 1.0 / lattice.cell,
            lattice,
            levels,
            margins,
            reached,
            ports: ground.ports.map(|(center, _)| center),
            exempt: ground.exempt.mm(),
            mouths,
        }
    }

    /// Room that the tube has at a point, mm; none at all where it cannot get to.
    pub fn room(&self, index: usize) -> f32 {
        if self.reached[index] {
            self.margins[index]
        } else {
            f32::NEG_INFINITY
        }
    }

    /// Where the roomiest way of all from port to port is narrowest, and the room there,
    /// mm, at most: no tube of this size gets through on the lattice with more, however it
    /// is bent. Near a port, where nothing is asked about, there is room in plenty.
    pub fn narrowest(&self) -> (Point, f64) {
        let near = |port: &Point, index: usize| {
            (self.lattice.point(index) - port).norm() <= self.exempt + self.lattice.cell
        };
        let room = |index: usize| {
            if self.ports.iter().any(|port| near(port, index)) {
                f32::INFINITY
            } else {
                self.margins[index]
            }
        };
        // Room as an order that a heap keeps: more first.
        let rank = |index: usize| {
            let bits = room(index).to_bits();
            if bits >> 31 == 1 {
                !bits
            } else {
                bits | 1 << 31
            }
        };
        let from = self.lattice.index(self.lattice.nearest(&self.ports[0]));
        let mut seen = vec![false; self.margins.len()];
        let mut waiting = BinaryHeap::from([(rank(from), from)]);
        seen[from] = true;
        let mut narrowest = from;
        while let Some((_, index)) = waiting.pop() {
            if room(index) < room(narrowest) {
                narrowest = index;
            }
            if near(&self.ports[1], index) {
                break;
            }
            for next in beside(&self.lattice, index) {
                if !std::mem::replace(&mut seen[next], true) {
                    waiting.push((rank(next), next));
                }
            }
        }
        let most = f64::from(room(narrowest)) + HALF_DIAGONAL * self.lattice.cell;
        (self.lattice.point(narrowest), most)
    }

    /// φ of an obstacle at `point`, mm; infinite for a solid.
    pub fn distance(&self, obstacle: usize, point: &Point) -> f64 {
        let values = self.levels.get(obstacle).and_then(Option::as_deref);
        values.map_or(f64::INFINITY, |values| {
            Stencil::new(&self.lattice, self.per_cell, point).value(&self.lattice, values)
        })
    }

    /// A distance that φ of an obstacle is at least at `point`, mm: a quicker look. Only
    /// where the map falls behind a wall may φ be less, and that not by more than what
    /// the wall is nearer.
    pub fn least_distance(&self, obstacle: usize, point: &Point) -> f64 {
        let values = self.levels.get(obstacle).and_then(Option::as_deref);
        let at = (point - self.lattice.origin) * self.per_cell;
        values.map_or(f64::INFINITY, |values| {
            let mut place = [0; 3];
            let mut beyond = 0.0;
            for axis in 0..3 {
                let last = (self.lattice.count[axis] - 1) as f64;
                let inside = at[axis].max(0.0).min(last);
                place[axis] = (inside + 0.5) as usize;
                beyond += (at[axis] - inside).abs();
            }
            let value = f64::from(values[self.lattice.index(place)]);
            value - (beyond + SMOOTHED) * self.lattice.cell
        })
    }

    /// How φ of an obstacle grows at `point`.
    pub fn away(&self, obstacle: usize, point: &Point) -> Vector {
        let values = self.levels.get(obstacle).and_then(Option::as_deref);
        values.map_or_else(Vector::zeros, |values| {
            Stencil::new(&self.lattice, self.per_cell, point).gradient(&self.lattice, values)
        })
    }
}

impl Ground {
    /// How far from the ports runs are looked for, along each axis.
    pub fn reach(&self) -> Length {
        let [(start, _), (end, _)] = self.ports;
        let chord = Length::from_mm((end - start).norm());
        chord * ROOM_PER_CHORD + self.radius * ROOM_PER_RADIUS
    }

    /// The part of the job that runs are looked for in.
    pub fn region(&self) -> Lattice {
        let radius = self.radius.mm();
        let [(start, _), (end, _)] = self.ports;
        let (mut min, mut max) = (start.inf(&end), start.sup(&end));
        for point in &self.passes {
            (min, max) = (min.inf(point), max.sup(point));
        }
        let room = Vector::repeat(self.reach().mm());
        let is_scan = |obstacle: &&Obstacle| matches!(obstacle.body, Body::Scan(_));
        let parts = self.obstacles.iter().filter(is_scan).count();
        let most = MOST_POINTS * FULL_PARTS / parts.max(FULL_PARTS);
        Lattice::filling(&(min - room), &(max + room), most, FINEST * radius)
    }

    /// Whether a lattice leaves the ports nearly as much room as their own would.
    pub fn is_within(&self, lattice: &Lattice) -> bool {
        let own = self.region();
        let last = |lattice: &Lattice| lattice.at(lattice.count.map(|count| count - 1));
        let [(start, _), (end, _)] = self.ports;
        let least = start.inf(&end) - own.origin;
        let allowed = least * (1.0 - ROOM_LEFT);
        let inside = |a: Vector| (a + allowed).min() >= 0.0;
        inside(own.origin - lattice.origin) && inside(last(lattice) - last(&own))
    }

    /// Distance, mm, from an obstacle's surface that the middle of the tube keeps.
    fn needed(&self, obstacle: &Obstacle) -> f64 {
        (self.radius + obstacle.clearance).mm()
    }

    /// Room that the tube has at each point, mm.
    fn margins(&self, lattice: &Lattice, known: &[Option<Arc<Vec<f32>>>]) -> Vec<f32> {
        let mut margins = vec![f32::INFINITY; lattice.len()];
        for (obstacle, known) in self.obstacles.iter().zip(known) {
            let Some(known) = known else { continue };
            let needed = self.needed(obstacle) as f32;
            let pairs = margins.par_iter_mut().zip(known.par_iter());
            pairs.for_each(|(margin, distance)| *margin = margin.min(distance - needed));
        }
        let is_solid = |obstacle: &&Obstacle| matches!(obstacle.body, Body::Solid(_));
        let solids = self.obstacles.iter().filter(is_solid);
        let solids: Vec<&Obstacle> = solids.take(MOST_SOLIDS).collect();
        if solids.is_empty() {
            return margins;
        }
        let radius = self.radius.mm();
        let points = margins.par_iter_mut().enumerate();
        points.for_each(|(index, margin)| {
            let point = lattice.point(index);
            for solid in &solids {
                *margin = margin.min((solid.margin_at(&point) - radius) as f32);
            }
        });
        margins
    }

    /// Where a tube leaves a port's exempt stretch.
    fn out(&self, end: usize) -> Point {
        let (center, outward) = self.ports[end];
        center + outward.into_inner() * self.exempt.mm()
    }

    /// Where a tube that leaves a port comes to room first.
    fn mouth(&self, end: usize, lattice: &Lattice, margins: &[f32], least: f32) -> Option<usize> {
        let (_, outward) = self.ports[end];
        let step = lattice.cell / 2.0;
        let steps = (WAY_OUT * self.radius.mm() / step).ceil() as u32;
        (0..=steps)
            .map(|i| self.out(end) + outward.into_inner() * (f64::from(i) * step))
            .map(|point| lattice.index(lattice.nearest(&point)))
            .find(|index| margins[*index] >= least)
    }
}

/// Which points can be reached from a mouth; all with room where there is none.
fn reach(lattice: &Lattice, margins: &[f32], mouths: &[Option<usize>; 2], least: f32) -> Vec<bool> {
    if mouths.iter().all(Option::is_none) {
        return margins.iter().map(|margin| *margin >= least).collect();
    }
    let mut reached = vec![false; margins.len()];
    let mut waiting: Vec<usize> = mouths.iter().copied().flatten().collect();
    for &mouth in &waiting {
        reached[mouth] = true;
    }
    while let Some(index) = waiting.pop() {
        for next in beside(lattice, index) {
            if !reached[next] && margins[next] >= least {
                reached[next] = true;
                waiting.push(next);
            }
        }
    }
    reached
}

/// The up to six points beside a point.
fn beside(lattice: &Lattice, index: usize) -> impl Iterator<Item = usize> {
    let place = lattice.place(index);
    let count = lattice.count;
    let steps = [1, count[0], count[0] * count[1]];
    (0..3).flat_map(move |axis| {
        let back = (place[axis] > 0).then(|| index - steps[axis]);
        let ahead = (place[axis] + 1 < count[axis]).then(|| index + steps[axis]);
        [back, ahead].into_iter().flatten()
    })
}

/// φ at the lattice's points.
fn level(lattice: &Lattice, known: &[f32], reached: &[bool]) -> Vec<f32> {
    let mut level: Vec<f32> = known
        .iter()
        .zip(reached)
        .map(|(distance, reached)| if *reached { *distance } else { f32::MIN })
        .collect();
    let [x, y, z] = lattice.count;
    let cell = lattice.cell as f32;
    // Steps to the neighbors passed on the way through, and their lengths.
    let before: Vec<(isize, isize, isize, f32)> = (-1..=0_isize)
        .flat_map(|dk| (-1..=1).flat_map(move |dj| (-1..=1).map(move |di| (di, dj, dk))))
        .filter(|&(di, dj, dk)| (dk, dj, di) < (0, 0, 0))
        .map(|(di, dj, dk)| {
            let square = (di * di + dj * dj + dk * dk) as f32;
            (di, dj, dk, square.sqrt() * cell)
        })
        .collect();
    let mut sweep = |sign: isize| {
        let order = |i: usize, n: usize| if sign > 0 { i } else { n - 1 - i };
        for k in 0..z {
            for j in 0..y {
                for i in 0..x {
                    let (i, j, k) = (order(i, x), order(j, y), order(k, z));
                    let index = lattice.index([i, j, k]);
                    if reached[index] {
                        continue;
                    }
                    for &(di, dj, dk, length) in &before {
                        let (Some(i), Some(j), Some(k)) = (
                            i.checked_add_signed(di * sign).filter(|i| *i < x),
                            j.checked_add_signed(dj * sign).filter(|j| *j < y),
                            k.checked_add_signed(dk * sign).filter(|k| *k < z),
                        ) else {
                            continue;
                        };
                        let there = level[lattice.index([i, j, k])] - length;
                        level[index] = level[index].max(there);
                    }
                }
            }
        }
    };
    sweep(1);
    sweep(-1);
    let hidden = HIDDEN as f32 * cell;
    let deepest = -(lattice.count.iter().max().copied().unwrap_or(1) as f32) * cell;
    for ((level, distance), reached) in level.iter_mut().zip(known).zip(reached) {
        if !reached && *level >= distance - hidden {
            *level = *distance;
        }
        *level = level.max(deepest);
    }
    // Rows are read by fours.
    level.push(deepest);
    level
}

/// Quadratic B-splines with the lattice's values as coefficients: smooth, never beyond
/// the values round about. Beyond the lattice, falling as distances may at most.
struct Stencil {
    /// The first of 27 points.
    first: usize,
    weights: [[f64; 3]; 3],
    /// From the middle of the 27, in cells.
    off: [f64; 3],
    /// How far the point lies beyond the lattice, in cells.
    beyond: Vector,
}

impl Stencil {
    fn new(lattice: &Lattice, per_cell: f64, point: &Point) -> Self {
        let at = (point - lattice.origin) * per_cell;
        let mut stencil = Self {
            first: 0,
            weights: [[0.0; 3]; 3],
            off: [0.0; 3],
            beyond: Vector::zeros(),
        };
        let mut first = [0; 3];
        for axis in 0..3 {
            let count = lattice.count[axis];
            // Not `clamp`: NaN ends at the limit.
            let inside = at[axis].max(0.5).min(count as f64 - 1.5);
            let middle = ((inside + 0.5) as usize).min(count - 2);
            let t = inside - middle as f64;
            first[axis] = middle - 1;
            stencil.off[axis] = t;
            stencil.weights[axis] = [
                0.5 * (0.5 - t) * (0.5 - t),
                0.75 - t * t,
                0.5 * (0.5 + t) * (0.5 + t),
            ];
            stencil.beyond[axis] = at[axis] - inside;
        }
        stencil.first = lattice.index(first);
        stencil
    }

    /// Sum of the values, weighted along y and z, for each of the three places along x;
    /// the fourth is there so that a machine may do four at once.
    fn rows(&self, lattice: &Lattice, values: &[f32], y: &[f64; 3], z: &[f64; 3]) -> [f64; 4] {
        let [across, up, _] = lattice.count;
        let mut sums = [0.0; 4];
        for (k, wz) in z.iter().enumerate() {
            for (j, wy) in y.iter().enumerate() {
                let row = self.first + across * (j + up * k);
                let Some(Ok(row)) = values.get(row..row + 4).map(<[f32; 4]>::try_from) else {
                    continue;
                };
                let weight = wy * wz;
                for (sum, value) in sums.iter_mut().zip(row) {
                    *sum += weight * f64::from(value);
                }
            }
        }
        sums
    }

    fn value(&self, lattice: &Lattice, values: &[f32]) -> f64 {
        let [x, y, z] = &self.weights;
        let inside = dot(x, self.rows(lattice, values, y, z));
        if self.beyond == Vector::zeros() {
            return inside;
        }
        inside - self.beyond.norm() * lattice.cell
    }

    fn gradient(&self, lattice: &Lattice, values: &[f32]) -> Vector {
        let [x, y, z] = &self.weights;
        let [dx, dy, dz] = self.off.map(|t| [t - 0.5, -2.0 * t, t + 0.5]);
        let mut away = Vector::new(
            dot(&dx, self.rows(lattice, values, y, z)),
            dot(x, self.rows(lattice, values, &dy, z)),
            dot(x, self.rows(lattice, values, y, &dz)),
        ) / lattice.cell;
        let far = self.beyond.norm();
        for axis in 0..3 {
            // Beyond a face nothing changes across it but the fall.
            if self.beyond[axis] != 0.0 {
                away[axis] = -self.beyond[axis] / far;
            }
        }
        away
    }
}

fn dot(weights: &[f64; 3], values: [f64; 4]) -> f64 {
    weights[0] * values[0] + weights[1] * values[1] + weights[2] * values[2]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ports of one run, the first of them here.
    fn ground(at: [f64; 3]) -> Ground {
        let start = Point::from(at);
        let end = start + Vector::new(300.0, 100.0, 200.0);
        Ground {
            obstacles: Vec::new(),
            radius: Length::from_mm(25.0),
            ports: [(start, Vector::z_axis()), (end, -Vector::x_axis())],
            passes: Vec::new(),
            exempt: Length::ZERO,
        }
    }

    /// Two runs of a job share a map only where it reaches as far as either needs.
    #[test]
    fn a_map_of_another_region_is_made_anew() {
        let first = ground([0.0; 3]).region();
        assert!(ground([0.0; 3]).is_within(&first));
        assert!(ground([5.0, -5.0, 0.0]).is_within(&first));
        for beside in [[900.0, 0.0, 0.0], [0.0, -900.0, 0.0], [0.0, 0.0, 900.0]] {
            assert!(!ground(beside).is_within(&first), "{beside:?}");
        }
    }
}
