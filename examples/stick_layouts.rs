//! Stick layouts of runs given by numbers: one JSON object a line on the standard input,
//! one a line on the standard output. What the reference checks talk to, and an example
//! of how `shop::lay_out` is used.
//!
//! Run: cargo run --example stick_layouts
//!
//! ```text
//! { "od_mm": 60, "kerf_mm": 2, "sticks": [ { "length_mm": 6000, "price": 90, "count": 3 } ],
//!   "shelf_mm": [ 700 ], "runs": [ { "lengths_mm": [ 200, 90, 300 ], "cuts_deg": [ 9, 7.5 ] } ] }
//! ```
//!
//! A run is a zigzag of edges in a plane, square at both ends, with a miter at the saw
//! angle of `cuts_deg` between neighbors. `price` and `count` may be left out.

use runwright::geometry::{Point, Polyline, Vector};
use runwright::run::{Allowance, Port, Run};
use runwright::shop::{
    Drops, LayoutCost, Leftover, SawCut, Stick, StickLayout, StickSource, StickStock, StockStick,
    StockTube, lay_out,
};
use runwright::tube::Tube;
use runwright::units::{Angle, Length};
use serde::Deserialize;
use serde_json::{Value, json};
use std::io::{self, Write as _};
use std::process::ExitCode;
use std::time::Instant;

#[derive(Deserialize)]
struct Instance {
    od_mm: f64,
    kerf_mm: f64,
    sticks: Vec<StickIn>,
    shelf_mm: Vec<f64>,
    runs: Vec<RunIn>,
}

#[derive(Deserialize)]
struct StickIn {
    length_mm: f64,
    price: Option<f64>,
    count: Option<u32>,
}

#[derive(Deserialize)]
struct RunIn {
    lengths_mm: Vec<f64>,
    cuts_deg: Vec<f64>,
}

fn main() -> ExitCode {
    match answer_all() {
        Ok(()) => ExitCode::SUCCESS,
        Err(problem) => {
            eprintln!("stick_layouts: {problem}");
            ExitCode::FAILURE
        }
    }
}

fn answer_all() -> Result<(), Box<dyn std::error::Error>> {
    let mut out = io::stdout().lock();
    for line in io::stdin().lines() {
        let instance: Instance = serde_json::from_str(&line?)?;
        writeln!(out, "{}", answer(&instance)?)?;
    }
    Ok(())
}

fn answer(instance: &Instance) -> Result<Value, Box<dyn std::error::Error>> {
    let tube = Tube::new(
        Length::from_mm(instance.od_mm),
        Length::from_mm(instance.od_mm / 50.0),
        "304",
    )?;
    let runs: Option<Vec<Run>> = instance.runs.iter().map(|run| zigzag(run, &tube)).collect();
    let runs = runs.ok_or("a run cannot be made")?;
    let runs: Vec<&Run> = runs.iter().collect();
    let begun = Instant::now();
    let layouts = lay_out(
        &runs,
        Length::from_mm(instance.kerf_mm),
        &stock(instance),
        &[],
    );
    let seconds = begun.elapsed().as_secs_f64();
    let layouts: Vec<Value> = layouts.iter().map(layout_out).collect();
    Ok(json!({ "seconds": seconds, "layouts": layouts }))
}

fn stock(instance: &Instance) -> StickStock {
    let sticks = instance.sticks.iter().map(|stick| StockStick {
        length: Length::from_mm(stick.length_mm),
        price: stick.price,
        count: stick.count,
        of: StockTube::default(),
    });
    let shelf = instance.shelf_mm.iter().map(|&length| Leftover {
        length: Length::from_mm(length),
        of: StockTube::default(),
    });
    StickStock {
        sticks: sticks.collect(),
        shelf: shelf.collect(),
        ..StickStock::default()
    }
}

/// Turns one way and the other in a plane.
fn zigzag(run: &RunIn, tube: &Tube) -> Option<Run> {
    let (mut at, mut heading) = (Point::origin(), Angle::ZERO);
    let mut points = vec![at];
    for (i, &length) in run.lengths_mm.iter().enumerate() {
        let (sin, cos) = heading.sin_cos();
        at += Vector::new(cos, sin, 0.0) * length;
        points.push(at);
        let turn = Angle::from_degrees(2.0 * run.cuts_deg.get(i).copied().unwrap_or(0.0));
        heading = if i % 2 == 0 {
            heading + turn
        } else {
            heading - turn
        };
    }
    let centerline = Polyline::new(points)?;
    let [(first, out), (last, back)] = centerline.ends();
    let ports = [Port::new("start", first, out), Port::new("end", last, back)];
    Run::new(tube, &ports[0], &ports[1], centerline, Allowance::default()).ok()
}

fn layout_out(layout: &StickLayout) -> Value {
    json!({
        "found": cost(layout.found),
        "least": cost(layout.least),
        "proven": layout.is_proven(),
        "longest_remnant_mm": layout.longest_remnant().mm(),
        "longest_possible_mm": layout.longest_possible.mm(),
        "sticks": layout.sticks.iter().map(stick_out).collect::<Vec<_>>(),
        "too_long": layout.too_long.len(),
    })
}

fn cost(cost: LayoutCost) -> Value {
    json!({
        "missing_mm": cost.missing.mm(),
        "money": cost.money,
        "touched_mm": cost.touched.mm(),
        "sticks": cost.sticks,
    })
}

fn stick_out(stick: &Stick) -> Value {
    let source = match stick.source {
        StickSource::New { stick } => json!(["new", stick]),
        StickSource::Shelf { leftover } => json!(["shelf", leftover]),
        StickSource::Missing => json!(["missing"]),
    };
    json!({
        "source": source,
        "length_mm": stick.length.mm(),
        "remnant_mm": stick.remnant.mm(),
        "cuts": stick.cuts.iter().map(cut_out).collect::<Vec<_>>(),
    })
}

fn cut_out(cut: &SawCut) -> Value {
    let drops = match cut.drops {
        Drops::End => json!(["end"]),
        Drops::Wedge => json!(["wedge"]),
        Drops::Piece { run, piece, turned } => json!(["piece", run, piece, turned]),
    };
    json!({
        "drops": drops,
        "from_mm": cut.from.mm(),
        "length_mm": cut.length.mm(),
        "feed_mm": cut.feed.mm(),
        "angle_deg": cut.angle.degrees(),
    })
}
