//! [`Shown`]: the runs that are on show.

use super::cutting::Cutting;
use super::loose::Loose;
use super::opened::{Kept, KeptRun};
use super::step::Step;
use runwright::geometry::Point;
use runwright::plan::Plan;
use runwright::run::Run;
use runwright::shop::{BoughtBend, TackUp, marked_trim};
use runwright::units::{LengthUnit, Style};
use std::sync::Arc;

/// What is on show.
#[derive(Clone, Debug, Default)]
pub enum Shown {
    /// Nothing yet.
    #[default]
    Nothing,
    /// A plan with the ways that are taken.
    Plan(Arc<Plan>),
    /// Runs that are kept as they are.
    Kept(Arc<Kept>),
}

impl Shown {
    /// How many runs there are.
    pub fn count(&self) -> usize {
        match self {
            Self::Nothing => 0,
            Self::Plan(plan) => plan.runs.len(),
            Self::Kept(kept) => kept.runs.len(),
        }
    }

    /// A run; none where what is shown makes no run, only pieces.
    pub fn run(&self, index: usize) -> Option<&Run> {
        match self {
            Self::Nothing => None,
            Self::Plan(plan) => plan.runs.get(index).map(|planned| planned.run()),
            Self::Kept(_) => self.kept(index)?.run.as_ref(),
        }
    }

    fn kept(&self, index: usize) -> Option<&KeptRun> {
        match self {
            Self::Kept(kept) => kept.runs.get(index),
            Self::Nothing | Self::Plan(_) => None,
        }
    }

    /// Pieces and built ends that stand by themselves.
    pub fn loose(&self, index: usize) -> &[Loose] {
        self.kept(index).map_or(&[], |kept| &kept.loose)
    }

    /// A run's name.
    pub fn name(&self, index: usize) -> &str {
        match self {
            Self::Nothing => "",
            Self::Plan(plan) => plan.runs.get(index).map_or("", |planned| &planned.name),
            Self::Kept(kept) => kept.runs.get(index).map_or("", |kept| &kept.name),
        }
    }

    /// What is written at places of a run.
    pub fn labeled(&self, index: usize) -> &[(Point, String)] {
        self.kept(index).map_or(&[], |kept| &kept.labeled)
    }

    /// How every run is cut.
    pub fn cuttings(&self) -> Vec<Cutting> {
        match self {
            Self::Nothing => Vec::new(),
            Self::Plan(plan) => Cutting::of_plan(plan),
            Self::Kept(kept) => kept.cutting.clone(),
        }
    }

    /// What a run's stock bends are made from, as far as that is known.
    pub fn bought_bends(&self, index: usize) -> Vec<BoughtBend> {
        match self {
            Self::Nothing => Vec::new(),
            Self::Plan(plan) => plan.bought_bends(index),
            Self::Kept(_) => self
                .kept(index)
                .map_or(Vec::new(), |kept| kept.bends.clone()),
        }
    }

    /// In which order a run is tacked up.
    pub fn tack_up(&self, index: usize) -> Option<&TackUp> {
        match self {
            Self::Nothing => None,
            Self::Plan(plan) => plan.runs.get(index).map(|planned| &planned.tack_up),
            Self::Kept(_) => self.kept(index)?.tack_up.as_ref(),
        }
    }

    /// Steps that are not those of building all of a run.
    pub fn own_steps(&self, index: usize) -> Option<&[Step]> {
        self.kept(index)?.steps.as_deref()
    }

    /// Names of the ports that a run goes between.
    pub fn port_names(&self, index: usize) -> [&str; 2] {
        match self {
            Self::Nothing => ["", ""],
            Self::Plan(plan) => plan
                .job
                .runs
                .get(index)
                .map_or(["", ""], |run| [&run.task.start.name, &run.task.end.name]),
            Self::Kept(_) => self
                .kept(index)
                .map_or(["", ""], |kept| kept.ports.each_ref().map(String::as_str)),
        }
    }

    /// What a piece is called: its number, or as the closing of a gap calls it.
    pub fn label(&self, index: usize, piece: usize) -> String {
        let own = self.kept(index).and_then(|kept| kept.labels.get(piece));
        own.cloned().unwrap_or_else(|| (piece + 1).to_string())
    }

    /// All numbers of a piece that is cut to a gap, name and value, in place of the run's.
    pub fn own_numbers(&self, index: usize, piece: usize) -> Option<&[(String, String)]> {
        let closing = &self.kept(index)?.closing;
        let own = closing.iter().find(|(own, _)| *own == piece)?;
        Some(&own.1)
            .filter(|rows| !rows.is_empty())
            .map(Vec::as_slice)
    }

    /// Whether a piece closes the gap.
    pub fn closes(&self, index: usize, piece: usize) -> bool {
        match self.kept(index) {
            Some(kept) => kept.closing.iter().any(|(own, _)| *own == piece),
            None => self
                .closing(index)
                .is_some_and(|(number, _)| number == piece + 1),
        }
    }

    /// How numbers are written.
    pub fn style(&self) -> Style {
        match self {
            Self::Nothing => Style::new(LengthUnit::Mm),
            Self::Plan(plan) => plan.job.style,
            Self::Kept(kept) => kept.style,
        }
    }

    /// The piece that closes the gap, and how much longer to cut it where it is still to
    /// be left for last.
    pub fn closing(&self, index: usize) -> Option<(usize, Option<String>)> {
        match self {
            Self::Nothing => None,
            Self::Plan(plan) => {
                let closing = plan.runs.get(index)?.stack_up.closing?;
                let trim = marked_trim(closing.trim, self.style().unit);
                Some((closing.piece, Some(self.style().length(trim))))
            }
            Self::Kept(_) => Some((self.kept(index)?.closing.first()?.0 + 1, None)),
        }
    }
}
