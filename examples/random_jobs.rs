//! Solves random two-port jobs and reports how many have a route, how long they
//! take and how exactly they close.
//!
//! Run: cargo run --release --example random_jobs -- 1000 [quick|normal|thorough]

#[path = "../tests/support/mod.rs"]
mod support;

use runwright::route::{Control, Effort, solve_with};
use std::time::{Duration, Instant};

fn main() {
    let count = std::env::args()
        .nth(1)
        .and_then(|n| n.parse().ok())
        .unwrap_or(1000);
    let effort = match std::env::args().nth(2).as_deref() {
        Some("quick") => Effort::Quick,
        Some("thorough") => Effort::Thorough,
        Some("exhaustive") => Effort::Exhaustive,
        _ => Effort::Normal,
    };
    let control = Control {
        effort,
        ..Control::default()
    };
    let mut numbers = support::Numbers::new(1);
    let mut times: Vec<Duration> = Vec::new();
    let mut failed: Vec<(usize, Duration)> = Vec::new();
    let mut bends = [0; 6];
    let (mut searches, mut money) = (0, 0.0);
    for i in 0..count {
        let task = support::random(&mut numbers);
        let begun = Instant::now();
        match solve_with(&task, &control) {
            Ok(solution) => {
                times.push(begun.elapsed());
                bends[solution.best.route.bends.len()] += 1;
                searches += solution.searches;
                money += solution.best.cost.money;
            }
            Err(_) => failed.push((i, begun.elapsed())),
        }
    }
    times.sort();
    let at = |part: f64| times[((times.len() - 1) as f64 * part) as usize];
    println!(
        "{} of {count} have a route; bends 0/1/2/3: {bends:?}; {searches} searches",
        times.len()
    );
    println!(
        "solved: median {:.2?}, 90 % {:.2?}, 99 % {:.2?}, worst {:.2?}",
        at(0.5),
        at(0.9),
        at(0.99),
        at(1.0)
    );
    println!("mean cost {:.3}", money / times.len() as f64);
    let slowest = failed.iter().map(|(_, time)| *time).max();
    println!(
        "without a route: {:?}; slowest explanation {slowest:.2?}",
        failed.iter().map(|(i, _)| i).collect::<Vec<_>>()
    );
}
