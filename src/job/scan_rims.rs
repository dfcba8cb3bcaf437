//! Ports that are rims of a scan, once the scan is read and in its place.

use super::{Job, Problem};
use crate::geometry::Scatter;
use crate::run::Port;
use crate::scan::{Mesh, Placed, Rim, Side, nearest_rim};
use crate::survey::{MOST_READINGS, Observed};
use crate::units::{Angle, Length};

/// How far from the point given an open rim may be.
const REACH: Length = Length::from_inches(2.0);
/// A scan's errors go together from point to point, so that a rim's many points tell no
/// more than so many.
const MOST_TELLING: f64 = 8.0;
/// Most points of a rim that are fitted; of more, evenly spread ones are taken.
const MOST_POINTS: usize = 400;
/// A scan's turn that is worse known than this is not held at all, and was warned of.
const WORST_TURN: Angle = Angle::from_degrees(10.0);

impl Job {
    /// Settles the ports that are picked from the scan of this name.
    pub(super) fn pick_rims(
        &mut self,
        scan: &str,
        mesh: &Mesh,
        placed: Option<&Placed>,
        warnings: &mut Vec<Problem>,
    ) -> Result<(), Problem> {
        let style = self.style;
        for survey in &mut self.surveys {
            let Some(pick) = survey.rim.take_if(|rim| rim.scan == scan) else {
                continue;
            };
            let rim = nearest_rim(mesh, &pick.near, REACH.mm()).map_err(|error| {
                let help = "give 'near' about the middle of the opening, in the job's frame";
                Problem::at(&pick.path, error.to_string(), help)
            })?;
            let tools = survey.readings.measuring;
            let room = MOST_READINGS
                .saturating_sub(survey.readings.list.len())
                .max(1);
            for (i, observed) in readings(&rim, tools.scan, room).into_iter().enumerate() {
                survey.add(format!("scan rim point {}", i + 1), observed, &pick.path);
            }
            if survey.readings.toward.is_none() {
                survey.readings.toward = Some(rim.circle.normal);
                survey.picked = true;
                if !matches!(rim.side, Side::Hanging | Side::Body) {
                    let message = "the scan does not tell for certain which way is out";
                    let help = "add 'toward', about which way is out";
                    warnings.push(Problem::at(&pick.path, message, help));
                }
            }
            let is_certain = matches!(rim.side, Side::Hanging | Side::Body);
            let toward = survey.readings.toward.unwrap_or(rim.circle.normal);
            if is_certain && toward.dot(&rim.circle.normal) < 0.0 {
                let message = "'toward' is on the other side than the scan says";
                let help = "nothing to do if 'toward' is right; else leave it out";
                warnings.push(Problem::at(&pick.path, message, help));
            }
            survey.readings.frame =
                placed.map_or(Scatter::none(), |placed| of_placing(placed, &rim));
            survey.settle(style)?;
            warnings.extend(survey.warnings(style));
            if let Some(run) = self.runs.first() {
                warnings.extend(survey.beside_tube(run.task.tube.od(), style));
            }
            let name = survey.port.clone();
            let (center, outward, scatter) = survey.place();
            let ends = self.runs.iter_mut().map(|run| &mut run.task);
            let ends = ends.flat_map(|task| [&mut task.start, &mut task.end]);
            for port in ends
                .chain(self.ports.values_mut())
                .filter(|p| p.name == name)
            {
                (port.center, port.outward, port.scatter) = (center, outward, scatter);
            }
            let room = self.ports.get(&name).and_then(Port::wrench_room);
            let obstacles = self.runs.iter_mut().flat_map(|run| &mut run.task.obstacles);
            for (obstacle, room) in obstacles.filter_map(|o| Some((o, room.as_ref()?))) {
                if obstacle.name == room.name {
                    obstacle.body = room.body.clone();
                }
            }
        }
        Ok(())
    }
}

/// A rim's points as readings.
fn readings(rim: &Rim, scan: Length, room: usize) -> Vec<Observed> {
    let step = rim.points.len().div_ceil(MOST_POINTS.min(room)).max(1);
    let taken: Vec<_> = rim.points.iter().step_by(step).copied().collect();
    let alike = (taken.len() as f64 / MOST_TELLING).max(1.0).sqrt();
    let good_to = scan * alike;
    taken
        .into_iter()
        .map(|at| Observed::OnRim { at, good_to })
        .collect()
}

/// How far a rim may be off because its scan is not quite in its place.
fn of_placing(placed: &Placed, rim: &Rim) -> Scatter {
    let turn = if placed.turn_error > WORST_TURN {
        Angle::ZERO
    } else {
        placed.turn_error
    };
    Scatter::even(placed.rms, turn, &rim.circle.normal)
}
