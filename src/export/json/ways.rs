//! What a way to make a run costs, in `plan.json`, and the other ways.

use super::numbers::{deg, mm};
use super::quote::{BoughtOut, bought};
use super::run::words;
use crate::route::{Bend, Candidate, Reason, Task};
use crate::shop::Work;
use crate::tube::StockBend;
use schemars::JsonSchema;
use serde::Serialize;

/// The work of a run where it is cut in order from one stick, and what that costs. Flange welds,
/// the same for every way, are left out.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Cost", deny_unknown_fields)]
pub(super) struct CostOut {
    /// Different angles that the saw is set to, square included.
    setups: u32,
    /// Lengths that the stop is set to.
    stops: u32,
    /// Bends that turn out of the plane of the bend before.
    clocks: u32,
    /// Saw cuts, the stick's first end and trimmed stock bends included.
    cuts: u32,
    /// Joints to fit up and weld.
    joints: u32,
    /// Weld round the outside of all joints.
    weld_mm: f64,
    /// Straight stock used, kerf included.
    tube_mm: f64,
    /// Stock bends used.
    stock_bends: u32,
    /// What they are bought for; one without a price counts as 0.
    stock_money: f64,
    /// Stock bends by kind.
    bought: Vec<BoughtOut>,
    /// Shop time of making alone.
    minutes: f64,
    /// Labor, tube and stock bends together, by the run's rates. Not the quote, which counts filler
    /// and gas too.
    money: f64,
    /// Loss of the bends in velocity heads.
    flow_loss: f64,
    /// Least that published tables leave open.
    flow_loss_low: f64,
    /// Most that published tables leave open.
    flow_loss_high: f64,
    /// Shortest side of any straight piece; the run's length where there is none.
    smallest_short_side_mm: f64,
    /// The same side, but null without a straight piece; not a straight between two bends.
    smallest_straight_mm: Option<f64>,
    /// What routes are ranked by, least first: the money, and what length, flow loss and a missed
    /// wished length are worth by the rates.
    rank: f64,
}

/// Another way to make a run that was found.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Alternative", deny_unknown_fields)]
pub(super) struct AlternativeOut<'a> {
    /// Name of the run that it is another way to make.
    run: &'a str,
    /// How many bends it has.
    bends: usize,
    /// Joints to fit up and weld.
    joints: u32,
    /// How far each bend turns, in order of flow.
    turns_deg: Vec<f64>,
    /// What each bend is made of: pies, or a stock bend's name.
    made_of: Vec<&'a str>,
    /// Length of its polyline, face to face.
    length_mm: f64,
    /// Its polyline from the first port's face to the last port's.
    vertices_mm: Vec<[f64; 3]>,
    /// Its work, and what it is ranked by.
    cost: CostOut,
    /// What speaks for it among those found.
    reasons: Vec<&'static str>,
}

impl CostOut {
    pub(super) fn new(candidate: &Candidate, stock: &[StockBend]) -> Self {
        let cost = &candidate.cost;
        let work = Work::of(candidate, stock);
        Self {
            setups: cost.setups,
            stops: cost.stops,
            clocks: cost.clocks,
            cuts: cost.cuts,
            joints: cost.joints,
            weld_mm: mm(cost.weld),
            tube_mm: mm(cost.tube),
            stock_bends: cost.stock_bends,
            stock_money: cost.stock_money,
            bought: bought(&work.bought),
            minutes: cost.minutes,
            money: cost.money,
            flow_loss: cost.flow.k,
            flow_loss_low: cost.flow.low(),
            flow_loss_high: cost.flow.high(),
            smallest_short_side_mm: mm(candidate.smallest_short_side()),
            smallest_straight_mm: work.smallest.map(mm),
            rank: cost.rank,
        }
    }
}

impl<'a> AlternativeOut<'a> {
    pub(super) fn new(
        run: &'a str,
        task: &'a Task,
        (candidate, reasons): &(Candidate, Vec<Reason>),
    ) -> Self {
        let bends = &candidate.route.bends;
        let points = candidate.run.centerline().points();
        let made_of = |bend: &Bend| match bend.stock() {
            Some(item) => task.stock[item].name.as_str(),
            None => "pies",
        };
        Self {
            run,
            bends: bends.len(),
            joints: candidate.cost.joints,
            turns_deg: bends.iter().map(|bend| deg(bend.turn)).collect(),
            made_of: bends.iter().map(made_of).collect(),
            length_mm: mm(candidate.run.length()),
            vertices_mm: points.iter().map(|&p| p.into()).collect(),
            cost: CostOut::new(candidate, &task.stock),
            reasons: words(reasons),
        }
    }
}
