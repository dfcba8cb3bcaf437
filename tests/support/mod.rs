//! Jobs for tests, benches and examples.
#![allow(dead_code, reason = "each user takes what it needs")]

use runwright::geometry::{Direction, Point, Polyline, Vector};
use runwright::route::Task;
use runwright::run::{Allowance, Port, Run};
use runwright::tube::Tube;
use runwright::units::Length;

/// A small linear congruential generator: the same numbers on every platform.
/// Constants: Knuth's MMIX.
#[derive(Clone)]
pub struct Numbers(u64);

impl Numbers {
    pub fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// Evenly from `low` to `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + (high - low) * (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A normal number of mean 0 and deviation 1, by Box and Muller's transform.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.between(f64::MIN_POSITIVE, 1.0).ln()).sqrt();
        radius * self.between(0.0, std::f64::consts::TAU).cos()
    }

    /// Evenly over the sphere.
    pub fn direction(&mut self) -> Direction {
        loop {
            let mut axis = || self.between(-1.0, 1.0);
            let v = Vector::new(axis(), axis(), axis());
            if (0.01..1.0).contains(&v.norm()) {
                return Direction::new_normalize(v);
            }
        }
    }
}

pub fn tube() -> Tube {
    Tube::new(Length::from_inches(2.5), Length::from_inches(0.065), "304").expect("a real tube")
}

pub fn port(name: &str, center: [f64; 3], outward: [f64; 3]) -> Port {
    Port {
        straight: Length::from_inches(0.5),
        ..Port::new(
            name,
            Point::from(center),
            Direction::new_normalize(Vector::from(outward)),
        )
    }
}

/// The run of `tube` along `points`, with ports that face along its ends.
pub fn run_along(tube: &Tube, points: Vec<Point>) -> (Run, Port, Port) {
    let centerline = Polyline::new(points).expect("edges have length");
    let (ends, directions) = (centerline.points(), centerline.directions());
    let (first, last) = (directions[0], directions[directions.len() - 1]);
    let start = Port::new("start", ends[0], first);
    let end = Port::new("end", ends[ends.len() - 1], -last);
    let run = Run::new(tube, &start, &end, centerline, Allowance::default());
    (run.expect("every edge is long enough"), start, end)
}

pub fn task(start: Port, end: Port) -> Task {
    Task::new(tube(), start, end)
}

/// The smallest job of the README.
pub fn smallest() -> Task {
    let inch = |v: [f64; 3]| v.map(|c| c * 25.4);
    task(
        port("outlet", [0.0; 3], [0.0, 0.0, 1.0]),
        port("exit", inch([8.5, 4.0, 10.0]), [-1.0, 0.0, 0.0]),
    )
}

/// A job between two random ports within half a meter or so: any directions, so
/// some need three bends and a few have no route.
pub fn random(numbers: &mut Numbers) -> Task {
    let mut center = || [(); 3].map(|()| numbers.between(-400.0, 400.0));
    let (a, b) = (center(), center());
    let start = Port::new("a", Point::from(a), numbers.direction());
    let end = Port::new("b", Point::from(b), numbers.direction());
    let straight = Length::from_inches(0.5);
    task(Port { straight, ..start }, Port { straight, ..end })
}
