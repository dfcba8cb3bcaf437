//! The quote of a plan, and of a plan that was read back: one from the other's numbers.

use super::{FileRun, Plan, PlanFile, PlannedRun};
use crate::job::JobRun;
use crate::route::Rates;
use crate::run::{Allowance, Run};
use crate::shop::{
    Caution, Growth, Money, OtherWay, Quote, QuoteRates, QuotedRun, RunQuote, Service, Work,
    marked_trim,
};
use crate::tube::Tube;
use crate::units::{Length, LengthUnit};

/// What of a run its quote, mass and growth come from; the same for a plan and for a
/// plan that was read back.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Quoting {
    /// What work and tube cost.
    pub rates: Rates,
    /// What there is to do; `None` in a plan that does not say.
    pub work: Option<Work>,
    /// How it is used.
    pub service: Service,
    /// Gap and shrinkage at each joint.
    pub allowance: Allowance,
    /// What the piece that is left for last is sawn longer than planned, whichever way the
    /// run is made.
    pub longer: Length,
    /// The same ports joined by bends of another kind.
    pub others: Vec<OtherWay>,
}

impl Quoting {
    /// What a quote needs of the run named `name` of `tube`, if it is to be of `work`.
    fn quoted<'a>(&'a self, name: &'a str, tube: &'a Tube, work: &'a Work) -> QuotedRun<'a> {
        QuotedRun {
            name,
            tube,
            gap: self.allowance.gap,
            rates: &self.rates,
            work,
            longer: self.longer,
            weld_flanges: self.service.weld_flanges,
        }
    }

    /// The run's own part of a quote; `None` where it is not known what there is to do.
    pub fn quote(&self, name: &str, tube: &Tube, rates: &QuoteRates) -> Option<RunQuote> {
        Some(RunQuote::new(
            &self.quoted(name, tube, self.work.as_ref()?),
            rates,
        ))
    }

    /// The run as planned and in each other way, side by side; the run's own costs, without
    /// what the job shares, overhead and markup.
    pub fn side_by_side(&self, name: &str, tube: &Tube, rates: &QuoteRates) -> Vec<Column> {
        let column = |way: Option<&OtherWay>, work: &Work| {
            let quote = RunQuote::new(&self.quoted(name, tube, work), rates);
            Column {
                way: way.cloned(),
                minutes: quote.minutes,
                money: work.is_priced().then_some(quote.money),
                work: work.clone(),
            }
        };
        let planned = self.work.iter().map(|work| column(None, work));
        let others = self.others.iter().filter_map(|way| {
            let work = way.work.as_ref()?;
            Some(column(Some(way), work))
        });
        planned.chain(others).collect()
    }
}

/// A run in one way to make it, with what that takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Which other way; `None` for the run as planned.
    pub way: Option<OtherWay>,
    /// Counts and lengths.
    pub work: Work,
    /// Shop time.
    pub minutes: f64,
    /// Money; `None` where a bend has no price.
    pub money: Option<Money>,
}

impl PlannedRun {
    /// What its quote comes from, in a job in `unit`.
    pub fn quoting(&self, job_run: &JobRun, unit: LengthUnit) -> Quoting {
        let task = &job_run.task;
        let closing = self.stack_up.closing;
        Quoting {
            rates: task.rates,
            work: Some(Work::of(&self.solution.best, &task.stock)),
            service: job_run.service,
            allowance: task.allowance,
            longer: closing.map_or(Length::ZERO, |closing| marked_trim(closing.trim, unit)),
            others: self.others.clone(),
        }
    }

    /// How heat would move one of its flanges from the other.
    pub fn growth(&self, job_run: &JobRun) -> Option<Growth> {
        Growth::of(self.run(), &job_run.service)
    }
}

impl Plan {
    /// What the job costs and what to charge.
    pub fn quote(&self) -> Quote {
        let parts: Vec<(&PlannedRun, Quoting)> = self
            .runs
            .iter()
            .zip(&self.job.runs)
            .map(|(planned, job_run)| (planned, planned.quoting(job_run, self.job.style.unit)))
            .collect();
        let runs = parts
            .iter()
            .map(|(planned, quoting)| (planned.name.as_str(), planned.run(), quoting));
        quote(runs, &self.job.quote_rates)
    }

    /// What to mind.
    pub fn cautions(&self) -> Vec<&'static Caution> {
        Caution::of(self.runs.iter().map(|planned| planned.run().tube()))
    }
}

impl PlanFile {
    /// What the job costs and what to charge: that of the plan that wrote the file. Runs
    /// of a file that does not say what there is to do are left out.
    pub fn quote(&self) -> Quote {
        let runs = self
            .runs
            .iter()
            .map(|file| (file.name.as_str(), &file.run, &file.quoting));
        quote(runs, &self.quote_rates)
    }

    /// What to mind.
    pub fn cautions(&self) -> Vec<&'static Caution> {
        Caution::of(self.runs.iter().map(|file| file.run.tube()))
    }
}

impl FileRun {
    /// How heat would move one of its flanges from the other.
    pub fn growth(&self) -> Option<Growth> {
        Growth::of(&self.run, &self.quoting.service)
    }
}

fn quote<'a>(
    runs: impl Iterator<Item = (&'a str, &'a Run, &'a Quoting)>,
    rates: &QuoteRates,
) -> Quote {
    let quoted: Vec<QuotedRun<'a>> = runs
        .filter_map(|(name, run, quoting)| {
            let work = quoting.work.as_ref()?;
            Some(quoting.quoted(name, run.tube(), work))
        })
        .collect();
    Quote::new(&quoted, rates)
}
