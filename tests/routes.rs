//! Routes against shortest paths computed outside the project, and the cases that
//! a shop meets: straight, offset, U-turn, facing away, too close.

mod support;

use proptest::prelude::*;
use runwright::geometry::{Direction, Point, Vector};
use runwright::route::{
    Control, Effort, Limits, Relaxation, Solution, Stop, Task, shortest, solve, solve_with,
};
use runwright::run::{Port, Run, clearance_between};
use runwright::tube::Tube;
use runwright::units::{Angle, Length};
use support::{port, task};

/// Relative agreement asked of a shortest length.
const RELATIVE: f64 = 1e-6;

fn limits(clr: f64) -> Limits {
    Limits {
        clr_min: Length::from_mm(clr),
        clr_max: Length::from_mm(clr),
        min_short_side: Length::ZERO,
        ..Limits::for_tube(&support::tube())
    }
}

/// A port passed with direction of travel `tangent`: out of the first port, into
/// the last.
fn pass(center: [f64; 3], tangent: [f64; 3], is_end: bool) -> Port {
    let tangent = Direction::new_normalize(Vector::from(tangent));
    let outward = if is_end { -tangent } else { tangent };
    Port::new(
        if is_end { "end" } else { "start" },
        Point::from(center),
        outward,
    )
}

fn check_shortest(
    corners: usize,
    clr: f64,
    start: ([f64; 3], [f64; 3]),
    end: ([f64; 3], [f64; 3]),
    expected: f64,
) {
    let (start, end) = (pass(start.0, start.1, false), pass(end.0, end.1, true));
    let found = shortest(&start, &end, &limits(clr), corners)
        .expect("a route")
        .mm();
    assert!(
        (found / expected - 1.0).abs() < RELATIVE,
        "{start:?} → {end:?}: {found} instead of {expected}"
    );
}

#[test]
fn planar_shortest_paths() {
    // From the MIT C core of PyPI `dubins` 1.0.1 (run): x, y, heading in degrees.
    let table = [
        ([0.0, 0.0, 0.0], [4.0, 0.0, 0.0], 1.0, 4.000_000_000),
        ([0.0, 0.0, 0.0], [0.0, 4.0, 180.0], 1.0, 5.141_592_654),
        ([0.0, 0.0, 0.0], [10.0, 10.0, 90.0], 3.0, 14.611_883_917),
        ([0.0, 0.0, 90.0], [5.0, -5.0, 180.0], 2.0, 13.667_418_648),
        ([0.0, 0.0, 0.0], [100.0, 50.0, 30.0], 76.2, 113.487_520_125),
        ([0.0, 0.0, 0.0], [250.0, 200.0, 0.0], 95.25, 334.295_109_203),
    ];
    let pose = |[x, y, heading]: [f64; 3]| {
        let (sin, cos) = Angle::from_degrees(heading).sin_cos();
        ([x, y, 0.0], [cos, sin, 0.0])
    };
    for (start, end, clr, expected) in table {
        check_shortest(2, clr, pose(start), pose(end), expected);
    }
}

#[test]
fn spatial_shortest_paths() {
    // Two bends and a straight in space, construction of Hota & Ghose (2010);
    // computed outside the project, agreed to 3e-8 by a second implementation.
    let third = 1.0 / 3.0;
    let table = [
        (
            76.2,
            ([0.0; 3], [1.0, 0.0, 0.0]),
            ([300.0, 150.0, 80.0], [0.0, 1.0, 0.0]),
            365.793_979_813,
        ),
        (
            76.2,
            ([0.0; 3], [0.0, 0.0, 1.0]),
            ([200.0, 100.0, 250.0], [1.0, 0.0, 0.0]),
            350.696_230_560,
        ),
        (
            95.25,
            ([0.0; 3], [0.0, 0.0, -1.0]),
            ([250.0, -180.0, -320.0], [third, 2.0 * third, -2.0 * third]),
            484.111_730_465,
        ),
        (
            114.3,
            ([0.0; 3], [1.0, 0.0, 0.0]),
            ([400.0, 120.0, -90.0], [1.0, 0.0, 0.0]),
            429.256_398_979,
        ),
    ];
    for (clr, start, end, expected) in table {
        check_shortest(2, clr, start, end, expected);
    }
}

#[test]
fn published_instances_without_their_pitch_limit() {
    // Vana et al., ICRA 2020 (inputs from comrob/Dubins3D.jl), optimum without the
    // pitch limit computed outside the project. The first holds with a pitch of −5°
    // at both ends (scipy's SLSQP gives 437.919674 with 0° at the end). The second
    // turns more than a half turn at one end, which takes three corners.
    let travel = |heading: f64, pitch: f64| {
        let (sin_h, cos_h) = Angle::from_degrees(heading).sin_cos();
        let (sin_p, cos_p) = Angle::from_degrees(pitch).sin_cos();
        [cos_h * cos_p, sin_h * cos_p, sin_p]
    };
    check_shortest(
        2,
        40.0,
        ([200.0, 500.0, 200.0], travel(180.0, -5.0)),
        ([500.0, 350.0, 100.0], travel(0.0, -5.0)),
        437.858_375,
    );
    check_shortest(
        3,
        40.0,
        ([100.0, -400.0, 100.0], travel(30.0, 0.0)),
        ([500.0, -700.0, 0.0], travel(150.0, 0.0)),
        631.727_667,
    );
}

fn solved(task: &Task) -> Solution {
    solve(task).unwrap_or_else(|reason| panic!("no route: {reason:?}"))
}

fn turns(solution: &Solution) -> Vec<f64> {
    let bends = solution.best.route.bends.iter();
    bends.map(|bend| bend.turn.degrees()).collect()
}

#[test]
fn ports_on_one_axis_take_straight_tube() {
    let task = task(
        port("a", [1.0, 2.0, 3.0], [0.0, 0.0, 1.0]),
        port("b", [1.0, 2.0, 253.0], [0.0, 0.0, -1.0]),
    );
    let solution = solved(&task);
    assert_eq!(solution.stop, Stop::StraightTube);
    assert!(solution.best.route.bends.is_empty());
    assert_eq!(solution.best.run.length(), Length::from_mm(250.0));
}

#[test]
fn axes_that_cross_take_one_bend() {
    let crossing = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [300.0, 0.0, 300.0], [-1.0, 0.0, 0.0]),
    );
    // More bends may cut the corner and save tube.
    let solution = solved(&Task {
        most_bends: 1,
        ..crossing
    });
    assert_eq!(solution.best.route.bends.len(), 1);
    assert!((turns(&solution)[0] - 90.0).abs() < 1e-9);
}

#[test]
fn a_parallel_offset_takes_two_equal_bends_the_opposite_way() {
    let task = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [150.0, 0.0, 500.0], [0.0, 0.0, -1.0]),
    );
    let solution = solved(&task);
    let turns = turns(&solution);
    assert_eq!(turns.len(), 2);
    assert!((turns[0] - turns[1]).abs() < 1e-6, "{turns:?}");
    // The piece between is cut to a parallelogram: its long sides are half a turn
    // apart, and it is as long as its center all round.
    let between = solution
        .best
        .run
        .pieces()
        .iter()
        .find(|p| (p.piece.clock().degrees() - 180.0).abs() < 1e-6);
    assert!(between.is_some());
}

#[test]
fn a_wide_u_turn_is_two_quarter_bends() {
    let task = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [500.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
    );
    let turns = turns(&solved(&task));
    assert_eq!(turns.len(), 2);
    assert!(
        turns.iter().all(|turn| (turn - 90.0).abs() < 1e-6),
        "{turns:?}"
    );
}

#[test]
fn a_u_turn_narrower_than_its_bends_swings_out_first() {
    // 2 × CLR is 190.5 mm: 127 mm apart, two bends cannot do it.
    let task = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [127.0, 0.0, 0.0], [0.0, 0.0, 1.0]),
    );
    let solution = solved(&task);
    let turns = turns(&solution);
    assert_eq!(turns.len(), 3);
    assert!(turns.iter().sum::<f64>() > 180.0);
    assert!(solution.best.cost.joints <= 12, "{:?}", solution.best.cost);
}

#[test]
fn ports_that_face_away_are_joined_the_long_way_round() {
    let task = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [0.0, 0.0, -254.0], [0.0, 0.0, -1.0]),
    );
    let solution = solved(&task);
    assert!(turns(&solution).iter().sum::<f64>() >= 180.0);
    let clearance = solution
        .best
        .run
        .self_clearance()
        .expect("parts pass each other");
    assert!(clearance.distance >= Length::ZERO);
}

#[test]
fn ports_too_close_say_what_would_help_and_it_does() {
    let inch = 25.4;
    let close = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [1.0 * inch, 0.0, 3.0 * inch], [-1.0, 0.0, 0.0]),
    );
    let reason = solve(&close).expect_err("no room for any bend");
    assert!(!reason.relaxations.is_empty());
    for relaxation in reason.relaxations {
        assert!(
            solve(&relaxation.apply(&close)).is_ok(),
            "{relaxation:?} does not help"
        );
    }
}

#[test]
fn a_clr_range_is_used_where_the_least_will_not_do() {
    // At CLR 40 mm a pie of 63.5 mm tube has 2·(40 − 31.75)·tan κ of inside left: under
    // 1/8 in at any allowed cut. A range lets the solver open the bend until it fits.
    let mut task = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [300.0, 100.0, 300.0], [-1.0, 0.0, 0.0]),
    );
    (task.limits.clr_min, task.limits.clr_max) = (Length::from_mm(32.0), Length::from_mm(120.0));
    let solution = solved(&task);
    for bend in &solution.best.route.bends {
        assert!(bend.clr >= task.limits.clr_min && bend.clr <= task.limits.clr_max);
        let short = bend.pie_short_side(task.tube.radius());
        assert!(bend.joints() == 1 || short.mm() > task.limits.min_short_side.mm() - 1e-4);
    }
}

#[test]
fn a_wider_clr_range_is_not_worse() {
    // Once: any greatest CLR above 1.65 in lost the route if the least was 1.6 in.
    let mut task = support::smallest();
    let mut cost = |min: f64, max: f64| {
        let clr = (Length::from_inches(min), Length::from_inches(max));
        (task.limits.clr_min, task.limits.clr_max) = clr;
        solved(&task).best.cost.money
    };
    let narrow = cost(1.65, 6.0);
    for wide in [cost(1.6, 6.0), cost(1.26, 6.0), cost(1.26, 12.0)] {
        assert!(wide <= narrow * 1.005, "{wide} against {narrow}");
    }
}

#[test]
fn a_clr_too_small_for_pies_asks_for_a_larger_one() {
    let mut task = Task {
        // Four bends or five of a single miter each would do without pies.
        most_bends: 3,
        ..support::smallest()
    };
    (task.limits.clr_min, task.limits.clr_max) =
        (Length::from_inches(1.45), Length::from_inches(1.45));
    let reason = solve(&task).expect_err("pies would have no inside edge to speak of");
    let larger = reason
        .relaxations
        .iter()
        .find_map(|relaxation| match relaxation {
            Relaxation::LargerClr(clr) => Some(clr.inches()),
            _ => None,
        });
    // 2·(CLR − 1.25)·tan 11.25° = 1/8 in.
    let least = 1.25 + 0.125 / (2.0 * Angle::from_degrees(11.25).tan());
    assert!(
        larger.is_some_and(|clr| clr >= least - 1e-9 && clr < least + 0.1),
        "{larger:?}"
    );
}

#[test]
fn ports_a_hair_off_one_axis_take_straight_tube() {
    // Once: the closer two ports lined up, the more bends and joints the plan had.
    for off in [1e-2, 1e-4, 1e-5, 1e-6, 1e-8, 0.0] {
        let task = task(
            port("a", [0.0; 3], [0.0, 0.0, 1.0]),
            port("b", [off, 0.0, 250.0], [0.0, 0.0, -1.0]),
        );
        let solution = solved(&task);
        assert!(solution.best.route.bends.is_empty(), "{off} mm off");
        let ends = solution.best.run.centerline().points();
        assert_eq!((ends[0], ends[1]), (task.start.center, task.end.center));
    }
}

#[test]
fn axes_that_miss_by_a_hair_take_one_bend() {
    for miss in [1e-3, 1e-6, 1e-9] {
        let task = task(
            port("a", [0.0; 3], [0.0, 0.0, 1.0]),
            port("b", [300.0, miss, 300.0], [-1.0, 0.0, 0.0]),
        );
        let task = Task {
            most_bends: 1,
            ..task
        };
        assert_eq!(solved(&task).best.route.bends.len(), 1, "{miss} mm");
    }
}

#[test]
fn a_choice_of_joints_that_fails_is_not_the_end() {
    // Once: no route, since only choices next to one that works were tried.
    let mut small = task(
        port("a", [0.0; 3], [0.0, 0.0, 1.0]),
        port("b", [100.0, 50.0, 100.0], [-1.0, 0.0, 0.0]),
    );
    small.tube = Tube::new(Length::from_mm(3.0), Length::from_mm(0.5), "304").unwrap();
    small.limits = Limits {
        max_cut: Angle::from_degrees(18.0),
        ..Limits::for_tube(&small.tube)
    };
    assert!(solve(&small).is_ok());
    for spacing in [7.4, 7.48, 7.49, 7.495, 7.5, 7.51] {
        let u_turn = task(
            port("a", [0.0; 3], [0.0, 0.0, 1.0]),
            port("b", [spacing * 25.4, 0.0, 0.0], [0.0, 0.0, 1.0]),
        );
        assert!(solve(&u_turn).is_ok(), "{spacing} in");
    }
}

#[test]
fn farther_ports_are_no_harder() {
    // Straights only grow as ports move apart along the same directions.
    let inch = |v: [f64; 3], f: f64| v.map(|c| c * 25.4 * f);
    for f in [0.1, 0.3, 0.5, 0.9, 0.999, 1.0, 1.001, 1.05, 1.2] {
        let mut far = task(
            port("a", [0.0; 3], [0.0, 0.0, 1.0]),
            port(
                "b",
                inch([375.808_220, -352.634_385, -153.244_318], f),
                [-0.775_970, 0.298_110, 0.555_878],
            ),
        );
        far.tube = Tube::new(Length::from_inches(3.0), Length::from_inches(0.065), "304").unwrap();
        let clr = Length::from_inches(2.0);
        far.limits = Limits {
            clr_min: clr,
            clr_max: clr,
            ..Limits::for_tube(&far.tube)
        };
        assert!(solve(&far).is_ok(), "{f} times as far");
    }
}

#[test]
fn the_same_job_gives_the_same_route_to_the_last_bit() {
    let (first, second) = (solved(&support::smallest()), solved(&support::smallest()));
    assert_eq!(first.best, second.best);
}

/// The same sample every time, so that a rare job on which a local search settles a
/// little off does not stop an unrelated change.
fn fixed_sample() -> ProptestConfig {
    ProptestConfig {
        cases: 64,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(20_261_125),
        ..ProptestConfig::default()
    }
}

#[test]
fn random_jobs_have_routes() {
    let mut numbers = support::Numbers::new(11);
    let solved = (0..60)
        .filter(|_| solve(&support::random(&mut numbers)).is_ok())
        .count();
    assert!(solved >= 58, "{solved} of 60");
}

#[test]
fn trying_nearly_everything_finds_little_that_is_cheaper() {
    let everything = Control {
        effort: Effort::Thorough,
        ..Control::default()
    };
    let mut numbers = support::Numbers::new(3);
    let mut ratios = Vec::new();
    for _ in 0..12 {
        let task = Task {
            most_bends: 3,
            ..support::random(&mut numbers)
        };
        let (Ok(usual), Ok(most)) = (solve(&task), solve_with(&task, &everything)) else {
            continue;
        };
        ratios.push(usual.best.cost.money / most.best.cost.money);
    }
    ratios.sort_by(f64::total_cmp);
    assert!(ratios.len() >= 8, "{ratios:?}");
    assert!(ratios.iter().all(|ratio| *ratio < 1.02), "{ratios:?}");
    assert!(ratios[ratios.len() / 2] < 1.0001, "{ratios:?}");
}

/// A straight run from one point to another.
fn straight_run(from: [f64; 3], to: [f64; 3]) -> Run {
    let points = vec![Point::from(from), Point::from(to)];
    support::run_along(&support::tube(), points).0
}

#[test]
fn clearance_is_never_more_than_the_true_distance() {
    // Once: the rim of an open end stuck out of what was measured.
    let up = straight_run([0.0; 3], [0.0, 0.0, 300.0]);
    let beside = straight_run([45.96, -200.0, -14.21], [45.96, 200.0, -14.21]);
    let clearance = clearance_between(&up, &beside).unwrap();
    assert!(clearance.distance.mm() <= -11.65, "{clearance:?}");
    // Once: a run shorter than its diameter was not measured at all.
    let short = straight_run([0.0; 3], [0.0, 0.0, 60.0]);
    let through = straight_run([-200.0, 0.0, 30.0], [200.0, 0.0, 30.0]);
    let clearance = clearance_between(&short, &through).unwrap();
    assert!(
        (clearance.distance.mm() + 63.5).abs() < 1e-9,
        "{clearance:?}"
    );
}

#[test]
fn runs_that_share_a_flange_do_not_collide_there() {
    let below = straight_run([0.0, 0.0, -300.0], [0.0; 3]);
    let above = straight_run([0.0; 3], [0.0, 0.0, 300.0]);
    assert_eq!(clearance_between(&below, &above), None);
}

proptest! {
    #![proptest_config(fixed_sample())]


    #[test]
    fn every_limit_is_kept(seed in any::<u64>()) {
        let task = support::random(&mut support::Numbers::new(seed));
        let Ok(solution) = solve(&task) else { return Err(TestCaseError::reject("no route")) };
        let others = solution.alternatives.iter().map(|(candidate, _)| candidate);
        for candidate in std::iter::once(&solution.best).chain(others) {
            let straights = candidate.route.straights();
            prop_assert!(straights.iter().all(|s| s.mm() > -1e-4), "{straights:?}");
            prop_assert!(straights[0].mm() > task.start.straight.mm() - 1e-4);
            prop_assert!(straights[straights.len() - 1].mm() > task.end.straight.mm() - 1e-4);
            for joint in candidate.run.joints() {
                prop_assert!(joint.cut().degrees() <= 11.25 + 1e-5);
            }
            for placed in candidate.run.pieces() {
                prop_assert!(placed.piece.short_side().mm() > 3.175 - 1e-4);
            }
            prop_assert!(candidate.cost.money >= solution.best.cost.money);
        }
    }

    #[test]
    fn no_route_is_shorter_than_the_shortest_arcs(seed in any::<u64>()) {
        let task = support::random(&mut support::Numbers::new(seed));
        let Ok(solution) = solve(&task) else { return Err(TestCaseError::reject("no route")) };
        if solution.best.route.bends.len() == 2 {
            let bound = shortest(&task.start, &task.end, &task.limits, 2).expect("arcs exist where pies do");
            prop_assert!(solution.best.run.length().mm() >= bound.mm() - 1e-4);
        }
    }

    #[test]
    fn a_run_and_its_reverse_are_one_route(seed in any::<u64>()) {
        let task = support::random(&mut support::Numbers::new(seed));
        let (there, back) = (solve(&task), solve(&task.reversed()));
        prop_assert_eq!(there.is_ok(), back.is_ok());
        let (Ok(there), Ok(back)) = (there, back) else { return Err(TestCaseError::reject("no route")) };
        let (there, back) = (there.best, back.best);
        prop_assert!((there.cost.money / back.cost.money - 1.0).abs() < 1e-9);
        for (p, q) in there.run.centerline().points().iter().zip(back.run.centerline().points().iter().rev()) {
            prop_assert!((p - q).norm() < 1e-6);
        }
    }
}

#[test]
fn moving_and_turning_the_job_changes_nothing() {
    // The search with three bends is local: now and then (1 job in 600) rounding
    // settles it in another place.
    let (mut compared, mut apart) = (0, Vec::new());
    for seed in 0..100 {
        let mut numbers = support::Numbers::new(seed);
        let task = support::random(&mut numbers);
        let turn =
            nalgebra::Rotation3::from_axis_angle(&numbers.direction(), numbers.between(0.0, 6.0));
        let mut moved = task.clone();
        for port in [&mut moved.start, &mut moved.end] {
            port.center = turn * port.center + Vector::new(120.0, -45.0, 300.0);
            port.outward = turn * port.outward;
        }
        let (Ok(here), Ok(there)) = (solve(&task), solve(&moved)) else {
            continue;
        };
        compared += 1;
        let ratio = here.best.cost.money / there.best.cost.money;
        if (ratio - 1.0).abs() > 0.01 {
            apart.push((seed, ratio));
        }
    }
    assert!(compared > 90 && apart.len() <= 1, "{apart:?} of {compared}");
}
