//! [`Corner`]: dragging a corner of the route, by way of brackets that the run goes through.
//!
//! While it is dragged, the moved route is built and checked by the library's own
//! [`Task::candidate`]. When it is let go, brackets on the straights beside the corner go
//! into the job, and the run is planned again through them. So what comes of it is the
//! best run that goes that way, and the job says why it does.

use runwright::geometry::{Direction, Point, angle_between};
use runwright::route::{Bend, Candidate, Make, Rejection, Route, Task};
use runwright::units::{Length, LengthUnit};
use serde_json::{Value, json};

/// Names of brackets that dragging made begin so.
pub const DRAGGED: &str = "dragged";
/// How far the run may be off such a bracket.
const SLACK: Length = Length::from_mm(3.0);
/// Straights shorter than this have no room for a bracket.
const LEAST_STRAIGHT: Length = Length::from_mm(6.0);
/// Least distance that a corner keeps from its port's face.
const LEAST_OUT: f64 = 1.0;

/// A corner of a route that can be dragged.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Corner {
    /// Which bend.
    pub index: usize,
    /// Where.
    pub at: Point,
    /// The port's axis that it stays on: its face's center, and out of it.
    pub on: Option<(Point, Direction)>,
}

impl Corner {
    /// The corners of a route that can be moved: with one bend that is none, because it is
    /// where both ports' axes cross.
    pub fn all(route: &Route) -> Vec<Self> {
        let last = route.bends.len().saturating_sub(1);
        if last == 0 {
            return Vec::new();
        }
        let corners = route.bends.iter().enumerate();
        corners
            .map(|(index, bend)| Self {
                index,
                at: bend.corner,
                on: match index {
                    0 => Some((route.start, bend.incoming)),
                    _ if index == last => Some((route.end, -bend.outgoing)),
                    _ => None,
                },
            })
            .collect()
    }
}

/// A corner being dragged.
#[derive(Clone, Debug)]
pub struct Drag {
    /// Which.
    pub corner: Corner,
    /// The route with the corner where it is now.
    pub route: Route,
    /// The run that this would be, or why it cannot be.
    pub result: Result<Box<Candidate>, String>,
}

impl Drag {
    /// The corner taken to `to`, or as near as its port's axis lets it.
    pub fn new(task: &Task, route: &Route, corner: Corner, to: Point) -> Option<Self> {
        let to = match corner.on {
            Some((face, out)) => face + out.into_inner() * (to - face).dot(&out).max(LEAST_OUT),
            None => to,
        };
        let moved = moved(task, route, corner.index, to)?;
        let result = task
            .candidate(moved.clone())
            .map(Box::new)
            .map_err(|why| words(task, &why));
        Some(Self {
            corner: Corner { at: to, ..corner },
            route: moved,
            result,
        })
    }

    /// Where brackets go: on the straights beside the corner that no port's axis fixes.
    pub fn brackets(&self) -> Vec<Point> {
        let (bends, i) = (&self.route.bends, self.corner.index);
        let straights = self.route.straights();
        let mut legs = Vec::new();
        for leg in [i, i + 1] {
            let (Some(from), Some(to)) = (
                leg.checked_sub(1).and_then(|b| bends.get(b)),
                bends.get(leg),
            ) else {
                continue;
            };
            if straights
                .get(leg)
                .is_some_and(|straight| *straight >= LEAST_STRAIGHT)
            {
                let a = from.corner + from.outgoing.into_inner() * from.take_out().mm();
                let b = to.corner - to.incoming.into_inner() * to.take_out().mm();
                legs.push((a, b));
            }
        }
        match legs.as_slice() {
            // One straight takes two brackets: a line is fixed by two of its points.
            [(a, b)] => vec![a + (b - a) * 0.25, a + (b - a) * 0.75],
            legs => legs.iter().map(|(a, b)| a + (b - a) * 0.5).collect(),
        }
    }

    /// The run's `through` with these brackets in place of those dragged before, in order
    /// of flow; `known` is what the job has. `None` where there is no straight for one.
    pub fn through(&self, task: &Task, known: &[Value], unit: LengthUnit) -> Option<Vec<Value>> {
        let brackets = self.brackets();
        if brackets.is_empty() {
            return None;
        }
        let is_dragged = |value: &Value| {
            value
                .get("name")
                .and_then(Value::as_str)
                .is_some_and(|name| name.starts_with(DRAGGED))
        };
        let mut all: Vec<(f64, Value)> = Vec::new();
        for (i, value) in known.iter().enumerate() {
            let pass = task.passes.get(i)?;
            if !is_dragged(value) {
                all.push((self.along(&pass.center), value.clone()));
            }
        }
        for (i, center) in brackets.iter().enumerate() {
            let part = |mm: f64| (mm / unit.mm() * 1e4).round() / 1e4;
            let value = json!({
                "name": format!("{DRAGGED} {}", i + 1),
                "center": [part(center.x), part(center.y), part(center.z)],
                "radius": part(SLACK.mm()),
            });
            all.push((self.along(center), value));
        }
        all.sort_by(|a, b| a.0.total_cmp(&b.0));
        Some(all.into_iter().map(|(_, value)| value).collect())
    }

    /// How far along the route's legs a point is nearest to them, mm.
    fn along(&self, point: &Point) -> f64 {
        let corners = self.route.bends.iter().map(|bend| bend.corner);
        let places: Vec<Point> = std::iter::once(self.route.start)
            .chain(corners)
            .chain([self.route.end])
            .collect();
        let (mut best, mut gone) = ((f64::INFINITY, 0.0), 0.0);
        for pair in places.windows(2) {
            let leg = pair[1] - pair[0];
            let part =
                ((point - pair[0]).dot(&leg) / leg.norm_squared().max(1e-12)).clamp(0.0, 1.0);
            let off = (pair[0] + leg * part - point).norm();
            if off < best.0 {
                best = (off, gone + part * leg.norm());
            }
            gone += leg.norm();
        }
        best.1
    }
}

/// The route with one corner elsewhere; `None` where a leg vanishes.
fn moved(task: &Task, route: &Route, index: usize, to: Point) -> Option<Route> {
    let mut corners: Vec<Point> = route.bends.iter().map(|bend| bend.corner).collect();
    *corners.get_mut(index)? = to;
    let places: Vec<Point> = std::iter::once(route.start)
        .chain(corners.iter().copied())
        .chain([route.end])
        .collect();
    let legs: Option<Vec<Direction>> = places
        .windows(2)
        .map(|pair| Direction::try_new(pair[1] - pair[0], 1e-6))
        .collect();
    let legs = legs?;
    let bends = route.bends.iter().enumerate().map(|(i, bend)| {
        let (mut incoming, mut outgoing) = (legs[i], legs[i + 1]);
        // On the ports' axes directions are the ports' own, to the last digit.
        if i == 0 {
            incoming = bend.incoming;
        }
        if i + 1 == route.bends.len() {
            outgoing = bend.outgoing;
        }
        let turn = angle_between(&incoming, &outgoing);
        let make = match bend.make {
            Make::Pies { joints } => Make::Pies {
                joints: task
                    .limits
                    .joints_for(turn, bend.clr, task.tube.radius())
                    .unwrap_or(joints),
            },
            stock @ Make::Stock { .. } => stock,
        };
        Bend {
            corner: corners[i],
            incoming,
            outgoing,
            turn,
            clr: bend.clr,
            make,
        }
    });
    Some(Route {
        bends: bends.collect(),
        ..route.clone()
    })
}

fn words(task: &Task, why: &Rejection) -> String {
    match why {
        Rejection::Unbuildable(Some(error)) => error.to_string(),
        Rejection::Unbuildable(None) => "joints fall on one point".to_owned(),
        Rejection::ShortSide { piece, .. } => {
            format!("piece {piece} would have too short a short side")
        }
        Rejection::Limit(runwright::route::Constraint::Obstacle(i)) => {
            let name = task
                .obstacles
                .get(*i)
                .map_or("what is in the way", |obstacle| &obstacle.name);
            format!("too near to '{name}'")
        }
        Rejection::Limit(limit) => format!("breaks a limit: {limit:?}"),
        Rejection::Shelf { .. } => "more stock bends than there are".to_owned(),
        Rejection::Collides(_) => "the tube runs into itself".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::job::read_job;
    use runwright::plan::plan;

    /// Dragged by so much, the planned-again run goes that way, through the library alone.
    #[test]
    fn a_dragged_corner_leads_the_planned_run() {
        let text = include_str!("../../../examples/stack.json");
        let job = read_job(text.as_bytes(), "stack").job.unwrap();
        let first = plan(&job).unwrap();
        let (task, best) = (&job.runs[0].task, &first.runs[0].solution.best);
        let corners = Corner::all(&best.route);
        assert!(corners.len() >= 2);
        let corner = corners[0];
        let (_, out) = corner.on.unwrap();
        let drag = Drag::new(
            task,
            &best.route,
            corner,
            corner.at + out.into_inner() * 30.0,
        )
        .unwrap();
        assert!((drag.corner.at - corner.at).norm() > 29.0);
        let brackets = drag.through(task, &[], LengthUnit::In).unwrap();
        assert!(!brackets.is_empty());
        let place = runwright::job::Path::root()
            .key("runs")
            .index(0)
            .key("through");
        let changed = super::super::set(text, &place, &Value::Array(brackets).to_string()).unwrap();
        let job = read_job(changed.as_bytes(), "stack").job.unwrap();
        let again = plan(&job).unwrap();
        let line = again.runs[0].run().centerline();
        for pass in &job.runs[0].task.passes {
            assert!(
                pass.room_along(line, task.tube.radius()) > -1e-3,
                "goes through {}",
                pass.name
            );
        }
        let now = again.runs[0].solution.best.route.bends[0].corner;
        assert!(
            (now - drag.corner.at).norm() < 25.0,
            "{} from where it was let go",
            (now - drag.corner.at).norm()
        );
    }

    #[test]
    fn a_corner_on_a_ports_axis_stays_there() {
        let text = include_bytes!("../../../examples/stack.json");
        let job = read_job(text, "stack").job.unwrap();
        let plan = plan(&job).unwrap();
        let route = &plan.runs[0].solution.best.route;
        let corner = Corner::all(route)[0];
        let (face, out) = corner.on.unwrap();
        let drag = Drag::new(
            &job.runs[0].task,
            route,
            corner,
            Point::new(500.0, 77.0, 40.0),
        )
        .unwrap();
        assert!((drag.corner.at - face).cross(&out).norm() < 1e-9);
        let behind = Drag::new(
            &job.runs[0].task,
            route,
            corner,
            face - out.into_inner() * 500.0,
        )
        .unwrap();
        assert!((behind.corner.at - face).dot(&out) >= LEAST_OUT - 1e-9);
        assert!(behind.result.is_err(), "no room for the bend");
    }
}
