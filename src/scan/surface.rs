//! [`Surface`]: a mesh that is ready to be asked for distances.
//!
//! Triangles are put in order along a space-filling curve and gathered by fours into the
//! leaves of a bounding volume hierarchy: a quarter of the nodes, for the time of a few
//! more triangles a query. Building takes n·log n; a query log n for what is near.

use super::convex::{Closest, Supported, closest};
use super::fast::{fast, plain};
use super::feeler::Feeler;
use super::stitch::stitch;
use super::{Convex, Mesh};
use crate::geometry::Point;
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector as Fast;
use parry3d_f64::partitioning::{Bvh, BvhBuildStrategy, BvhLeafCost, BvhNode};
use parry3d_f64::query::PointQuery;
use parry3d_f64::shape::Triangle;
use rayon::prelude::*;

/// Triangles to a leaf: a trade of memory and building against queries.
const LEAF: usize = 4;
/// Cells a side, as a power of two, of the grid whose space-filling curve orders the
/// triangles.
const CURVE_BITS: u32 = 21;

/// A mesh with an index over its triangles.
#[derive(Clone)]
pub struct Surface {
    mesh: Mesh,
    /// Triangles as the leaves hold them.
    order: Vec<u32>,
    tree: Bvh,
}

/// A surface's place nearest to a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Nearest {
    /// Distance, mm; never negative.
    pub distance: f64,
    /// The place.
    pub at: Point,
    /// The triangle that it is on.
    pub triangle: usize,
}

/// Where a surface and a body come nearest to each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Contact {
    /// Distance, mm; zero where they touch or cross.
    pub distance: f64,
    /// The place on the surface; where they cross, some place near.
    pub on_surface: Point,
    /// The place on the body; where they cross, some place near.
    pub on_body: Point,
    /// The triangle.
    pub triangle: usize,
}

impl BvhLeafCost for Nearest {
    fn cost(&self) -> f64 {
        self.distance
    }
}

impl BvhLeafCost for Contact {
    fn cost(&self) -> f64 {
        self.distance
    }
}

impl Contact {
    fn between([on_surface, on_body]: [Fast; 2], triangle: usize) -> Self {
        Self {
            distance: on_surface.distance(on_body),
            on_surface: plain(on_surface),
            on_body: plain(on_body),
            triangle,
        }
    }
}

impl Surface {
    /// Indexes `mesh`.
    pub fn new(mesh: Mesh) -> Self {
        let order = order(&mesh);
        let boxes: Vec<Aabb> = order
            .par_chunks(LEAF)
            .map(|leaf| {
                let corners = leaf.iter().flat_map(|&t| mesh.corners(t as usize));
                Aabb::from_points(corners.map(fast))
            })
            .collect();
        let tree = Bvh::from_leaves(BvhBuildStrategy::Binned, &boxes);
        Self { mesh, order, tree }
    }

    /// The mesh as it was given.
    pub const fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    /// The mesh, without its index.
    pub fn into_mesh(self) -> Mesh {
        self.mesh
    }

    /// Bytes on the heap: corners, triangles and index.
    pub fn memory(&self) -> usize {
        size_of_val(&self.mesh.points[..])
            + size_of_val(&self.mesh.triangles[..])
            + size_of_val(&self.order[..])
            + self.tree.heap_memory_size()
    }

    /// The place nearest to `point`; `None` if there is none nearer than `within`, mm.
    pub fn nearest(&self, point: &Point, within: f64) -> Option<Nearest> {
        let place = fast(*point);
        let found = self.tree.find_best(
            within,
            |node, _| node.aabb().distance_to_local_point(place, true),
            |leaf, best| {
                self.best_in_leaf(leaf, best, |shape, triangle, _| {
                    let at = shape.project_local_point(place, true).point;
                    Some(Nearest {
                        distance: at.distance(place),
                        at: plain(at),
                        triangle,
                    })
                })
            },
        );
        found.map(|(_, nearest)| nearest)
    }

    /// Where `body` comes nearest; `None` if nowhere nearer than `within`, mm.
    ///
    /// Segments in closed form; others by GJK (Gilbert, Johnson and Keerthi 1988), to
    /// 5e-8 of their distance.
    pub fn contact(&self, body: &impl Convex, within: f64) -> Option<Contact> {
        let feeler = Feeler::of(body);
        let least = |node: &BvhNode, best: f64| feeler.to_box(&node.aabb(), best);
        let segment = body.as_segment();
        let found = self.tree.find_best(within, least, |leaf, best| {
            self.best_in_leaf(leaf, best, |shape, triangle, best| {
                if feeler.to_triangle(shape, best) >= best {
                    return None;
                }
                let places = match segment {
                    Some(segment) => stitch(shape, segment.map(fast)),
                    None => touch(shape, body, feeler.middle(), best)?,
                };
                Some(Contact::between(places, triangle))
            })
        });
        found.map(|(_, contact)| contact)
    }

    /// The best of a leaf's triangles that beats `best`.
    fn best_in_leaf<T: BvhLeafCost>(
        &self,
        leaf: u32,
        best: f64,
        measure: impl Fn(&Triangle, usize, f64) -> Option<T>,
    ) -> Option<T> {
        let from = leaf as usize * LEAF;
        let to = (from + LEAF).min(self.order.len());
        let mut found: Option<T> = None;
        for &triangle in &self.order[from..to] {
            let [a, b, c] = self.mesh.corners(triangle as usize).map(fast);
            let enough = found.as_ref().map_or(best, BvhLeafCost::cost);
            let measured = measure(&Triangle::new(a, b, c), triangle as usize, enough);
            found = measured.filter(|new| new.cost() < enough).or(found);
        }
        found
    }
}

/// Where a triangle and a body come nearest, if nearer than `within`: on each of them.
fn touch(shape: &Triangle, body: &impl Convex, middle: Fast, within: f64) -> Option<[Fast; 2]> {
    let toward = middle - shape.center();
    match closest(shape, &Supported(body), toward, within) {
        Closest::Apart(places) => Some(places),
        Closest::Crossing => {
            let place = shape.project_local_point(middle, true).point;
            Some([place, place])
        }
        Closest::Far => None,
    }
}

/// Triangles in the order of a Z-shaped curve through their middles (Morton 1966).
fn order(mesh: &Mesh) -> Vec<u32> {
    let (min, max) = mesh.bounds().unwrap_or_default();
    let extent = (max - min).amax().max(f64::MIN_POSITIVE);
    let cells = f64::from((1_u32 << CURVE_BITS) - 1);
    let code = |triangle: usize| {
        let [a, b, c] = mesh.corners(triangle);
        let middle = (a.coords + b.coords + c.coords) / 3.0;
        let cell = (middle - min.coords) * (cells / extent);
        (0..3).fold(0_u64, |code, axis| code | spread(cell[axis] as u64) << axis)
    };
    let mut coded: Vec<(u64, u32)> = (0..mesh.triangles.len())
        .into_par_iter()
        .map(|triangle| (code(triangle), triangle as u32))
        .collect();
    coded.par_sort_unstable();
    coded.into_iter().map(|(_, triangle)| triangle).collect()
}

/// The low bits of a number, two zeros between each and the next.
const fn spread(bits: u64) -> u64 {
    let x = bits & 0x1f_ffff;
    let x = (x | x << 32) & 0x001f_0000_0000_ffff;
    let x = (x | x << 16) & 0x001f_0000_ff00_00ff;
    let x = (x | x << 8) & 0x100f_00f0_0f00_f00f;
    let x = (x | x << 4) & 0x10c3_0c30_c30c_30c3;
    (x | x << 2) & 0x1249_2492_4924_9249
}
