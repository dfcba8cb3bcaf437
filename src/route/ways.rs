//! Ways from port to port among scans: first guesses that lead round what is in the way.
//!
//! Shortest paths (Dijkstra 1959) over every other point of the map, from places on the
//! last port's axis to places on the first's, pulled tight. Where a way was found, the
//! next one is dearer, so that another way round is found too.

use super::map::Map;
use crate::geometry::{Direction, Point};
use crate::scan::Lattice;
use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Points of the map that one step passes over.
const STRIDE: usize = 2;
/// Paths that are looked for one after another.
const ROUNDS: usize = 3;
/// Times as dear that a step becomes beside an earlier way…
const WORN: f32 = 4.0;
/// …within this many steps of it.
const BESIDE: usize = 2;
/// What a step with no room to spare costs beside one with plenty.
const TIGHT: f32 = 1.0;
/// Room, in radii, that is plenty.
const PLENTY: f64 = 1.0;
/// Parts of a first port's axis from each of which a way begins, as ends of them in radii.
const STARTS: [f64; 3] = [3.0, 8.0, 40.0];

/// A way from port to port.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Way {
    /// From each port's face to where the way leaves its axis, mm.
    pub reaches: [f64; 2],
    /// Corners between.
    pub corners: Vec<Point>,
}

/// Ways through `map` for a tube of `radius`, mm; none where there seem to be none.
pub(super) fn ways(map: &Map, ports: &[(Point, Direction); 2], radius: f64) -> Vec<Way> {
    let [Some(_), Some(_)] = map.mouths else {
        return Vec::new();
    };
    let coarse = Coarse::new(map, radius);
    let axes = [0, 1].map(|end| coarse.axis(map, &ports[end], end));
    let mut worn = vec![1.0; coarse.lattice.len()];
    let mut ways: Vec<Way> = Vec::new();
    for _ in 0..ROUNDS {
        let tree = coarse.tree(&axes[1], &worn);
        for path in coarse.paths(&axes[0], &tree, radius) {
            coarse.wear(&path.points, &mut worn);
            let way = pull(map, &coarse, ports, &path);
            if !ways.contains(&way) {
                ways.push(way);
            }
        }
    }
    ways
}

/// Every other point of a map.
struct Coarse {
    lattice: Lattice,
    /// What a step costs at each point, a mm; infinite where there is no room.
    costs: Vec<f32>,
}

/// Places along a port's axis: how far out, and which point is there.
type Axis = Vec<(f64, usize)>;

/// Cheapest ways from all points to an axis.
struct Tree {
    costs: Vec<f32>,
    /// The next point on the way; the point itself where it is on the axis.
    next: Vec<u32>,
    /// How far out on the axis the way ends.
    reach: Vec<f32>,
}

struct Path {
    reaches: [f64; 2],
    points: Vec<usize>,
}

impl Coarse {
    fn new(map: &Map, radius: f64) -> Self {
        let fine = &map.lattice;
        let lattice = Lattice {
            origin: fine.origin,
            cell: fine.cell * STRIDE as f64,
            count: fine.count.map(|count| count.div_ceil(STRIDE)),
        };
        let plenty = (PLENTY * radius) as f32;
        let cost = |index: usize| {
            let place = lattice.place(index).map(|i| i * STRIDE);
            let room = map.room(fine.index(place));
            if room == f32::NEG_INFINITY {
                f32::INFINITY
            } else {
                1.0 + TIGHT * (1.0 - room / plenty).clamp(0.0, 1.0)
            }
        };
        let costs = (0..lattice.len()).map(cost).collect();
        Self { lattice, costs }
    }

    /// Places along a port's axis from its mouth on, as far as there is room.
    fn axis(&self, map: &Map, (center, outward): &(Point, Direction), end: usize) -> Axis {
        let Some(mouth) = map.mouths[end] else {
            return Axis::new();
        };
        let first = (map.lattice.point(mouth) - center).dot(outward).max(0.0);
        let most = self.lattice.count.iter().sum::<usize>();
        let mut axis = Axis::new();
        for step in 0..most {
            let out = first + step as f64 * self.lattice.cell;
            let point = center + outward.into_inner() * out;
            let fine = map.lattice.index(map.lattice.nearest(&point));
            if map.room(fine) == f32::NEG_INFINITY || !self.holds(&point) {
                break;
            }
            let index = self.lattice.index(self.lattice.nearest(&point));
            if self.costs[index].is_finite() {
                axis.push((out, index));
            }
        }
        axis
    }

    fn holds(&self, point: &Point) -> bool {
        let at = self.lattice.locate(point);
        (0..3).all(|axis| (-0.5..self.lattice.count[axis] as f64 - 0.5).contains(&at[axis]))
    }

    /// Cheapest ways from everywhere to `axis`.
    fn tree(&self, axis: &Axis, worn: &[f32]) -> Tree {
        let mut tree = Tree {
            costs: vec![f32::INFINITY; self.lattice.len()],
            next: (0..self.lattice.len() as u32).collect(),
            reach: vec![0.0; self.lattice.len()],
        };
        // Costs are never negative, so their bits are in order.
        let mut waiting = BinaryHeap::new();
        for &(out, index) in axis {
            if (out as f32) < tree.costs[index] {
                tree.costs[index] = out as f32;
                tree.reach[index] = out as f32;
                waiting.push(Reverse(((out as f32).to_bits(), index as u32)));
            }
        }
        while let Some(Reverse((bits, index))) = waiting.pop() {
            let (index, cost) = (index as usize, f32::from_bits(bits));
            if cost > tree.costs[index] {
                continue;
            }
            for (next, length) in self.round(index) {
                let step = length
                    * 0.5
                    * (self.costs[index] * worn[index] + self.costs[next] * worn[next]);
                if cost + step < tree.costs[next] {
                    tree.costs[next] = cost + step;
                    tree.next[next] = index as u32;
                    tree.reach[next] = tree.reach[index];
                    waiting.push(Reverse(((cost + step).to_bits(), next as u32)));
                }
            }
        }
        tree
    }

    /// The up to 26 points round a point, and how far they are, mm.
    fn round(&self, index: usize) -> impl Iterator<Item = (usize, f32)> + '_ {
        let place = self.lattice.place(index);
        let count = self.lattice.count;
        (0..27_usize).filter(|i| *i != 13).filter_map(move |i| {
            let step = [i % 3, i / 3 % 3, i / 9];
            let mut next = [0; 3];
            let mut square = 0;
            for axis in 0..3 {
                next[axis] = (place[axis] + step[axis]).checked_sub(1)?;
                if next[axis] >= count[axis] {
                    return None;
                }
                square += usize::from(step[axis] != 1);
            }
            let length = (square as f64).sqrt() * self.lattice.cell;
            Some((self.lattice.index(next), length as f32))
        })
    }

    /// The cheapest way from each part of the first port's axis.
    fn paths(&self, axis: &Axis, tree: &Tree, radius: f64) -> Vec<Path> {
        let mut from = 0.0;
        let mut paths = Vec::new();
        for to in STARTS.map(|start| start * radius + axis.first().map_or(0.0, |(out, _)| *out)) {
            let here = axis.iter().filter(|(out, _)| (from..to).contains(out));
            let cost = |(out, index): &(f64, usize)| out + f64::from(tree.costs[*index]);
            let best = here.min_by(|a, b| cost(a).total_cmp(&cost(b)));
            from = to;
            let Some(&(out, index)) = best.filter(|best| cost(best).is_finite()) else {
                continue;
            };
            let mut points = vec![index];
            let mut at = index;
            while tree.next[at] as usize != at {
                at = tree.next[at] as usize;
                points.push(at);
            }
            paths.push(Path {
                reaches: [out, f64::from(tree.reach[index])],
                points,
            });
        }
        paths
    }

    /// Makes steps near a path dearer.
    fn wear(&self, path: &[usize], worn: &mut [f32]) {
        let mut near: Vec<usize> = path.to_vec();
        for _ in 0..BESIDE {
            let more: Vec<usize> = near
                .iter()
                .flat_map(|&index| self.round(index).map(|(next, _)| next))
                .collect();
            near.extend(more);
            near.sort_unstable();
            near.dedup();
        }
        for index in near {
            worn[index] = WORN;
        }
    }
}

/// A path as few corners: each leads as far as can be seen.
fn pull(map: &Map, coarse: &Coarse, ports: &[(Point, Direction); 2], path: &Path) -> Way {
    let on_axis = |end: usize| {
        let (center, outward) = &ports[end];
        center + outward.into_inner() * path.reaches[end]
    };
    let inner = &path.points[1..path.points.len().max(2) - 1];
    let mut points = vec![on_axis(0)];
    points.extend(inner.iter().map(|&index| coarse.lattice.point(index)));
    points.push(on_axis(1));
    let mut corners = Vec::new();
    let mut at = 0;
    while at + 1 < points.len() {
        let seen = (at + 1..points.len())
            .rev()
            .find(|&next| next == at + 1 || is_open(map, &points[at], &points[next]));
        at = seen.unwrap_or(at + 1);
        if at + 1 < points.len() {
            corners.push(points[at]);
        }
    }
    Way {
        reaches: path.reaches,
        corners,
    }
}

/// Whether there is room all along a segment.
fn is_open(map: &Map, a: &Point, b: &Point) -> bool {
    let steps = ((b - a).norm() / map.lattice.cell).ceil().max(1.0);
    (0..=steps as usize).all(|i| {
        let point = a + (b - a) * (i as f64 / steps);
        let index = map.lattice.index(map.lattice.nearest(&point));
        map.room(index) >= 0.0
    })
}

impl Way {
    /// The same way with `count` corners: some left out that change it least, or some put
    /// in where it is longest.
    pub fn with_corners(&self, ends: [Point; 2], count: usize) -> Vec<Point> {
        let mut points = vec![ends[0]];
        points.extend(&self.corners);
        points.push(ends[1]);
        while points.len() > count + 2 {
            let detour = |i: usize| {
                (points[i] - points[i - 1]).norm() + (points[i + 1] - points[i]).norm()
                    - (points[i + 1] - points[i - 1]).norm()
            };
            let least = (1..points.len() - 1).min_by(|&a, &b| detour(a).total_cmp(&detour(b)));
            points.remove(least.unwrap_or(1));
        }
        while points.len() < count + 2 {
            let length = |i: usize| (points[i + 1] - points[i]).norm();
            let longest = (0..points.len() - 1).max_by(|&a, &b| length(a).total_cmp(&length(b)));
            let i = longest.unwrap_or(0);
            points.insert(i + 1, nalgebra::center(&points[i], &points[i + 1]));
        }
        points[1..points.len() - 1].to_vec()
    }
}
