//! How long scans take to read, to index and to ask, and how that grows.
//!
//! Run: cargo bench --bench scan
//!
//! The meshes are those of tests/reference/fetch_meshes.py, in target/meshes or
//! $RUNWRIGHT_MESHES. Without them generated ones of about their size stand in, which is
//! said. All questions are asked on one core; reading and the lattice use all.

#![allow(missing_docs, reason = "criterion's macros make public functions")]

#[path = "../support/mod.rs"]
mod support;

use criterion::{BenchmarkId, Criterion, Throughput, criterion_group, criterion_main};
use runwright::geometry::{Direction, Point, perpendicular};
use runwright::scan::{Drum, Ellipse, Lattice, Mesh, Surface, Wanted, distances, read_mesh};
use runwright::units::{Length, LengthUnit};
use std::hint::black_box;
use std::path::PathBuf;
use std::time::Duration;
use support::Numbers;

/// Questions asked in turn, so that none is answered from memory.
const QUESTIONS: usize = 1000;
/// Radius of the tubes asked for, mm.
const RADIUS: f64 = 20.0;

/// A file and how to read it.
struct Scan {
    name: &'static str,
    file: String,
    bytes: Vec<u8>,
    unit: LengthUnit,
}

impl Scan {
    fn read(&self) -> Mesh {
        let wanted = Wanted::all(Length::from_unit(1.0, self.unit));
        let reading = read_mesh(&self.file, &self.bytes[..], &wanted);
        reading.expect("a whole file").mesh
    }
}

/// The public meshes, or what stands in for them.
fn scans() -> [Scan; 2] {
    [
        scan("dragon, 871,414 triangles", "dragon.ply.gz", 660),
        scan("motorcycle, 331,653 triangles", "motorBike.obj.gz", 407),
    ]
}

fn scan(name: &'static str, file: &str, squares: u32) -> Scan {
    let usual = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/meshes");
    let folder = std::env::var_os("RUNWRIGHT_MESHES").map_or(usual, PathBuf::from);
    match std::fs::read(folder.join(file)) {
        Ok(bytes) => Scan {
            name,
            file: file.to_owned(),
            bytes,
            unit: LengthUnit::M,
        },
        Err(error) => {
            eprintln!(
                "\n*** NOT THE {name}: {file}: {error}.\n*** A generated mesh stands in; \
                 run tests/reference/fetch_meshes.py target/meshes\n"
            );
            Scan {
                name: "generated",
                file: "bumps.stl".to_owned(),
                bytes: bumps(squares),
                unit: LengthUnit::Mm,
            }
        }
    }
}

/// A binary STL of a bumpy sheet of `squares` by `squares`, 500 mm wide.
fn bumps(squares: u32) -> Vec<u8> {
    let step = 500.0 / f64::from(squares);
    let corner = |i: u32, j: u32| {
        let (x, y) = (f64::from(i) * step, f64::from(j) * step);
        let z = 30.0 * (x / 40.0).sin() * (y / 55.0).cos() + 4.0 * (x / 7.0 + y / 9.0).sin();
        [x, y, z].map(|number| number as f32)
    };
    let mut bytes = vec![b' '; 80];
    bytes.extend((2 * squares * squares).to_le_bytes());
    for (i, j) in (0..squares).flat_map(|j| (0..squares).map(move |i| (i, j))) {
        let [a, b, c, d] = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(x, y)| corner(i + x, j + y));
        for triangle in [[a, b, c], [b, d, c]] {
            bytes.extend([0; 12]);
            bytes.extend(triangle.into_iter().flatten().flat_map(f32::to_le_bytes));
            bytes.extend([0; 2]);
        }
    }
    bytes
}

/// Places at `low` to `high` mm from places of a mesh, and others near by: where a segment
/// or tube may run from and to.
fn places(mesh: &Mesh, low: f64, high: f64) -> Vec<[Point; 2]> {
    let mut numbers = Numbers::new(7);
    let place = |_| {
        let triangle = numbers.between(0.0, mesh.triangles.len() as f64) as usize;
        let away = numbers.direction().into_inner() * numbers.between(low, high);
        let start = mesh.corners(triangle)[0] + away;
        let along = numbers.direction().into_inner() * numbers.between(10.0, 80.0);
        [start, start + along]
    };
    (0..QUESTIONS).map(place).collect()
}

fn tube([start, end]: [Point; 2]) -> Drum {
    let axis = Direction::new_normalize(end - start);
    let u = perpendicular(&axis);
    let half = [u.into_inner(), axis.cross(&u)].map(|half| half * RADIUS);
    Drum {
        ends: [start, end].map(|center| Ellipse { center, half }),
    }
}

fn reading(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("scan");
    group.sample_size(10);
    for scan in scans() {
        group.bench_function(BenchmarkId::new("read", scan.name), |b| {
            b.iter(|| scan.read());
        });
        let mesh = scan.read();
        group.bench_function(BenchmarkId::new("index", scan.name), |b| {
            b.iter_batched(
                || mesh.clone(),
                Surface::new,
                criterion::BatchSize::PerIteration,
            );
        });
    }
    group.finish();
}

fn asking(criterion: &mut Criterion) {
    for scan in scans() {
        let surface = Surface::new(scan.read());
        for (far, low, high) in [("within 2 mm", 0.0, 2.0), ("at 10 to 200 mm", 10.0, 200.0)] {
            let mut group = criterion.benchmark_group(format!("{} questions {far}", QUESTIONS));
            group
                .sample_size(10)
                .throughput(Throughput::Elements(QUESTIONS as u64));
            let places = places(surface.mesh(), low, high);
            group.bench_function(BenchmarkId::new("points", scan.name), |b| {
                b.iter(|| ask(&places, |[start, _]| surface.nearest(&start, f64::INFINITY)));
            });
            group.bench_function(BenchmarkId::new("segments", scan.name), |b| {
                b.iter(|| {
                    ask(&places, |[start, end]| {
                        surface.contact(&Drum::segment(start, end), f64::INFINITY)
                    })
                });
            });
            group.bench_function(BenchmarkId::new("tubes", scan.name), |b| {
                b.iter(|| ask(&places, |ends| surface.contact(&tube(ends), f64::INFINITY)));
            });
            group.finish();
        }
    }
}

fn ask<T>(places: &[[Point; 2]], answer: impl Fn([Point; 2]) -> Option<T>) {
    for &ends in places {
        black_box(answer(black_box(ends)));
    }
}

fn lattices(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("lattice");
    group
        .sample_size(10)
        .measurement_time(Duration::from_secs(8));
    for scan in scans() {
        let surface = Surface::new(scan.read());
        let (min, max) = surface.mesh().bounds().expect("there are points");
        for most in [100_000, 700_000] {
            let lattice = Lattice::filling(&min, &max, most, 0.1);
            let id = BenchmarkId::new(scan.name, most);
            group.bench_function(id, |b| b.iter(|| distances(&surface, &lattice, 1e3)));
        }
    }
    group.finish();
}

fn growth(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("scan by triangles");
    group.sample_size(10);
    for (triangles, squares) in [
        (10_000, 71),
        (100_000, 224),
        (1_000_000, 707),
        (3_000_000, 1225),
    ] {
        let scan = Scan {
            name: "bumps",
            file: "bumps.stl".to_owned(),
            bytes: bumps(squares),
            unit: LengthUnit::Mm,
        };
        group.bench_function(BenchmarkId::new("read", triangles), |b| {
            b.iter(|| scan.read());
        });
        let mesh = scan.read();
        group.bench_function(BenchmarkId::new("index", triangles), |b| {
            b.iter_batched(
                || mesh.clone(),
                Surface::new,
                criterion::BatchSize::PerIteration,
            );
        });
        let surface = Surface::new(mesh);
        eprintln!(
            "scan by triangles/memory/{triangles}: {:.1} MB",
            surface.memory() as f64 / 1e6
        );
        let places = places(surface.mesh(), 0.0, 50.0);
        group.bench_function(BenchmarkId::new("1000 points", triangles), |b| {
            b.iter(|| ask(&places, |[start, _]| surface.nearest(&start, f64::INFINITY)));
        });
        group.bench_function(BenchmarkId::new("1000 tubes", triangles), |b| {
            b.iter(|| ask(&places, |ends| surface.contact(&tube(ends), f64::INFINITY)));
        });
    }
    group.finish();
}

criterion_group!(benches, reading, asking, lattices, growth);
criterion_main!(benches);
