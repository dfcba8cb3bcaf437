//! [`Stretch`]: the space that a run's tube fills, as short convex bodies.
//!
//! A piece between its two cuts is the convex hull of its end ellipses, exactly. Long
//! ones are cut square into shorter bodies, which is still exact. A stock bend is taken
//! in steps whose end disks are widened so that each body holds the true tube.

use super::{Arc, Placed, Run};
use crate::geometry::{Direction, Plane, Point, Vector, perpendicular};
use crate::scan::{Drum, Ellipse};
use crate::units::Length;

/// Longest body, in radii: longer ones are far from round, which makes looking for what is
/// near them slow.
const LONGEST: f64 = 4.0;
/// How far a stock bend's bodies may stand out beyond the true tube.
const WIDENING: Length = Length::from_mm(0.005);
/// Most steps of one stock bend.
const MOST_STEPS: u32 = 400;
/// Stretches shorter than this, mm, are nothing.
const LEAST: f64 = 1e-9;

/// A stretch of a run and the body that its tube fills.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Number of the piece, from 1.
    pub piece: usize,
    /// Centerline from its beginning to its end.
    pub axis: [Point; 2],
    /// Its outside.
    pub body: Drum,
    /// Radius of the outside, mm, square to the centerline.
    pub radius: f64,
}

/// A straight part of the centerline and the planes that the tube is cut by there.
struct Part {
    piece: usize,
    from: Plane,
    to: Plane,
    radius: f64,
}

impl Run {
    /// The run's outside, but for the first and last `exempt` of centerline, with a wrap
    /// of thickness `wrap` all round. In order of flow.
    pub fn swept(&self, wrap: Length, exempt: Length) -> Vec<Stretch> {
        self.swept_within(wrap, |total| [exempt, total - exempt])
    }

    /// As [`Run::swept`], but the centerline between two places that `range` tells from
    /// its whole length.
    pub(super) fn swept_within(
        &self,
        wrap: Length,
        range: impl FnOnce(Length) -> [Length; 2],
    ) -> Vec<Stretch> {
        let radius = (self.tube().radius() + wrap).mm();
        let parts: Vec<Part> = (0..self.pieces().len())
            .flat_map(|i| self.parts(i, radius))
            .collect();
        let length = |part: &Part| (part.to.point - part.from.point).norm();
        let total: f64 = parts.iter().map(length).sum();
        let [first, last] = range(Length::from_mm(total)).map(Length::mm);
        let mut along = 0.0;
        let mut stretches = Vec::new();
        for part in &parts {
            let (start, end) = (along, along + length(part));
            along = end;
            let (from, to) = (first.max(start), last.min(end));
            if to - from > LEAST {
                stretches.extend(part.bodies(from - start, to - start, end - start));
            }
        }
        stretches
    }

    /// The straight parts of a piece.
    fn parts(&self, i: usize, radius: f64) -> Vec<Part> {
        let placed = &self.pieces()[i];
        let [from, to] = [self.joints()[i].plane, self.joints()[i + 1].plane];
        match &placed.arc {
            None => vec![Part {
                piece: i + 1,
                from,
                to,
                radius,
            }],
            Some(arc) => arc_parts(i + 1, placed, arc, [from.point, to.point], radius),
        }
    }
}

/// Legs and steps of a stock bend, each cut square to the way it goes.
fn arc_parts(
    piece: usize,
    placed: &Placed,
    arc: &Arc,
    [start, end]: [Point; 2],
    radius: f64,
) -> Vec<Part> {
    let outside = arc.clr.mm() + radius;
    let step = 2.0 * (1.0 - WIDENING.mm() / outside).clamp(0.0, 1.0).acos();
    let steps = (arc.turn().radians() / step).ceil().max(1.0);
    let steps = (steps as u32).min(MOST_STEPS);
    let half = arc.turn() / (2.0 * f64::from(steps));
    let cuts = (0..=steps).map(|i| {
        let (point, normal) = arc.at(half * (2.0 * f64::from(i)));
        Plane { point, normal }
    });
    let cut = |point: Point, normal: Direction| Plane { point, normal };
    let cuts: Vec<Plane> = std::iter::once(cut(start, placed.axis))
        .chain(cuts)
        .chain([cut(end, arc.outgoing)])
        .collect();
    let last = cuts.len() - 2;
    let parts = cuts.windows(2).enumerate().map(|(i, pair)| Part {
        piece,
        from: pair[0],
        to: pair[1],
        radius: if i == 0 || i == last {
            radius
        } else {
            radius + outside * (1.0 - half.cos())
        },
    });
    parts
        .filter(|part| (part.to.point - part.from.point).norm() > LEAST)
        .collect()
}

impl Part {
    /// Bodies from `from` to `to` of its length `whole`, mm.
    fn bodies(&self, from: f64, to: f64, whole: f64) -> Vec<Stretch> {
        let axis = Direction::new_normalize(self.to.point - self.from.point);
        let count = ((to - from) / (LONGEST * self.radius)).ceil().max(1.0);
        let place = |i: f64| match i {
            0.0 => from,
            i if i == count => to,
            i => from + (to - from) * (i / count),
        };
        let end = |at: f64| {
            let plane = match at {
                0.0 => self.from,
                at if at >= whole - LEAST => self.to,
                at => Plane {
                    point: self.from.point + axis.into_inner() * at,
                    normal: axis,
                },
            };
            ellipse(&plane, &axis, self.radius)
        };
        (0..count as u32)
            .map(|i| {
                let ends = [place(f64::from(i)), place(f64::from(i + 1))].map(end);
                Stretch {
                    piece: self.piece,
                    axis: ends.map(|end| end.center),
                    body: Drum { ends },
                    radius: self.radius,
                }
            })
            .collect()
    }
}

/// Where a plane cuts a tube: half axes u − d·(u·n)/(d·n) for u square to the tube's
/// axis d.
fn ellipse(plane: &Plane, axis: &Direction, radius: f64) -> Ellipse {
    let u = perpendicular(axis);
    let v = axis.cross(&u);
    let slanted = |across: Vector| {
        let along = across.dot(&plane.normal) / axis.dot(&plane.normal);
        (across - axis.into_inner() * along) * radius
    };
    Ellipse {
        center: plane.point,
        half: [slanted(u.into_inner()), slanted(v)],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Polyline;
    use crate::run::{Allowance, Port};
    use crate::tube::Tube;
    use crate::units::Angle;

    fn elbow() -> Run {
        let tube = Tube::new(Length::from_mm(60.0), Length::from_mm(2.0), "304").unwrap();
        let points = vec![
            Point::new(0.0, 0.0, 0.0),
            Point::new(0.0, 0.0, 200.0),
            Point::new(100.0, 0.0, 300.0),
            Point::new(400.0, 0.0, 300.0),
        ];
        let start = Port::new("a", points[0], Vector::z_axis());
        let end = Port::new("b", points[3], -Vector::x_axis());
        let centerline = Polyline::new(points).unwrap();
        Run::new(&tube, &start, &end, centerline, Allowance::default()).unwrap()
    }

    #[test]
    fn bodies_reach_to_the_tip_of_a_miter() {
        let run = elbow();
        let swept = run.swept(Length::ZERO, Length::ZERO);
        // The outside of the miter at (0, 0, 200): κ = 22.5°, r/cos κ from the joint.
        let out = Vector::new(-1.0, 0.0, 2.0_f64.sqrt() - 1.0).normalize();
        let reach = swept
            .iter()
            .map(|stretch| (stretch.body.farthest(&out) - Point::new(0.0, 0.0, 200.0)).dot(&out))
            .fold(f64::MIN, f64::max);
        let tip = 30.0 / Angle::from_degrees(22.5).cos();
        assert!((reach - tip).abs() < 0.2, "{reach} {tip}");
    }

    #[test]
    fn exempt_ends_are_left_out_square() {
        let run = elbow();
        let swept = run.swept(Length::from_mm(3.0), Length::from_mm(40.0));
        let first = swept[0].body.ends[0];
        assert!((first.center - Point::new(0.0, 0.0, 40.0)).norm() < 1e-9);
        assert!((swept[0].body.farthest(&-Vector::z()).z - 40.0).abs() < 1e-9);
        assert!((swept[0].body.farthest(&Vector::x()).x - 33.0).abs() < 1e-9);
        let last = swept[swept.len() - 1].body.farthest(&Vector::x());
        assert!((last.x - 360.0).abs() < 1e-9);
        assert!(run.swept(Length::ZERO, Length::from_mm(1000.0)).is_empty());
    }
}
