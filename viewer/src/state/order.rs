//! What the worker is asked for and what it answers.

use super::opened::Kept;
use runwright::clear::{Place, Rooms, Rule, places_of_run, rooms_of_run};
use runwright::job::{Job, Problem};
use runwright::plan::Plan;
use runwright::route::{Effort, Task};
use runwright::run::Run;
use std::path::PathBuf;
use std::sync::Arc;

/// Work that takes long.
#[derive(Clone, Debug)]
pub enum Order {
    /// Read a job's scans and plan its runs.
    Plan {
        /// The job, checked.
        job: Box<Job>,
        /// Where files that it names are.
        folder: PathBuf,
        /// How hard to look.
        effort: Effort,
        /// Whether scans may be what was read for an earlier job.
        may_reuse: bool,
    },
    /// Read a plan's file.
    Look {
        /// The file.
        path: PathBuf,
        /// What it holds.
        bytes: Vec<u8>,
    },
    /// Read what was built and close its gap.
    Close {
        /// The file.
        path: PathBuf,
        /// What it holds.
        bytes: Vec<u8>,
    },
}

/// What came of it.
#[derive(Clone, Debug)]
pub enum Found {
    /// A plan.
    Plan(Arc<Plan>),
    /// Runs that are kept as they are.
    Kept(Arc<Kept>),
}

/// How near a run comes to what is in the way.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Nearness {
    /// The tightest places, worst first.
    pub places: Vec<Place>,
    /// What each place's obstacle is called.
    pub names: Vec<String>,
    /// The room all over the run.
    pub rooms: Rooms,
}

impl Nearness {
    /// Of `run` as `task` has it; `None` with nothing in the way.
    pub fn new(run: &Run, task: &Task) -> Option<Self> {
        let rules: Vec<Rule> = task
            .obstacles
            .iter()
            .map(|obstacle| Rule {
                obstacle: obstacle.clone(),
                outside: task.outside(obstacle),
            })
            .collect();
        if rules.is_empty() {
            return None;
        }
        Some(Self {
            places: places_of_run(run, &rules),
            names: rules
                .iter()
                .map(|rule| rule.obstacle.name.clone())
                .collect(),
            rooms: rooms_of_run(run, &rules),
        })
    }

    /// The tightest place and what is there.
    pub fn tightest(&self) -> Option<(&Place, &str)> {
        let place = self.places.first()?;
        Some((place, self.names.get(place.obstacle)?))
    }
}

/// Why there is nothing.
pub type Refused = Vec<Problem>;
