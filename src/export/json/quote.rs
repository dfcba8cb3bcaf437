//! What `plan.json` says of cost, mass, growth and other ways to make a run.

use super::numbers::{mm, positive_zero};
use crate::plan::{Plan, PlannedRun};
use crate::run::Run;
use crate::shop::{
    Bought, Caution, GROWTH_LIMIT, Growth, Line, Made, OtherWay, Quote, QuoteRates, RunQuote,
    Service, Work,
};
use crate::units::{Flow, FlowUnit, Length, Rate, Temperature};
use serde::Serialize;

/// What a quote counts beside each run's rates.
#[derive(Serialize)]
pub(super) struct QuotingOut<'a> {
    currency: &'a str,
    filler_per_kg: f64,
    /// As written, where lines count in pounds; null else. So below.
    filler_per_lb: Option<f64>,
    /// Cross-section of a weld's filler over the wall's square.
    filler_factor: f64,
    /// Diameter of the filler rod.
    filler_rod_mm: f64,
    gas_per_cubic_meter: f64,
    gas_per_cubic_foot: Option<f64>,
    gas_liters_per_minute: f64,
    gas_cubic_feet_per_hour: Option<f64>,
    arc_share: f64,
    /// Null for what the material calls for.
    purge: Option<bool>,
    purge_liters_per_minute: f64,
    purge_cubic_feet_per_hour: Option<f64>,
    purge_changes: f64,
    job_minutes: f64,
    overhead_percent: f64,
    markup_percent: f64,
}

impl<'a> From<&'a QuoteRates> for QuotingOut<'a> {
    fn from(rates: &'a QuoteRates) -> Self {
        Self {
            currency: &rates.currency,
            filler_per_kg: rates.filler.metric(),
            filler_per_lb: imperial(rates.filler),
            filler_factor: rates.filler_factor,
            filler_rod_mm: mm(rates.rod),
            gas_per_cubic_meter: rates.gas.metric(),
            gas_per_cubic_foot: imperial(rates.gas),
            gas_liters_per_minute: rates.gas_flow.liters_per_minute(),
            gas_cubic_feet_per_hour: cubic_feet(rates.gas_flow),
            arc_share: rates.arc_share,
            purge: rates.purge,
            purge_liters_per_minute: rates.purge_flow.liters_per_minute(),
            purge_cubic_feet_per_hour: cubic_feet(rates.purge_flow),
            purge_changes: rates.purge_changes,
            job_minutes: rates.job_minutes,
            overhead_percent: rates.overhead_percent,
            markup_percent: rates.markup_percent,
        }
    }
}

/// A rate for a foot, pound or cubic foot, if it was written so: then lines count in it.
pub(super) fn imperial(rate: Rate) -> Option<f64> {
    rate.per.is_imperial().then_some(rate.amount)
}

/// A flow in cubic feet an hour, if it was written so.
fn cubic_feet(flow: Flow) -> Option<f64> {
    (flow.unit == FlowUnit::CubicFeetPerHour).then_some(flow.amount)
}

/// What the job costs and what to charge: quantity × rate / per = money, line by line.
#[derive(Serialize)]
pub(super) struct QuoteOut {
    runs: Vec<RunQuoteOut>,
    shared: Vec<LineOut>,
    /// Without overhead.
    cost: f64,
    overhead: Option<LineOut>,
    markup: Option<LineOut>,
    price: f64,
    minutes: f64,
}

#[derive(Serialize)]
struct RunQuoteOut {
    run: String,
    lines: Vec<LineOut>,
    /// Flange welds that are not counted.
    apart: Vec<LineOut>,
    money: f64,
    minutes: f64,
    /// Length of filler rod.
    rod_length_mm: f64,
    /// What could not be counted.
    notes: Vec<String>,
}

#[derive(Serialize)]
struct LineOut {
    item: &'static str,
    how: String,
    quantity: f64,
    /// What the quantity is counted in: `min`, `m`, `ft`, `g`, `lb`, `L`, `ft3`, `each`, `money`.
    unit: &'static str,
    rate: f64,
    /// How many of the unit the rate is for.
    per: f64,
    money: f64,
}

impl From<&Line> for LineOut {
    fn from(line: &Line) -> Self {
        Self {
            item: line.item.name(),
            how: line.how.clone(),
            quantity: line.quantity,
            unit: line.unit.name(),
            rate: line.rate,
            per: line.unit.per(),
            money: line.money.amount(),
        }
    }
}

fn lines(lines: &[Line]) -> Vec<LineOut> {
    lines.iter().map(LineOut::from).collect()
}

impl From<&RunQuote> for RunQuoteOut {
    fn from(quote: &RunQuote) -> Self {
        Self {
            run: quote.name.clone(),
            lines: lines(&quote.lines),
            apart: lines(&quote.apart),
            money: quote.money.amount(),
            minutes: quote.minutes,
            rod_length_mm: mm(quote.rod),
            notes: quote.notes.clone(),
        }
    }
}

impl From<&Quote> for QuoteOut {
    fn from(quote: &Quote) -> Self {
        Self {
            runs: quote.runs.iter().map(RunQuoteOut::from).collect(),
            shared: lines(&quote.shared),
            cost: quote.cost.amount(),
            overhead: quote.overhead.as_ref().map(LineOut::from),
            markup: quote.markup.as_ref().map(LineOut::from),
            price: quote.price.amount(),
            minutes: quote.minutes,
        }
    }
}

#[derive(Serialize)]
pub(super) struct CautionOut {
    name: &'static str,
    text: &'static str,
    source: &'static str,
    evidence: &'static str,
}

/// What to mind.
pub(super) fn cautions(plan: &Plan) -> Vec<CautionOut> {
    let caution = |caution: &Caution| CautionOut {
        name: caution.name,
        text: caution.text,
        source: caution.source.text,
        evidence: caution.source.evidence.words(),
    };
    plan.cautions().into_iter().map(caution).collect()
}

/// How a run is used.
#[derive(Serialize)]
pub(super) struct ServiceOut {
    /// Null where nobody has said.
    hot_c: Option<f64>,
    cold_c: f64,
    flex: bool,
    weld_flanges: bool,
}

impl From<&Service> for ServiceOut {
    fn from(service: &Service) -> Self {
        Self {
            hot_c: service.hot.map(Temperature::celsius),
            cold_c: service.cold.celsius(),
            flex: service.flex,
            weld_flanges: service.weld_flanges,
        }
    }
}

/// How heat would move the far flange from the near one, the run equally hot all over.
#[derive(Serialize)]
pub(super) struct GrowthOut {
    cold_c: f64,
    hot_c: f64,
    /// False where the job gives no temperature and an example stands here.
    is_given: bool,
    /// Mean coefficient of thermal expansion.
    per_c: f64,
    /// Part by which published means differ, either way.
    spread: f64,
    /// Whether a temperature lies beyond what is published for the material.
    is_beyond_published: bool,
    /// Null for the job's own coefficient.
    source: Option<&'static str>,
    evidence: Option<&'static str>,
    between_mm: [f64; 3],
    amount_mm: f64,
    /// Of each piece, along its center.
    pieces_mm: Vec<f64>,
    limit_mm: f64,
    is_too_much: bool,
}

impl GrowthOut {
    pub(super) fn new(growth: &Growth, run: &Run) -> Self {
        let pieces = run.pieces().iter();
        Self {
            cold_c: growth.cold.celsius(),
            hot_c: growth.hot.celsius(),
            is_given: growth.is_given,
            per_c: growth.expansion.per_c,
            spread: growth.spread(),
            is_beyond_published: growth.expansion.is_beyond,
            source: growth.source().map(|source| source.text),
            evidence: growth.source().map(|source| source.evidence.words()),
            between_mm: growth.between.map(positive_zero).into(),
            amount_mm: mm(growth.amount()),
            pieces_mm: pieces.map(|placed| mm(growth.along(placed.edge))).collect(),
            limit_mm: mm(GROWTH_LIMIT),
            is_too_much: growth.is_too_much(),
        }
    }
}

/// Stock bends of one kind.
#[derive(Serialize)]
pub(super) struct BoughtOut {
    name: String,
    count: u32,
    /// Null where nobody has said.
    price: Option<f64>,
}

pub(super) fn bought(kinds: &[Bought]) -> Vec<BoughtOut> {
    let kind = |kind: &Bought| BoughtOut {
        name: kind.name.clone(),
        count: kind.count,
        price: kind.price,
    };
    kinds.iter().map(kind).collect()
}

/// What a run takes in another way than planned.
#[derive(Serialize)]
struct WorkOut {
    setups: u32,
    stops: u32,
    clocks: u32,
    cuts: u32,
    joints: u32,
    weld_mm: f64,
    tube_mm: f64,
    length_mm: f64,
    /// Shortest side of any straight piece; null without one.
    smallest_straight_mm: Option<f64>,
    bought: Vec<BoughtOut>,
}

impl From<&Work> for WorkOut {
    fn from(work: &Work) -> Self {
        Self {
            setups: work.setups,
            stops: work.stops,
            clocks: work.clocks,
            cuts: work.cuts,
            joints: work.joints,
            weld_mm: mm(work.weld),
            tube_mm: mm(work.tube),
            length_mm: mm(work.length),
            smallest_straight_mm: work.smallest.map(mm),
            bought: bought(&work.bought),
        }
    }
}

/// The same ports joined by bends of another kind.
#[derive(Serialize)]
pub(super) struct OtherWayOut {
    made: &'static str,
    /// Of assumed bends; null else.
    clr_mm: Option<f64>,
    leg_mm: Option<f64>,
    /// Null where no such run was found.
    work: Option<WorkOut>,
    minutes: Option<f64>,
    /// The run's own costs, as `quote.runs[].money`; null where a bend has no price.
    money: Option<f64>,
}

/// Those of a planned run.
pub(super) fn other_ways(
    planned: &PlannedRun,
    job_run: &crate::job::JobRun,
    rates: &QuoteRates,
) -> Vec<OtherWayOut> {
    let quoting = planned.quoting(job_run, rates.style.unit);
    let columns = quoting.side_by_side(&planned.name, planned.run().tube(), rates);
    let way = |way: &OtherWay| {
        let column = columns
            .iter()
            .find(|column| column.way.as_ref() == Some(way));
        let (clr, leg): (Option<Length>, Option<Length>) = match way.made {
            Made::MandrelBends { clr, leg } => (Some(clr), Some(leg)),
            Made::Pies | Made::StockBends => (None, None),
        };
        OtherWayOut {
            made: way.made.name(),
            clr_mm: clr.map(mm),
            leg_mm: leg.map(mm),
            work: way.work.as_ref().map(WorkOut::from),
            minutes: column.map(|column| column.minutes),
            money: column.and_then(|column| Some(column.money?.amount())),
        }
    };
    planned.others.iter().map(way).collect()
}
