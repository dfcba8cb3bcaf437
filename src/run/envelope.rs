//! The room that a run takes up: its outside grown all round, as a mesh to load into
//! other programs.
//!
//! **It holds the true grown surface.** Let every point within `grow` of the tube be
//! called grown. Flats touch the grown circle from outside, and stock bends are tangent
//! polygons, widened by what the arc leaves them. At a miter both grown tubes are cut on
//! the joint's plane: the way from the tube to a grown point crosses that plane where
//! both axes are equally far, so the point is as near to the axis on its own side as the
//! way is long. This takes planes that do not cross within the grown tube. Where they do
//! (tight pies, much to grow), the mesh is one closed body a piece instead, each cut
//! `grow` beyond its planes: they overlap, and each holds all that is grown of its piece.
//! At ports the mesh ends on the face, where the tube does.

use super::Run;
use super::run::{STRAIGHT_TOLERANCE, joint_ring};
use crate::geometry::{Direction, Plane, Point, Vector, angle_between, perpendicular, transport};
use crate::tube::{Facets, Mesh, Ring};
use crate::units::Length;
use std::f64::consts::PI;

/// Vertices nearer than this to the one before, mm, are left out: a stock bend without leg.
const LEAST_EDGE: f64 = 1e-6;

/// The tube as straight stretches that meet on planes.
struct Stretches {
    /// Where they meet: one more than axes.
    planes: Vec<Plane>,
    axes: Vec<Direction>,
}

impl Run {
    /// The outside grown by `grow`, face to face, as a closed mesh that holds all of it.
    /// See the module for how.
    pub fn envelope(&self, grow: Length, facets: Facets) -> Mesh {
        let (points, widening) = self.tangents(facets);
        let grown = self.tube().radius() + grow.max(Length::ZERO) + widening;
        let radius = grown / (PI / facets.count() as f64).cos();
        let Some(stretches) = Stretches::through(&points) else {
            return Mesh::default();
        };
        let rings = stretches.rings(radius, facets);
        if stretches.is_unfolded(&rings) {
            return Mesh::solid(&rings);
        }
        let mut mesh = Mesh::default();
        for i in 0..stretches.axes.len() {
            mesh.append(stretches.body(i, radius, grow.max(Length::ZERO), facets));
        }
        mesh
    }

    /// The centerline with each stock bend as a polygon of tangents to its arc, and how
    /// much the widest bend's tube stands out of the tube about that polygon.
    fn tangents(&self, facets: Facets) -> (Vec<Point>, Length) {
        let radius = self.tube().radius();
        let mut points = vec![self.joints()[0].plane.point];
        let mut widening = Length::ZERO;
        for (i, placed) in self.pieces().iter().enumerate() {
            if let Some(arc) = &placed.arc {
                let turn = arc.turn();
                let steps = facets.steps_along(radius, arc.clr, turn);
                let half = turn / (2.0 * f64::from(steps));
                widening = widening.max(arc.clr * (1.0 - half.cos()));
                let center = arc.center();
                points.extend((0..steps).map(|step| {
                    let middle = arc.at(half * f64::from(2 * step + 1)).0;
                    center + (middle - center) / half.cos()
                }));
            }
            points.push(self.joints()[i + 1].plane.point);
        }
        let last = points.pop();
        points.dedup_by(|next, here| (*next - *here).norm() <= LEAST_EDGE);
        while points.len() > 1
            && last.is_some_and(|last| (points[points.len() - 1] - last).norm() <= LEAST_EDGE)
        {
            points.pop();
        }
        points.extend(last);
        (points, widening)
    }
}

impl Stretches {
    /// Along a polyline; `None` where it turns back on itself.
    fn through(points: &[Point]) -> Option<Self> {
        let axes: Option<Vec<Direction>> = points
            .windows(2)
            .map(|pair| Direction::try_new(pair[1] - pair[0], f64::MIN_POSITIVE))
            .collect();
        let axes = axes?;
        let (first, last) = (*axes.first()?, *axes.last()?);
        let plane = |i: usize, point: Point| match i {
            0 => Some(Plane {
                point,
                normal: first,
            }),
            i if i == axes.len() => Some(Plane {
                point,
                normal: last,
            }),
            i => Plane::bisecting(point, &axes[i - 1], &axes[i]),
        };
        let planes = points.iter().enumerate();
        let planes: Option<Vec<Plane>> = planes.map(|(i, &point)| plane(i, point)).collect();
        Some(Self {
            planes: planes?,
            axes,
        })
    }

    fn rings(&self, radius: Length, facets: Facets) -> Vec<Ring> {
        let mut axis = self.axes[0];
        let mut mark = perpendicular(&axis);
        let rings = self.planes.iter().enumerate().map(|(i, plane)| {
            // Drawn along the axis before it, which the one after shares.
            let along = self.axes[i.saturating_sub(1)];
            if angle_between(&axis, &along).radians() > STRAIGHT_TOLERANCE {
                mark = transport(&mark, &axis, &along);
                axis = along;
            }
            joint_ring(plane, &along, &mark, radius, facets)
        });
        rings.collect()
    }

    /// Whether no two planes cross within the tube: every line along it goes forward.
    fn is_unfolded(&self, rings: &[Ring]) -> bool {
        let stretches = rings.windows(2).zip(&self.axes);
        stretches.into_iter().all(|(pair, axis)| {
            let lines = pair[0].iter().zip(&pair[1]);
            lines.into_iter().all(|(a, b)| (b - a).dot(axis) > 0.0)
        })
    }

    /// One stretch as a body of its own, cut `grow` beyond its planes, but not at faces.
    fn body(&self, i: usize, radius: Length, grow: Length, facets: Facets) -> Mesh {
        let axis = self.axes[i];
        let mark = perpendicular(&axis);
        // The point goes along the axis, where the ring has its middle.
        let beyond = |plane: &Plane, off: f64| Plane {
            point: plane.point + axis.into_inner() * (off / plane.normal.dot(&axis)),
            normal: plane.normal,
        };
        let (before, after) = (
            if i == 0 { 0.0 } else { -grow.mm() },
            if i + 1 == self.axes.len() {
                0.0
            } else {
                grow.mm()
            },
        );
        let start = beyond(&self.planes[i], before);
        let start = joint_ring(&start, &axis, &mark, radius, facets);
        let end = beyond(&self.planes[i + 1], after);
        let mut end = joint_ring(&end, &axis, &mark, radius, facets);
        // Flats stand out of the grown circle: there the planes may cross after all.
        for (a, b) in start.iter().zip(&mut end) {
            let forward: Vector = axis.into_inner() * (*b - a).dot(&axis).max(0.0);
            *b = a + forward;
        }
        Mesh::solid(&[start, end])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Polyline;
    use crate::run::{Allowance, Centerline, Port};
    use crate::tube::Tube;

    const OD: f64 = 60.0;

    fn run(points: &[[f64; 3]], clr: Option<f64>) -> Run {
        let tube = Tube::new(Length::from_mm(OD), Length::from_mm(2.0), "304").unwrap();
        let points: Vec<Point> = points.iter().copied().map(Point::from).collect();
        let mut clrs = vec![None; points.len()];
        if let Some(clr) = clr {
            clrs[1] = Some(Length::from_mm(clr));
        }
        let polyline = Polyline::new(points).unwrap();
        let ends = polyline.ends();
        let [start, end] = [0, 1].map(|i| Port::new("a", ends[i].0, ends[i].1));
        let centerline = Centerline::new(polyline, clrs).unwrap();
        Run::new(&tube, &start, &end, centerline, Allowance::default()).unwrap()
    }

    fn area(facets: Facets, grown: f64) -> f64 {
        let n = facets.count() as f64;
        n * grown * grown * (PI / n).tan()
    }

    #[test]
    fn a_straight_run_s_envelope_is_a_prism_about_the_grown_tube() {
        let facets = Facets::at_least(24);
        let run = run(&[[0.0; 3], [300.0, 400.0, 0.0]], None);
        let mesh = run.envelope(Length::from_mm(10.0), facets);
        assert!(mesh.is_watertight());
        let exact = area(facets, 40.0) * 500.0;
        assert!((mesh.volume_mm3() / exact - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_mitered_run_s_envelope_keeps_its_length() {
        // A tube cut by planes through its axis holds its section times its centerline.
        let facets = Facets::at_least(48);
        let points = [
            [0.0; 3],
            [0.0, 0.0, 200.0],
            [0.0, 70.0, 350.0],
            [0.0, 300.0, 350.0],
        ];
        let run = run(&points, None);
        let mesh = run.envelope(Length::from_mm(12.5), facets);
        assert!(mesh.is_watertight());
        let exact = area(facets, 42.5) * run.length().mm();
        assert!((mesh.volume_mm3() / exact - 1.0).abs() < 1e-9);
    }

    /// Whether each point that is grown from the tube's outside lies in the mesh, by the
    /// solid angle under which it sees the mesh.
    fn holds(mesh: &Mesh, place: &Point) -> bool {
        let turns: f64 = mesh
            .triangles
            .iter()
            .map(|corners| {
                let [a, b, c] = corners.map(|i| mesh.vertices[i] - place);
                let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
                let under = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
                2.0 * a.dot(&b.cross(&c)).atan2(under)
            })
            .sum();
        turns > 2.0 * PI
    }

    #[test]
    fn all_that_is_grown_lies_within() {
        let grow = 25.0;
        // Miters; a stock bend; pies so tight that their planes cross within.
        let runs = [
            run(&[[0.0; 3], [0.0, 0.0, 200.0], [200.0, 0.0, 200.0]], None),
            run(
                &[[0.0; 3], [0.0, 0.0, 200.0], [200.0, 0.0, 200.0]],
                Some(90.0),
            ),
            run(
                &[
                    [0.0; 3],
                    [0.0, 0.0, 150.0],
                    [10.0, 0.0, 175.0],
                    [35.0, 0.0, 185.0],
                    [200.0, 0.0, 185.0],
                ],
                None,
            ),
        ];
        for (number, run) in runs.iter().enumerate() {
            let mesh = run.envelope(Length::from_mm(grow), Facets::at_least(24));
            assert!(mesh.is_watertight(), "{number}");
            let skin = run.skin(Length::ZERO, Length::from_mm(15.0));
            for (vertex, along) in skin.mesh.vertices.iter().zip(&skin.along) {
                let from_end = along.mm().min(run.length().mm() - along.mm());
                if from_end < grow + OD {
                    continue;
                }
                // A few ways out of the skin, grown a hair less.
                for way in [
                    Vector::x(),
                    -Vector::x(),
                    Vector::y(),
                    Vector::z(),
                    -Vector::z(),
                ] {
                    let place = vertex + way * (grow - 1e-3);
                    assert!(holds(&mesh, &place), "{number} {place}");
                }
            }
        }
    }
}
