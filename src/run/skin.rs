//! [`Skin`]: a run's outside in small cells, to be colored.

use super::run::joint_ring;
use super::{Placed, Run};
use crate::geometry::{Direction, Plane, Point, perpendicular, transport};
use crate::tube::{Facets, Mesh, Ring};
use crate::units::Length;
use std::f64::consts::TAU;

/// The outside of a run without its ends, as a mesh of cells of about one size.
#[derive(Clone, Debug, PartialEq)]
pub struct Skin {
    /// Cells of two triangles each.
    pub mesh: Mesh,
    /// Each vertex's foot on the centerline, as a length from the first face.
    pub along: Vec<Length>,
}

/// A plane across the tube, and where it is.
struct Station {
    plane: Plane,
    /// Axis of the tube before it.
    axis: Direction,
    /// Length of centerline before it.
    along: Length,
}

impl Run {
    /// The outside, with a wrap of thickness `wrap` all round, in cells of about `cell`.
    /// Vertices lie on the true outside but for stock bends, where they lie on chords of
    /// less than a cell.
    pub fn skin(&self, wrap: Length, cell: Length) -> Skin {
        let radius = self.tube().radius() + wrap;
        let around = (radius / cell * TAU).ceil();
        let facets = Facets::at_least(around as u32);
        let stations = self.stations(radius, cell);
        let rings = station_rings(&stations, radius, facets);
        let mut skin = Skin {
            mesh: Mesh::default(),
            along: Vec::new(),
        };
        let mut all = Vec::new();
        for (i, (pair, ends)) in rings.windows(2).zip(stations.windows(2)).enumerate() {
            let length = ends[1].along - ends[0].along;
            let steps = (length / cell).ceil().max(1.0) as u32;
            // The ring that two stretches share is drawn once.
            for step in u32::from(i > 0)..=steps {
                let part = f64::from(step) / f64::from(steps);
                let points = pair[0].iter().zip(&pair[1]);
                let ring: Ring = points.map(|(a, b)| a + (b - a) * part).collect();
                let start = &ends[0];
                let foot = |point: &Point| (point - start.plane.point).dot(&ends[1].axis);
                let along = ring.iter().map(|p| start.along + Length::from_mm(foot(p)));
                skin.along.extend(along);
                all.push(ring);
            }
        }
        skin.mesh = Mesh::open(&all);
        skin
    }

    /// Joints, and stations along the arcs of stock bends a cell apart on their outside.
    fn stations(&self, radius: Length, cell: Length) -> Vec<Station> {
        let first = Station {
            plane: self.joints()[0].plane,
            axis: self.pieces()[0].axis,
            along: Length::ZERO,
        };
        let mut stations = vec![first];
        let mut along = Length::ZERO;
        for (i, placed) in self.pieces().iter().enumerate() {
            stations.extend(arc_stations(
                placed,
                self.joints()[i].plane,
                along,
                radius,
                cell,
            ));
            along += placed.edge;
            stations.push(Station {
                plane: self.joints()[i + 1].plane,
                axis: placed.end_axis(),
                along,
            });
        }
        stations
    }
}

/// Most stations along one arc.
const MOST_STATIONS: f64 = 1000.0;

fn arc_stations(
    placed: &Placed,
    start: Plane,
    before: Length,
    radius: Length,
    cell: Length,
) -> Vec<Station> {
    let Some(arc) = placed.arc else {
        return Vec::new();
    };
    let leg = arc.leg(start.point).max(Length::ZERO);
    let length = (arc.clr + radius) * arc.turn().radians();
    let steps = (length / cell).ceil().clamp(1.0, MOST_STATIONS) as u32;
    (0..=steps)
        .map(|step| {
            let turned = arc.turn() * (f64::from(step) / f64::from(steps));
            let (point, axis) = arc.at(turned);
            Station {
                plane: Plane {
                    point,
                    normal: axis,
                },
                axis,
                along: before + leg + arc.clr * turned.radians(),
            }
        })
        .collect()
}

fn station_rings(stations: &[Station], radius: Length, facets: Facets) -> Vec<Ring> {
    let Some(first) = stations.first() else {
        return Vec::new();
    };
    let mut last = first.axis;
    let mut mark = perpendicular(&last);
    let rings = stations.iter().map(|station| {
        mark = transport(&mark, &last, &station.axis);
        last = station.axis;
        joint_ring(&station.plane, &station.axis, &mark, radius, facets)
    });
    rings.collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Polyline, Segment};
    use crate::run::{Allowance, Centerline, Port};
    use crate::tube::Tube;

    #[test]
    fn every_vertex_lies_on_the_outside_at_its_foot() {
        let points = [[0.0; 3], [0.0, 0.0, 200.0], [150.0, 0.0, 200.0]].map(Point::from);
        let tube = Tube::new(Length::from_mm(60.0), Length::from_mm(2.0), "304").unwrap();
        let polyline = Polyline::new(points.to_vec()).unwrap();
        let ends = polyline.ends();
        let [start, end] = [0, 1].map(|i| Port::new("a", ends[i].0, ends[i].1));
        let clr = Length::from_mm(90.0);
        for bend in [None, Some(clr)] {
            let centerline = Centerline::new(polyline.clone(), vec![None, bend, None]).unwrap();
            let allowance = Allowance::default();
            let run = Run::new(&tube, &start, &end, centerline, allowance).unwrap();
            let skin = run.skin(Length::from_mm(3.0), Length::from_mm(11.0));
            assert_eq!(skin.mesh.vertices.len(), skin.along.len());
            for (vertex, along) in skin.mesh.vertices.iter().zip(&skin.along) {
                let axis = |start: usize, to: f64| Segment {
                    start: points[start],
                    end: points[start] + (points[start + 1] - points[start]) * to,
                };
                // Where no bend is near, the axes tell how far out a vertex lies.
                let (first, last) = (axis(0, 2.0), axis(1, 1.0));
                let out = [first, last].map(|axis| (axis.closest_to(vertex) - vertex).norm());
                if along.mm() < 100.0 {
                    assert!((out[0] - 33.0).abs() < 1e-9, "{vertex} {out:?}");
                    assert!((vertex.z - along.mm()).abs() < 1e-9);
                }
                assert!(*along <= run.length() + Length::from_mm(33.1));
            }
        }
    }
}
