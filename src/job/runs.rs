//! The job's runs, checked.

use super::file::JobFile;
use super::file_values::{Quantity, Text};
use super::job::JobRun;
use super::path::Path;
use super::run_file::{ClrFile, RunFile};
use super::shop::Shop;
use super::values::{Reader, Sign};
use super::words::nearest;
use crate::route::{Limits, MAX_BENDS, Task};
use crate::run::Port;
use crate::tube::{StockBend, Tube};
use crate::units::{Length, Style};
use std::collections::{BTreeMap, BTreeSet};

/// Ports of one run nearer than this coincide.
const COINCIDENT: Length = Length::from_mm(1e-3);

/// Most CLRs in a list.
const MAX_CLRS: usize = 12;

/// Most runs that a job may hold.
const MAX_RUNS: usize = 1000;

impl Reader<'_> {
    pub(super) fn runs(
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

    pub(super) fn run(
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
            rates: shop.rates_for(&tube),
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
    pub(super) fn wishes(&mut self, file: &RunFile, path: &Path) -> Option<Wishes> {
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
    pub(super) fn within_swing(
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

    pub(super) fn end_of_run(
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

    pub(super) fn check_apart(&mut self, start: &Port, end: &Port, path: &Path) -> Option<()> {
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

    pub(super) fn clr(&mut self, file: Option<&ClrFile>, path: &Path, tube: &Tube) -> Option<Clrs> {
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

    pub(super) fn clr_list(&mut self, values: &[Quantity], path: &Path) -> Option<Clrs> {
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
pub(super) struct Clrs {
    least: Length,
    greatest: Length,
    list: Vec<Length>,
}

/// What a run asks for beside its ports, tube and CLR.
pub(super) struct Wishes {
    one_setting: bool,
    most_bends: usize,
    swing: Option<Length>,
    length: Option<Length>,
    pies: bool,
    stock: bool,
    wrap: Length,
}
