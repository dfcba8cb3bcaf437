//! A job of as many pieces as one likes: tubes that wind upward, copied.
#![allow(dead_code, reason = "each user takes what it needs")]

use runwright::geometry::{Direction, Point, Polyline};
use runwright::units::Angle;
use serde_json::{Map, Value, json};

/// Most pieces of one run: as many joints as a copy may have, less a few.
const MOST: u32 = 30;
/// From one run to the next, mm: clear of each other.
const APART: f64 = 600.0;

/// The job file of `pieces` pieces in runs of 30 and a rest, 63.5 mm tube, 18° a joint,
/// every joint clocked.
pub fn winding_job(pieces: u32) -> String {
    let (mut ports, mut runs) = (Map::new(), Vec::new());
    let counts = (0..pieces)
        .step_by(MOST as usize)
        .map(|first| (pieces - first).min(MOST));
    for (number, count) in counts.enumerate() {
        let (low, high) = (format!("low {number}"), format!("high {number}"));
        let [start, end, joints] = winding(count, APART * number as f64);
        runs.push(
            json!({ "name": format!("winding {number}"), "from": low, "to": high,
                          "copy": { "joints": joints } }),
        );
        ports.insert(low, start);
        ports.insert(high, end);
    }
    json!({
        "name": "winding", "units": "mm",
        "tube": { "od": 63.5, "wall": 1.65, "material": "304" },
        "ports": ports, "runs": runs,
    })
    .to_string()
}

/// Both ports and the joints between them of one run, `aside` along x.
fn winding(pieces: u32, aside: f64) -> [Value; 3] {
    let point = |i: u32| {
        let (sin, cos) = Angle::from_degrees(18.0 * f64::from(i)).sin_cos();
        Point::new(aside + 150.0 * cos, 150.0 * sin, 8.0 * f64::from(i))
    };
    let points: Vec<Point> = (0..=pieces).map(point).collect();
    let line = Polyline::new(points.clone()).expect("edges have length");
    let port = |(center, outward): (Point, Direction)| json!({ "center": center.coords.as_slice(), "outward": outward.as_slice() });
    let [start, end] = line.ends().map(port);
    let joints: Vec<&[f64]> = points[1..points.len() - 1]
        .iter()
        .map(|joint| joint.coords.as_slice())
        .collect();
    [start, end, json!(joints)]
}
