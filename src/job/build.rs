//! From the file's types to the solver's: checks every value, fills in what a
//! fabricator would choose, and collects all problems.

use super::Problem;
use super::file::{
    ClrFile, JobFile, PortFile, Quantity, RatesFile, RunFile, ShopFile, Text, TubeFile,
};
use super::path::Path;
use super::values::{Reader, Sign};
use super::words::{kind, nearest};
use crate::route::{Limits, LimitsError, Rates, Task};
use crate::run::{Allowance, Port};
use crate::tube::{Tube, TubeError};
use crate::units::{Angle, Denominator, Length, LengthUnit, Style};
use std::collections::{BTreeMap, BTreeSet};

/// Greatest rate, in money or minutes: beyond it, costs are no numbers.
const MOST_RATE: f64 = 1e9;
/// Least weld laid in a minute.
const LEAST_WELD: Length = Length::from_mm(0.1);
/// Least outside diameter of anything that is called a tube here.
const LEAST_OD: Length = Length::from_mm(0.1);
/// Least usual cut that divides a bend into a sane number of joints.
const LEAST_CUT: Angle = Angle::from_degrees(0.5);
/// Ports of one run nearer than this coincide.
const COINCIDENT: Length = Length::from_mm(1e-3);
/// Most runs that a job may hold.
const MAX_RUNS: usize = 1000;
/// Straight tube left at a port unless the job says otherwise: room for the
/// flange's weld and a wrench.
const DEFAULT_STRAIGHT: Length = Length::from_inches(0.5);

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
}

/// One run of a job.
#[derive(Clone, Debug, PartialEq)]
pub struct JobRun {
    /// Its name.
    pub name: String,
    /// What the solver needs to know.
    pub task: Task,
}

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
    Built {
        job: job.filter(|_| reader.errors.is_empty()),
        errors: reader.errors,
        warnings: reader.warnings,
    }
}

/// What the shop allows in every run.
#[derive(Clone, Copy)]
struct Shop {
    limits: Limits,
    allowance: Allowance,
    rates: Rates,
    denominator: Denominator,
}

impl Reader<'_> {
    fn job(&mut self, file: &JobFile, name: &str) -> Option<Job> {
        let root = Path::root();
        self.check_unit(file.units.as_ref());
        let tube = self.required(&file.tube, &root.key("tube"), "{ \"od\": …, \"wall\": … }");
        let tube = tube.and_then(|tube| self.tube(tube, &root.key("tube")));
        let ports = self.ports(file);
        let shop = self.shop(file.shop.as_ref(), &root.key("shop"));
        let runs = self.runs(file, tube.as_ref(), &ports, shop.as_ref());
        let job_name = match &file.name {
            Some(text) => self.text(text, &root.key("name")),
            None => Some(name.to_owned()),
        };
        let shop = shop?;
        if self.errors.is_empty() {
            self.warn_unused(&ports, &runs);
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
        })
    }

    fn unit(text: Option<&Text>) -> Option<LengthUnit> {
        LengthUnit::from_symbol(text?.0.as_str()?)
    }

    fn check_unit(&mut self, text: Option<&Text>) {
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

    fn tube(&mut self, file: &TubeFile, path: &Path) -> Option<Tube> {
        let od = self.required(&file.od, &path.key("od"), "the outside diameter");
        let od = od.and_then(|od| self.length(od, &path.key("od"), Sign::Positive));
        let wall = self.required(&file.wall, &path.key("wall"), "the wall thickness");
        let wall = wall.and_then(|wall| self.length(wall, &path.key("wall"), Sign::Positive));
        let material = match &file.material {
            Some(text) => self.text(text, &path.key("material"))?,
            None => "unspecified".to_owned(),
        };
        if od? < LEAST_OD {
            return self.fail(&path.key("od"), "is less than 0.1 mm", "check the unit");
        }
        match Tube::new(od?, wall?, &material) {
            Ok(tube) => Some(tube),
            Err(error @ TubeError::Diameter) => {
                self.fail(&path.key("od"), error, "measure across the outside")
            }
            Err(error) => self.fail(
                &path.key("wall"),
                error,
                "measure the wall with a caliper, or look up its gauge",
            ),
        }
    }

    /// Ports by name; `None` for one that is wrong, so that a run to it is not
    /// blamed for an unknown name.
    fn ports(&mut self, file: &JobFile) -> BTreeMap<String, Option<Port>> {
        let path = Path::root().key("ports");
        let example = "{ \"outlet\": { \"center\": [0, 0, 0], \"outward\": [0, 0, 1] }, … }";
        let Some(ports) = self.required(&file.ports, &path, example) else {
            return BTreeMap::new();
        };
        if ports.len() < 2 {
            self.error(
                &path,
                "holds fewer than two ports",
                "a run needs two: where it begins and where it ends",
            );
        }
        ports
            .iter()
            .map(|(name, port)| {
                let path = path.key(name);
                let named = self.name(name, &path).is_some();
                let port = self.port(name, port, &path).filter(|_| named);
                (name.clone(), port)
            })
            .collect()
    }

    fn warn_unused(&mut self, ports: &BTreeMap<String, Option<Port>>, runs: &[JobRun]) {
        for name in ports.keys() {
            let used = |run: &JobRun| [&run.task.start.name, &run.task.end.name].contains(&name);
            if !runs.iter().any(used) {
                let path = Path::root().key("ports").key(name);
                let help = "nothing to do if that is so; else check the names in runs";
                self.warnings
                    .push(Problem::at(&path, "no run uses this port", help));
            }
        }
    }

    fn port(&mut self, name: &str, file: &PortFile, path: &Path) -> Option<Port> {
        let center = self.required(&file.center, &path.key("center"), "[x, y, z]");
        let center = center.and_then(|c| self.center(c, &path.key("center")));
        let outward = self.required(
            &file.outward,
            &path.key("outward"),
            "[x, y, z], from the face into free space",
        );
        let outward = outward.and_then(|d| self.direction(d, &path.key("outward")));
        let socket = self.length_or(
            &file.socket,
            &path.key("socket"),
            Sign::NotNegative,
            Length::ZERO,
        );
        let straight = self.length_or(
            &file.straight,
            &path.key("straight"),
            Sign::NotNegative,
            DEFAULT_STRAIGHT,
        );
        Some(Port {
            name: name.to_owned(),
            center: center?,
            outward: outward?,
            socket: socket?,
            straight: straight?,
            freedom: crate::run::Freedom::default(),
        })
    }

    fn shop(&mut self, file: Option<&ShopFile>, path: &Path) -> Option<Shop> {
        let defaults = ShopFile::default();
        let file = file.unwrap_or(&defaults);
        let usual_default = Limits::USUAL_CUT;
        let max_default = Limits::MAX_CUT;
        // Either given alone takes the other along.
        let usual_cut = self.angle_or(&file.usual_cut, &path.key("usual_cut"), usual_default);
        let max = max_default.max(usual_cut.unwrap_or(usual_default));
        let max_cut = self.angle_or(&file.max_cut, &path.key("max_cut"), max);
        let usual_cut = match file.usual_cut {
            Some(_) => usual_cut,
            None => Some(usual_default.min(max_cut.unwrap_or(max))),
        };
        let short = Limits::MIN_SHORT_SIDE;
        let short = self.length_or(
            &file.min_short_side,
            &path.key("min_short_side"),
            Sign::NotNegative,
            short,
        );
        let gap = self.small_or(&file.gap, &path.key("gap"), Length::ZERO);
        let shrinkage = self.small_or(&file.shrinkage, &path.key("shrinkage"), Length::ZERO);
        let denominator = self.denominator(file.fraction.as_ref(), &path.key("fraction"));
        let rates = self.rates(file, path);
        let (usual_cut, max_cut) = (usual_cut?, max_cut?);
        if usual_cut < LEAST_CUT {
            self.error(
                &path.key("usual_cut"),
                "is less than 0.5°: hundreds of joints a bend",
                "9 deg is usual",
            );
        }
        let limits = Limits {
            // Each run fills in its own CLR.
            clr_min: Length::from_mm(1.0),
            clr_max: Length::from_mm(1.0),
            usual_cut,
            max_cut,
            min_short_side: short?,
            min_between: Length::ZERO,
        };
        if limits.check() == Err(LimitsError::Cut) {
            return self.fail(
                &path.key("max_cut"),
                LimitsError::Cut,
                "write for example \"usual_cut\": 9, \"max_cut\": 11.25",
            );
        }
        Some(Shop {
            limits,
            allowance: Allowance {
                gap: gap?,
                shrinkage: shrinkage?,
            },
            rates: rates?,
            denominator: denominator?,
        })
    }

    fn rates(&mut self, shop: &ShopFile, path: &Path) -> Option<Rates> {
        let defaults = RatesFile::default();
        let file = shop.rates.as_ref().unwrap_or(&defaults);
        let usual = Rates::default();
        let rates = path.key("rates");
        let kerf = self.small_or(&shop.kerf, &path.key("kerf"), usual.kerf);
        let weld = self.length_or(
            &file.weld_per_minute,
            &rates.key("weld_per_minute"),
            Sign::Positive,
            usual.weld_per_minute,
        );
        if weld.is_some_and(|weld| weld < LEAST_WELD) {
            let help = "check the unit";
            return self.fail(&rates.key("weld_per_minute"), "is less than 0.1 mm", help);
        }
        let mut number = |value: &Option<Quantity>, key: &str, default: f64| match value {
            Some(value) => self.number(value, &rates.key(key), 0.0, MOST_RATE),
            None => Some(default),
        };
        let labor = number(&file.labor_per_hour, "labor_per_hour", usual.labor_per_hour);
        let tube = number(&file.tube_per_meter, "tube_per_meter", usual.tube_per_meter);
        let setup = number(&file.setup_minutes, "setup_minutes", usual.setup_minutes);
        let cut = number(&file.cut_minutes, "cut_minutes", usual.cut_minutes);
        let fit_up = number(&file.fit_up_minutes, "fit_up_minutes", usual.fit_up_minutes);
        Some(Rates {
            labor_per_hour: labor?,
            tube_per_meter: tube?,
            setup_minutes: setup?,
            cut_minutes: cut?,
            fit_up_minutes: fit_up?,
            weld_per_minute: weld?,
            kerf: kerf?,
            ..usual
        })
    }

    fn runs(
        &mut self,
        file: &JobFile,
        tube: Option<&Tube>,
        ports: &BTreeMap<String, Option<Port>>,
        shop: Option<&Shop>,
    ) -> Vec<JobRun> {
        let path = Path::root().key("runs");
        let example = "[ { \"name\": …, \"from\": …, \"to\": … } ]";
        let Some(runs) = self.required(&file.runs, &path, example) else {
            return Vec::new();
        };
        if runs.is_empty() || runs.len() > MAX_RUNS {
            self.error(
                &path,
                format!("holds {} runs", runs.len()),
                format!("give 1 to {MAX_RUNS} runs"),
            );
            return Vec::new();
        }
        let mut names = BTreeSet::new();
        let built = runs.iter().enumerate().filter_map(|(i, run)| {
            let path = path.index(i);
            let built = self.run(run, &path, tube, ports, shop);
            let name = run.name.as_ref().and_then(|name| name.0.as_str());
            if name.is_some_and(|name| !names.insert(name.to_owned())) {
                self.error(
                    &path.key("name"),
                    "is the name of another run too",
                    "give each run a name of its own",
                );
            }
            built
        });
        built.collect()
    }

    fn run(
        &mut self,
        file: &RunFile,
        path: &Path,
        tube: Option<&Tube>,
        ports: &BTreeMap<String, Option<Port>>,
        shop: Option<&Shop>,
    ) -> Option<JobRun> {
        let name = self.required(&file.name, &path.key("name"), "\"stack\"");
        let name = name.and_then(|name| self.text(name, &path.key("name")));
        let start = self.end_of_run(&file.from, &path.key("from"), ports);
        let end = self.end_of_run(&file.to, &path.key("to"), ports);
        let own_tube = file
            .tube
            .as_ref()
            .map(|own| self.tube(own, &path.key("tube")));
        let tube = own_tube.unwrap_or_else(|| tube.cloned());
        let clr = tube
            .as_ref()
            .and_then(|tube| self.clr(file.clr.as_ref(), &path.key("clr"), tube));
        let between = self.length_or(
            &file.between,
            &path.key("between"),
            Sign::NotNegative,
            Length::ZERO,
        );
        let (start, end) = (start?, end?);
        self.check_apart(&start, &end, path)?;
        let ((clr_min, clr_max), shop) = (clr?, shop?);
        Some(JobRun {
            name: name?,
            task: Task {
                limits: Limits {
                    clr_min,
                    clr_max,
                    min_between: between?,
                    ..shop.limits
                },
                allowance: shop.allowance,
                rates: shop.rates,
                ..Task::new(tube?, start, end)
            },
        })
    }

    fn end_of_run(
        &mut self,
        name: &Option<Text>,
        path: &Path,
        ports: &BTreeMap<String, Option<Port>>,
    ) -> Option<Port> {
        let text = self.required(name, path, "the name of a port")?;
        let name = self.text(text, path)?;
        if let Some(port) = ports.get(&name) {
            return port.clone();
        }
        let known: Vec<String> = ports.keys().cloned().collect();
        if known.is_empty() {
            return None;
        }
        self.fail(
            path,
            format!("there is no port named '{name}'"),
            nearest(&name, &known),
        )
    }

    fn check_apart(&mut self, start: &Port, end: &Port, path: &Path) -> Option<()> {
        if start.name == end.name {
            return self.fail(
                &path.key("to"),
                "is the port that the run begins at",
                "name another port",
            );
        }
        let apart = Length::from_mm((end.center - start.center).norm());
        if apart <= COINCIDENT {
            let message = format!(
                "ports '{}' and '{}' are at the same place",
                start.name, end.name
            );
            return self.fail(
                path,
                message,
                "measure their centers again; nothing can run between them",
            );
        }
        Some(())
    }

    fn clr(
        &mut self,
        file: Option<&ClrFile>,
        path: &Path,
        tube: &Tube,
    ) -> Option<(Length, Length)> {
        let default = tube.od() * Limits::CLR_PER_OD;
        let (least, greatest) = match file {
            None => (default, default),
            // A list is reported with the shape of the file.
            Some(ClrFile::One(value)) if value.0.is_array() => return None,
            Some(ClrFile::One(value)) => {
                let clr = self.length(value, path, Sign::Positive)?;
                (clr, clr)
            }
            Some(ClrFile::Range(range)) => {
                let min = self.required(&range.min, &path.key("min"), "the least CLR");
                let min = min.and_then(|v| self.length(v, &path.key("min"), Sign::Positive));
                let max = self.required(&range.max, &path.key("max"), "the greatest CLR");
                let max = max.and_then(|v| self.length(v, &path.key("max"), Sign::Positive));
                (min?, max?)
            }
        };
        let style = Style::new(self.unit);
        if least > greatest {
            return self.fail(path, "has a least CLR above its greatest", "swap them");
        }
        if greatest <= tube.radius() {
            let message = format!(
                "is {}, not more than the tube's radius of {}: pies would have no inside edge",
                style.decimal(greatest),
                style.decimal(tube.radius()),
            );
            return self.fail(
                path,
                message,
                format!(
                    "use a CLR above {}; 1.5 × OD is {}",
                    style.decimal(tube.radius()),
                    style.decimal(default)
                ),
            );
        }
        // Below the radius there is nothing to build; start where there is.
        Some((least.max(tube.radius()), greatest))
    }
}
