//! [`cut`]: a shape cut open by a plane.

use super::Shape;

/// What is left of a shape, and the line along which it was cut.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cut {
    /// What lies behind the plane.
    pub shape: Shape,
    /// Ends of the segments on the plane.
    pub line: Vec<[[f32; 3]; 2]>,
}

/// Takes away what lies on the side of `plane` (a, b, c, d) where a·x + b·y + c·z > d, in
/// the shape's own coordinates.
pub fn cut(shape: &Shape, [a, b, c, d]: [f32; 4]) -> Cut {
    let beyond: Vec<f32> = shape.points.iter().map(|p| a * p[0] + b * p[1] + c * p[2] - d).collect();
    let mut left = Cut { shape: shape.clone(), line: Vec::new() };
    left.shape.triangles.clear();
    for corners in &shape.triangles {
        let out = corners.map(|i| beyond.get(i as usize).is_none_or(|beyond| *beyond > 0.0));
        match out.iter().filter(|out| **out).count() {
            0 => left.shape.triangles.push(*corners),
            3 => {}
            outside => {
                // Turned so that the corner that stands alone on its side is the first.
                let alone = out.iter().position(|o| *o == (outside == 1)).unwrap_or(0);
                let [p, q, r] = [0, 1, 2].map(|i| corners[(alone + i) % 3]);
                let on_q = left.between(p, q, &beyond);
                let on_r = left.between(p, r, &beyond);
                if outside == 2 {
                    left.shape.triangles.push([p, on_q, on_r]);
                } else {
                    left.shape.triangles.push([on_q, q, r]);
                    left.shape.triangles.push([on_q, r, on_r]);
                }
                let ends = [on_q, on_r].map(|i| left.shape.points[i as usize]);
                left.line.push(ends);
            }
        }
    }
    left
}

impl Cut {
    /// A new corner where the edge from `p` to `q` goes through the plane.
    fn between(&mut self, p: u32, q: u32, beyond: &[f32]) -> u32 {
        let (i, j) = (p as usize, q as usize);
        let part = (beyond[i] / (beyond[i] - beyond[j])).clamp(0.0, 1.0);
        let mix = |a: [f32; 3], b: [f32; 3]| [0, 1, 2].map(|k| a[k] + (b[k] - a[k]) * part);
        let shape = &mut self.shape;
        shape.points.push(mix(shape.points[i], shape.points[j]));
        shape.normals.push(mix(shape.normals[i], shape.normals[j]));
        if !shape.heat.is_empty() {
            shape.heat.push(shape.heat[i] + (shape.heat[j] - shape.heat[i]) * part);
        }
        shape.points.len() as u32 - 1
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::geometry::Point;
    use runwright::tube::{Cut as End, Facets, Piece, Tube};
    use runwright::units::Length;

    fn area(shape: &Shape) -> f32 {
        let point = |i: u32| shape.points[i as usize];
        let less = |a: [f32; 3], b: [f32; 3]| [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
        shape.triangles.iter().map(|[a, b, c]| {
            let (u, v) = (less(point(*b), point(*a)), less(point(*c), point(*a)));
            let n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
            n.iter().map(|n| n * n).sum::<f32>().sqrt() / 2.0
        }).sum()
    }

    #[test]
    fn both_sides_of_a_cut_make_the_whole_and_lie_on_their_side() {
        let tube = Tube::new(Length::from_mm(50.0), Length::from_mm(2.0), "304").unwrap();
        let piece = Piece::new(tube, Length::from_mm(100.0), End::SQUARE, End::SQUARE).unwrap();
        let whole = Shape::of_mesh(&piece.mesh(Facets::at_least(24)), &Point::origin());
        for plane in [[0.0, 0.0, 1.0, 37.0], [0.6, 0.8, 0.0, 3.0], [0.36, 0.48, 0.8, 40.0]] {
            let near = cut(&whole, plane);
            let far = cut(&whole, plane.map(|part| -part));
            assert!((area(&near.shape) + area(&far.shape) - area(&whole)).abs() < area(&whole) * 1e-4);
            assert!(!near.line.is_empty());
            let [a, b, c, d] = plane;
            let side = |p: &[f32; 3]| a * p[0] + b * p[1] + c * p[2] - d;
            assert!(near.line.iter().flatten().all(|p| side(p).abs() < 1e-3));
            let used = near.shape.triangles.iter().flatten().map(|i| near.shape.points[*i as usize]);
            assert!(used.into_iter().all(|p| side(&p) < 1e-3));
        }
        let all = cut(&whole, [0.0, 0.0, 1.0, 1000.0]);
        assert_eq!(all.shape.triangles, whole.triangles);
        assert!(cut(&whole, [0.0, 0.0, 1.0, -1000.0]).shape.triangles.is_empty());
    }
}
