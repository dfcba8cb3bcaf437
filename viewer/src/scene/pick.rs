//! [`pick`]: what a line of sight meets first.

use super::{Bodies, Part, Shape};
use runwright::geometry::{Point, Vector};

/// What was met.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Which part.
    pub part: Part,
    /// Where.
    pub at: Point,
    /// How far along the line.
    pub distance: f64,
}

/// The first part that the line from `from` along `along` meets, of those that `is_seen`.
pub fn pick(
    bodies: &Bodies,
    from: &Point,
    along: &Vector,
    is_seen: impl Fn(Part) -> bool,
) -> Option<Hit> {
    let start = from - bodies.origin;
    let mut best: Option<Hit> = None;
    for body in bodies.list.iter().filter(|body| is_seen(body.part)) {
        if let Some(distance) = first(&body.shape, &start, along)
            && best.is_none_or(|best| distance < best.distance)
        {
            best = Some(Hit {
                part: body.part,
                at: from + along * distance,
                distance,
            });
        }
    }
    best
}

/// Nearest distance along a line at which it meets a shape.
fn first(shape: &Shape, start: &Vector, along: &Vector) -> Option<f64> {
    let (low, high) = shape.bounds?;
    let (mut enter, mut leave) = (0.0_f64, f64::INFINITY);
    for axis in 0..3 {
        let inverse = 1.0 / along[axis];
        let a = (f64::from(low[axis]) - start[axis]) * inverse;
        let b = (f64::from(high[axis]) - start[axis]) * inverse;
        // A line within a face's plane gives no number, which limits nothing.
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    // Flat bodies have no thickness: rounding must not lose them.
    if enter > leave + 1e-3 {
        return None;
    }
    let corner = |i: u32| {
        let p = shape.points[i as usize];
        Vector::new(f64::from(p[0]), f64::from(p[1]), f64::from(p[2]))
    };
    let hits = shape.triangles.iter().filter_map(|corners| {
        let [a, b, c] = corners.map(corner);
        meet(start, along, &a, &(b - a), &(c - a))
    });
    hits.min_by(f64::total_cmp)
}

/// Where a line meets a triangle, from either side: Möller and Trumbore 1997, "Fast,
/// minimum storage ray-triangle intersection", Journal of Graphics Tools 2(1).
fn meet(start: &Vector, along: &Vector, corner: &Vector, u: &Vector, v: &Vector) -> Option<f64> {
    let across = along.cross(v);
    let determinant = u.dot(&across);
    if determinant == 0.0 {
        return None;
    }
    let from = start - corner;
    let part_u = from.dot(&across) / determinant;
    let other = from.cross(u);
    let part_v = along.dot(&other) / determinant;
    let inside = part_u >= 0.0 && part_v >= 0.0 && part_u + part_v <= 1.0;
    let distance = v.dot(&other) / determinant;
    (inside && distance > 0.0).then_some(distance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scene::Body;
    use runwright::tube::{Cut, Facets, Piece, Tube};
    use runwright::units::Length;

    #[test]
    fn the_outside_of_a_tube_is_met_where_it_is() {
        let tube = Tube::new(Length::from_mm(50.0), Length::from_mm(2.0), "304").unwrap();
        let piece = Piece::new(tube, Length::from_mm(100.0), Cut::SQUARE, Cut::SQUARE).unwrap();
        let origin = Point::new(5.0, 5.0, 5.0);
        let part = Part::Piece { run: 0, piece: 0 };
        let shape = Shape::of_mesh(&piece.mesh(Facets::at_least(64)), &origin);
        let mut bodies = Bodies {
            origin,
            ..Bodies::default()
        };
        bodies.list.push(Body {
            part,
            shape: shape.into(),
            levels: None,
        });
        let hit = pick(
            &bodies,
            &Point::new(300.0, 1.0, 40.0),
            &-Vector::x(),
            |_| true,
        )
        .unwrap();
        assert_eq!(hit.part, part);
        assert!((hit.at.coords.xy().norm() - 25.0).abs() < 0.05 && hit.at.x > 20.0);
        // Down the bore nothing is in the way.
        assert_eq!(
            pick(&bodies, &Point::new(0.3, 0.2, 300.0), &-Vector::z(), |_| {
                true
            }),
            None
        );
        assert_eq!(
            pick(
                &bodies,
                &Point::new(300.0, 1.0, 40.0),
                &-Vector::x(),
                |_| false
            ),
            None
        );
        assert_eq!(
            pick(
                &bodies,
                &Point::new(300.0, 1.0, 140.0),
                &-Vector::x(),
                |_| true
            ),
            None
        );
    }
}
