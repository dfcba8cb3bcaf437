//! A job whose run has as many pieces as one likes: a tube that winds upward, copied.
#![allow(dead_code, reason = "each user takes what it needs")]

use runwright::geometry::{Point, Polyline};
use runwright::units::Angle;
use serde_json::json;

/// The job file of a run of `pieces` pieces, 63.5 mm tube, 18° a joint, every joint
/// clocked.
pub fn winding_job(pieces: u32) -> String {
    let point = |i: u32| {
        let (sin, cos) = Angle::from_degrees(18.0 * f64::from(i)).sin_cos();
        Point::new(150.0 * cos, 150.0 * sin, 8.0 * f64::from(i))
    };
    let points: Vec<Point> = (0..=pieces).map(point).collect();
    let line = Polyline::new(points.clone()).expect("edges have length");
    let [start, end] = line.ends();
    let port = |(center, outward): (Point, runwright::geometry::Direction)| json!({ "center": center.coords.as_slice(), "outward": outward.as_slice() });
    let joints: Vec<&[f64]> = points[1..points.len() - 1]
        .iter()
        .map(|joint| joint.coords.as_slice())
        .collect();
    json!({
        "name": "winding", "units": "mm",
        "tube": { "od": 63.5, "wall": 1.65, "material": "304" },
        "ports": { "low": port(start), "high": port(end) },
        "runs": [ { "name": "winding", "from": "low", "to": "high", "copy": { "joints": joints } } ],
    })
    .to_string()
}
