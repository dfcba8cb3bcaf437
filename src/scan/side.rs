//! [`Side`]: on which side of a rim free space is.

use super::Mesh;
use super::border::{Border, Loop};
use crate::geometry::{CircleFit, Point, Vector};
use std::collections::HashSet;

/// How far the triangles along a rim must lean back from its plane, on average in
/// parts of their own height, for telling which side is free.
const LEAN: f64 = 0.1;
/// How far round a rim the surface is looked at, in radii of the rim: farther where
/// nearer does not tell, as on a flange as wide as the ports are apart.
const AROUND: [f64; 3] = [4.0, 8.0, 16.0];
/// Triangles looked at round a rim at most, the nearest first.
const MOST_AROUND: usize = 50_000;
/// Mean distance of the surface around from the rim's plane, in radii, from which it is
/// a body and no plate.
const THICK: f64 = 0.1;
/// Part of that distance that must be left when the two sides of the plane are set off
/// against each other.
const ONE_SIDED: f64 = 0.5;
/// How nearly square to the rim's plane the triangles along it must face, on average,
/// for telling by their facing.
const FACING: f64 = 0.5;

/// What tells on which side of a rim free space is, the surest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The triangles along the rim hang back from it: the normal points away from
    /// them, as at a tube's end. Certain.
    Hanging,
    /// The triangles along the rim lie in its plane, as at a port in a flange's flat
    /// face, but the body that they belong to lies mostly on one side, as far as 4, 8
    /// or 16 radii round: the normal points away from it. Likely.
    Body,
    /// A plate without a body: the normal points where the triangles face. As good as
    /// the scan's facing is.
    Facing,
    /// Nothing tells: the normal's greatest coordinate is positive.
    Unknown,
}

/// A mesh's triangles by their corners.
pub(super) struct Neighbors {
    /// Where each corner's triangles begin in `triangles`, and an end.
    starts: Vec<usize>,
    triangles: Vec<u32>,
}

impl Neighbors {
    pub(super) fn of(mesh: &Mesh) -> Self {
        let corners = || mesh.triangles.iter().flatten().map(|&c| c as usize);
        let exists = |corner: &usize| *corner < mesh.points.len();
        let mut starts = vec![0; mesh.points.len() + 1];
        for corner in corners().filter(exists) {
            starts[corner + 1] += 1;
        }
        for i in 1..starts.len() {
            starts[i] += starts[i - 1];
        }
        let mut next = starts.clone();
        let mut triangles = vec![0; starts[mesh.points.len()]];
        for (triangle, corners) in mesh.triangles.iter().enumerate() {
            for corner in corners.map(|c| c as usize).iter().filter(|c| exists(c)) {
                triangles[next[*corner]] = triangle as u32;
                next[*corner] += 1;
            }
        }
        Self { starts, triangles }
    }

    fn at(&self, corner: u32) -> &[u32] {
        let corner = corner as usize;
        &self.triangles[self.starts[corner]..self.starts[corner + 1]]
    }
}

/// Which way free space is, and what tells so.
pub(super) fn outward(
    mesh: &Mesh,
    neighbors: &Neighbors,
    border: &Border,
    found: &Loop,
    circle: &CircleFit,
) -> (Side, Vector) {
    let normal = circle.normal.into_inner();
    let (lean, facing) = along_rim(mesh, border, found, &normal);
    if lean.abs() > LEAN {
        return (Side::Hanging, -normal * lean.signum());
    }
    let body = |reach: &f64| around(mesh, neighbors, &found.corners, circle, *reach);
    if let Some(ahead) = AROUND.iter().find_map(body) {
        return (Side::Body, -normal * ahead.signum());
    }
    if facing.abs() > FACING {
        return (Side::Facing, normal * facing.signum());
    }
    (Side::Unknown, normal)
}

/// How far the triangles along a rim lean ahead of its plane, and how squarely they
/// face ahead, −1 to 1.
fn along_rim(mesh: &Mesh, border: &Border, found: &Loop, normal: &Vector) -> (f64, f64) {
    let (mut lean, mut height, mut facing) = (0.0, 0.0, 0.0);
    for edge in found.edges.iter().map(|&edge| border.edges[edge]) {
        let [a, b, c] = mesh.corners(edge.triangle);
        let (start, end, apex) = match edge.side {
            0 => (a, b, c),
            1 => (b, c, a),
            _ => (c, a, b),
        };
        // Square to the edge, so that a slanted triangle counts for what it leans.
        let along = (end - start).try_normalize(0.0).unwrap_or_default();
        let hang = (apex - start) - along * along.dot(&(apex - start));
        lean += hang.dot(normal);
        height += hang.norm();
        let square = (b - a).cross(&(c - a));
        facing += square.try_normalize(0.0).unwrap_or_default().dot(normal);
    }
    let lean = if height > 0.0 { lean / height } else { 0.0 };
    (lean, facing / found.edges.len() as f64)
}

/// Mean distance ahead of the rim's plane, mm, of the connected surface around, out to
/// `reach` radii; `None` if it is flat or lies on both sides.
fn around(
    mesh: &Mesh,
    neighbors: &Neighbors,
    rim: &[u32],
    circle: &CircleFit,
    reach: f64,
) -> Option<f64> {
    let radius = circle.radius.mm();
    let near = |p: &Point| (p - circle.center).norm() <= reach * radius;
    let exists = |corners: &[u32; 3]| corners.iter().all(|&c| (c as usize) < mesh.points.len());
    let mut corners: Vec<u32> = rim.to_vec();
    let mut known: HashSet<u32> = rim.iter().copied().collect();
    let mut counted: HashSet<u32> = HashSet::new();
    let (mut sum, mut size, mut total) = (0.0, 0.0, 0.0);
    let mut at = 0;
    while let Some(&corner) = corners.get(at).filter(|_| counted.len() < MOST_AROUND) {
        at += 1;
        for &triangle in neighbors.at(corner) {
            let names = mesh.triangles[triangle as usize];
            if !exists(&names) || !counted.insert(triangle) {
                continue;
            }
            let [a, b, c] = mesh.corners(triangle as usize);
            let middle = Point::from((a.coords + b.coords + c.coords) / 3.0);
            if !near(&middle) {
                continue;
            }
            let area = (b - a).cross(&(c - a)).norm();
            let ahead = circle.normal.dot(&(middle - circle.center));
            sum += area * ahead;
            size += area * ahead.abs();
            total += area;
            corners.extend(names.into_iter().filter(|&name| known.insert(name)));
        }
    }
    let told = total > 0.0 && size > THICK * radius * total && sum.abs() > ONE_SIDED * size;
    told.then(|| sum / total)
}
