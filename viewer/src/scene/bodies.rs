//! [`Bodies`]: all that can be seen of a session, as shapes.

use super::solids::{mesh as solid_mesh, rod};
use super::{Levels, ScanShapes, Shape};
use crate::state::{Loose, Session, Shown};
use runwright::geometry::Point;
use runwright::plan::Plan;
use runwright::run::Port;
use runwright::scene::{Body as InTheWay, Side};
use runwright::tube::Facets;
use runwright::units::Length;
use std::sync::Arc;

/// How far a facet may lie inside the true circle, to be seen as round.
const CHORD: Length = Length::from_mm(0.05);
/// A port's ring, in radii of the tube, and its thickness, in radii.
const PORT_RING: (f64, f64) = (1.35, 0.28);
/// The room in which the heat map goes from none to plenty, in clearances.
pub const PLENTY: f64 = 4.0;
/// Plenty where no clearance is asked for, mm.
pub const LEAST_PLENTY: f64 = 25.0;

/// What a shape is part of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Part {
    /// A piece of a run, both from 0.
    Piece {
        /// Which run.
        run: usize,
        /// Which piece.
        piece: usize,
    },
    /// A piece or a built end by itself, both from 0.
    Loose {
        /// With which run.
        run: usize,
        /// Which one.
        index: usize,
    },
    /// A port, in order of name.
    Port(usize),
    /// A body in the way, by its number among those of the run.
    InTheWay(usize),
    /// A body that holds the run.
    Room(usize),
    /// A scan.
    Scan(usize),
    /// The run colored by its room.
    Heat,
}

/// A shape and what it is part of.
#[derive(Clone, Debug)]
pub struct Body {
    /// What.
    pub part: Part,
    /// Its triangles.
    pub shape: Arc<Shape>,
    /// The same of a scan, in blocks and coarser.
    pub levels: Option<Arc<Levels>>,
}

/// All shapes.
#[derive(Clone, Default)]
pub struct Bodies {
    /// What their coordinates are counted from.
    pub origin: Point,
    /// They themselves.
    pub list: Vec<Body>,
    /// Box round runs and ports: what is fitted into the view.
    pub bounds: (Point, Point),
    /// The room, mm, that is plenty in the heat map.
    pub plenty: f64,
}

impl Bodies {
    /// Of what a session shows; scans that are no shapes yet are left out until they are.
    pub fn of(session: &Session, before: &Self, scans: &mut ScanShapes) -> Self {
        let bounds = bounds(session);
        let near_enough = |origin: &Point| (origin - bounds.0).norm() < 10_000.0;
        let origin = if before.list.is_empty() || !near_enough(&before.origin) {
            Point::from((bounds.0.coords + bounds.1.coords) / 2.0)
        } else {
            before.origin
        };
        let mut bodies = Self {
            origin,
            bounds,
            plenty: LEAST_PLENTY,
            ..Self::default()
        };
        bodies.add_runs(session);
        bodies.add_loose(session);
        bodies.add_ports(session);
        bodies.add_scene(session, scans);
        bodies.add_heat(session);
        bodies
    }

    fn put(&mut self, part: Part, shape: impl Into<Arc<Shape>>) {
        self.list.push(Body {
            part,
            shape: shape.into(),
            levels: None,
        });
    }

    fn add_runs(&mut self, session: &Session) {
        for run in 0..session.shown.count() {
            let Some(made) = session.shown.run(run) else {
                continue;
            };
            let facets = Facets::within(made.tube().radius(), CHORD);
            for (piece, mesh) in made.piece_meshes(facets).iter().enumerate() {
                self.put(
                    Part::Piece { run, piece },
                    Shape::of_mesh(mesh, &self.origin),
                );
            }
        }
    }

    fn add_loose(&mut self, session: &Session) {
        for run in 0..session.shown.count() {
            for (index, loose) in session.shown.loose(run).iter().enumerate() {
                let shape = Shape::of_mesh(&loose.mesh, &self.origin);
                self.put(Part::Loose { run, index }, shape);
            }
        }
    }

    fn add_ports(&mut self, session: &Session) {
        for (i, port) in ports(session).iter().enumerate() {
            let radius = session
                .shown
                .run(0)
                .map_or(20.0, |run| run.tube().radius().mm());
            let outer = port
                .flange
                .map_or(radius * PORT_RING.0, |flange| flange.radius.mm());
            let back = port.center - port.outward.into_inner() * (radius * PORT_RING.1);
            let mesh = rod(&back, &port.center, &[(0.0, outer), (1.0, outer)], -0.2);
            self.put(Part::Port(i), Shape::of_mesh(&mesh, &self.origin));
        }
    }

    fn add_scene(&mut self, session: &Session, scans: &mut ScanShapes) {
        let Some(task) = session.task() else { return };
        let mut used = Vec::new();
        let (low, high) = self.bounds;
        let (center, reach) = (nalgebra::center(&low, &high), (high - low).norm());
        for (i, obstacle) in task.obstacles.iter().enumerate() {
            match &obstacle.body {
                InTheWay::Solid(solid) => {
                    let mesh = solid_mesh(solid, &center, reach);
                    let part = match obstacle.side {
                        Side::KeepOut => Part::InTheWay(i),
                        Side::KeepIn => Part::Room(i),
                    };
                    self.put(part, Shape::of_mesh(&mesh, &self.origin));
                }
                InTheWay::Scan(surface) => {
                    used.push(Arc::clone(surface));
                    if let Some(levels) = scans.of(surface, &self.origin) {
                        self.list.push(Body {
                            part: Part::Scan(i),
                            shape: Arc::clone(&levels.whole),
                            levels: Some(levels),
                        });
                    }
                }
            }
        }
        scans.keep(&used);
    }

    fn add_heat(&mut self, session: &Session) {
        let (Some(nearness), Some(task)) = (&session.nearness, session.task()) else {
            return;
        };
        let clearances = task
            .obstacles
            .iter()
            .map(|obstacle| obstacle.clearance.mm());
        let asked = clearances.fold(0.0, f64::max);
        self.plenty = (asked * PLENTY).max(LEAST_PLENTY);
        let rooms = &nearness.rooms;
        let heat = rooms
            .rooms
            .iter()
            .map(|room| (room / self.plenty).clamp(0.0, 1.0) as f32);
        let shape = Shape::with_heat(
            &rooms.points,
            rooms.triangles.clone(),
            heat.collect(),
            &self.origin,
        );
        self.put(Part::Heat, shape);
    }
}

/// The ports of the job, in order of name; of runs that are kept, none.
pub fn ports(session: &Session) -> Vec<Port> {
    match &session.shown {
        Shown::Plan(plan) => plan
            .job
            .ports
            .values()
            .map(|port| met(plan, port))
            .collect(),
        _ => Vec::new(),
    }
}

/// A port where its run meets it: it may have been free to move.
fn met(plan: &Plan, port: &Port) -> Port {
    for (planned, asked) in plan.runs.iter().zip(&plan.job.runs) {
        let ends = planned.run().centerline().ends();
        for (asked, (center, outward)) in [&asked.task.start, &asked.task.end].into_iter().zip(ends)
        {
            if asked.name == port.name {
                return Port {
                    center,
                    outward,
                    ..port.clone()
                };
            }
        }
    }
    port.clone()
}

/// Box round all runs and ports.
fn bounds(session: &Session) -> (Point, Point) {
    let runs = (0..session.shown.count()).filter_map(|i| session.shown.run(i));
    let ports = ports(session);
    let radius = session
        .shown
        .run(0)
        .map_or(20.0, |run| run.tube().radius().mm());
    let about = nalgebra::Vector3::repeat(radius * PORT_RING.0);
    let rings = ports
        .iter()
        .map(|port| (port.center - about, port.center + about));
    let loose = (0..session.shown.count()).flat_map(|i| session.shown.loose(i));
    let boxes = runs.map(|run| run.bounds()).chain(rings);
    let boxes = boxes.chain(loose.map(Loose::bounds));
    boxes
        .reduce(|(low, high), (a, b)| (low.inf(&a), high.sup(&b)))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    #[test]
    fn all_of_a_job_is_shown() {
        let mut session = Session::default();
        session.open(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../examples/bay.json"));
        session.wait();
        let bodies = Bodies::of(&session, &Bodies::default(), &mut ScanShapes::default());
        let count =
            |is: fn(&Part) -> bool| bodies.list.iter().filter(|body| is(&body.part)).count();
        assert_eq!(
            count(|part| matches!(part, Part::Piece { .. })),
            session.shown.run(0).unwrap().pieces().len()
        );
        assert_eq!(count(|part| matches!(part, Part::Port(_))), 2);
        assert_eq!(count(|part| matches!(part, Part::InTheWay(_))), 3);
        assert_eq!(count(|part| matches!(part, Part::Heat)), 1);
        let (low, high) = session.shown.run(0).unwrap().bounds();
        assert!(bodies.bounds.0.x <= low.x && bodies.bounds.1.z >= high.z);
    }
}
