//! [`Shape`]: triangles ready to be drawn.

use runwright::geometry::{Point, Vector};
use runwright::scan::Mesh as ScanMesh;
use runwright::tube::Mesh;

/// Faces that meet at more than this are drawn with an edge between them: cosine of 35°.
const CREASE: f64 = 0.82;
/// Meshes with more triangles are drawn smooth all over, which takes a third of the memory.
const MOST_CREASED: usize = 300_000;

/// Triangles with a normal at each corner; single precision about `origin`, so that a part
/// far from the job's origin loses no digits.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Shape {
    /// Corners less the origin, mm.
    pub points: Vec<[f32; 3]>,
    /// A normal for each.
    pub normals: Vec<[f32; 3]>,
    /// A part, 0 to 1, of the heat map's colors for each; empty without one.
    pub heat: Vec<f32>,
    /// Three corners each.
    pub triangles: Vec<[u32; 3]>,
    /// Least and greatest corner.
    pub bounds: Option<([f32; 3], [f32; 3])>,
}

impl Shape {
    /// Of a tube's mesh.
    pub fn of_mesh(mesh: &Mesh, origin: &Point) -> Self {
        let triangles = mesh
            .triangles
            .iter()
            .map(|corners| corners.map(|i| i as u32));
        Self::new(&mesh.vertices, triangles.collect(), origin)
    }

    /// Of a scan.
    pub fn of_scan(mesh: &ScanMesh, origin: &Point) -> Self {
        Self::new(&mesh.points, mesh.triangles.clone(), origin)
    }

    /// Of points and the triangles between them.
    pub fn new(points: &[Point], triangles: Vec<[u32; 3]>, origin: &Point) -> Self {
        let near: Vec<[f32; 3]> = points
            .iter()
            .map(|point| single(&(point - origin)))
            .collect();
        let flat: Vec<Vector> = triangles
            .iter()
            .map(|corners| area(points, corners))
            .collect();
        let mut shape = if triangles.len() > MOST_CREASED {
            smooth(near, triangles, &flat)
        } else {
            creased(&near, &triangles, &flat)
        };
        shape.bound();
        shape
    }

    /// Smooth all over, with a part of the heat map's colors at each point.
    pub fn with_heat(
        points: &[Point],
        triangles: Vec<[u32; 3]>,
        heat: Vec<f32>,
        origin: &Point,
    ) -> Self {
        let near: Vec<[f32; 3]> = points
            .iter()
            .map(|point| single(&(point - origin)))
            .collect();
        let flat: Vec<Vector> = triangles
            .iter()
            .map(|corners| area(points, corners))
            .collect();
        let mut shape = smooth(near, triangles, &flat);
        shape.heat = heat;
        shape.bound();
        shape
    }

    /// Finds its least and greatest corner.
    pub(super) fn bound(&mut self) {
        self.bounds = self.points.iter().copied().fold(None, |bounds, p| {
            let (low, high) = bounds.unwrap_or((p, p));
            let pick =
                |a: [f32; 3], f: fn(f32, f32) -> f32| [f(a[0], p[0]), f(a[1], p[1]), f(a[2], p[2])];
            Some((pick(low, f32::min), pick(high, f32::max)))
        });
    }
}

fn single(v: &Vector) -> [f32; 3] {
    [v.x as f32, v.y as f32, v.z as f32]
}

/// Normal of a triangle, as long as twice its area.
fn area(points: &[Point], corners: &[u32; 3]) -> Vector {
    let corner = |i: usize| points.get(corners[i] as usize).copied().unwrap_or_default();
    (corner(1) - corner(0)).cross(&(corner(2) - corner(0)))
}

fn unit(v: &Vector) -> Vector {
    v / v.norm().max(f64::MIN_POSITIVE)
}

fn smooth(points: Vec<[f32; 3]>, triangles: Vec<[u32; 3]>, flat: &[Vector]) -> Shape {
    let mut sums = vec![Vector::zeros(); points.len()];
    for (corners, normal) in triangles.iter().zip(flat) {
        for corner in corners {
            if let Some(sum) = sums.get_mut(*corner as usize) {
                *sum += normal;
            }
        }
    }
    let normals = sums.iter().map(|sum| single(&unit(sum))).collect();
    Shape {
        points,
        normals,
        triangles,
        ..Shape::default()
    }
}

/// Each triangle with corners of its own, whose normals are those of the faces about it
/// that lie nearly in its plane.
fn creased(points: &[[f32; 3]], triangles: &[[u32; 3]], flat: &[Vector]) -> Shape {
    let mut about: Vec<Vec<u32>> = vec![Vec::new(); points.len()];
    for (face, corners) in triangles.iter().enumerate() {
        for corner in corners {
            if let Some(faces) = about.get_mut(*corner as usize) {
                faces.push(face as u32);
            }
        }
    }
    let mut shape = Shape::default();
    for (corners, own) in triangles.iter().zip(flat) {
        let own = unit(own);
        let first = shape.points.len() as u32;
        for corner in corners {
            let Some(point) = points.get(*corner as usize) else {
                continue;
            };
            let beside = about[*corner as usize]
                .iter()
                .map(|face| &flat[*face as usize]);
            let sum: Vector = beside
                .filter(|normal| unit(normal).dot(&own) >= CREASE)
                .sum();
            shape.points.push(*point);
            shape.normals.push(single(&unit(&sum)));
        }
        if shape.points.len() as u32 == first + 3 {
            shape.triangles.push([first, first + 1, first + 2]);
        }
    }
    shape
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::tube::{Cut, Facets, Piece, Tube};
    use runwright::units::Length;

    #[test]
    fn a_tube_is_round_and_its_ends_are_flat() {
        let tube = Tube::new(Length::from_mm(50.0), Length::from_mm(2.0), "304").unwrap();
        let piece = Piece::new(tube, Length::from_mm(100.0), Cut::SQUARE, Cut::SQUARE).unwrap();
        let mesh = piece.mesh(Facets::at_least(32));
        let shape = Shape::of_mesh(&mesh, &Point::new(0.0, 0.0, 50.0));
        assert_eq!(shape.triangles.len(), mesh.triangles.len());
        for (point, normal) in shape.points.iter().zip(&shape.normals) {
            let length = normal.iter().map(|n| n * n).sum::<f32>().sqrt();
            assert!((length - 1.0).abs() < 1e-4);
            // Radial on the walls, along the axis on the ends; nothing between.
            let radial =
                (normal[0] * point[0] + normal[1] * point[1]).abs() / point[0].hypot(point[1]);
            assert!(radial > 0.99 || normal[2].abs() > 0.99, "{normal:?}");
        }
        let (low, high) = shape.bounds.unwrap();
        assert!((low[2] + 50.0).abs() < 1e-4 && (high[2] - 50.0).abs() < 1e-4);
    }
}
