//! How long planning and drawing take, and how it grows.
//!
//! Run: cargo bench

#![allow(missing_docs, reason = "criterion's macros make public functions")]

#[path = "../support/mod.rs"]
mod support;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use runwright::geometry::Point;
use runwright::job::read_job;
use runwright::plan::plan;
use runwright::route::{shortest, solve};
use runwright::run::Run;
use runwright::tube::{Facets, Outline};
use runwright::units::{Angle, Length};
use std::hint::black_box;
use std::time::Duration;

const SMALLEST: &str = include_str!("../../examples/stack.json");

/// A helix of `pieces` pies: every joint turned and clocked.
fn helix(pieces: u32) -> Run {
    let point = |i: u32| {
        let (sin, cos) = Angle::from_degrees(18.0 * f64::from(i)).sin_cos();
        Point::new(150.0 * cos, 150.0 * sin, 8.0 * f64::from(i))
    };
    support::run_along(&support::tube(), (0..=pieces).map(point).collect()).0
}

fn planning(criterion: &mut Criterion) {
    criterion.bench_function("read job", |b| {
        b.iter(|| read_job(black_box(SMALLEST.as_bytes()), "stack"));
    });
    let job = read_job(SMALLEST.as_bytes(), "stack")
        .job
        .expect("the example is right");
    criterion.bench_function("plan smallest job", |b| b.iter(|| plan(black_box(&job))));
    let mut group = criterion.benchmark_group("plan random jobs");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(20));
    let mut numbers = support::Numbers::new(1);
    let tasks: Vec<_> = (0..100).map(|_| support::random(&mut numbers)).collect();
    group.bench_function("100", |b| {
        b.iter(|| tasks.iter().filter(|task| solve(task).is_ok()).count());
    });
    group.finish();
}

/// The shortest arcs from a fixed number of first guesses, as bends and with them
/// variables are added: 2, 5, 8, 11.
fn searching(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("shortest arcs by bends");
    let task = support::smallest();
    for bends in 2..=5_usize {
        group.bench_with_input(BenchmarkId::from_parameter(bends), &bends, |b, &bends| {
            b.iter(|| shortest(&task.start, &task.end, &task.limits, black_box(bends)));
        });
    }
    group.finish();
}

fn drawing(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("unroll and mesh by pieces");
    for pieces in [10, 40, 160] {
        let run = helix(pieces);
        group.bench_with_input(BenchmarkId::new("unroll", pieces), &run, |b, run| {
            b.iter(|| {
                let pieces = run
                    .pieces()
                    .iter()
                    .filter_map(|placed| placed.piece.straight());
                let outlines = pieces.map(|piece| {
                    let outline = Outline::new(piece, Angle::ZERO, Length::ZERO);
                    (outline.start_curve(), outline.end_curve())
                });
                outlines.map(black_box).count()
            });
        });
        let facets = Facets::within(run.tube().radius(), Length::from_mm(0.05));
        group.bench_with_input(BenchmarkId::new("mesh", pieces), &run, |b, run| {
            b.iter(|| run.mesh(black_box(facets), false));
        });
    }
    group.finish();
}

criterion_group!(benches, planning, searching, drawing);
criterion_main!(benches);
