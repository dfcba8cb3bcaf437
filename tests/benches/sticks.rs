//! How long stick layouts take and what they save, beside what a shop does by hand: the
//! longest piece first, each on the first stick that still has room for it (first fit
//! decreasing).
//!
//! Run: cargo bench --bench sticks

#![allow(missing_docs, reason = "criterion's macros make public functions")]

#[path = "../support/mod.rs"]
mod support;

use criterion::{BenchmarkId, Criterion, criterion_group, criterion_main};
use runwright::geometry::Point;
use runwright::run::Run;
use runwright::shop::{Leftover, StickLayout, StickStock, StockStick, StockTube, lay_out};
use runwright::units::Length;
use std::hint::black_box;

const KERF: f64 = 1.6;
const PIECES: usize = 60;
const STICKS: [f64; 3] = [3000.0, 4000.0, 6000.0];

/// A shop's problem: square pieces and leftovers.
struct Case {
    lengths: Vec<f64>,
    sticks: Vec<f64>,
    shelf: Vec<f64>,
}

impl Case {
    /// Sixty pieces of `kinds` kinds, sticks of up to three lengths, ten leftovers.
    fn new(numbers: &mut support::Numbers, kinds: usize) -> Self {
        let sizes: Vec<f64> = (0..kinds).map(|_| numbers.between(60.0, 1900.0)).collect();
        let pick = |numbers: &mut support::Numbers| {
            let at = numbers.between(0.0, kinds as f64) as usize;
            sizes[at.min(kinds - 1)]
        };
        let sticks = 1 + numbers.between(0.0, 3.0) as usize;
        Self {
            lengths: (0..PIECES).map(|_| pick(numbers)).collect(),
            sticks: STICKS[3 - sticks.min(3)..].to_vec(),
            shelf: (0..10).map(|_| numbers.between(100.0, 1500.0)).collect(),
        }
    }

    fn runs(&self) -> Vec<Run> {
        let run = |&length: &f64| {
            let line = vec![Point::origin(), Point::new(length, 0.0, 0.0)];
            support::run_along(&support::tube(), line).0
        };
        self.lengths.iter().map(run).collect()
    }

    fn stock(&self) -> StickStock {
        let stick = |&length: &f64| StockStick {
            length: Length::from_mm(length),
            price: None,
            count: None,
            of: StockTube::default(),
        };
        let leftover = |&length: &f64| Leftover {
            length: Length::from_mm(length),
            of: StockTube::default(),
        };
        StickStock {
            sticks: self.sticks.iter().map(stick).collect(),
            shelf: self.shelf.iter().map(leftover).collect(),
            ..StickStock::default()
        }
    }

    fn laid_out(&self, runs: &[Run]) -> StickLayout {
        let runs: Vec<&Run> = runs.iter().collect();
        let layouts = lay_out(&runs, Length::from_mm(KERF), &self.stock(), &[]);
        layouts.into_iter().next().expect("one tube")
    }

    /// Leftovers from the shortest on, then sticks of the one length that takes least:
    /// length of new sticks, length of leftovers touched.
    fn first_fit_decreasing(&self) -> (f64, f64) {
        let mut lengths = self.lengths.clone();
        lengths.sort_by(|a, b| b.total_cmp(a));
        let mut shelf = self.shelf.clone();
        shelf.sort_by(f64::total_cmp);
        let fill = |stick: f64| {
            let mut rooms: Vec<f64> = shelf.iter().map(|length| length - KERF).collect();
            let mut bought = 0.0;
            for length in lengths.iter().map(|length| length + KERF) {
                match rooms.iter_mut().find(|room| **room >= length) {
                    Some(room) => *room -= length,
                    None => {
                        rooms.push(stick - KERF - length);
                        bought += stick;
                    }
                }
            }
            let cut = shelf.iter().zip(&rooms);
            let touched = cut.filter(|(length, room)| **room < **length - KERF);
            (bought, touched.map(|(length, _)| length).sum())
        };
        let all = self.sticks.iter().map(|&stick| fill(stick));
        all.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or_default()
    }
}

fn sixty_pieces(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("60 pieces, 10 leftovers");
    group.sample_size(10);
    for kinds in [3, 6, 12] {
        let mut numbers = support::Numbers::new(kinds as u64);
        let cases: Vec<Case> = (0..20).map(|_| Case::new(&mut numbers, kinds)).collect();
        compare(&cases, kinds);
        let runs: Vec<Vec<Run>> = cases.iter().map(Case::runs).collect();
        let name = |what: &str| BenchmarkId::new(what, format!("20 cases of {kinds} kinds"));
        group.bench_function(name("laid out"), |b| {
            b.iter(|| {
                let cases = cases.iter().zip(&runs);
                for (case, runs) in cases {
                    black_box(case.laid_out(runs));
                }
            });
        });
        group.bench_function(name("first fit decreasing"), |b| {
            b.iter(|| {
                for case in &cases {
                    black_box(case.first_fit_decreasing());
                }
            });
        });
    }
    group.finish();
}

/// What either buys and touches, and how much of it is proven.
fn compare(cases: &[Case], kinds: usize) {
    let (mut ours, mut by_hand, mut proven, mut slowest) = ([0.0; 2], [0.0; 2], 0, 0.0_f64);
    for case in cases {
        let runs = case.runs();
        let begun = std::time::Instant::now();
        let layout = case.laid_out(&runs);
        slowest = slowest.max(begun.elapsed().as_secs_f64());
        let hand = case.first_fit_decreasing();
        ours = [
            ours[0] + layout.bought().mm(),
            ours[1] + layout.found.touched.mm(),
        ];
        by_hand = [by_hand[0] + hand.0, by_hand[1] + hand.1];
        proven += usize::from(layout.is_proven());
    }
    let meters = |[bought, touched]: [f64; 2]| {
        format!(
            "{:.1} m bought, {:.1} m of leftovers touched",
            bought / 1e3,
            touched / 1e3
        )
    };
    println!(
        "{kinds} kinds: laid out {}, {proven} of {} proven, slowest {slowest:.3} s; first fit decreasing {}",
        meters(ours),
        cases.len(),
        meters(by_hand),
    );
}

criterion_group!(benches, sixty_pieces);
criterion_main!(benches);
