//! [`Shown`]: the runs that are on show.

use super::opened::Kept;
use runwright::plan::Plan;
use runwright::run::Run;
use runwright::shop::SawStep;
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

    /// A run.
    pub fn run(&self, index: usize) -> Option<&Run> {
        match self {
            Self::Nothing => None,
            Self::Plan(plan) => plan.runs.get(index).map(|planned| planned.run()),
            Self::Kept(kept) => kept.runs.get(index).map(|kept| &kept.run),
        }
    }

    /// A run's name.
    pub fn name(&self, index: usize) -> &str {
        match self {
            Self::Nothing => "",
            Self::Plan(plan) => plan.runs.get(index).map_or("", |planned| &planned.name),
            Self::Kept(kept) => kept.runs.get(index).map_or("", |kept| &kept.name),
        }
    }

    /// A run's saw sheet.
    pub fn saw(&self, index: usize) -> &[SawStep] {
        match self {
            Self::Nothing => &[],
            Self::Plan(plan) => plan
                .runs
                .get(index)
                .map_or(&[], |planned| &planned.saw.steps),
            Self::Kept(kept) => kept.runs.get(index).map_or(&[], |kept| &kept.saw),
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
                Some((closing.piece, Some(self.style().length(closing.trim))))
            }
            Self::Kept(kept) => Some((kept.runs.get(index)?.closing?, None)),
        }
    }
}
