//! How long ports and copies take to fit, and how it grows with what was measured.
//!
//! Run: cargo bench --bench survey

#![allow(missing_docs, reason = "criterion's macros make public functions")]

#[path = "../support/mod.rs"]
mod support;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use runwright::geometry::{CircleFit, Direction, Point, Scatter, Vector, perpendicular};
use runwright::survey::{Observed, Pin, Reading, Readings, Touched, Trace, TubeEnd, survey, trace};
use runwright::units::Length;
use std::f64::consts::TAU;
use std::hint::black_box;
use support::Numbers;

const GOOD_TO: Length = Length::from_mm(0.5);

fn noisy(numbers: &mut Numbers, at: Point) -> Point {
    at + Vector::from_fn(|_, _| 0.5 * numbers.normal())
}

fn readings(all: Vec<Observed>, pins: Vec<Pin>) -> Readings {
    let named = all.into_iter().map(|what| Reading {
        name: String::new(),
        what,
    });
    Readings {
        list: named.collect(),
        pins,
        toward: Some(Vector::z_axis()),
        ..Readings::default()
    }
}

/// Points round a rim of 2.5 in.
fn rim(count: u32) -> Vec<Point> {
    let mut numbers = Numbers::new(u64::from(count));
    let at = |i: u32| {
        let (sin, cos) = (f64::from(i) / f64::from(count) * TAU).sin_cos();
        Point::new(31.75 * cos + 200.0, 31.75 * sin - 80.0, 150.0)
    };
    (0..count).map(|i| noisy(&mut numbers, at(i))).collect()
}

/// Tapes from four pins to center and tip.
fn tapes() -> Readings {
    let mut numbers = Numbers::new(4);
    let (center, tip) = (
        Point::new(200.0, -80.0, 150.0),
        Point::new(200.0, -80.0, 400.0),
    );
    let places = [
        [0.0, 0.0, 0.0],
        [450.0, 0.0, 0.0],
        [0.0, 400.0, 0.0],
        [430.0, 380.0, 250.0],
    ];
    let pins = places.map(|at| Pin {
        name: String::new(),
        at: Point::from(at),
        good_to: Length::ZERO,
    });
    let mut taped =
        |pin: usize, to: Point| Length::from_mm((to - pins[pin].at).norm() + numbers.normal());
    let good_to = Length::from_mm(1.0);
    let mut all = vec![Observed::TipOut {
        out: Length::from_mm(250.0),
        good_to,
    }];
    for pin in 0..4 {
        all.push(Observed::ToCenter {
            pin,
            distance: taped(pin, center),
            good_to,
        });
        all.push(Observed::ToTip {
            pin,
            distance: taped(pin, tip),
            good_to,
        });
    }
    readings(all, pins.to_vec())
}

fn ports(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("port");
    for count in [4, 16, 64, 256] {
        let points = rim(count);
        let on_rim = |&at: &Point| Observed::OnRim {
            at,
            good_to: GOOD_TO,
        };
        let all = readings(points.iter().map(on_rim).collect(), Vec::new());
        group.bench_with_input(BenchmarkId::new("rim points", count), &all, |b, all| {
            b.iter(|| survey(black_box(all)));
        });
        // What a circle alone takes: no deviations, no other readings, nobody blamed.
        group.bench_with_input(
            BenchmarkId::new("circle alone", count),
            &points,
            |b, points| {
                b.iter(|| CircleFit::new(black_box(points)));
            },
        );
    }
    let all = tapes();
    group.bench_function("nine tapes", |b| b.iter(|| survey(black_box(&all))));
    group.finish();
}

/// A tube of pieces of 120 mm that turn by 18° a joint, out of plane.
fn tube(pieces: u32) -> Vec<Point> {
    let mut at = Point::origin();
    let mut vertices = vec![at];
    for i in 0..pieces {
        let (sin, cos) = (f64::from(i) * 0.3).sin_cos();
        at += Vector::new(cos, sin, 0.25 * f64::from(i % 2)).normalize() * 120.0;
        vertices.push(at);
    }
    vertices
}

fn copies(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("copy");
    group.sample_size(10);
    for pieces in [5, 10, 20] {
        let vertices = tube(pieces);
        let mut numbers = Numbers::new(u64::from(pieces));
        let outside = vertices.windows(2).map(|ends| {
            let axis = Direction::new_normalize(ends[1] - ends[0]);
            let first = perpendicular(&axis);
            let touched = (0..8_u32).map(|i| {
                let (sin, cos) = (f64::from(i) * 2.4).sin_cos();
                let side = first.into_inner() * cos + axis.cross(&first) * sin;
                let at = ends[0] + (ends[1] - ends[0]) * (0.1 + 0.1 * f64::from(i)) + side * 31.75;
                noisy(&mut numbers, at)
            });
            touched.collect()
        });
        let touched = Touched::Pieces(outside.collect());
        let end = |at: Point, from: Point| TubeEnd {
            center: at,
            outward: Direction::new_normalize(from - at),
            scatter: Scatter::none(),
        };
        let last = vertices.len() - 1;
        let order = Trace {
            ends: [
                end(vertices[0], vertices[1]),
                end(vertices[last], vertices[last - 1]),
            ],
            radius: Length::from_mm(31.75),
            touched,
            accuracy: GOOD_TO,
        };
        assert!(trace(&order).is_ok(), "{:?}", trace(&order).err());
        group.bench_with_input(BenchmarkId::new("pieces", pieces), &order, |b, order| {
            b.iter(|| trace(black_box(order)));
        });
    }
    group.finish();
}

criterion_group!(benches, ports, copies);
criterion_main!(benches);
