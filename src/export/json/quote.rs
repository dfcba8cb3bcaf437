//! What `plan.json` says of cost, mass, growth and other ways to make a run.

use super::numbers::{mm, positive_zero};
use crate::plan::{Plan, PlannedRun};
use crate::run::Run;
use crate::shop::{
    Bought, Caution, GROWTH_LIMIT, Growth, Line, Made, OtherWay, Quote, QuoteRates, RunQuote,
    Service, Work,
};
use crate::units::{Flow, FlowUnit, Length, Rate, Temperature};
use schemars::JsonSchema;
use serde::Serialize;

/// What a quote counts beside each run's rates.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Quoting", deny_unknown_fields)]
pub(super) struct QuotingOut<'a> {
    /// What stands behind an amount of money; empty for nothing.
    currency: &'a str,
    /// Money for a kilogram of filler rod.
    filler_per_kg: f64,
    /// Money for a pound, as written, where lines count in pounds; null else.
    filler_per_lb: Option<f64>,
    /// Cross-section of a weld's filler over the wall's square.
    filler_factor: f64,
    /// Diameter of the filler rod.
    filler_rod_mm: f64,
    /// Money for a cubic meter of gas.
    gas_per_cubic_meter: f64,
    /// Money for a cubic foot, as written, where lines count in these; null else.
    gas_per_cubic_foot: Option<f64>,
    /// Shielding gas, of arc time.
    gas_liters_per_minute: f64,
    /// The same as written, where lines count in cubic feet; null else.
    gas_cubic_feet_per_hour: Option<f64>,
    /// Part of the weld's minutes that the arc burns, 0 to 1.
    arc_share: f64,
    /// Whether the bore is purged; null for what the material calls for.
    purge: Option<bool>,
    /// Purge gas, of welding time.
    purge_liters_per_minute: f64,
    /// The same as written, where lines count in cubic feet; null else.
    purge_cubic_feet_per_hour: Option<f64>,
    /// Times that purge gas fills the bore before the first weld.
    purge_changes: f64,
    /// Minutes for the job as a whole.
    job_minutes: f64,
    /// Percent of labor for rent, power and tools.
    overhead_percent: f64,
    /// Percent of cost and overhead that the price adds.
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
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Quote", deny_unknown_fields)]
pub(super) struct QuoteOut {
    /// Lines of each run, in the runs' order.
    runs: Vec<RunQuoteOut>,
    /// Lines of the job as a whole.
    shared: Vec<LineOut>,
    /// Money of all lines but overhead and markup.
    cost: f64,
    /// Percent of labor; null where it is 0.
    overhead: Option<LineOut>,
    /// Percent of cost and overhead; null where it is 0.
    markup: Option<LineOut>,
    /// What to charge: cost, overhead and markup.
    price: f64,
    /// Shop time of all runs and of the job.
    minutes: f64,
}

/// What a run costs.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "RunQuote", deny_unknown_fields)]
struct RunQuoteOut {
    /// Name of the run.
    run: String,
    /// Lines that add up to its money.
    lines: Vec<LineOut>,
    /// Flange welds that are not counted.
    apart: Vec<LineOut>,
    /// Sum of its lines.
    money: f64,
    /// Its shop time.
    minutes: f64,
    /// Length of filler rod.
    rod_length_mm: f64,
    /// What could not be counted.
    notes: Vec<String>,
}

/// A line of the quote: quantity × rate / per = money.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Line", deny_unknown_fields)]
struct LineOut {
    /// What it is for.
    item: &'static str,
    /// How the quantity comes about, in words.
    how: String,
    /// How much of the unit, rounded as it is printed.
    quantity: f64,
    /// What the quantity is counted in: `min`, `m`, `ft`, `g`, `lb`, `L`, `ft3`, `each`, `money`.
    unit: &'static str,
    /// Money for 'per' of the unit; of money, percent.
    rate: f64,
    /// How many of the unit the rate is for.
    per: f64,
    /// In whole cents.
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

/// What to mind about a material.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Caution", deny_unknown_fields)]
pub(super) struct CautionOut {
    /// Its name, which stays.
    name: &'static str,
    /// The caution in words.
    text: &'static str,
    /// Where it is published.
    source: &'static str,
    /// How well that is known.
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
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Service", deny_unknown_fields)]
pub(super) struct ServiceOut {
    /// How hot the tube gets, °C; null where nobody has said.
    hot_c: Option<f64>,
    /// How cold it is when it is fitted, °C.
    cold_c: f64,
    /// Whether a slip joint or a flexible part takes up growth.
    flex: bool,
    /// Whether the quote counts fitting and welding both flanges.
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
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Growth", deny_unknown_fields)]
pub(super) struct GrowthOut {
    /// From this temperature, °C.
    cold_c: f64,
    /// To this one, °C.
    hot_c: f64,
    /// False where the job gives no temperature and an example stands here.
    is_given: bool,
    /// Mean coefficient of thermal expansion, 1/°C.
    per_c: f64,
    /// Part by which published means differ, either way.
    spread: f64,
    /// Whether a temperature lies beyond what is published for the material.
    is_beyond_published: bool,
    /// Where it is published; null for the job's own coefficient.
    source: Option<&'static str>,
    /// How well that is known; null for the job's own coefficient.
    evidence: Option<&'static str>,
    /// How the far flange would move, the near one held: x, y, z in the job's frame.
    between_mm: [f64; 3],
    /// Length of that.
    amount_mm: f64,
    /// Growth of each piece along its center, in order of flow.
    pieces_mm: Vec<f64>,
    /// Growth that bolt holes and a fit-up take by themselves: common practice.
    limit_mm: f64,
    /// Whether it is more than the limit, with nothing to take it up.
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
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Bought", deny_unknown_fields)]
pub(super) struct BoughtOut {
    /// What the bend is called.
    name: String,
    /// How many.
    count: u32,
    /// Money for one; null where nobody has said.
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
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Work", deny_unknown_fields)]
struct WorkOut {
    /// Different angles that the saw is set to, square included.
    setups: u32,
    /// Lengths that the stop is set to.
    stops: u32,
    /// Bends that turn out of the plane of the bend before.
    clocks: u32,
    /// Saw cuts.
    cuts: u32,
    /// Joints to fit up and weld.
    joints: u32,
    /// Weld round the outside of all joints.
    weld_mm: f64,
    /// Straight stock used, kerf included.
    tube_mm: f64,
    /// Length of the centerline, face to face.
    length_mm: f64,
    /// Shortest side of any straight piece; null without a straight piece. As the same key of
    /// 'cost'.
    smallest_straight_mm: Option<f64>,
    /// Stock bends by kind.
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
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "OtherWay", deny_unknown_fields)]
pub(super) struct OtherWayOut {
    /// What its bends are made of.
    #[schemars(extend("enum" = ["pies", "stock-bends", "mandrel-bends-assumed"]))]
    made: &'static str,
    /// Centerline radius of assumed bends; null else.
    clr_mm: Option<f64>,
    /// Straight tube past the arcs of assumed bends; null else.
    leg_mm: Option<f64>,
    /// Null where no such run was found.
    work: Option<WorkOut>,
    /// Shop time; null where no such run was found.
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
