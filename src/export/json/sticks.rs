//! Sticks in `plan.json`: what the shop has, and which pieces are cut from what.

use super::numbers::{deg, mm};
use super::task::TubeOut;
use crate::plan::Plan;
use crate::shop::{
    Drops, LayoutCost, SawCut, Stick, StickLayout, StickSource, StickStock, StockTube,
};
use crate::units::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// What the shop cuts its tube from, as it is needed to lay out again.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StickStock", deny_unknown_fields)]
pub(super) struct StickStockOut<'a> {
    /// Width of metal that the saw takes.
    kerf_mm: f64,
    /// Shortest leftover worth putting back on the shelf.
    least_leftover_mm: f64,
    /// Lengths that are bought.
    sticks: Vec<StockStickOut<'a>>,
    /// Leftovers, each there once.
    shelf: Vec<LeftoverOut<'a>>,
}

/// A length that tube is bought in.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StockStick", deny_unknown_fields)]
struct StockStickOut<'a> {
    /// Its length.
    length_mm: f64,
    /// Money for one; null where length counts, not money.
    price: Option<f64>,
    /// How many there are; null for as many as it takes.
    count: Option<u32>,
    #[serde(flatten)]
    of: StockTubeOut<'a>,
}

/// A leftover on the shelf.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Leftover", deny_unknown_fields)]
struct LeftoverOut<'a> {
    /// Its length at its shortest side.
    length_mm: f64,
    #[serde(flatten)]
    of: StockTubeOut<'a>,
}

/// Of which tubes a stick is; null for any.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StockTube", deny_unknown_fields)]
struct StockTubeOut<'a> {
    /// Outside diameter; null for any.
    od_mm: Option<f64>,
    /// Wall; null for any.
    wall_mm: Option<f64>,
    /// Material; null for any.
    material: Option<&'a str>,
}

/// The sticks of one tube.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StickLayout", deny_unknown_fields)]
pub(super) struct StickLayoutOut<'a> {
    /// The tube.
    tube: TubeOut<'a>,
    /// Whether money is by prices; else it is length in mm.
    priced: bool,
    /// What this layout costs.
    found: LayoutCostOut,
    /// What every layout costs at least.
    least: LayoutCostOut,
    /// Whether nothing costs less than this layout.
    proven: bool,
    /// Part of the money, 0 to 1, that a better layout might save at most. No root gap.
    gap: f64,
    /// Length of new sticks, missing ones too.
    bought_mm: f64,
    /// Length in pieces, at their centers.
    used_mm: f64,
    /// Length that the saw turns to chips.
    kerf_loss_mm: f64,
    /// Wedges, the slanted ends among them: what is neither in pieces, kerf nor remnant.
    wedge_loss_mm: f64,
    /// What is neither in pieces nor kept: kerf, wedges, and remnants that are too short.
    waste_mm: f64,
    /// Longest remnant.
    longest_remnant_mm: f64,
    /// Longest remnant that any layout on these sticks can leave.
    longest_possible_mm: f64,
    /// Sticks and leftovers that are cut.
    sticks: Vec<StickOut<'a>>,
    /// Pieces that no stick is long enough for.
    too_long: Vec<TooLongOut<'a>>,
}

/// What is least, in this order.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "LayoutCost", deny_unknown_fields)]
struct LayoutCostOut {
    /// Length of sticks that are missing.
    missing_mm: f64,
    /// Money of new sticks, missing ones too; their length in mm where 'priced' is false.
    money: f64,
    /// Length of leftovers that are cut.
    touched_mm: f64,
    /// Sticks and leftovers that are cut.
    sticks: u32,
}

/// A stick and what is cut from it.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Stick", deny_unknown_fields)]
struct StickOut<'a> {
    /// Where it is from: bought, on the shelf, or missing.
    #[schemars(extend("enum" = ["new", "shelf", "missing"]))]
    from: &'static str,
    /// Which of 'stick_stock.sticks' or 'stick_stock.shelf', from 0; null where it is missing.
    item: Option<usize>,
    /// Its length.
    length_mm: f64,
    /// Length in pieces, at their centers.
    used_mm: f64,
    /// Length that the saw turns to chips.
    kerf_loss_mm: f64,
    /// Wedges, its slanted end among them: what is neither in pieces, kerf nor remnant.
    wedge_loss_mm: f64,
    /// What is left of it.
    remnant_mm: f64,
    /// Whether the remnant is worth putting back.
    kept: bool,
    /// Cuts in order, from its free end.
    cuts: Vec<StickCutOut<'a>>,
}

/// One cut of a stick. Clocks are seen from the free end along the stick.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StickCut", deny_unknown_fields)]
struct StickCutOut<'a> {
    /// What drops off: the stick's own end, waste between two faces at different angles, or a
    /// piece.
    #[schemars(extend("enum" = ["end", "wedge", "piece"]))]
    drops: &'static str,
    /// Name of the piece's run; null where no piece drops off.
    run: Option<&'a str>,
    /// Its number in the run, from 1; null where no piece drops off.
    piece: Option<usize>,
    /// Whether the piece's end comes off first, against the order of flow.
    turned: bool,
    /// Where what drops off begins, at its center, from the stick's first end.
    from_mm: f64,
    /// Length at its center of what drops off, without kerf.
    length_mm: f64,
    /// How far to push the stick, along its center: that length and kerf/cos of the saw angle.
    feed_mm: f64,
    /// From a stop to the saw at the long side of this cut.
    stop_mm: f64,
    /// How far to turn the stick before this cut, clockwise looking along it from its free end.
    rotate_deg: f64,
    /// Clock of this cut's long side, on what drops off, from a line scribed along the stick
    /// through the first cut's.
    mark_deg: f64,
    /// What the saw is set to, off square.
    angle_deg: f64,
    /// Whether the cut also makes the next piece's first face, so that the two mate as cut.
    mates: bool,
    /// Whether the stick is turned by just 180° before this cut.
    half_turn: bool,
    /// Whether saw and stop stay as they were at the cut before, so that alike pieces are cut in
    /// one go.
    again: bool,
}

/// A piece that no stick is long enough for.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "TooLong", deny_unknown_fields)]
struct TooLongOut<'a> {
    /// Name of its run.
    run: &'a str,
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// Length of stick that it takes.
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
