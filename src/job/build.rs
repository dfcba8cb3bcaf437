//! From the file's types to the solver's: checks every value, fills in what a
//! fabricator would choose, and collects all problems.

use super::file::JobFile;
use super::file_values::Text;
use super::job::{Job, JobRun};
use super::path::Path;
use super::problem::Problem;
use super::shop::Shop;
use super::values::{LONGEST_NAME, Reader};
use super::words::{kind, nearest};
use crate::units::{LengthUnit, Style};

/// A job or its problems.
pub(super) struct Built {
    pub job: Option<Job>,
    pub errors: Vec<Problem>,
    pub warnings: Vec<Problem>,
}

/// Builds the job. Places under `known_bad` have been reported already.
pub(super) fn build(file: &JobFile, name: &str, known_bad: &[Path]) -> Built {
    let unit = Reader::unit(file.units.as_ref());
    let mut reader = Reader::new(unit.unwrap_or(LengthUnit::Mm), known_bad);
    let job = reader.job(file, name);
    if let Some(job) = &job {
        let is_to_come = |port: &str| {
            job.surveys
                .iter()
                .any(|s| s.port == port && s.rim.is_some())
        };
        let buried = job.buried(|port| !is_to_come(port));
        reader.errors.extend(buried);
    }
    Built {
        job: job.filter(|_| reader.errors.is_empty()),
        errors: reader.errors,
        warnings: reader.warnings,
    }
}

/// A file's name as it can stand on paper, whatever the system lets it be.
fn printable(name: &str) -> String {
    let letters = name.chars().take(LONGEST_NAME);
    letters
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

impl Reader<'_> {
    pub(super) fn job(&mut self, file: &JobFile, name: &str) -> Option<Job> {
        let root = Path::root();
        self.check_unit(file.units.as_ref());
        let tube = self.required(&file.tube, &root.key("tube"), "{ \"od\": …, \"wall\": … }");
        let tube = tube.and_then(|tube| self.tube(tube, &root.key("tube")));
        let bench = self.bench(
            file.measuring.as_ref(),
            file.pins.as_ref(),
            file.up.as_ref(),
            file.ahead.as_ref(),
        );
        let (ports, surveys) = self.ports(file, bench.as_ref());
        let scene = self.scene(file.scene.as_ref(), &root.key("scene"), &ports);
        let (obstacles, scans) = scene.unzip();
        self.check_scan_rims(&surveys, scans.as_deref());
        if let Some(tube) = &tube {
            let style = Style::new(self.unit);
            let unlike = surveys
                .iter()
                .filter_map(|s| s.beside_tube(tube.od(), style));
            self.warnings.extend(unlike);
        }
        let shop = self.shop(file.shop.as_ref(), &root.key("shop"), obstacles);
        let mut runs = self.runs(file, tube.as_ref(), &ports, shop.as_ref());
        self.lay_seams(file, &mut runs);
        let job_name = match &file.name {
            Some(text) => self.text(text, &root.key("name")),
            None => Some(printable(name)),
        };
        let equal_length = self.equal_length(file, &runs);
        let shop = shop?;
        if self.errors.is_empty() {
            self.warn_unused(&ports, &runs);
            self.warn_unfit(&shop, &runs);
            self.warn_idle_sticks(&shop.stick_stock, &runs);
        }
        Some(Job {
            name: job_name?,
            style: Style {
                unit: self.unit,
                denominator: shop.denominator,
            },
            ports: ports
                .into_iter()
                .filter_map(|(n, p)| Some((n, p?)))
                .collect(),
            runs,
            equal_length: equal_length?,
            accuracy: shop.accuracy,
            quote_rates: shop.quote_rates,
            mandrel_bend: shop.mandrel_bend,
            stick_stock: shop.stick_stock,
            scans: scans.unwrap_or_default(),
            loaded: Vec::new(),
            surveys,
            bench: bench?,
            warnings: Vec::new(),
        })
    }

    /// Groups of runs by their places.
    pub(super) fn equal_length(
        &mut self,
        file: &JobFile,
        runs: &[JobRun],
    ) -> Option<Vec<Vec<usize>>> {
        let path = Path::root().key("equal_length");
        let names: Vec<String> = runs.iter().map(|run| run.name.clone()).collect();
        let groups = file.equal_length.as_deref().unwrap_or_default();
        let mut places = Vec::new();
        for (i, group) in groups.iter().enumerate() {
            let mut found = Vec::new();
            for (j, name) in group.iter().enumerate() {
                let path = path.index(i).index(j);
                let name = self.text(name, &path)?;
                match names.iter().position(|known| *known == name) {
                    Some(place) => found.push(place),
                    // A run that is wrong itself has been reported.
                    None if runs.len() < file.runs.as_ref().map_or(0, Vec::len) => {}
                    None => {
                        let help = nearest(&name, &names);
                        return self.fail(&path, format!("there is no run named '{name}'"), help);
                    }
                }
            }
            places.push(found);
        }
        Some(places)
    }

    /// Warns of stock bends that no run can use.
    pub(super) fn warn_unfit(&mut self, shop: &Shop, runs: &[JobRun]) {
        for (i, bend) in shop.shelf.iter().enumerate() {
            let is_used =
                |run: &JobRun| run.task.stock.iter().any(|stock| stock.name == bend.name());
            if !runs.iter().any(is_used) {
                let path = Path::root().key("shop").key("bends").index(i);
                self.warnings.push(Problem::at(
                    &path,
                    format!("'{}' fits no run", bend.name()),
                    "its outside diameter is not that of any run's tube, or its CLR is less than half of it, or the runs are made of pies",
                ));
            }
        }
    }

    pub(super) fn unit(text: Option<&Text>) -> Option<LengthUnit> {
        LengthUnit::from_symbol(text?.0.as_str()?)
    }

    pub(super) fn check_unit(&mut self, text: Option<&Text>) {
        let path = Path::root().key("units");
        let symbols = LengthUnit::ALL.map(LengthUnit::symbol).join(", ");
        let Some(text) = self.required_ref(text, &path, "\"in\" or \"mm\"") else {
            return;
        };
        if Self::unit(Some(text)).is_none() {
            self.error(
                &path,
                format!("is {}, which is no unit", kind(&text.0)),
                format!("use one of {symbols}"),
            );
        }
    }
}
