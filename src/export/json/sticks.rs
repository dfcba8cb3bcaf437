//! Sticks in `plan.json`: what the shop has, and which pieces are cut from what.

use super::numbers::{deg, mm};
use super::task::TubeOut;
use crate::plan::Plan;
use crate::shop::{
    Drops, LayoutCost, SawCut, Stick, StickLayout, StickSource, StickStock, StockTube,
};
use crate::units::Length;
use serde::Serialize;

/// What the shop cuts its tube from, as it is needed to lay out again.
#[derive(Serialize)]
pub(super) struct StickStockOut<'a> {
    kerf_mm: f64,
    least_leftover_mm: f64,
    sticks: Vec<StockStickOut<'a>>,
    shelf: Vec<LeftoverOut<'a>>,
}

#[derive(Serialize)]
struct StockStickOut<'a> {
    length_mm: f64,
    /// Null where length counts, not money.
    price: Option<f64>,
    /// Null for as many as it takes.
    count: Option<u32>,
    #[serde(flatten)]
    of: StockTubeOut<'a>,
}

#[derive(Serialize)]
struct LeftoverOut<'a> {
    length_mm: f64,
    #[serde(flatten)]
    of: StockTubeOut<'a>,
}

/// Of which tubes a stick is; null for any.
#[derive(Serialize)]
struct StockTubeOut<'a> {
    od_mm: Option<f64>,
    wall_mm: Option<f64>,
    material: Option<&'a str>,
}

/// The sticks of one tube.
#[derive(Serialize)]
pub(super) struct StickLayoutOut<'a> {
    tube: TubeOut<'a>,
    /// Whether money is by prices; else it is length in mm.
    priced: bool,
    found: LayoutCostOut,
    /// What every layout costs at least.
    least: LayoutCostOut,
    proven: bool,
    /// Part of the money that a better layout might save at most.
    gap: f64,
    bought_mm: f64,
    used_mm: f64,
    kerf_loss_mm: f64,
    wedge_loss_mm: f64,
    waste_mm: f64,
    longest_remnant_mm: f64,
    longest_possible_mm: f64,
    sticks: Vec<StickOut<'a>>,
    too_long: Vec<TooLongOut<'a>>,
}

#[derive(Serialize)]
struct LayoutCostOut {
    missing_mm: f64,
    money: f64,
    touched_mm: f64,
    sticks: u32,
}

#[derive(Serialize)]
struct StickOut<'a> {
    /// "new", "shelf" or "missing".
    from: &'static str,
    /// Which of the stock's sticks or leftovers, from 0; null where it is missing.
    item: Option<usize>,
    length_mm: f64,
    used_mm: f64,
    kerf_loss_mm: f64,
    wedge_loss_mm: f64,
    remnant_mm: f64,
    /// Whether the remnant is worth putting back.
    kept: bool,
    cuts: Vec<StickCutOut<'a>>,
}

#[derive(Serialize)]
struct StickCutOut<'a> {
    /// "end", "wedge" or "piece": what drops off.
    drops: &'static str,
    /// Null where no piece drops off.
    run: Option<&'a str>,
    piece: Option<usize>,
    /// Whether the piece's end comes off first.
    turned: bool,
    from_mm: f64,
    length_mm: f64,
    feed_mm: f64,
    stop_mm: f64,
    rotate_deg: f64,
    mark_deg: f64,
    angle_deg: f64,
    /// Whether the cut also makes the next piece's first face.
    mates: bool,
    half_turn: bool,
    /// Whether saw and stop stay as they were at the cut before.
    again: bool,
}

#[derive(Serialize)]
struct TooLongOut<'a> {
    run: &'a str,
    piece: usize,
    needs_mm: f64,
}

impl<'a> StickStockOut<'a> {
    pub fn new(stock: &'a StickStock, kerf: Length) -> Self {
        let sticks = stock.sticks.iter().map(|stick| StockStickOut {
            length_mm: mm(stick.length),
            price: stick.price,
            count: stick.count,
            of: (&stick.of).into(),
        });
        let shelf = stock.shelf.iter().map(|leftover| LeftoverOut {
            length_mm: mm(leftover.length),
            of: (&leftover.of).into(),
        });
        Self {
            kerf_mm: mm(kerf),
            least_leftover_mm: mm(stock.least_leftover),
            sticks: sticks.collect(),
            shelf: shelf.collect(),
        }
    }
}

impl<'a> From<&'a StockTube> for StockTubeOut<'a> {
    fn from(of: &'a StockTube) -> Self {
        Self {
            od_mm: of.od.map(mm),
            wall_mm: of.wall.map(mm),
            material: of.material.as_deref(),
        }
    }
}

/// All layouts of a plan.
pub(super) fn layouts(plan: &Plan) -> Vec<StickLayoutOut<'_>> {
    let layouts = plan.sticks.iter();
    layouts.map(|own| StickLayoutOut::new(own, plan)).collect()
}

/// The name of a run by its place.
fn name(plan: &Plan, run: usize) -> &str {
    plan.runs.get(run).map_or("", |run| run.name.as_str())
}

impl<'a> StickLayoutOut<'a> {
    fn new(layout: &'a StickLayout, plan: &'a Plan) -> Self {
        let too_long = layout.too_long.iter().map(|piece| TooLongOut {
            run: name(plan, piece.run),
            piece: piece.piece,
            needs_mm: mm(piece.needs),
        });
        let sticks = layout.sticks.iter();
        Self {
            tube: (&layout.tube).into(),
            priced: layout.priced,
            found: layout.found.into(),
            least: layout.least.into(),
            proven: layout.is_proven(),
            gap: layout.gap(),
            bought_mm: mm(layout.bought()),
            used_mm: mm(layout.sum(Stick::used)),
            kerf_loss_mm: mm(layout.sum(Stick::kerf_loss)),
            wedge_loss_mm: mm(layout.sum(Stick::wedge_loss)),
            waste_mm: mm(layout.waste()),
            longest_remnant_mm: mm(layout.longest_remnant()),
            longest_possible_mm: mm(layout.longest_possible),
            sticks: sticks.map(|stick| StickOut::new(stick, plan)).collect(),
            too_long: too_long.collect(),
        }
    }
}

impl From<LayoutCost> for LayoutCostOut {
    fn from(cost: LayoutCost) -> Self {
        Self {
            missing_mm: mm(cost.missing),
            money: cost.money,
            touched_mm: mm(cost.touched),
            sticks: cost.sticks,
        }
    }
}

impl<'a> StickOut<'a> {
    fn new(stick: &'a Stick, plan: &'a Plan) -> Self {
        let (from, item) = match stick.source {
            StickSource::New { stick } => ("new", Some(stick)),
            StickSource::Shelf { leftover } => ("shelf", Some(leftover)),
            StickSource::Missing => ("missing", None),
        };
        let cuts = stick.cuts.iter();
        Self {
            from,
            item,
            length_mm: mm(stick.length),
            used_mm: mm(stick.used()),
            kerf_loss_mm: mm(stick.kerf_loss()),
            wedge_loss_mm: mm(stick.wedge_loss()),
            remnant_mm: mm(stick.remnant),
            kept: stick.kept,
            cuts: cuts.map(|cut| StickCutOut::new(cut, plan)).collect(),
        }
    }
}

impl<'a> StickCutOut<'a> {
    fn new(cut: &SawCut, plan: &'a Plan) -> Self {
        let (drops, own) = match cut.drops {
            Drops::End => ("end", None),
            Drops::Wedge => ("wedge", None),
            Drops::Piece { run, piece, turned } => ("piece", Some((run, piece, turned))),
        };
        Self {
            drops,
            run: own.map(|(run, ..)| name(plan, run)),
            piece: own.map(|(_, piece, _)| piece),
            turned: own.is_some_and(|(.., turned)| turned),
            from_mm: mm(cut.from),
            length_mm: mm(cut.length),
            feed_mm: mm(cut.feed),
            stop_mm: mm(cut.stop),
            rotate_deg: deg(cut.rotate),
            mark_deg: deg(cut.mark),
            angle_deg: deg(cut.angle),
            mates: cut.mates,
            half_turn: cut.is_half_turn(),
            again: cut.again,
        }
    }
}
