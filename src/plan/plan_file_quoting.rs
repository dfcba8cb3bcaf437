//! What a plan's quote comes from, read back from `plan.json`. All of it may be missing:
//! an older plan has the defaults, and no quote where it has no counts.

use super::plan_file::{AGAIN, Node, Reader};
use super::quoting::Quoting;
use crate::job::kind;
use crate::route::{Rates, StickPrice};
use crate::run::{Allowance, Run};
use crate::shop::{Bought, Made, OtherWay, QuoteRates, Service, Work};
use crate::tube::OwnProperties;
use crate::units::{Flow, FlowUnit, Length, Per, Rate, Style, Temperature};
use serde_json::Value;

/// Greatest rate and count of money or minutes that is read; a job holds less.
const MOST: f64 = 1e12;
/// The filler rod's diameter.
const FILLER_ROD: &str = "filler_rod_mm";
/// Shielding gas; the first that holds a number counts.
const GAS_FLOW: [(&str, FlowUnit); 2] = [
    ("gas_cubic_feet_per_hour", FlowUnit::CubicFeetPerHour),
    ("gas_liters_per_minute", FlowUnit::LitersPerMinute),
];
/// Purge gas, likewise.
const PURGE_FLOW: [(&str, FlowUnit); 2] = [
    ("purge_cubic_feet_per_hour", FlowUnit::CubicFeetPerHour),
    ("purge_liters_per_minute", FlowUnit::LitersPerMinute),
];
/// Most other ways and kinds of stock bend that one run has.
const MOST_LISTED: usize = 100;

impl Reader {
    /// Of one run; `node` is the run, `run` what it is made to.
    pub(super) fn quoting(
        &mut self,
        node: &Node<'_>,
        run: &Run,
        allowance: Allowance,
    ) -> Option<Quoting> {
        let rates = self.rates(node);
        let work = match self.optional(node, "cost")? {
            Some(cost) => self.work(&cost, run.length()).map(Some),
            None => Some(None),
        };
        let service = self.service(node);
        let others = self.others(node);
        Some(Quoting {
            rates: rates?,
            work: work?,
            service: service?,
            allowance,
            longer: Length::ZERO,
            others: others?,
        })
    }

    /// What the shop counts in a quote beside each run's rates.
    pub(super) fn quote_rates(&mut self, root: &Node<'_>, style: Style) -> Option<QuoteRates> {
        let usual = QuoteRates {
            style,
            ..QuoteRates::default()
        };
        let Some(node) = self.optional(root, "quoting")? else {
            return Some(usual);
        };
        let currency = match self.optional(&node, "currency")? {
            Some(_) => self.text(&node, "currency"),
            None => Some(usual.currency),
        };
        let purge = match self.optional(&node, "purge")? {
            Some(purge) => self.flag(&purge).map(Some),
            None => Some(None),
        };
        let rod = self.filler_rod(&node, usual.rod);
        let filler = self.rate(
            &node,
            [
                ("filler_per_lb", Per::Pound),
                ("filler_per_kg", Per::Kilogram),
            ],
            usual.filler,
        );
        let gas = self.rate(
            &node,
            [
                ("gas_per_cubic_foot", Per::CubicFoot),
                ("gas_per_cubic_meter", Per::CubicMeter),
            ],
            usual.gas,
        );
        let gas_flow = self.flow(&node, GAS_FLOW, usual.gas_flow);
        let purge_flow = self.flow(&node, PURGE_FLOW, usual.purge_flow);
        let mut number = |key: &str, usual: f64| self.number_or(&node, key, usual);
        Some(QuoteRates {
            currency: currency?,
            style,
            filler: filler?,
            filler_factor: number("filler_factor", usual.filler_factor)?,
            rod: rod?,
            gas: gas?,
            gas_flow: gas_flow?,
            arc_share: number("arc_share", usual.arc_share)?,
            purge: purge?,
            purge_flow: purge_flow?,
            purge_changes: number("purge_changes", usual.purge_changes)?,
            job_minutes: number("job_minutes", usual.job_minutes)?,
            overhead_percent: number("overhead_percent", usual.overhead_percent)?,
            markup_percent: number("markup_percent", usual.markup_percent)?,
        })
    }

    /// The filler rod's diameter; an older plan has it under another name.
    fn filler_rod(&mut self, node: &Node<'_>, usual: Length) -> Option<Length> {
        let usual = self.number_or(node, "rod_mm", usual.mm())?;
        let rod = self.number_or(node, FILLER_ROD, usual)?;
        if rod > 0.0 {
            return Some(Length::from_mm(rod));
        }
        self.fail(&node.path.key(FILLER_ROD), "is no diameter of a rod", AGAIN)
    }

    /// The rate under the first key that holds a number.
    fn rate(&mut self, node: &Node<'_>, keys: [(&str, Per); 2], usual: Rate) -> Option<Rate> {
        for (key, per) in keys {
            if let Some(amount) = self.number_if(node, key)? {
                return Some(Rate::new(amount, per));
            }
        }
        Some(usual)
    }

    /// The flow under the first key that holds a number.
    fn flow(&mut self, node: &Node<'_>, keys: [(&str, FlowUnit); 2], usual: Flow) -> Option<Flow> {
        for (key, unit) in keys {
            if let Some(amount) = self.number_if(node, key)? {
                return Some(Flow::new(amount, unit));
            }
        }
        Some(usual)
    }

    /// The stick whose price the rate of tube is.
    fn stick_price(&mut self, rates: &Node<'_>) -> Option<Option<StickPrice>> {
        let Some(node) = self.optional(rates, "tube_stick")? else {
            return Some(None);
        };
        let price = self.child(&node, "price")?;
        let (price, length) = (self.positive(&price), self.length(&node, "length_mm"));
        let is_dearest = self.child(&node, "is_dearest")?;
        let is_dearest = self.flag(&is_dearest);
        if length.is_some_and(|length| length <= Length::ZERO) {
            return self.fail(&node.path.key("length_mm"), "is not more than 0", AGAIN);
        }
        Some(Some(StickPrice {
            price: price?,
            length: length?,
            is_dearest: is_dearest?,
        }))
    }

    /// What the job says itself of a tube's material.
    pub(super) fn own_properties(&mut self, tube: &Node<'_>) -> Option<OwnProperties> {
        let density = self.number_if(tube, "own_density_g_per_cm3")?;
        let expansion = self.number_if(tube, "own_expansion_per_c")?;
        Some(OwnProperties { density, expansion })
    }

    fn rates(&mut self, run: &Node<'_>) -> Option<Rates> {
        let usual = Rates::default();
        let Some(node) = self.optional(run, "rates")? else {
            return Some(usual);
        };
        let weld = self.number_or(&node, "weld_mm_per_minute", usual.weld_per_minute.mm());
        let weld = weld
            .filter(|weld| *weld > 0.0)
            .or_else(|| self.fail(&node.path.key("weld_mm_per_minute"), "is no pace", AGAIN));
        let per = |feet, meters| [(feet, Per::Foot), (meters, Per::Meter)];
        let mut rate = |keys, usual| self.rate(&node, keys, usual);
        let tube = rate(per("tube_per_foot", "tube_per_meter"), usual.tube_rate);
        let of_run = rate(per("run_per_foot", "run_per_meter"), usual.run_weight);
        let off_length = rate(
            per("off_length_per_foot", "off_length_per_meter"),
            usual.off_length_weight,
        );
        let stick = self.stick_price(&node);
        let mut number = |key: &str, usual: f64| self.number_or(&node, key, usual);
        Some(Rates {
            labor_per_hour: number("labor_per_hour", usual.labor_per_hour)?,
            tube_rate: tube?,
            stick: stick?,
            setup_minutes: number("setup_minutes", usual.setup_minutes)?,
            stop_minutes: number("stop_minutes", usual.stop_minutes)?,
            clock_minutes: number("clock_minutes", usual.clock_minutes)?,
            cut_minutes: number("cut_minutes", usual.cut_minutes)?,
            fit_up_minutes: number("fit_up_minutes", usual.fit_up_minutes)?,
            weld_per_minute: Length::from_mm(weld?),
            kerf: Length::from_mm(number("kerf_mm", usual.kerf.mm())?),
            run_weight: of_run?,
            flow_loss: number("flow_loss", usual.flow_loss)?,
            off_length_weight: off_length?,
        })
    }

    /// Counts and lengths of a way to make a run, whose centerline is `length` long unless
    /// the node says otherwise.
    fn work(&mut self, node: &Node<'_>, length: Length) -> Option<Work> {
        let length = self.number_or(node, "length_mm", length.mm())?;
        let smallest = self.number_if(node, "smallest_straight_mm")?;
        let bought = self.bought(node)?;
        let [setups, stops, clocks, cuts, joints] =
            ["setups", "stops", "clocks", "cuts", "joints"].map(|key| self.count(node, key));
        let weld = self.child(node, "weld_mm");
        let weld = weld.and_then(|node| self.positive(&node));
        let tube = self.child(node, "tube_mm");
        let tube = tube.and_then(|node| self.positive(&node));
        Some(Work {
            setups: setups?,
            stops: stops?,
            clocks: clocks?,
            cuts: cuts?,
            joints: joints?,
            weld: Length::from_mm(weld?),
            tube: Length::from_mm(tube?),
            length: Length::from_mm(length),
            smallest: smallest.map(Length::from_mm),
            bought,
        })
    }

    fn bought(&mut self, node: &Node<'_>) -> Option<Vec<Bought>> {
        if self.optional(node, "bought")?.is_none() {
            return Some(Vec::new());
        }
        let kinds = self.short_list(node, "bought")?;
        let kind = |kind: &Node<'_>| {
            Some(Bought {
                name: self.text(kind, "name")?,
                count: self.count(kind, "count")?,
                price: self.number_if(kind, "price")?,
            })
        };
        kinds.iter().map(kind).collect()
    }

    fn service(&mut self, run: &Node<'_>) -> Option<Service> {
        let usual = Service::default();
        let Some(node) = self.optional(run, "service")? else {
            return Some(usual);
        };
        let hot = self.temperature(&node, "hot_c")?;
        let cold = self.temperature(&node, "cold_c")?;
        let mut flag = |key: &str, usual: bool| match self.optional(&node, key)? {
            Some(node) => self.flag(&node),
            None => Some(usual),
        };
        Some(Service {
            hot,
            cold: cold.unwrap_or(usual.cold),
            flex: flag("flex", usual.flex)?,
            weld_flanges: flag("weld_flanges", usual.weld_flanges)?,
        })
    }

    fn others(&mut self, run: &Node<'_>) -> Option<Vec<OtherWay>> {
        if self.optional(run, "other_ways")?.is_none() {
            return Some(Vec::new());
        }
        let ways = self.short_list(run, "other_ways")?;
        ways.iter().map(|way| self.other_way(way)).collect()
    }

    fn other_way(&mut self, node: &Node<'_>) -> Option<OtherWay> {
        let name = self.text(node, "made")?;
        let made = match name.as_str() {
            "pies" => Made::Pies,
            "stock-bends" => Made::StockBends,
            "mandrel-bends-assumed" => Made::MandrelBends {
                clr: self.length(node, "clr_mm")?,
                leg: self.length(node, "leg_mm")?,
            },
            other => {
                let message = format!("is {other:?}, which no way is made of");
                return self.fail(&node.path.key("made"), message, AGAIN);
            }
        };
        let work = match self.optional(node, "work")? {
            Some(work) => Some(self.work(&work, Length::ZERO)?),
            None => None,
        };
        Some(OtherWay { made, work })
    }

    /// What stands under `key`: outer `None` where `node` is no object, inner where there
    /// is nothing or null.
    fn optional<'a>(&mut self, node: &Node<'a>, key: &str) -> Option<Option<Node<'a>>> {
        match node.value.get(key) {
            None if node.value.is_object() => Some(None),
            Some(Value::Null) => Some(None),
            _ => self.child(node, key).map(Some),
        }
    }

    fn short_list<'a>(&mut self, node: &Node<'a>, key: &str) -> Option<Vec<Node<'a>>> {
        let list = self.list(node, key)?;
        if list.len() > MOST_LISTED {
            let message = format!("holds more than {MOST_LISTED} entries");
            return self.fail(&node.path.key(key), message, AGAIN);
        }
        Some(list)
    }

    /// A number that may be missing or null.
    fn number_if(&mut self, node: &Node<'_>, key: &str) -> Option<Option<f64>> {
        match self.optional(node, key)? {
            Some(node) => self.positive(&node).map(Some),
            None => Some(None),
        }
    }

    fn number_or(&mut self, node: &Node<'_>, key: &str, usual: f64) -> Option<f64> {
        Some(self.number_if(node, key)?.unwrap_or(usual))
    }

    /// A number that is not negative.
    fn positive(&mut self, node: &Node<'_>) -> Option<f64> {
        match node.value.as_f64() {
            Some(number) if (0.0..=MOST).contains(&number) => Some(number),
            _ => {
                let message = format!("is {}, but must be 0 to {MOST:e}", kind(node.value));
                self.fail(&node.path, message, AGAIN)
            }
        }
    }

    fn count(&mut self, node: &Node<'_>, key: &str) -> Option<u32> {
        let node = self.child(node, key)?;
        let count = node.value.as_u64().and_then(|n| u32::try_from(n).ok());
        count.or_else(|| {
            let message = format!("is {}, but must be a whole number", kind(node.value));
            self.fail(&node.path, message, AGAIN)
        })
    }

    fn flag(&mut self, node: &Node<'_>) -> Option<bool> {
        node.value.as_bool().or_else(|| {
            let message = format!("is {}, but must be true or false", kind(node.value));
            self.fail(&node.path, message, AGAIN)
        })
    }

    fn temperature(&mut self, node: &Node<'_>, key: &str) -> Option<Option<Temperature>> {
        match self.optional(node, key)? {
            Some(node) => {
                let celsius = self.number(&node)?;
                Some(Some(Temperature::from_celsius(celsius)))
            }
            None => Some(None),
        }
    }
}
