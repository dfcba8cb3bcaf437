//! Problems with a planted run: each is solved, for no more than the planted run costs.
//!
//! The whole set, with times: cargo bench --bench planted

#[path = "planted/mod.rs"]
mod planted;
mod support;

use planted::known::known;
use planted::{Kind, Problem};
use runwright::route::{Candidate, Solution, Task, solve};
use runwright::units::Angle;

/// One problem in so many of each kind is solved here.
const EVERY: usize = 8;
/// Part by which an answer may cost more than the planted run.
const DEARER: f64 = 1e-3;
/// Part by which half of the answers may cost more than the best known.
const MEDIAN: f64 = 0.01;
/// Cuts this near to each other are one saw setting.
const SAME_SETTING: Angle = Angle::from_degrees(1e-4);

/// Ratios of the answers' costs to the best known, sorted; fails on the first problem of
/// `kind` that is not solved as it should be.
fn ratios(kind: Kind) -> Vec<f64> {
    let known = known();
    let mut ratios: Vec<f64> = (0..kind.count())
        .step_by(EVERY)
        .map(|number| {
            let problem = planted::problem(kind, number);
            let best = known.get(&problem.name).expect("every problem is known");
            answer(&problem).best.cost.rank / best.best
        })
        .collect();
    ratios.sort_by(f64::total_cmp);
    ratios
}

/// The answer to a problem, all of it checked.
fn answer(problem: &Problem) -> Solution {
    let solution = solve(&problem.task).unwrap_or_else(|none| panic!("{}: {none:?}", problem.name));
    let (found, planted) = (solution.best.cost.rank, problem.planted.cost.rank);
    assert!(
        found <= planted * (1.0 + DEARER),
        "{}: {found} is more than {planted}",
        problem.name
    );
    check(&problem.name, &problem.task, &solution.best);
    for (alternative, _) in &solution.alternatives {
        check(&problem.name, &problem.task, alternative);
    }
    solution
}

/// `candidate` is accepted once more, and costs what it said.
fn check(name: &str, task: &Task, candidate: &Candidate) {
    let again = task
        .candidate(candidate.route.clone())
        .unwrap_or_else(|rejection| panic!("{name}: {rejection:?}"));
    assert_eq!(again.cost, candidate.cost, "{name}");
    if task.one_setting {
        let cuts = candidate.route.bends.iter().map(|bend| bend.cut());
        let (low, high) = cuts.fold((Angle::QUARTER, Angle::ZERO), |(low, high), cut| {
            (low.min(cut), high.max(cut))
        });
        assert!(high - low < SAME_SETTING, "{name}: {low:?} to {high:?}");
    }
}

fn check_kind(kind: Kind) {
    let ratios = ratios(kind);
    let median = ratios[ratios.len() / 2];
    assert!(median <= 1.0 + MEDIAN, "{}: {ratios:?}", kind.name());
}

#[test]
fn easy_runs_are_found() {
    check_kind(Kind::Easy);
}

#[test]
fn tight_runs_are_found() {
    check_kind(Kind::Tight);
}

#[test]
fn runs_among_solids_are_found() {
    check_kind(Kind::Crowded);
}

#[test]
fn runs_of_one_saw_setting_are_found() {
    check_kind(Kind::OneSetting);
}
