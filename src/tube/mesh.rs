//! [`Mesh`]: triangles that share vertices, outward normals by the right-hand rule.

use crate::geometry::{Point, Vector};

/// Points round a tube, one a facet edge, in order of clock.
pub type Ring = Vec<Point>;

/// An indexed triangle mesh in millimeters.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Positions.
    pub vertices: Vec<Point>,
    /// Vertex numbers, counterclockwise seen from outside.
    pub triangles: Vec<[usize; 3]>,
}

impl Mesh {
    /// A tube wall between `outer` and `inner` rings, in order of flow. All rings
    /// have the same number of points.
    pub fn hollow(outer: &[Ring], inner: &[Ring]) -> Self {
        let mut mesh = Self::default();
        let outside = mesh.add_rings(outer);
        let inside = mesh.add_rings(inner);
        mesh.skin(&outside, false);
        mesh.skin(&inside, true);
        if let (Some(o), Some(i)) = (outside.first(), inside.first()) {
            mesh.annulus(o, i, true);
        }
        if let (Some(o), Some(i)) = (outside.last(), inside.last()) {
            mesh.annulus(o, i, false);
        }
        mesh
    }

    /// The skin over `outer` rings, open at both ends.
    pub fn open(outer: &[Ring]) -> Self {
        let mut mesh = Self::default();
        let outside = mesh.add_rings(outer);
        mesh.skin(&outside, false);
        mesh
    }

    /// A full rod through `outer` rings, capped at both ends.
    pub fn solid(outer: &[Ring]) -> Self {
        let mut mesh = Self::default();
        let outside = mesh.add_rings(outer);
        mesh.skin(&outside, false);
        if let Some(first) = outside.first() {
            mesh.cap(first, true);
        }
        if let Some(last) = outside.last() {
            mesh.cap(last, false);
        }
        mesh
    }

    /// Takes in another mesh beside this one; they share nothing.
    pub fn append(&mut self, other: Self) {
        let first = self.vertices.len();
        self.vertices.extend(other.vertices);
        let triangles = other.triangles.into_iter();
        self.triangles
            .extend(triangles.map(|corners| corners.map(|corner| corner + first)));
    }

    /// Enclosed volume in mm³, by the divergence theorem; meaningful when closed.
    pub fn volume_mm3(&self) -> f64 {
        // From a point of the mesh, so that a part far from the origin loses no digits.
        let Some(origin) = self.vertices.first() else {
            return 0.0;
        };
        let corner = |i: usize| self.vertices[i] - origin;
        let six_times: f64 = self
            .triangles
            .iter()
            .map(|&[a, b, c]| corner(a).dot(&corner(b).cross(&corner(c))))
            .sum();
        six_times / 6.0
    }

    /// Whether every edge is shared by exactly two triangles that run it in
    /// opposite ways.
    pub fn is_watertight(&self) -> bool {
        let mut edges: Vec<(usize, usize)> = Vec::with_capacity(self.triangles.len() * 3);
        for &[a, b, c] in &self.triangles {
            edges.extend([(a, b), (b, c), (c, a)]);
        }
        edges.sort_unstable();
        let unique = edges.windows(2).all(|pair| pair[0] != pair[1]);
        let paired = |&(a, b): &(usize, usize)| edges.binary_search(&(b, a)).is_ok();
        unique && !edges.is_empty() && edges.iter().all(paired)
    }

    /// Corners of the bounding box, least and greatest; `None` when empty.
    pub fn bounds(&self) -> Option<(Point, Point)> {
        let first = *self.vertices.first()?;
        Some(
            self.vertices
                .iter()
                .fold((first, first), |(low, high), p| (low.inf(p), high.sup(p))),
        )
    }

    fn add_rings(&mut self, rings: &[Ring]) -> Vec<Vec<usize>> {
        rings
            .iter()
            .map(|ring| {
                let first = self.vertices.len();
                self.vertices.extend_from_slice(ring);
                (first..self.vertices.len()).collect()
            })
            .collect()
    }

    /// The skin over successive rings; `inward` turns it inside out.
    fn skin(&mut self, rings: &[Vec<usize>], inward: bool) {
        for pair in rings.windows(2) {
            self.strip(&pair[0], &pair[1], inward);
        }
    }

    /// The flat ring between wall surfaces at one end, facing upstream or down.
    fn annulus(&mut self, outer: &[usize], inner: &[usize], upstream: bool) {
        self.strip(outer, inner, upstream);
    }

    /// Two triangles between each pair of neighbors on `a` and `b`. With `b`
    /// downstream of `a`, or inside it, the front faces outward, or downstream.
    fn strip(&mut self, a: &[usize], b: &[usize], flip: bool) {
        for i in 0..a.len() {
            let next = (i + 1) % a.len();
            self.triangle([a[i], a[next], b[next]], flip);
            self.triangle([a[i], b[next], b[i]], flip);
        }
    }

    /// A fan from the ring's center.
    fn cap(&mut self, ring: &[usize], upstream: bool) {
        let sum = ring
            .iter()
            .fold(Vector::zeros(), |sum, &i| sum + self.vertices[i].coords);
        let center = self.vertices.len();
        self.vertices.push(Point::from(sum / ring.len() as f64));
        for i in 0..ring.len() {
            self.triangle([ring[i], ring[(i + 1) % ring.len()], center], upstream);
        }
    }

    fn triangle(&mut self, [a, b, c]: [usize; 3], flip: bool) {
        self.triangles
            .push(if flip { [a, c, b] } else { [a, b, c] });
    }
}
