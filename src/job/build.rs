//! From the file's types to the solver's: checks every value, fills in what a
//! fabricator would choose, and collects all problems.

use super::Problem;
use super::copy::JobCopy;
use super::file::{ClrFile, JobFile, RunFile, ShopFile, TubeFile};
use super::file_values::{Quantity, Text};
use super::loaded::LoadedScan;
use super::measured::Bench;
use super::path::Path;
use super::rates_file::RatesFile;
use super::scan::ScanOrder;
use super::stock::Shelf;
use super::surveyed::PortSurvey;
use super::values::{LONGEST_NAME, Reader, Sign};
use super::words::{kind, nearest};
use crate::route::{Limits, LimitsError, MAX_BENDS, Rates, Task};
use crate::run::{Allowance, Port};
use crate::scene::Obstacle;
use crate::shop::{Accuracy, MandrelBend, QuoteRates, Seams, Service, StickStock};
use crate::survey::Pin;
use crate::tube::{StockBend, Tube, TubeError};
use crate::units::{Angle, Denominator, Length, LengthUnit, Style};
use std::collections::{BTreeMap, BTreeSet};

/// Greatest rate, in money or minutes: beyond it, costs are no numbers.
const MOST_RATE: f64 = 1e9;
/// Least weld laid in a minute.
const LEAST_WELD: Length = Length::from_mm(0.1);
/// Least outside diameter of anything that is called a tube here.
const LEAST_OD: Length = Length::from_mm(0.1);
/// Outside diameter beyond which the unit is likely wrong: 24 in.
const LARGE_OD: Length = Length::from_inches(24.0);
/// Outside diameter below which the unit is likely wrong.
const SMALL_OD: Length = Length::from_mm(5.0);
/// A wall of more of the diameter than this is likely a slip.
const THICK: f64 = 0.2;
/// Least usual cut that divides a bend into a sane number of joints.
const LEAST_CUT: Angle = Angle::from_degrees(0.5);
/// Ports of one run nearer than this coincide.
const COINCIDENT: Length = Length::from_mm(1e-3);
/// Most CLRs in a list.
const MAX_CLRS: usize = 12;
/// Most runs that a job may hold.
const MAX_RUNS: usize = 1000;

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

/// What the shop allows in every run, and what is in the way of each.
struct Shop {
    limits: Limits,
    saw_angles: Vec<Angle>,
    shelf: Vec<Shelf>,
    obstacles: Vec<Obstacle>,
    allowance: Allowance,
    accuracy: Accuracy,
    stick_stock: StickStock,
    rates: Rates,
    quote_rates: QuoteRates,
    mandrel_bend: MandrelBend,
    denominator: Denominator,
}

/// A file's name as it can stand on paper, whatever the system lets it be.
fn printable(name: &str) -> String {
    let letters = name.chars().take(LONGEST_NAME);
    letters
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect()
}

impl Reader<'_> {
    fn job(&mut self, file: &JobFile, name: &str) -> Option<Job> {
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
    fn equal_length(&mut self, file: &JobFile, runs: &[JobRun]) -> Option<Vec<Vec<usize>>> {
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
    fn warn_unfit(&mut self, shop: &Shop, runs: &[JobRun]) {
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

    fn unit(text: Option<&Text>) -> Option<LengthUnit> {
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

    pub(super) fn tube(&mut self, file: &TubeFile, path: &Path) -> Option<Tube> {
        let od = self.required(&file.od, &path.key("od"), "the outside diameter");
        let od = od.and_then(|od| self.length(od, &path.key("od"), Sign::Positive));
        let wall = self.required(&file.wall, &path.key("wall"), "the wall thickness");
        let wall = wall.and_then(|wall| self.length(wall, &path.key("wall"), Sign::Positive));
        let material = match &file.material {
            Some(text) => self.text(text, &path.key("material"))?,
            None => "unspecified".to_owned(),
        };
        let own = self.own_properties(file, path);
        if od? < LEAST_OD {
            return self.fail(&path.key("od"), "is less than 0.1 mm", "check the unit");
        }
        match Tube::new(od?, wall?, &material) {
            Ok(tube) => {
                let tube = tube.with_own(own?);
                self.warn_small(&tube, path);
                if tube.od() > LARGE_OD {
                    let od = Style::new(self.unit).decimal(tube.od());
                    let message = format!("is {od}: no tube that is cut by hand");
                    let help = "check the job's units";
                    self.warnings
                        .push(Problem::at(&path.key("od"), message, help));
                }
                Some(tube)
            }
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

    /// Warns of a tube that is likely measured in another unit.
    fn warn_small(&mut self, tube: &Tube, path: &Path) {
        let style = Style::new(self.unit);
        if tube.od() < SMALL_OD {
            let message = format!(
                "is {}: no tube that is cut by hand",
                style.decimal(tube.od())
            );
            self.warnings
                .push(Problem::at(&path.key("od"), message, "check the unit"));
        } else if tube.wall() > tube.od() * THICK {
            let message = format!(
                "is {}, on tube of {}: thick",
                style.decimal(tube.wall()),
                style.decimal(tube.od())
            );
            let help = "check the decimal point: walls are a few hundredths of an inch";
            self.warnings
                .push(Problem::at(&path.key("wall"), message, help));
        }
    }

    fn shop(
        &mut self,
        file: Option<&ShopFile>,
        path: &Path,
        obstacles: Option<Vec<Obstacle>>,
    ) -> Option<Shop> {
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
        let accuracy = self.accuracy(file.accuracy.as_ref(), &path.key("accuracy"));
        let stick_stock = self.stick_stock(file, path);
        let rates = self.rates(file, path);
        let quote_rates = self.quote_rates(file.rates.as_ref(), &path.key("rates"));
        let mandrel_bend = self.mandrel_bend(file, path);
        let saw_angles = self.saw_angles(file.saw_angles.as_deref(), &path.key("saw_angles"));
        let shelf = self.shelf(file.bends.as_deref(), &path.key("bends"));
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
            saw_angles: saw_angles?,
            shelf: shelf?,
            obstacles: obstacles?,
            allowance: Allowance {
                gap: gap?,
                shrinkage: shrinkage?,
            },
            accuracy: accuracy?,
            stick_stock: stick_stock?,
            rates: rates?,
            quote_rates: quote_rates?,
            mandrel_bend: mandrel_bend?,
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
        let stop = number(&file.stop_minutes, "stop_minutes", usual.stop_minutes);
        let clock = number(&file.clock_minutes, "clock_minutes", usual.clock_minutes);
        let run_per_meter = number(&file.run_per_meter, "run_per_meter", usual.run_per_meter);
        let flow_loss = number(&file.flow_loss, "flow_loss", usual.flow_loss);
        let off_length = number(
            &file.off_length_per_meter,
            "off_length_per_meter",
            usual.off_length_per_meter,
        );
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
            stop_minutes: stop?,
            clock_minutes: clock?,
            run_per_meter: run_per_meter?,
            flow_loss: flow_loss?,
            off_length_per_meter: off_length?,
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
        let wishes = self.wishes(file, path);
        let service = self.service(file, path);
        let copy = self.copy(file, path);
        let passes = self.passes(file.through.as_deref(), &path.key("through"), tube.as_ref());
        let (start, end) = (start?, end?);
        self.check_apart(&start, &end, path)?;
        let (clr, shop, wishes, tube) = (clr?, shop?, wishes?, tube?);
        let clr = self.within_swing(clr, wishes.swing, &tube, path)?;
        let mut stock: Vec<StockBend> = shop
            .shelf
            .iter()
            .filter_map(|bend| bend.fitted(&tube))
            .collect();
        stock.retain(|bend| {
            let reach = bend.clr + tube.radius();
            wishes.swing.is_none_or(|swing| reach <= swing)
        });
        let shelf = stock.clone();
        stock.retain(|_| wishes.stock);
        if !wishes.pies && stock.is_empty() {
            return self.fail(
                &path.key("made_of"),
                "asks for stock bends, but the shop has none that fit the run",
                "list them under shop.bends, with the run's outside diameter",
            );
        }
        let own = [&start.name, &end.name];
        let rooms = ports.values().flatten().filter_map(|port| {
            let mut room = port.wrench_room()?;
            if !own.contains(&&port.name) {
                // No tube of this run stands in it.
                room.reach = Length::ZERO;
            }
            Some(room)
        });
        let obstacles = shop.obstacles.iter().cloned().chain(rooms).collect();
        let task = Task {
            limits: Limits {
                clr_min: clr.least,
                clr_max: clr.greatest,
                min_between: between?,
                ..shop.limits
            },
            clrs: clr.list,
            saw_angles: shop.saw_angles.clone(),
            one_setting: wishes.one_setting,
            pies: wishes.pies,
            stock,
            obstacles,
            wrap: wishes.wrap,
            passes: passes?,
            most_bends: wishes.most_bends,
            wish: wishes.length,
            allowance: shop.allowance,
            rates: shop.rates,
            ..Task::new(tube, start, end)
        };
        let copied = match copy? {
            Some(order) => Some(self.traced(order, &task)?),
            None => None,
        };
        Some(JobRun {
            name: name?,
            task,
            copied,
            shelf,
            service: service?,
            seams: None,
        })
    }

    /// What a run asks for beside its ports, tube and CLR.
    fn wishes(&mut self, file: &RunFile, path: &Path) -> Option<Wishes> {
        let one_setting = self.flag(&file.one_setting, &path.key("one_setting"));
        let most_bends = match &file.max_bends {
            Some(value) => self.count(value, &path.key("max_bends"), 0, MAX_BENDS as u32),
            None => Some(MAX_BENDS as u32),
        };
        let mut length = |value: &Option<Quantity>, key: &str| match value {
            Some(value) => self.length(value, &path.key(key), Sign::Positive).map(Some),
            None => Some(None),
        };
        let wrap_path = path.key("wrap");
        let swing = length(&file.max_swing, "max_swing");
        let wished = length(&file.length, "length");
        let wrap = self.length_or(&file.wrap, &wrap_path, Sign::NotNegative, Length::ZERO);
        let (pies, stock) = match &file.made_of {
            None => (true, true),
            Some(text) => match self.text(text, &path.key("made_of"))?.as_str() {
                "pies" => (true, false),
                "stock" => (false, true),
                "either" => (true, true),
                other => {
                    let message = format!("is {other:?}, which bends are not made of");
                    return self.fail(
                        &path.key("made_of"),
                        message,
                        "write \"pies\", \"stock\" or \"either\"",
                    );
                }
            },
        };
        Some(Wishes {
            one_setting: one_setting?,
            most_bends: most_bends? as usize,
            swing: swing?,
            length: wished?,
            pies,
            stock,
            wrap: wrap?,
        })
    }

    /// CLRs whose bends swing no farther than asked.
    fn within_swing(
        &mut self,
        mut clr: Clrs,
        swing: Option<Length>,
        tube: &Tube,
        path: &Path,
    ) -> Option<Clrs> {
        let Some(swing) = swing else {
            return Some(clr);
        };
        let most = swing - tube.radius();
        clr.list.retain(|clr| *clr <= most);
        if clr.least > most {
            let style = Style::new(self.unit);
            return self.fail(
                &path.key("max_swing"),
                format!(
                    "is {}, but bends of the least CLR swing through {}",
                    style.decimal(swing),
                    style.decimal(clr.least + tube.radius()),
                ),
                "allow more, or give the run a smaller CLR",
            );
        }
        clr.greatest = clr.greatest.min(most);
        Some(clr)
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

    fn clr(&mut self, file: Option<&ClrFile>, path: &Path, tube: &Tube) -> Option<Clrs> {
        let default = tube.od() * Limits::CLR_PER_OD;
        let one = |clr: Length| Clrs {
            least: clr,
            greatest: clr,
            list: Vec::new(),
        };
        let clr = match file {
            None => one(default),
            Some(ClrFile::One(value)) => one(self.length(value, path, Sign::Positive)?),
            Some(ClrFile::List(values)) => self.clr_list(values, path)?,
            Some(ClrFile::Range(range)) => {
                let min = self.required(&range.min, &path.key("min"), "the least CLR");
                let min = min.and_then(|v| self.length(v, &path.key("min"), Sign::Positive));
                let max = self.required(&range.max, &path.key("max"), "the greatest CLR");
                let max = max.and_then(|v| self.length(v, &path.key("max"), Sign::Positive));
                Clrs {
                    least: min?,
                    greatest: max?,
                    list: Vec::new(),
                }
            }
        };
        let style = Style::new(self.unit);
        if clr.least > clr.greatest {
            return self.fail(path, "has a least CLR above its greatest", "swap them");
        }
        let too_small = if clr.list.is_empty() {
            clr.greatest
        } else {
            clr.least
        };
        if too_small <= tube.radius() {
            let message = format!(
                "is {}, not more than the tube's radius of {}: pies would have no inside edge",
                style.decimal(too_small),
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
        Some(Clrs {
            // Below the radius there is nothing to build; start where there is.
            least: clr.least.max(tube.radius()),
            ..clr
        })
    }

    fn clr_list(&mut self, values: &[Quantity], path: &Path) -> Option<Clrs> {
        if values.is_empty() || values.len() > MAX_CLRS {
            return self.fail(
                path,
                format!("holds {} CLRs", values.len()),
                format!("give 1 to {MAX_CLRS}, or a range"),
            );
        }
        let mut list = self.each(values, path, |reader, value, path| {
            reader.length(value, path, Sign::Positive)
        })?;
        list.sort_by(|a, b| a.mm().total_cmp(&b.mm()));
        list.dedup();
        Some(Clrs {
            least: list[0],
            greatest: list[list.len() - 1],
            list,
        })
    }
}

/// CLRs that pie bends may have: those of the list, or any from least to greatest.
struct Clrs {
    least: Length,
    greatest: Length,
    list: Vec<Length>,
}

/// What a run asks for beside its ports, tube and CLR.
struct Wishes {
    one_setting: bool,
    most_bends: usize,
    swing: Option<Length>,
    length: Option<Length>,
    pies: bool,
    stock: bool,
    wrap: Length,
}
