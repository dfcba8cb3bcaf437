//! What a way to make a run costs, in `plan.json`, and the other ways.

use super::numbers::{deg, mm};
use super::quote::{BoughtOut, bought};
use super::run::words;
use crate::route::{Bend, Candidate, Reason, Task};
use crate::shop::Work;
use crate::tube::StockBend;
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct CostOut {
    setups: u32,
    stops: u32,
    clocks: u32,
    cuts: u32,
    joints: u32,
    weld_mm: f64,
    tube_mm: f64,
    stock_bends: u32,
    stock_money: f64,
    /// Stock bends by kind.
    bought: Vec<BoughtOut>,
    minutes: f64,
    money: f64,
    /// Loss of the bends in velocity heads, and what published tables leave open.
    flow_loss: f64,
    flow_loss_low: f64,
    flow_loss_high: f64,
    smallest_short_side_mm: f64,
    /// Shortest side of any straight piece; null without one.
    smallest_straight_mm: Option<f64>,
    rank: f64,
}

#[derive(Serialize)]
pub(super) struct AlternativeOut<'a> {
    run: &'a str,
    bends: usize,
    joints: u32,
    turns_deg: Vec<f64>,
    /// What each bend is made of: pies, or a stock bend's name.
    made_of: Vec<&'a str>,
    length_mm: f64,
    vertices_mm: Vec<[f64; 3]>,
    cost: CostOut,
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
