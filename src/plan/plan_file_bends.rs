//! What a plan's file says its stock bends are made from.
//!
//! Nothing of a run's shape hangs on it: what an older file does not say, or what cannot be
//! right, is not known, and paper then does not say what is sawn.

use super::plan_file::LONGEST_TEXT;
use crate::run::Run;
use crate::shop::BoughtBend;
use crate::tube::StockBend;
use crate::units::{Angle, Length};
use serde_json::Value;

/// Longest leg that is believed, mm.
const LONGEST_LEG: f64 = 1e5;
/// Turn by which digits that were left out may make a bend less than its piece.
const OFF_TURN: Angle = Angle::from_degrees(1e-4);

/// Those of `run`, which is `value`.
pub(super) fn bought_bends(value: &Value, run: &Run) -> Vec<BoughtBend> {
    let listed = value.get("bends").and_then(Value::as_array);
    let bent = run.pieces().iter().enumerate();
    let bent = bent.filter(|(_, placed)| placed.piece.bent().is_some());
    let numbers = bent.map(|(i, _)| i + 1);
    let both = listed.into_iter().flatten().zip(numbers);
    both.filter_map(|(value, piece)| bought(value, piece, run))
        .collect()
}

fn bought(value: &Value, number: usize, run: &Run) -> Option<BoughtBend> {
    let listed = value.get("piece").and_then(Value::as_u64);
    if listed != u64::try_from(number).ok() {
        return None;
    }
    let piece = run.pieces().get(number.checked_sub(1)?)?;
    let piece = piece.piece.bent()?;
    let name = value.get("stock")?.as_str()?;
    if name.chars().any(char::is_control) || name.chars().nth(LONGEST_TEXT).is_some() {
        return None;
    }
    let number_of = |key: &str| value.get(key)?.as_f64();
    let stock = StockBend {
        name: name.to_owned(),
        od: piece.tube.od(),
        clr: piece.clr,
        turn: Angle::from_degrees(number_of("bought_turn_deg")?),
        leg: Length::from_mm(number_of("bought_leg_mm")?),
        price: 0.0,
        count: None,
    };
    let fits = stock.check().is_ok()
        && stock.leg.mm() <= LONGEST_LEG
        && stock.turn >= piece.turn - OFF_TURN;
    fits.then_some(BoughtBend {
        piece: number,
        stock,
    })
}
