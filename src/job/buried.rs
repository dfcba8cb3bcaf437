//! Ports from which no run can come, because of where they stand.

use super::path::Path;
use super::{Job, JobRun, Problem};
use crate::route::{ROOM_SLACK, Task};
use crate::run::Port;
use crate::scene::{Body, Obstacle, Side, Solid};
use crate::units::Length;

/// A body of the scene, and how deep ports lie in it.
struct Tomb<'a> {
    obstacle: &'a Obstacle,
    path: Path,
    ports: Vec<(&'a Port, Length)>,
    /// Whether every port that a run has lies in it.
    holds_all: bool,
}

impl Job {
    /// Bodies of the scene that hold a port which runs must come out of, or that leave out
    /// one which runs must stay within; of ports that `is_known`, by name.
    ///
    /// Such a run is not possible. No point of a tube is farther from a body than its port
    /// by more than the way to it. So where the exempt stretch ends, which is as long as
    /// radius, wrap and clearance together, a tube from `d` inside is still `d` short of
    /// its clearance.
    pub(super) fn buried(&self, is_known: impl Fn(&str) -> bool) -> Vec<Problem> {
        let tombs = self.tombs(&is_known);
        let held = tombs.iter().filter(|tomb| !tomb.ports.is_empty());
        held.map(|tomb| self.describe(tomb)).collect()
    }

    /// Bodies of the scene, in the file's order, with the ports in them.
    fn tombs(&self, is_known: &impl Fn(&str) -> bool) -> Vec<Tomb<'_>> {
        let searched: Vec<&JobRun> = self.runs.iter().filter(|r| r.copied.is_none()).collect();
        let Some(first) = searched.first() else {
            return Vec::new();
        };
        let all = first.task.obstacles.iter().enumerate();
        let bodies = all.filter(|(_, obstacle)| self.is_of_scene(obstacle));
        let mut counts = [0, 0];
        bodies
            .map(|(number, obstacle)| {
                let (key, count) = match obstacle.side {
                    Side::KeepOut => ("keep_out", &mut counts[0]),
                    Side::KeepIn => ("keep_in", &mut counts[1]),
                };
                let path = Path::root().key("scene").key(key).index(*count);
                *count += 1;
                let mut tomb = Tomb {
                    obstacle,
                    path,
                    ports: Vec::new(),
                    holds_all: true,
                };
                for run in &searched {
                    tomb.lay(&run.task, number, is_known);
                }
                tomb
            })
            .collect()
    }

    /// Whether an obstacle is a body that the file's scene has, not a port's room or a scan.
    fn is_of_scene(&self, obstacle: &Obstacle) -> bool {
        let is_room = |port: &Port| {
            let room = port.wrench_room();
            room.is_some_and(|room| room.name == obstacle.name && room.body == obstacle.body)
        };
        matches!(obstacle.body, Body::Solid(_)) && !self.ports.values().any(is_room)
    }

    fn describe(&self, tomb: &Tomb<'_>) -> Problem {
        let told = tomb.ports.iter().enumerate().map(|(i, (port, depth))| {
            let lies = if i == 0 { " lies" } else { "" };
            format!("port '{}'{lies} {}", port.name, self.style.decimal(*depth))
        });
        let told = told.collect::<Vec<String>>().join(" and ");
        let name = &tomb.obstacle.name;
        let message = match tomb.obstacle.side {
            Side::KeepOut => format!("{told} inside '{name}', which the runs keep out of"),
            Side::KeepIn => format!("{told} outside '{name}', which the runs keep within"),
        };
        let is_plane = matches!(tomb.obstacle.body, Body::Solid(Solid::HalfSpace(_)));
        let help = match (is_plane, tomb.obstacle.side) {
            (true, Side::KeepOut) if tomb.holds_all => {
                "is 'normal' the wrong way round? It points from the body into free space, to the side where the ports and the tube are"
            }
            (true, Side::KeepIn) if tomb.holds_all => {
                "is 'normal' the wrong way round? It points out of the room that is kept within, away from the ports and the tube"
            }
            (true, Side::KeepOut) => {
                "check the port's center, and the plane's 'point' and 'normal', which points from the body into free space"
            }
            (true, Side::KeepIn) => {
                "check the port's center, and the plane's 'point' and 'normal', which points out of the room that is kept within"
            }
            (false, Side::KeepOut) => {
                "check the port's center; make the body smaller or cut it in two where the port stands in it"
            }
            (false, Side::KeepIn) => {
                "check the port's center; make the body larger where the port stands out of it"
            }
        };
        Problem::at(&tomb.path, message, help)
    }
}

impl<'a> Tomb<'a> {
    /// Notes the ports of a run that lie in this body, which is obstacle `number` of its task.
    fn lay(&mut self, task: &'a Task, number: usize, is_known: &impl Fn(&str) -> bool) {
        let Some(obstacle) = task.obstacles.get(number) else {
            return;
        };
        let ends = [&task.start, &task.end];
        let [from, to] = ends.map(may_go);
        let apart = Length::from_mm((task.end.center - task.start.center).norm());
        // A run that is exempt from end to end is not asked.
        let is_asked = apart - from - to > task.exempt(obstacle) * 2.0;
        for port in ends {
            let inside = -Length::from_mm(obstacle.margin_at(&port.center)) - obstacle.clearance;
            let is_in = is_asked && inside - may_go(port) > ROOM_SLACK && is_known(&port.name);
            self.holds_all &= is_in;
            if is_in && !self.ports.iter().any(|(known, _)| known.name == port.name) {
                self.ports.push((port, inside));
            }
        }
    }
}

/// How far a port's center may still go.
fn may_go(port: &Port) -> Length {
    let slides = port.freedom.slides.iter();
    slides.map(|slide| slide.back.max(slide.ahead)).sum()
}
