//! [`Border`]: the edges where a mesh ends, and the loops that they make.

use super::Mesh;
use crate::geometry::{Point, Vector};
use rayon::prelude::*;

/// Edges looked at where a walk may go on in several ways; more meet only where
/// triangles share nothing but a corner.
const WAYS: usize = 16;
/// Stands for "not on the path".
const NOWHERE: usize = usize::MAX;

/// An edge that belongs to exactly one triangle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct OpenEdge {
    /// Its ends in the order of its triangle.
    pub(super) ends: [u32; 2],
    /// The triangle.
    pub(super) triangle: usize,
    /// Which of the triangle's edges it is: the one from that corner to the next.
    pub(super) side: usize,
}

/// All edges where a mesh ends.
pub(super) struct Border {
    /// In the order of their corners.
    pub(super) edges: Vec<OpenEdge>,
}

/// Open edges that come round to where they began and pass no corner twice.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Loop {
    /// The corners in order round.
    pub(super) corners: Vec<u32>,
    /// The edge from each corner to the next.
    pub(super) edges: Vec<usize>,
}

impl Border {
    /// Finds the open edges: those that belong to one triangle. Edges of three or
    /// more are joints, not open; a triangle with a corner twice, or with a corner
    /// that the mesh does not have, counts for nothing. Time n·log n.
    pub(super) fn of(mesh: &Mesh) -> Self {
        let mut all: Vec<([u32; 2], usize)> = mesh
            .triangles
            .par_iter()
            .enumerate()
            .filter(|(_, corners)| is_whole(corners, mesh.points.len()))
            .flat_map_iter(|(triangle, &[a, b, c])| {
                let edges = [[a, b], [b, c], [c, a]].into_iter().enumerate();
                edges.map(move |(side, [a, b])| ([a.min(b), a.max(b)], 3 * triangle + side))
            })
            .collect();
        all.par_sort_unstable();
        let open = all
            .chunk_by(|a, b| a.0 == b.0)
            .filter(|same| same.len() == 1);
        let edges = open.map(|same| {
            let (triangle, side) = (same[0].1 / 3, same[0].1 % 3);
            let corners = mesh.triangles[triangle];
            OpenEdge {
                ends: [corners[side], corners[(side + 1) % 3]],
                triangle,
                side,
            }
        });
        Self {
            edges: edges.collect(),
        }
    }

    /// Walks the open edges into loops. Where several loops touch in a corner, a walk
    /// goes straight on as far as it can, and closes a loop whenever it comes to a
    /// corner a second time. Edges that lead nowhere are left out. Time n·log n.
    pub(super) fn loops(&self, mesh: &Mesh) -> Vec<Loop> {
        Walk::new(self, mesh).all()
    }
}

/// Whether a triangle has three different corners that exist.
fn is_whole(&[a, b, c]: &[u32; 3], points: usize) -> bool {
    a != b && b != c && c != a && [a, b, c].iter().all(|&corner| (corner as usize) < points)
}

/// Walking along open edges.
struct Walk<'a> {
    border: &'a Border,
    points: &'a [Point],
    /// At each corner, its open edges; those already walked are struck off when met.
    ways: Vec<Vec<usize>>,
    walked: Vec<bool>,
    /// Where a corner is on the path.
    place: Vec<usize>,
    corners: Vec<u32>,
    /// The edge from each corner of the path to the next; one fewer.
    path: Vec<usize>,
    found: Vec<Loop>,
}

impl<'a> Walk<'a> {
    fn new(border: &'a Border, mesh: &'a Mesh) -> Self {
        let mut ways = vec![Vec::new(); mesh.points.len()];
        for (number, edge) in border.edges.iter().enumerate() {
            for end in edge.ends {
                ways[end as usize].push(number);
            }
        }
        Self {
            walked: vec![false; border.edges.len()],
            place: vec![NOWHERE; mesh.points.len()],
            points: &mesh.points,
            border,
            ways,
            corners: Vec::new(),
            path: Vec::new(),
            found: Vec::new(),
        }
    }

    fn all(mut self) -> Vec<Loop> {
        for edge in 0..self.border.edges.len() {
            if !self.walked[edge] {
                self.reach(self.border.edges[edge].ends[0]);
                // Each round walks an edge or steps back from a dead end.
                while let Some(&corner) = self.corners.last() {
                    match self.way_on(corner) {
                        Some(edge) => self.walk(edge, corner),
                        None => self.step_back(),
                    }
                }
            }
        }
        self.found
    }

    fn reach(&mut self, corner: u32) {
        self.place[corner as usize] = self.corners.len();
        self.corners.push(corner);
    }

    fn step_back(&mut self) {
        if let Some(corner) = self.corners.pop() {
            self.place[corner as usize] = NOWHERE;
        }
        self.path.pop();
    }

    /// Of the edges not yet walked the one that turns least, the first of equal ones.
    fn way_on(&mut self, corner: u32) -> Option<usize> {
        let mut at = 0;
        let walked = &self.walked;
        let ways = &mut self.ways[corner as usize];
        while at < ways.len().min(WAYS) {
            if walked[ways[at]] {
                ways.swap_remove(at);
            } else {
                at += 1;
            }
        }
        let ahead = self.ahead(corner);
        let straightness = |edge: usize| self.toward(corner, self.other(edge, corner)).dot(&ahead);
        let choices = self.ways[corner as usize].iter().take(WAYS);
        choices
            .map(|&edge| (straightness(edge), edge))
            .min_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)))
            .map(|(_, edge)| edge)
    }

    /// Direction in which the path comes to its last corner; zero at the start.
    fn ahead(&self, corner: u32) -> Vector {
        let before = self.corners.len().checked_sub(2);
        before.map_or_else(Vector::zeros, |before| {
            self.toward(self.corners[before], corner)
        })
    }

    fn toward(&self, from: u32, to: u32) -> Vector {
        let along = self.points[to as usize] - self.points[from as usize];
        along.try_normalize(f64::MIN_POSITIVE).unwrap_or_default()
    }

    fn other(&self, edge: usize, corner: u32) -> u32 {
        let [a, b] = self.border.edges[edge].ends;
        if a == corner { b } else { a }
    }

    fn walk(&mut self, edge: usize, from: u32) {
        self.walked[edge] = true;
        self.path.push(edge);
        let to = self.other(edge, from);
        let before = self.place[to as usize];
        if before == NOWHERE {
            self.reach(to);
            return;
        }
        // Round again: the corner stays on the path, what came after it is a loop.
        let edges = self.path.split_off(before);
        let mut corners = vec![to];
        corners.extend(self.corners.drain(before + 1..));
        for &corner in &corners[1..] {
            self.place[corner as usize] = NOWHERE;
        }
        self.found.push(Loop { corners, edges });
    }
}
