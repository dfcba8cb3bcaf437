//! `plan.json` again, with the run as it was built and closed.

use super::json::ClosingOut;
use crate::export::json::{ArcOut, JointOut, PieceOut, deg, mm, numbered};
use crate::export::{ExportError, OutFile};
use crate::geometry::{Direction, Point};
use crate::plan::{Closing, Found};
use crate::run::Run;
use crate::tube::{Edge, Sleeve, StockBend};
use serde_json::{Map, Value, json};

/// Keys of a run that still say what was planned, once the others say what was built.
pub(super) const AS_PLANNED: [&str; 12] = [
    "limits",
    "pie_bends",
    "straights_mm",
    "saw",
    "stack_up",
    "obstacles",
    "through",
    "copied",
    "cost",
    "reasons",
    "stopped",
    "searches",
];

/// `plan.json` again, with `run` in the place of the run that was planned: its shape as it
/// was built and closed. What was asked for and what it was to cost stays.
pub fn closing_plan_json(
    plan: &Value,
    closing: &Closing,
    run: &Run,
) -> Result<OutFile, ExportError> {
    const FILE: &str = "plan.json";
    let failed = |reason: &str| ExportError::new(FILE, reason);
    let mut plan = plan.clone();
    let planned = closing
        .plan
        .as_ref()
        .ok_or_else(|| failed("there is no plan"))?;
    let runs = plan.get_mut("runs").and_then(Value::as_array_mut);
    let own = runs.and_then(|runs| {
        let named = |run: &&mut Value| {
            run.get("name").and_then(Value::as_str) == Some(planned.run.name.as_str())
        };
        runs.iter_mut().find(named)
    });
    let own = own.and_then(Value::as_object_mut);
    let own = own.ok_or_else(|| failed("the run is not in it"))?;
    for (key, value) in shape(run, own, &closing.stock) {
        own.insert(key, value);
    }
    let piece = closure_number(closing);
    if let (Some(number), Some(closure)) = (piece, closing.closure())
        && let Some(place) = own
            .get_mut("pieces")
            .and_then(|pieces| pieces.get_mut(number - 1))
    {
        patch_piece(place, &closure.sleeve);
    }
    let out =
        serde_json::to_value(ClosingOut::new(closing)).map_err(|e| ExportError::new(FILE, e))?;
    own.insert("closed".to_owned(), out);
    own.insert("as_planned".to_owned(), json!(AS_PLANNED));
    let mut bytes = serde_json::to_vec_pretty(&plan).map_err(|e| ExportError::new(FILE, e))?;
    bytes.push(b'\n');
    Ok(OutFile::new(FILE, bytes))
}

/// Number of the closing piece among those of the finished run.
pub(super) fn closure_number(closing: &Closing) -> Option<usize> {
    let plan = closing.plan.as_ref()?;
    let Found::Ends(between) = &closing.found else {
        return None;
    };
    Some(if between.ends[0].port.is_some() {
        1
    } else {
        plan.piece
    })
}

/// The keys that say where the run is and what it is made of.
pub(super) fn shape(
    run: &Run,
    old: &Map<String, Value>,
    stock: &[StockBend],
) -> Vec<(String, Value)> {
    let points: Vec<[f64; 3]> = run
        .centerline()
        .points()
        .iter()
        .map(|&p| p.into())
        .collect();
    let (low, high) = run.bounds();
    let ends = run.centerline().ends();
    let names: Vec<&Value> = (0..2)
        .map(|i| {
            old.get("ends")
                .and_then(|ends| ends.get(i)?.get("port"))
                .unwrap_or(&Value::Null)
        })
        .collect();
    let end = |i: usize| {
        let (center, outward): (Point, Direction) = ends[i];
        json!({
            "port": names[i],
            "center_mm": <[f64; 3]>::from(center),
            "outward": <[f64; 3]>::from(outward.into_inner()),
        })
    };
    let pieces = numbered(run.pieces(), 1, PieceOut::new);
    let radius = run.tube().radius();
    let joints = numbered(run.joints(), 0, |number, joint| {
        JointOut::new(number, joint, radius)
    });
    let bends = ArcOut::of(run.pieces(), 1, stock);
    let clearance = run.self_clearance().map(|clearance| mm(clearance.distance));
    let all = json!({
        "vertices_mm": points,
        "box_mm": [<[f64; 3]>::from(low), <[f64; 3]>::from(high)],
        "length_mm": mm(run.length()),
        "cut_length_mm": mm(run.cut_length()),
        "weld_mm": mm(run.weld_length()),
        "ends": [end(0), end(1)],
        "bends": bends,
        "pieces": pieces,
        "joints": joints,
        "clearance_mm": clearance,
    });
    match all {
        Value::Object(all) => all.into_iter().collect(),
        _ => Vec::new(),
    }
}

/// The closing piece as it is cut, which need not be a true miter.
pub(super) fn patch_piece(place: &mut Value, sleeve: &Sleeve) {
    let Some(piece) = place.as_object_mut() else {
        return;
    };
    let cut = |edge: &Edge| match edge {
        Edge::Cut(cut) => Some(deg(cut.angle)),
        Edge::Scribed(_) => None,
    };
    let clock = match (sleeve.start(), sleeve.end()) {
        (Edge::Cut(start), Edge::Cut(end)) => Some(deg((end.clock - start.clock).wrapped())),
        _ => None,
    };
    for (key, value) in [
        ("cut_length_mm", Some(mm(sleeve.length()))),
        ("start_cut_deg", cut(sleeve.start())),
        ("end_cut_deg", cut(sleeve.end())),
        ("clock_deg", clock),
        ("long_mm", Some(mm(sleeve.long_side().0))),
        ("short_mm", Some(mm(sleeve.short_side().0))),
    ] {
        piece.insert(key.to_owned(), json!(value));
    }
}
