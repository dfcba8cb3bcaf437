//! [`Quote`]: what a job costs and what to charge, line by line.
//!
//! Every line is quantity × rate = money, the quantity rounded as it is printed and the
//! money to whole hundredths; sums are sums of what is printed.

use super::lines::{apart, lines, notes};
use super::money::{Money, rounded};
use crate::route::Rates;
use crate::shop::{QuoteRates, Work};
use crate::tube::Tube;
use crate::units::{Length, Per, Rate};

/// A run as a quote sees it.
#[derive(Clone, Copy, Debug)]
pub struct QuotedRun<'a> {
    /// Its name.
    pub name: &'a str,
    /// What it is made of.
    pub tube: &'a Tube,
    /// Gap left at every joint, which filler fills.
    pub gap: Length,
    /// What work and tube cost.
    pub rates: &'a Rates,
    /// What there is to do.
    pub work: &'a Work,
    /// What the piece that is left for last is sawn longer than planned: tube that is used
    /// beside the work's.
    pub longer: Length,
    /// Whether both flanges are welded on here; else those welds are shown apart.
    pub weld_flanges: bool,
}

/// What a job costs and what to charge.
#[derive(Clone, Debug, PartialEq)]
pub struct Quote {
    /// What stands behind an amount; empty for nothing.
    pub currency: String,
    /// One a run.
    pub runs: Vec<RunQuote>,
    /// The job as a whole: its fixed minutes. None at zero.
    pub shared: Vec<Line>,
    /// All runs and what they share, without overhead.
    pub cost: Money,
    /// Added for rent, power and tools. None at zero percent.
    pub overhead: Option<Line>,
    /// Added for the price. None at zero percent.
    pub markup: Option<Line>,
    /// Cost, overhead and markup.
    pub price: Money,
    /// Shop time.
    pub minutes: f64,
}

/// What one run costs.
#[derive(Clone, Debug, PartialEq)]
pub struct RunQuote {
    /// The run's name.
    pub name: String,
    /// What is counted.
    pub lines: Vec<Line>,
    /// Sum of the lines.
    pub money: Money,
    /// Shop time, sum of the lines in minutes.
    pub minutes: f64,
    /// Flange welds that are not counted, should they be wanted.
    pub apart: Vec<Line>,
    /// Length of filler rod.
    pub rod: Length,
    /// What could not be counted, and why.
    pub notes: Vec<String>,
}

/// One line of a quote: quantity × rate = money.
#[derive(Clone, Debug, PartialEq)]
pub struct Line {
    /// What it is for.
    pub item: Item,
    /// How its quantity comes about, such as `5 × 2 min`.
    pub how: String,
    /// How much, in `unit`, rounded as printed.
    pub quantity: f64,
    /// What the quantity is counted in, and what the rate is for.
    pub unit: Unit,
    /// Money for what the unit says.
    pub rate: f64,
    /// Quantity × rate, in whole hundredths.
    pub money: Money,
}

impl Line {
    /// From a quantity before rounding.
    pub(in crate::shop) fn new(
        item: Item,
        how: impl Into<String>,
        quantity: f64,
        unit: Unit,
        rate: f64,
    ) -> Self {
        let quantity = rounded(quantity, unit.digits());
        Self {
            item,
            how: how.into(),
            quantity,
            unit,
            rate,
            money: Money::of(quantity * rate / unit.per()),
        }
    }

    /// From a quantity in meters, kilograms or cubic meters, counted in the unit that `rate`
    /// was written in.
    pub(in crate::shop) fn rated(
        item: Item,
        how: impl Into<String>,
        metric: f64,
        rate: Rate,
    ) -> Self {
        let unit = Unit::from(rate.per);
        let quantity = metric / rate.per.metric() * unit.per();
        Self::new(item, how, quantity, unit, rate.amount)
    }

    /// The quantity as it is printed: `12.00 min`.
    pub fn quantity_text(&self) -> String {
        let digits = usize::try_from(self.unit.digits()).unwrap_or(0);
        format!("{:.digits$} {}", self.quantity, self.unit.symbol())
            .trim_end()
            .to_owned()
    }

    /// The rate as it is printed: `75/h`. As many digits as were written in the job.
    pub fn rate_text(&self) -> String {
        format!("{}{}", self.rate, self.unit.rate_symbol())
    }
}

/// What a line is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Item {
    /// Straight tube used, kerf and what is sawn longer included.
    Tube,
    /// Stock bends of one kind.
    StockBend,
    /// Setting the saw.
    Setups,
    /// Setting the stop.
    Stops,
    /// Marking clocks.
    Clocks,
    /// Cutting.
    Cuts,
    /// Fitting up.
    FitUps,
    /// Welding.
    Weld,
    /// Filler rod.
    Filler,
    /// Shielding gas.
    ShieldingGas,
    /// Purge gas: bore filled, and flowing while welding.
    PurgeGas,
    /// Fitting up both flanges.
    FlangeFitUps,
    /// Welding both flanges.
    FlangeWeld,
    /// Filler rod for both flanges.
    FlangeFiller,
    /// Shielding gas for both flanges.
    FlangeGas,
    /// Minutes for the job as a whole.
    JobTime,
    /// Rent, power and tools.
    Overhead,
    /// What is added for the price.
    Markup,
}

impl Item {
    /// A stable name for files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Tube => "tube",
            Self::StockBend => "stock-bend",
            Self::Setups => "saw-settings",
            Self::Stops => "stop-settings",
            Self::Clocks => "clocks",
            Self::Cuts => "cuts",
            Self::FitUps => "fit-ups",
            Self::Weld => "weld",
            Self::Filler => "filler",
            Self::ShieldingGas => "shielding-gas",
            Self::PurgeGas => "purge-gas",
            Self::FlangeFitUps => "flange-fit-ups",
            Self::FlangeWeld => "flange-weld",
            Self::FlangeFiller => "flange-filler",
            Self::FlangeGas => "flange-gas",
            Self::JobTime => "job-time",
            Self::Overhead => "overhead",
            Self::Markup => "markup",
        }
    }

    /// Words for paper.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Tube => "tube",
            Self::StockBend => "stock bends",
            Self::Setups => "setting the saw",
            Self::Stops => "setting the stop",
            Self::Clocks => "marking clocks",
            Self::Cuts => "cutting",
            Self::FitUps => "fitting up",
            Self::Weld => "welding",
            Self::Filler => "filler rod",
            Self::ShieldingGas => "shielding gas",
            Self::PurgeGas => "purge gas",
            Self::FlangeFitUps => "fitting up both flanges",
            Self::FlangeWeld => "welding both flanges",
            Self::FlangeFiller => "filler rod, flanges",
            Self::FlangeGas => "shielding gas, flanges",
            Self::JobTime => "the job as a whole",
            Self::Overhead => "overhead on labor",
            Self::Markup => "markup",
        }
    }

    /// Whether it is work of the shop.
    pub const fn is_labor(self) -> bool {
        matches!(
            self,
            Self::Setups
                | Self::Stops
                | Self::Clocks
                | Self::Cuts
                | Self::FitUps
                | Self::Weld
                | Self::FlangeFitUps
                | Self::FlangeWeld
                | Self::JobTime
        )
    }
}

/// What a quantity is counted in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// Minutes, at a rate for an hour.
    Minutes,
    /// Meters, at a rate for a meter.
    Meters,
    /// Feet, at a rate for a foot.
    Feet,
    /// Grams, at a rate for a kilogram.
    Grams,
    /// Pounds, at a rate for a pound.
    Pounds,
    /// Liters, at a rate for a cubic meter.
    Liters,
    /// Cubic feet, at a rate for a cubic foot.
    CubicFeet,
    /// Pieces, at a rate for one.
    Each,
    /// Money, at a rate in percent.
    Money,
}

impl Unit {
    /// How many of the unit the rate is for.
    pub const fn per(self) -> f64 {
        match self {
            Self::Minutes => 60.0,
            Self::Meters | Self::Feet | Self::Pounds | Self::CubicFeet | Self::Each => 1.0,
            Self::Grams | Self::Liters => 1000.0,
            Self::Money => 100.0,
        }
    }

    /// Decimals of a quantity.
    pub const fn digits(self) -> i32 {
        match self {
            Self::Minutes | Self::Money | Self::CubicFeet => 2,
            Self::Meters | Self::Feet | Self::Pounds => 3,
            Self::Grams | Self::Liters => 1,
            Self::Each => 0,
        }
    }

    /// A stable name for files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::CubicFeet => "ft3",
            Self::Each => "each",
            Self::Money => "money",
            other => other.symbol(),
        }
    }

    /// The quantity's unit.
    pub const fn symbol(self) -> &'static str {
        match self {
            Self::Minutes => "min",
            Self::Meters => "m",
            Self::Feet => "ft",
            Self::Grams => "g",
            Self::Pounds => "lb",
            Self::Liters => "L",
            Self::CubicFeet => "ft³",
            Self::Each | Self::Money => "",
        }
    }

    /// What stands behind a rate.
    pub const fn rate_symbol(self) -> &'static str {
        match self {
            Self::Minutes => "/h",
            Self::Meters => "/m",
            Self::Feet => "/ft",
            Self::Grams => "/kg",
            Self::Pounds => "/lb",
            Self::Liters => "/m³",
            Self::CubicFeet => "/ft³",
            Self::Each => " each",
            Self::Money => " %",
        }
    }
}

impl From<Per> for Unit {
    /// What is counted at a rate for one of `per`.
    fn from(per: Per) -> Self {
        match per {
            Per::Meter => Self::Meters,
            Per::Foot => Self::Feet,
            Per::Kilogram => Self::Grams,
            Per::Pound => Self::Pounds,
            Per::CubicMeter => Self::Liters,
            Per::CubicFoot => Self::CubicFeet,
        }
    }
}

impl RunQuote {
    /// What `run` costs.
    pub fn new(run: &QuotedRun<'_>, rates: &QuoteRates) -> Self {
        let mut counted = lines(run, rates);
        let mut apart = apart(run, rates);
        if run.weld_flanges {
            counted.append(&mut apart);
        }
        Self {
            name: run.name.to_owned(),
            money: counted.iter().map(|line| line.money).sum(),
            minutes: minutes(&counted),
            rod: super::lines::rod(run, rates),
            lines: counted,
            apart,
            notes: notes(run, rates),
        }
    }
}

impl Quote {
    /// All that the job costs, overhead included.
    pub fn all_costs(&self) -> Money {
        self.cost
            + self
                .overhead
                .as_ref()
                .map_or(Money::ZERO, |line| line.money)
    }

    /// What a job of `runs` costs and what to charge. The job's own minutes go at the
    /// first run's rate of labor, which is the shop's.
    pub fn new(runs: &[QuotedRun<'_>], rates: &QuoteRates) -> Self {
        let labor = runs.first().map_or(0.0, |run| run.rates.labor_per_hour);
        let quotes: Vec<RunQuote> = runs.iter().map(|run| RunQuote::new(run, rates)).collect();
        let job = Line::new(Item::JobTime, "", rates.job_minutes, Unit::Minutes, labor);
        let shared: Vec<Line> = (rates.job_minutes > 0.0)
            .then_some(job)
            .into_iter()
            .collect();
        let all = || quotes.iter().flat_map(|run| &run.lines).chain(&shared);
        let cost: Money = all().map(|line| line.money).sum();
        let labor: Money = all()
            .filter(|line| line.item.is_labor())
            .map(|line| line.money)
            .sum();
        let percent = |item, how: &str, of: Money, percent: f64| {
            (percent > 0.0).then(|| Line::new(item, how, of.amount(), Unit::Money, percent))
        };
        let overhead = percent(
            Item::Overhead,
            "of all labor",
            labor,
            rates.overhead_percent,
        );
        let before = cost + overhead.as_ref().map_or(Money::ZERO, |line| line.money);
        let markup = percent(Item::Markup, "of all costs", before, rates.markup_percent);
        Self {
            currency: rates.currency.clone(),
            minutes: quotes.iter().map(|run| run.minutes).sum::<f64>() + minutes(&shared),
            shared,
            cost,
            price: before + markup.as_ref().map_or(Money::ZERO, |line| line.money),
            overhead,
            markup,
            runs: quotes,
        }
    }
}

/// Shop time of lines.
fn minutes(lines: &[Line]) -> f64 {
    let times = lines.iter().filter(|line| line.unit == Unit::Minutes);
    rounded(
        times.map(|line| line.quantity).sum(),
        Unit::Minutes.digits(),
    )
}
