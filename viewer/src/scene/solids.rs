//! Meshes of the scene's bodies, to be shown; distances are the library's business.

use nalgebra::Unit;
use runwright::geometry::{Point, Vector, perpendicular};
use runwright::scene::Solid;
use runwright::tube::{Facets, Mesh, Ring};

/// Facets round a cylinder.
const ROUND: u32 = 48;
/// Rings of a ball's half.
const RINGS: usize = 8;

/// A body's surface. A half space is shown as a square of its plane, as large as `reach`
/// about `center`.
pub fn mesh(solid: &Solid, center: &Point, reach: f64) -> Mesh {
    match solid {
        Solid::Box { center, axes, half } => {
            block(|part| center + axes * half.component_mul(&part))
        }
        Solid::HalfSpace(plane) => {
            let u = perpendicular(&plane.normal).into_inner() * reach;
            let v = plane.normal.cross(&u);
            let middle =
                center - plane.normal.into_inner() * (center - plane.point).dot(&plane.normal);
            Mesh {
                vertices: vec![
                    middle - u - v,
                    middle + u - v,
                    middle + u + v,
                    middle - u + v,
                ],
                triangles: vec![[0, 1, 2], [0, 2, 3]],
            }
        }
        Solid::Cylinder { from, to, radius } => {
            rod(from, to, &[(0.0, radius.mm()), (1.0, radius.mm())], 0.0)
        }
        Solid::Capsule { from, to, radius } => {
            let half = (0..=RINGS)
                .map(|i| (i as f64 / RINGS as f64 * std::f64::consts::FRAC_PI_2).sin_cos());
            let half: Vec<(f64, f64)> = half.collect();
            let r = radius.mm();
            let before = half.iter().rev().map(|(sin, cos)| (-sin * r, cos * r));
            let after = half.iter().map(|(sin, cos)| (sin * r, cos * r));
            capsule(from, to, before.collect(), after.collect())
        }
    }
}

/// A block from where its corners are, by their parts of -1 and 1 along its axes.
fn block(corner: impl Fn(Vector) -> Point) -> Mesh {
    let sign = |i: usize, axis: usize| if i >> axis & 1 == 1 { 1.0 } else { -1.0 };
    let vertices = (0..8)
        .map(|i| corner(Vector::new(sign(i, 0), sign(i, 1), sign(i, 2))))
        .collect();
    let faces = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let triangles = faces
        .iter()
        .flat_map(|[a, b, c, d]| [[*a, *b, *c], [*a, *c, *d]]);
    Mesh {
        vertices,
        triangles: triangles.collect(),
    }
}

/// A rod by its radii at parts of the way.
pub fn rod(from: &Point, to: &Point, radii: &[(f64, f64)], stretch: f64) -> Mesh {
    let Some(axis) = Unit::try_new(to - from, 1e-9) else {
        return Mesh::default();
    };
    let rings = radii.iter().map(|(part, radius)| {
        ring(
            &(from + (to - from) * *part + axis.into_inner() * stretch),
            &axis,
            *radius,
        )
    });
    Mesh::solid(&rings.collect::<Vec<Ring>>())
}

fn capsule(from: &Point, to: &Point, before: Vec<(f64, f64)>, after: Vec<(f64, f64)>) -> Mesh {
    let axis = Unit::try_new(to - from, 1e-9).unwrap_or(Vector::z_axis());
    let at = |end: &Point, rings: Vec<(f64, f64)>| {
        let rings = rings.into_iter().map(|(along, radius)| {
            ring(&(end + axis.into_inner() * along), &axis, radius.max(1e-6))
        });
        rings.collect::<Vec<Ring>>()
    };
    Mesh::solid(&[at(from, before), at(to, after)].concat())
}

fn ring(center: &Point, axis: &Unit<Vector>, radius: f64) -> Ring {
    let u = perpendicular(axis).into_inner();
    let v = axis.cross(&u);
    let clocks = Facets::at_least(ROUND).clocks();
    clocks
        .map(|clock| {
            let (sin, cos) = clock.sin_cos();
            center + (u * cos + v * sin) * radius
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;
    use runwright::units::Length;

    /// Every vertex lies on the body's surface, by the library's own distance, and the
    /// bodies enclose about what they do.
    #[test]
    fn surfaces_are_where_the_library_has_them() {
        let (a, b) = (Point::new(10.0, 0.0, 5.0), Point::new(40.0, 30.0, 5.0));
        let radius = Length::from_mm(8.0);
        let turned = Solid::Box {
            center: a,
            axes: Rotation3::from_euler_angles(0.3, -0.7, 1.1),
            half: Vector::new(3.0, 5.0, 7.0),
        };
        let bodies = [
            (turned, 8.0 * 105.0),
            (
                Solid::Cylinder {
                    from: a,
                    to: b,
                    radius,
                },
                std::f64::consts::PI * 64.0 * 1800_f64.sqrt(),
            ),
            (
                Solid::Capsule {
                    from: a,
                    to: b,
                    radius,
                },
                std::f64::consts::PI * (64.0 * 1800_f64.sqrt() + 4.0 / 3.0 * 512.0),
            ),
        ];
        for (body, volume) in bodies {
            let mesh = mesh(&body, &a, 100.0);
            assert!(mesh.is_watertight());
            assert!(
                (mesh.volume_mm3() / volume - 1.0).abs() < 0.02,
                "{}",
                mesh.volume_mm3() / volume
            );
            for vertex in &mesh.vertices {
                assert!(body.distance(vertex).0.abs() < 1e-6, "{body:?}");
            }
        }
    }
}
