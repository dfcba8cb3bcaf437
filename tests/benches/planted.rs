//! How many problems with a planted run are solved, how near to the best known cost, and
//! how long it takes.
//!
//! Run: cargo bench --bench planted
//! With another effort: cargo bench --bench planted -- --effort quick|thorough|exhaustive
//! Problems whose name holds a text alone: cargo bench --bench planted -- --only crowded-05
//! Best known costs again, by brute force: cargo bench --bench planted -- --store
//! Where answers are blocked again (changes the problems): cargo bench --bench planted -- --place

#[path = "../planted/mod.rs"]
mod planted;
#[path = "../support/mod.rs"]
mod support;

use planted::crowd::{Place, SMALLEST};
use planted::known::{Known, known};
use planted::{Kind, Problem};
use runwright::geometry::{Direction, Segment};
use runwright::route::{Candidate, Control, Effort, Progress, Task, solve_with};
use runwright::run::Run;
use std::io::Write;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Ratio to the planted cost above which a problem is listed.
const DEAR: f64 = 1.02;
/// Problems listed for their time.
const SLOWEST: usize = 12;
/// Seeds of the thorough searches that best known costs come from. First guesses are
/// scattered only among obstacles; without them, one seed is like another.
const SEEDS: [u64; 3] = [0, 1, 2];
/// One problem in so many is searched exhaustively as well.
const EXHAUSTIVE_EVERY: usize = 10;
/// Local searches after which brute force ends: Exhaustive would go on for minutes.
const MOST_SEARCHES: u32 = 20_000;
/// Difference of cost that counts.
const SAME_COST: f64 = 1e-6;
/// Crowded problems with something in the way: one in so many.
const BLOCKED_EVERY: usize = 2;
/// Places that are blocked in a problem at the most.
const BLOCKED: usize = 3;
/// Step, mm, along an answer in which a place to block it is looked for.
const STEP: f64 = 5.0;

fn main() -> std::io::Result<()> {
    let arguments: Vec<String> = std::env::args().collect();
    let has = |name: &str| arguments.iter().any(|argument| argument == name);
    if has("--place") {
        return place();
    }
    if has("--store") {
        return store();
    }
    let effort = arguments
        .iter()
        .skip_while(|argument| *argument != "--effort")
        .nth(1);
    report(match effort.map(String::as_str) {
        Some("quick") => Effort::Quick,
        Some("thorough") => Effort::Thorough,
        Some("exhaustive") => Effort::Exhaustive,
        _ => Effort::Normal,
    });
    Ok(())
}

/// What a solve came to.
struct Outcome {
    problem: Problem,
    /// Cost, if a run was found.
    rank: Option<f64>,
    best_known: f64,
    searches: u32,
    time: Duration,
    /// Bends and joints found.
    found: String,
}

impl Outcome {
    fn of(problem: Problem, effort: Effort, best_known: f64) -> Self {
        let control = Control {
            effort,
            ..Control::default()
        };
        let begun = Instant::now();
        let solved = solve_with(&problem.task, &control);
        let time = begun.elapsed();
        let solution = solved.as_ref().ok();
        Self {
            rank: solution.map(|solution| solution.best.cost.rank),
            best_known,
            searches: solution.map_or(0, |solution| solution.searches),
            time,
            found: match &solved {
                Ok(solution) => format!("{:?}: {}", solution.stop, made(&solution.best)),
                Err(none) => format!("none; {:?}", none.rejection),
            },
            problem,
        }
    }

    fn to_best(&self) -> Option<f64> {
        Some(self.rank? / self.best_known)
    }

    fn to_planted(&self) -> Option<f64> {
        Some(self.rank? / self.problem.planted.cost.rank)
    }

    fn line(&self) -> String {
        format!(
            "  {} {:.2} s, {} searches; planted {:.2}: {}; {} obstacles; found {}: {}",
            self.problem.name,
            self.time.as_secs_f64(),
            self.searches,
            self.problem.planted.cost.rank,
            made(&self.problem.planted),
            self.problem.task.obstacles.len(),
            self.rank
                .map_or("-".to_owned(), |rank| format!("{rank:.2}")),
            self.found,
        )
    }
}

/// Bends as turn/joints/CLR, with the least straight.
fn made(candidate: &Candidate) -> String {
    let bends = candidate.route.bends.iter().map(|bend| {
        format!(
            "{:.1}°/{}/{:.0}",
            bend.turn.degrees(),
            bend.joints(),
            bend.clr.mm()
        )
    });
    let straights = candidate.route.straights();
    let straights = straights.iter().map(|s| format!("{:.1}", s.mm()));
    format!(
        "{} straights {} setups {}",
        bends.collect::<Vec<_>>().join(" "),
        straights.collect::<Vec<_>>().join(" "),
        candidate.cost.setups
    )
}

fn report(effort: Effort) {
    let known = known();
    let mut outcomes = Vec::new();
    let only = std::env::args()
        .skip_while(|argument| argument != "--only")
        .nth(1);
    for problem in planted::all() {
        if only
            .as_ref()
            .is_some_and(|only| !problem.name.contains(only.as_str()))
        {
            continue;
        }
        let best = known.get(&problem.name).map(|known| known.best);
        let best = best.unwrap_or(problem.planted.cost.rank);
        outcomes.push(Outcome::of(problem, effort, best));
    }
    table(&outcomes);
    list("unsolved", &outcomes, |outcome| outcome.rank.is_none());
    list(
        "dearer than planted by more than 2 %",
        &outcomes,
        |outcome| outcome.to_planted().is_some_and(|ratio| ratio > DEAR),
    );
    list(
        "dearer than best known by more than 2 %",
        &outcomes,
        |outcome| outcome.to_best().is_some_and(|ratio| ratio > DEAR),
    );
    outcomes.sort_by_key(|outcome| std::cmp::Reverse(outcome.time));
    outcomes.truncate(SLOWEST);
    list("slowest", &outcomes, |_| true);
}

fn list(title: &str, outcomes: &[Outcome], is_listed: impl Fn(&Outcome) -> bool) {
    let listed: Vec<&Outcome> = outcomes
        .iter()
        .filter(|outcome| is_listed(outcome))
        .collect();
    println!("\n{title}: {}", listed.len());
    for outcome in listed {
        println!("{}", outcome.line());
    }
}

fn table(outcomes: &[Outcome]) {
    println!(
        "{:<12} {:>8} {:>8} | cost/best known: {:>7} {:>7} {:>7} | s: {:>6} {:>6} {:>6} | searches",
        "kind", "problems", "solved", "median", "90 %", "worst", "median", "99 %", "worst"
    );
    for kind in Kind::ALL {
        let of_kind = |outcome: &&Outcome| outcome.problem.kind == kind;
        row(kind.name(), outcomes.iter().filter(of_kind).collect());
    }
    row("all", outcomes.iter().collect());
}

fn row(name: &str, outcomes: Vec<&Outcome>) {
    let ratios = sorted(outcomes.iter().filter_map(|outcome| outcome.to_best()));
    let times = sorted(outcomes.iter().map(|outcome| outcome.time.as_secs_f64()));
    let searches: u32 = outcomes.iter().map(|outcome| outcome.searches).sum();
    let solved = 100.0 * ratios.len() as f64 / outcomes.len() as f64;
    println!(
        "{name:<12} {:>8} {solved:>6.1} % | {:>24.4} {:>7.4} {:>7.4} | {:>9.3} {:>6.3} {:>6.3} | {searches}",
        outcomes.len(),
        at(&ratios, 0.5),
        at(&ratios, 0.9),
        at(&ratios, 1.0),
        at(&times, 0.5),
        at(&times, 0.99),
        at(&times, 1.0),
    );
}

fn sorted(values: impl Iterator<Item = f64>) -> Vec<f64> {
    let mut values: Vec<f64> = values.collect();
    values.sort_by(f64::total_cmp);
    values
}

/// The value below which `part` of the sorted `values` lie.
fn at(values: &[f64], part: f64) -> f64 {
    let last = values.len().saturating_sub(1) as f64;
    values
        .get((last * part).round() as usize)
        .copied()
        .unwrap_or(f64::NAN)
}

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/planted")
        .join(name)
}

/// Finds the best known costs by brute force, afresh: costs known before were counted by
/// the rates of their day.
fn store() -> std::io::Result<()> {
    let mut out = std::fs::File::create(file("best_known.csv"))?;
    writeln!(
        out,
        "# Cheapest run known for each planted problem, and what found it."
    )?;
    writeln!(out, "# Written by: cargo bench --bench planted -- --store")?;
    writeln!(
        out,
        "# Thorough, among obstacles with the seeds {SEEDS:?}, and for every {EXHAUSTIVE_EVERY}th problem"
    )?;
    writeln!(
        out,
        "# exhaustive, each ended after {MOST_SEARCHES} searches."
    )?;
    let mut rows = csv::Writer::from_writer(out);
    for (i, problem) in planted::all().into_iter().enumerate() {
        let begun = Instant::now();
        let best = cheapest(&problem, i % EXHAUSTIVE_EVERY == EXHAUSTIVE_EVERY / 2);
        rows.serialize(&best)?;
        rows.flush()?;
        eprintln!("{} {:.1} s", problem.name, begun.elapsed().as_secs_f64());
    }
    Ok(())
}

fn cheapest(problem: &Problem, is_exhaustive: bool) -> Known {
    let planted = problem.planted.cost.rank;
    let mut best = Known {
        name: problem.name.clone(),
        planted,
        best: planted,
        by: "planted".to_owned(),
    };
    let seeds = if problem.task.obstacles.is_empty() {
        &SEEDS[..1]
    } else {
        &SEEDS
    };
    let thorough = seeds.iter().map(|&seed| (Effort::Thorough, seed));
    let exhaustive = is_exhaustive.then_some((Effort::Exhaustive, 0));
    for (effort, seed) in thorough.chain(exhaustive) {
        let stop = AtomicBool::new(false);
        let watch = |progress: Progress| {
            stop.fetch_or(progress.searches >= MOST_SEARCHES, Ordering::Relaxed);
        };
        let control = Control {
            effort,
            seed,
            stop: Some(&stop),
            watch: Some(&watch),
            ..Control::default()
        };
        let solved = solve_with(&problem.task, &control).ok();
        let rank = solved.map_or(f64::INFINITY, |solution| solution.best.cost.rank);
        if rank < best.best - SAME_COST {
            best.best = rank;
            best.by = format!("{effort:?} {seed}").to_lowercase();
        }
    }
    best
}

/// Finds where the answers to crowded problems would be blocked.
fn place() -> std::io::Result<()> {
    let mut out = std::fs::File::create(file("in_the_way.csv"))?;
    writeln!(
        out,
        "# Where crowded problems block the answers that quick searches give without their"
    )?;
    writeln!(
        out,
        "# other solids: the first answer, then the next, as long as there is room."
    )?;
    writeln!(out, "# Written by: cargo bench --bench planted -- --place")?;
    writeln!(out, "name,x,y,z,along_x,along_y,along_z")?;
    for number in (0..Kind::Crowded.count()).step_by(BLOCKED_EVERY) {
        let (name, task, planted) = planted::uncrowded(number);
        for place in blocked_places(number, &task, &planted) {
            let (at, along) = (place.at, place.along);
            writeln!(
                out,
                "{name},{:.3},{:.3},{:.3},{:.6},{:.6},{:.6}",
                at.x, at.y, at.z, along.x, along.y, along.z
            )?;
        }
    }
    Ok(())
}

/// A place on the first answer, then one on the next, given what stands at the first…
fn blocked_places(number: usize, task: &Task, planted: &Candidate) -> Vec<Place> {
    let mut places = Vec::new();
    while places.len() < BLOCKED {
        let blocked = Task {
            obstacles: planted::blockers(number, task, planted, &places),
            ..task.clone()
        };
        match blocked_place(&blocked, &planted.run) {
            Some(place) => places.push(place),
            None => break,
        }
    }
    places
}

/// The place of a quick answer to `task` that is farthest from the planted `run`; `None`
/// where nothing fits between the two.
fn blocked_place(task: &Task, run: &Run) -> Option<Place> {
    let quick = Control {
        effort: Effort::Quick,
        ..Control::default()
    };
    let answer = solve_with(task, &quick).ok()?.best;
    let distance = |place: &Place| {
        let ball = Segment {
            start: place.at,
            end: place.at,
        };
        let edges = run.centerline().edges();
        edges
            .map(|edge| edge.closest_points(&ball).distance().mm())
            .fold(f64::INFINITY, f64::min)
    };
    let (farthest, place) = places(&answer.run)
        .map(|place| (distance(&place), place))
        .max_by(|a, b| a.0.total_cmp(&b.0))?;
    (farthest > task.tube.radius().mm() + SMALLEST).then_some(place)
}

fn places(run: &Run) -> impl Iterator<Item = Place> {
    run.centerline().edges().flat_map(|edge| {
        let steps = (edge.length().mm() / STEP) as usize;
        let along = edge.direction();
        (1..steps).filter_map(move |step| {
            let part = step as f64 / steps as f64;
            let along: Direction = along?;
            let at = edge.start + (edge.end - edge.start) * part;
            Some(Place { at, along })
        })
    })
}
