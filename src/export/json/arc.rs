//! What `plan.json` says of stock bends.

use super::numbers::{deg, mm};
use crate::plan::PlannedRun;
use crate::route::{Bend, Task};
use crate::run::{Arc, Placed};
use crate::tube::{BentPiece, StockBend};
use crate::units::{Angle, Length};
use schemars::JsonSchema;
use serde::Serialize;

/// Radii and turns of a stock bend and of what is cut from it that are the same.
const SAME_CLR: Length = Length::from_mm(1e-3);

const SAME_TURN: Angle = Angle::from_degrees(1e-3);

/// A stock bend where it stands.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Arc", deny_unknown_fields)]
pub(in crate::export) struct ArcOut<'a> {
    /// Number of the piece in the run, from 1 in order of flow.
    piece: usize,
    /// Name of the stock bend in the job; null where it is not known which it is.
    stock: Option<&'a str>,
    /// Turn of that bend as bought, before it was sawn; null where it is not known.
    bought_turn_deg: Option<f64>,
    /// Each of its legs as bought; null where it is not known.
    bought_leg_mm: Option<f64>,
    /// How far it turns in the run.
    turn_deg: f64,
    /// Centerline radius.
    clr_mm: f64,
    /// Where the axes before and after it meet: x, y, z in the job's frame.
    corner_mm: [f64; 3],
    /// Center of the arc.
    center_mm: [f64; 3],
    /// Where the arc begins, on the centerline; its leg lies before.
    start_mm: [f64; 3],
    /// Where the arc ends, on the centerline.
    end_mm: [f64; 3],
    /// Straight tube past the arc, before it and after it.
    legs_mm: [f64; 2],
}

/// Those of a planned run.
pub(super) fn arcs<'a>(planned: &PlannedRun, task: &'a Task) -> Vec<ArcOut<'a>> {
    let bends = &planned.solution.best.route.bends;
    let items = bends.iter().filter_map(Bend::stock);
    let bent = planned.run().pieces().iter().enumerate();
    let bent = bent.filter_map(|(i, placed)| Some((i, placed.arc?, placed.piece.bent()?)));
    bent.zip(items)
        .map(|((i, arc, piece), item)| ArcOut::new(i + 1, task.stock.get(item), &arc, piece))
        .collect()
}

impl<'a> ArcOut<'a> {
    pub(in crate::export) fn new(
        number: usize,
        stock: Option<&'a StockBend>,
        arc: &Arc,
        piece: &BentPiece,
    ) -> Self {
        Self {
            piece: number,
            stock: stock.map(|bend| bend.name.as_str()),
            bought_turn_deg: stock.map(|bend| deg(bend.turn)),
            bought_leg_mm: stock.map(|bend| mm(bend.leg)),
            turn_deg: deg(piece.turn),
            clr_mm: mm(piece.clr),
            corner_mm: arc.corner.into(),
            center_mm: arc.center().into(),
            start_mm: arc.at(Angle::ZERO).0.into(),
            end_mm: arc.at(piece.turn).0.into(),
            legs_mm: piece.legs.map(mm),
        }
    }

    /// Those of `pieces`, the first of which has number `first`; a stock bend is told by
    /// its radius and turn.
    pub(in crate::export) fn of(
        pieces: &[Placed],
        first: usize,
        stock: &'a [StockBend],
    ) -> Vec<Self> {
        let bent = pieces.iter().enumerate();
        let bent = bent.filter_map(|(i, placed)| Some((i, placed.arc?, placed.piece.bent()?)));
        bent.map(|(i, arc, piece)| {
            let alike = |bend: &&StockBend| {
                let apart = (bend.clr - piece.clr).abs();
                apart <= SAME_CLR && bend.turn >= piece.turn - SAME_TURN
            };
            let nearest = stock.iter().filter(alike).min_by(|a, b| {
                let over = |bend: &StockBend| (bend.turn - piece.turn).radians();
                over(a).total_cmp(&over(b))
            });
            Self::new(i + first, nearest, &arc, piece)
        })
        .collect()
    }
}
