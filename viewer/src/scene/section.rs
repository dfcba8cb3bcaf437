//! [`outline`]: where a plane goes through a shape.

use super::Shape;

/// Ends of the segments along which a shape meets the plane (a, b, c, d), the places with
/// a·x + b·y + c·z = d, in the shape's own coordinates.
pub fn outline(shape: &Shape, [a, b, c, d]: [f32; 4]) -> Vec<[[f32; 3]; 2]> {
    let beyond: Vec<f32> = shape
        .points
        .iter()
        .map(|p| a * p[0] + b * p[1] + c * p[2] - d)
        .collect();
    let mut line = Vec::new();
    for corners in &shape.triangles {
        let out = corners.map(|i| beyond.get(i as usize).is_some_and(|beyond| *beyond > 0.0));
        let count = out.iter().filter(|out| **out).count();
        if count == 0 || count == 3 {
            continue;
        }
        // The corner that stands alone on its side.
        let alone = out.iter().position(|o| *o == (count == 1)).unwrap_or(0);
        let [p, q, r] = [0, 1, 2].map(|i| corners[(alone + i) % 3] as usize);
        let through = |i: usize, j: usize| {
            let part = (beyond[i] / (beyond[i] - beyond[j])).clamp(0.0, 1.0);
            [0, 1, 2].map(|k| shape.points[i][k] + (shape.points[j][k] - shape.points[i][k]) * part)
        };
        line.push([through(p, q), through(p, r)]);
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::geometry::Point;
    use runwright::tube::{Cut as End, Facets, Piece, Tube};
    use runwright::units::Length;

    #[test]
    fn a_section_square_to_a_tube_is_two_circles() {
        let tube = Tube::new(Length::from_mm(50.0), Length::from_mm(2.0), "304").unwrap();
        let piece = Piece::new(tube, Length::from_mm(100.0), End::SQUARE, End::SQUARE).unwrap();
        let shape = Shape::of_mesh(&piece.mesh(Facets::at_least(256)), &Point::origin());
        let line = outline(&shape, [0.0, 0.0, 1.0, 37.0]);
        let length: f32 = line
            .iter()
            .map(|[a, b]| (a[0] - b[0]).hypot(a[1] - b[1]))
            .sum();
        let circles = std::f32::consts::TAU * (25.0 + 23.0);
        assert!((length / circles - 1.0).abs() < 1e-3, "{length}");
        assert!(line.iter().flatten().all(|p| (p[2] - 37.0).abs() < 1e-4));
        // Along its axis: two strips of wall, each all round.
        let line = outline(&shape, [0.0, 1.0, 0.0, 0.1]);
        let length: f32 = line
            .iter()
            .map(|[a, b]| (a[0] - b[0]).hypot(a[2] - b[2]))
            .sum();
        assert!(
            (length / (4.0 * 100.0 + 4.0 * 2.0) - 1.0).abs() < 2e-2,
            "{length}"
        );
        assert!(outline(&shape, [0.0, 0.0, 1.0, 1000.0]).is_empty());
    }
}
