//! The peat pump of `examples/pump` as it really is: a machine of our own invention, from
//! which its scan and the readings of its ports are made, and against which a test holds
//! what comes out. Inches, in the job's frame, unless said.
#![allow(dead_code, reason = "each user takes what it needs")]

use super::support::Numbers;
use nalgebra::{Rotation3, Unit};
use runwright::geometry::{Direction, Point, Vector, across};
use std::fmt::Write;

/// Millimeters in an inch.
pub const INCH: f64 = 25.4;
/// Millimeters in one of the scan's units, a centimeter.
pub const SCAN_UNIT: f64 = 10.0;
/// The tube's outside radius, inches.
pub const RADIUS: f64 = 1.0;
/// Flats round a cylinder of the scan; its corners are on the true surface.
pub const FLATS: u32 = 48;

/// Deviations of a touched point, a tape, a caliper and a mark in the scan, inches.
const POINT: f64 = 0.5 / INCH;
const TAPE: f64 = 1.0 / INCH;
const CALIPER: f64 = 0.1 / INCH;
const MARK: f64 = 0.2 / INCH;

/// What the readings' noise is drawn from.
const SEED: u64 = 41;

/// A part of the machine.
#[derive(Clone, Copy, Debug)]
pub enum Shape {
    /// Least and greatest corner; flat where these agree along an axis.
    Box([f64; 3], [f64; 3]),
    /// A round bar with flat ends: from, to, radius.
    Bar([f64; 3], [f64; 3], f64),
    /// The exhaust stub: a pipe that is open at the end where the port is.
    Stub([f64; 3], f64),
}

/// A named part.
pub struct Part {
    pub group: &'static str,
    pub shape: Shape,
    /// What the run keeps from it.
    pub clearance: f64,
}

/// A port as it really is.
#[derive(Clone, Copy, Debug)]
pub struct TruePort {
    pub center: [f64; 3],
    pub outward: [f64; 3],
}

/// The exhaust stub on the cylinder head.
pub const OUTLET: TruePort = TruePort {
    center: [8.1, 10.05, 16.97],
    outward: [0.04, 1.0, -0.03],
};
/// The pipe to the silencer pit, between the engine and the firewall.
pub const PIT: TruePort = TruePort {
    center: [19.4, 16.6, 3.3],
    outward: [-0.16, -0.05, 1.0],
};
/// Fixed places on the skid that the tape is held to.
pub const PINS: [(&str, [f64; 3]); 4] = [
    ("A", [0.0, 0.0, 0.0]),
    ("B", [26.0, 0.0, 0.0]),
    ("C", [26.0, 24.0, 0.0]),
    ("D", [2.0, 24.0, 7.5]),
];
/// How far the rod's tip is out of the pit's pipe.
pub const TIP: f64 = 12.0;

/// Places that can be told in the scan as on the machine.
pub const MARKS: [(&str, [f64; 3]); 5] = [
    ("block, front corner", [0.0, 0.0, 15.0]),
    ("block, far corner", [16.0, 0.0, 4.0]),
    ("bracket's tip", [14.5, 13.0, 9.0]),
    ("firewall, top", [25.0, -2.0, 24.0]),
    ("firewall, bottom", [25.0, 22.0, 0.0]),
];

impl TruePort {
    pub fn center_mm(&self) -> Point {
        Point::from(self.center.map(|c| c * INCH))
    }

    pub fn direction(&self) -> Direction {
        Direction::new_normalize(Vector::from(self.outward))
    }
}

/// All parts of the machine.
pub fn parts() -> Vec<Part> {
    let part = |group, shape, clearance| Part {
        group,
        shape,
        clearance,
    };
    vec![
        part(
            "block",
            Shape::Box([0.0, 0.0, 4.0], [16.0, 9.0, 15.0]),
            0.375,
        ),
        part(
            "head",
            Shape::Box([1.0, 0.5, 15.0], [15.0, 8.5, 19.0]),
            0.375,
        ),
        part("outlet", Shape::Stub([8.03, 8.3, 17.0225], RADIUS), 0.375),
        part(
            "starter",
            Shape::Bar([4.0, 11.3, 9.0], [12.0, 11.3, 9.0], 2.2),
            0.375,
        ),
        part(
            "loom front",
            Shape::Bar([2.0, 10.0, 13.5], [13.0, 14.6, 13.4], 0.4),
            0.875,
        ),
        part(
            "loom rear",
            Shape::Bar([13.0, 14.6, 13.4], [21.0, 13.5, 14.4], 0.4),
            0.875,
        ),
        part(
            "bracket",
            Shape::Box([13.0, 9.0, 5.0], [14.5, 13.0, 9.0]),
            0.375,
        ),
        part(
            "firewall",
            Shape::Box([25.0, -2.0, 0.0], [25.0, 22.0, 24.0]),
            0.375,
        ),
    ]
}

/// Rotation of the true motion that carries the scan's axes, in mm, into the job's.
pub fn job_from_scan_turn() -> Rotation3<f64> {
    let axis = Unit::new_normalize(Vector::new(0.3, -0.5, 0.8));
    Rotation3::from_axis_angle(&axis, 2.1)
}

/// Its shift, mm, after the rotation.
pub const JOB_FROM_SCAN_SHIFT: [f64; 3] = [312.0, -455.0, 230.0];

/// Where the scan has a place of the job, in the scan's own unit.
pub fn in_scan(at: [f64; 3]) -> [f64; 3] {
    let job = Vector::from(at) * INCH - Vector::from(JOB_FROM_SCAN_SHIFT);
    (job_from_scan_turn().inverse() * job / SCAN_UNIT).into()
}

impl Shape {
    /// Distance of a point from the true surface, inches; negative inside. Where the
    /// scan's flats are, it lies at most [`Shape::sagitta`] deeper.
    pub fn distance(&self, at: &Vector) -> f64 {
        match *self {
            Self::Box(min, max) => {
                let (min, max) = (Vector::from(min), Vector::from(max));
                let out = (min - at).sup(&(at - max));
                out.sup(&Vector::zeros()).norm() + out.max().min(0.0)
            }
            Self::Bar(from, to, radius) => {
                let (from, to) = (Vector::from(from), Vector::from(to));
                bar_distance(at, from, to, radius)
            }
            Self::Stub(from, radius) => {
                bar_distance(at, Vector::from(from), Vector::from(OUTLET.center), radius)
            }
        }
    }

    /// How far the scan's flats lie inside the true surface at most, inches.
    pub fn sagitta(&self) -> f64 {
        match *self {
            Self::Box(..) => 0.0,
            Self::Bar(_, _, radius) | Self::Stub(_, radius) => {
                radius * (1.0 - (std::f64::consts::PI / f64::from(FLATS)).cos())
            }
        }
    }
}

fn bar_distance(at: &Vector, from: Vector, to: Vector, radius: f64) -> f64 {
    let axis = (to - from).normalize();
    let along = (at - from).dot(&axis);
    let across = (at - from - axis * along).norm() - radius;
    let past = (-along).max(along - (to - from).norm());
    across.max(0.0).hypot(past.max(0.0)) + across.max(past).min(0.0)
}

/// The scan, as Wavefront OBJ in centimeters and axes of its own.
pub fn scan() -> String {
    let mut text = String::from("# peat pump, engine bay; centimeters\n");
    let mut count = 0;
    for part in parts() {
        let (points, faces) = mesh(&part.shape);
        let _ = writeln!(text, "g {}", part.group);
        for point in &points {
            let [x, y, z] = in_scan(*point);
            let _ = writeln!(text, "v {x:.4} {y:.4} {z:.4}");
        }
        for face in &faces {
            let numbers: Vec<String> = face.iter().map(|i| (count + i + 1).to_string()).collect();
            let _ = writeln!(text, "f {}", numbers.join(" "));
        }
        count += points.len();
    }
    text
}

type Faces = (Vec<[f64; 3]>, Vec<Vec<usize>>);

fn mesh(shape: &Shape) -> Faces {
    match *shape {
        // The firewall: one sheet without thickness.
        Shape::Box(min, max) if min[0] == max[0] => {
            let corner = |y: f64, z: f64| [min[0], y, z];
            let points = vec![
                corner(min[1], min[2]),
                corner(max[1], min[2]),
                corner(max[1], max[2]),
                corner(min[1], max[2]),
            ];
            (points, vec![vec![0, 1, 2, 3]])
        }
        Shape::Box(min, max) => {
            let pick = |i: usize, axis: usize| {
                if i >> axis & 1 == 0 {
                    min[axis]
                } else {
                    max[axis]
                }
            };
            let points = (0..8)
                .map(|i| [0, 1, 2].map(|axis| pick(i, axis)))
                .collect();
            let faces = [
                [0, 2, 3, 1],
                [4, 5, 7, 6],
                [0, 1, 5, 4],
                [2, 6, 7, 3],
                [0, 4, 6, 2],
                [1, 3, 7, 5],
            ];
            (points, faces.map(Vec::from).into())
        }
        Shape::Bar(from, to, radius) => {
            let axis = Vector::from(to) - Vector::from(from);
            bar(from, to, axis, radius, true)
        }
        Shape::Stub(from, radius) => bar(
            from,
            OUTLET.center,
            Vector::from(OUTLET.outward),
            radius,
            false,
        ),
    }
}

/// A bar whose rings are square to `axis`, with or without a lid on its end.
fn bar(from: [f64; 3], to: [f64; 3], axis: Vector, radius: f64, lid: bool) -> Faces {
    let sides = across(&Direction::new_normalize(axis));
    let n = FLATS as usize;
    let ring = |center: [f64; 3]| {
        (0..n).map(move |i| {
            let (sin, cos) = (std::f64::consts::TAU * i as f64 / n as f64).sin_cos();
            let out = sides[0].into_inner() * cos + sides[1].into_inner() * sin;
            (Vector::from(center) + out * radius).into()
        })
    };
    let points: Vec<[f64; 3]> = ring(from).chain(ring(to)).collect();
    let mut faces: Vec<Vec<usize>> = (0..n)
        .map(|i| vec![i, (i + 1) % n, n + (i + 1) % n, n + i])
        .collect();
    faces.push((0..n).rev().collect());
    if lid {
        faces.push((n..2 * n).collect());
    }
    (points, faces)
}

/// The job, with what was measured of the machine.
pub fn job() -> String {
    let mut shop = Shop(Numbers::new(SEED));
    let rim = shop.rim(&OUTLET, 6);
    let caliper = 2.0 * RADIUS + CALIPER * shop.0.normal();
    let tapes = shop.tapes(&PIT);
    let marks = shop.marks();
    let pins: Vec<String> = PINS
        .iter()
        .map(|(name, at)| format!("\"{name}\": {}", list(*at, 1)))
        .collect();
    let near = list(in_scan(OUTLET.center), 0);
    format!(
        r#"{{
  "name": "peat pump, exhaust to the pit",
  "units": "in",
  "tube": {{ "od": 2, "wall": 0.065, "material": "304" }},
  "pins": {{ {pins} }},
  "ports": {{
    "outlet": {{ "measured": {{
      "rim": [
        {rim}
      ],
      "rim_diameter": {caliper:.3}, "toward": [0, 1, 0] }} }},
    "pit": {{ "measured": {{
      "tape": [
        {tapes}
      ],
      "tip": {TIP}, "near": [19, 17, 3] }} }}
  }},
  "runs": [ {{ "name": "exhaust", "from": "outlet", "to": "pit", "clr": {{ "min": 2.5, "max": 4 }} }} ],
  "scene": {{
    "clearance": "3/8",
    "scans": [ {{
      "name": "bay", "file": "bay.obj", "units": "cm",
      "zones": [ {{ "name": "wiring", "groups": ["loom*"], "clearance": "7/8" }} ],
      "landmarks": [
        {marks}
      ],
      "rims": [ {{ "near": {near}, "port": "outlet" }} ]
    }} ]
  }}
}}
"#,
        pins = pins.join(", "),
        rim = rim.join(",\n        "),
        tapes = tapes.join(",\n        "),
        marks = marks.join(",\n        "),
    )
}

/// Somebody with a square, a caliper and a tape.
struct Shop(Numbers);

impl Shop {
    fn off(&mut self, at: [f64; 3], sigma: f64) -> [f64; 3] {
        at.map(|c| c + sigma * self.0.normal())
    }

    fn rim(&mut self, port: &TruePort, count: u32) -> Vec<String> {
        let sides = across(&port.direction());
        let touch = |i: u32| {
            let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / f64::from(count)).sin_cos();
            let out = sides[0].into_inner() * cos + sides[1].into_inner() * sin;
            (Vector::from(port.center) + out * RADIUS).into()
        };
        (0..count)
            .map(|i| list(self.off(touch(i), POINT), 2))
            .collect()
    }

    fn tapes(&mut self, port: &TruePort) -> Vec<String> {
        let center = Vector::from(port.center);
        let tip = center + port.direction().into_inner() * TIP;
        PINS.iter()
            .map(|(name, at)| {
                let mut read =
                    |to: &Vector| inches((to - Vector::from(*at)).norm() + TAPE * self.0.normal());
                let (center, tip) = (read(&center), read(&tip));
                format!(r#"{{ "pin": "{name}", "center": "{center}", "tip": "{tip}" }}"#)
            })
            .collect()
    }

    fn marks(&mut self) -> Vec<String> {
        MARKS
            .iter()
            .map(|(name, at)| {
                let scan = in_scan(self.off(*at, MARK));
                let job = self.off(*at, POINT);
                let (scan, job) = (list(scan, 2), list(job, 2));
                format!(r#"{{ "name": "{name}", "scan": {scan}, "job": {job} }}"#)
            })
            .collect()
    }
}

fn list(at: [f64; 3], decimals: usize) -> String {
    let number = |c: f64| match format!("{c:.decimals$}") {
        // What is rounded to nothing has no sign.
        text if text.trim_matches(['-', '0', '.']).is_empty() => format!("{:.decimals$}", 0.0),
        text => text,
    };
    let [x, y, z] = at.map(number);
    format!("[{x}, {y}, {z}]")
}

/// As a tape reads, to the next thirty-second.
fn inches(value: f64) -> String {
    let parts = (value * 32.0).round() as u64;
    let (whole, rest) = (parts / 32, parts % 32);
    if rest == 0 {
        return whole.to_string();
    }
    let twos = rest.trailing_zeros().min(5);
    format!("{whole} {}/{}", rest >> twos, 32 >> twos)
}
