//! [`Job`]: a checked job in the solver's terms.

use super::copy::JobCopy;
use super::loaded::LoadedScan;
use super::measured::Bench;
use super::problem::Problem;
use super::scan::ScanOrder;
use super::surveyed::PortSurvey;
use crate::geometry::Level;
use crate::route::Task;
use crate::run::Port;
use crate::shop::{Accuracy, MandrelBend, QuoteRates, Seams, Service, StickStock};
use crate::survey::Pin;
use crate::tube::StockBend;
use crate::units::{Length, Style};
use std::collections::BTreeMap;

/// A checked job in the solver's terms.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// What it is called on paper.
    pub name: String,
    /// How the shop writes numbers.
    pub style: Style,
    /// Ports by name.
    pub ports: BTreeMap<String, Port>,
    /// Runs in the file's order.
    pub runs: Vec<JobRun>,
    /// Groups of runs, by their place, that should be equally long.
    pub equal_length: Vec<Vec<usize>>,
    /// How well the shop works.
    pub accuracy: Accuracy,
    /// What a quote counts beside the tasks' rates.
    pub quote_rates: QuoteRates,
    /// A mandrel bend where the shop lists no bends.
    pub mandrel_bend: MandrelBend,
    /// What it cuts its tube from.
    pub stick_stock: StickStock,
    /// Scans that are still to be read: see [`Job::load_scans`].
    pub scans: Vec<ScanOrder>,
    /// Scans that have been read.
    pub loaded: Vec<LoadedScan>,
    /// What was measured of each port.
    pub surveys: Vec<PortSurvey>,
    /// What measurements are taken from and with.
    pub(super) bench: Bench,
    /// What is odd about the job: also for the paper that comes of it.
    pub warnings: Vec<Problem>,
}

/// One run of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct JobRun {
    /// Its name.
    pub name: String,
    /// What the solver needs to know.
    pub task: Task,
    /// The tube that it is a copy of, and not searched for.
    pub copied: Option<JobCopy>,
    /// Stock bends of the shop that fit it, whatever it is to be made of.
    pub shelf: Vec<StockBend>,
    /// How it is used.
    pub service: Service,
    /// How its tube's weld seams should lie; none in seamless tube.
    pub seams: Option<Seams>,
}

impl Job {
    /// Fixed places to measure from, by name.
    pub fn pins(&self) -> &[Pin] {
        &self.bench.pins
    }

    /// What levels and headings refer to.
    pub const fn level(&self) -> Level {
        self.bench.level
    }

    /// What the saw turns to chips at a square cut: all runs share the saw.
    pub fn kerf(&self) -> Length {
        let first = self.runs.first();
        first.map_or(Length::ZERO, |run| run.task.rates.kerf)
    }
}
