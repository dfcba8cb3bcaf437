//! Ways to make bends: one saw setting, listed saw angles, listed CLRs, stock bends.

mod support;

use proptest::prelude::*;
use runwright::geometry::{Point, Vector, angle_between};
use runwright::route::{Candidate, Limits, Make, Solution, Task, solve};
use runwright::run::JointKind;
use runwright::tube::{ElbowPattern, StockBend, Tube};
use runwright::units::{Angle, Length};
use support::port;

fn solved(task: &Task) -> Solution {
    solve(task).unwrap_or_else(|reason| panic!("no route: {reason:?}"))
}

/// Cut angles of all miters, in degrees.
fn cuts(candidate: &Candidate) -> Vec<f64> {
    let miters = candidate.run.joints().iter();
    let miters = miters.filter(|joint| joint.kind == JointKind::Miter);
    miters.map(|joint| joint.cut().degrees()).collect()
}

fn shop_pipe() -> Tube {
    // NPS 2, schedule 10S: ASME B36.19M.
    Tube::new(Length::from_mm(60.3), Length::from_mm(2.77), "304").unwrap()
}

fn elbow(pattern: ElbowPattern) -> StockBend {
    StockBend {
        price: 12.0,
        ..StockBend::b16_9("2", pattern).unwrap()
    }
}

/// A job of NPS 2 with elbows alone.
fn elbows_only(end: [f64; 3], outward: [f64; 3]) -> Task {
    Task {
        pies: false,
        stock: ElbowPattern::ALL.map(elbow).to_vec(),
        ..Task::new(
            shop_pipe(),
            port("a", [0.0; 3], [0.0, 0.0, 1.0]),
            port("b", end, outward),
        )
    }
}

#[test]
fn one_setting_cuts_every_miter_alike() {
    let mut numbers = support::Numbers::new(5);
    let mut with_two_bends = 0;
    for _ in 0..20 {
        let task = Task {
            one_setting: true,
            ..support::random(&mut numbers)
        };
        let solution = solved(&task);
        let cuts = cuts(&solution.best);
        let spread = |cut: &f64| (cut - cuts[0]).abs() < 1e-5;
        assert!(cuts.iter().all(spread), "{cuts:?}");
        assert_eq!(solution.best.cost.setups, 2);
        with_two_bends += usize::from(solution.best.route.bends.len() > 1);
    }
    assert!(with_two_bends > 15);
}

#[test]
fn one_setting_and_one_clr_need_one_stop_for_all_pies() {
    let task = Task {
        one_setting: true,
        ..support::smallest()
    };
    let best = solved(&task).best;
    let pies: Vec<f64> = best
        .route
        .bends
        .iter()
        .filter(|bend| bend.joints() > 1)
        .map(|bend| bend.pie_length().mm())
        .collect();
    assert!(
        pies.len() > 1 && pies.iter().all(|pie| (pie - pies[0]).abs() < 1e-4),
        "{pies:?}"
    );
    assert!(best.cost.stops < u32::try_from(best.run.pieces().len()).unwrap());
}

#[test]
fn listed_saw_angles_are_the_only_ones() {
    let angles = [5.0, 7.5, 9.0].map(Angle::from_degrees);
    let mut numbers = support::Numbers::new(8);
    let mut solved = 0;
    for _ in 0..12 {
        let task = Task {
            saw_angles: angles.to_vec(),
            ..support::random(&mut numbers)
        };
        let Ok(solution) = solve(&task) else { continue };
        solved += 1;
        for cut in cuts(&solution.best) {
            let nearest = angles.iter().map(|angle| (angle.degrees() - cut).abs());
            assert!(nearest.fold(f64::INFINITY, f64::min) < 1e-5, "{cut}");
        }
    }
    assert!(solved >= 11, "{solved} of 12");
}

#[test]
fn every_pie_bend_has_a_listed_clr() {
    let clrs = [70.0, 95.25, 120.0].map(Length::from_mm);
    let mut numbers = support::Numbers::new(13);
    for _ in 0..10 {
        let random = support::random(&mut numbers);
        let task = Task {
            limits: Limits {
                clr_min: clrs[0],
                clr_max: clrs[2],
                ..random.limits
            },
            clrs: clrs.to_vec(),
            ..random
        };
        let solution = solved(&task);
        for bend in &solution.best.route.bends {
            assert!(
                clrs.iter().any(|clr| (*clr - bend.clr).abs().mm() < 1e-6),
                "{}",
                bend.clr.mm()
            );
        }
    }
}

#[test]
fn one_elbow_takes_out_what_the_standard_says() {
    // ASME B16.9, NPS 2 LR 90: center to end 76 mm (catalog tables, seen).
    let mut task = elbows_only([300.0, 0.0, 400.0], [-1.0, 0.0, 0.0]);
    task.stock = vec![elbow(ElbowPattern::LongRadius90)];
    let best = solved(&Task {
        most_bends: 1,
        ..task
    })
    .best;
    let lengths: Vec<f64> = best.run.pieces().iter().map(|p| p.edge.mm()).collect();
    assert_eq!(lengths.len(), 3);
    assert!((lengths[0] - (400.0 - 76.0)).abs() < 1e-9, "{lengths:?}");
    assert!((lengths[2] - (300.0 - 76.0)).abs() < 1e-9, "{lengths:?}");
    let bent = best.run.pieces()[1].piece.bent().expect("the elbow");
    assert!((bent.length().mm() - 76.0 * std::f64::consts::FRAC_PI_2).abs() < 1e-9);
    assert_eq!(best.run.joints()[1].kind, JointKind::Square);
}

#[test]
fn an_offset_of_two_45s_takes_out_what_the_standard_says() {
    // NPS 2 LR 45: center to end 35 mm, not R·tan 22.5° = 31.56 (catalog tables, seen).
    let mut task = elbows_only([200.0, 0.0, 600.0], [0.0, 0.0, -1.0]);
    task.stock = vec![elbow(ElbowPattern::LongRadius45)];
    let best = solved(&Task {
        most_bends: 2,
        ..task
    })
    .best;
    let diagonal = 200.0 * std::f64::consts::SQRT_2;
    let straights: Vec<f64> = best
        .run
        .pieces()
        .iter()
        .filter(|p| p.piece.straight().is_some())
        .map(|p| p.edge.mm())
        .collect();
    assert_eq!(straights.len(), 3, "{straights:?}");
    assert!(
        (straights[1] - (diagonal - 70.0)).abs() < 1e-4,
        "{straights:?}"
    );
    let total: f64 = straights[0] + straights[2];
    assert!(
        (total - (600.0 - 200.0 - 70.0)).abs() < 1e-4,
        "{straights:?}"
    );
}

#[test]
fn elbows_are_cut_down_to_smaller_turns() {
    let task = elbows_only([250.0, 180.0, 420.0], [-0.6, -0.64, -0.48]);
    let best = solved(&task).best;
    for bend in &best.route.bends {
        let item = bend.stock().expect("no pies are allowed");
        assert!(bend.turn <= task.stock[item].turn + Angle::from_degrees(0.005));
        assert!((bend.clr - task.stock[item].clr).abs().mm() < 1e-9);
    }
    assert!(
        best.run
            .joints()
            .iter()
            .all(|joint| joint.kind != JointKind::Miter)
    );
    // One cut more than pieces of straight tube, and one for each elbow that is cut down.
    let straight = best
        .run
        .pieces()
        .iter()
        .filter(|p| p.piece.straight().is_some());
    assert!(best.cost.cuts as usize > straight.count());
    assert_eq!(best.cost.setups, 1);
}

#[test]
fn pies_and_stock_bends_mix_where_that_is_cheapest() {
    let task = |price: f64, end: [f64; 3]| Task {
        stock: vec![StockBend {
            price,
            count: Some(1),
            ..elbow(ElbowPattern::LongRadius90)
        }],
        ..Task::new(
            shop_pipe(),
            port("a", [0.0; 3], [0.0, 0.0, 1.0]),
            port("b", end, [0.0, 0.0, 1.0]),
        )
    };
    let cheap = solved(&task(5.0, [400.0, 120.0, 100.0])).best;
    let stock = |candidate: &Candidate| {
        candidate
            .route
            .bends
            .iter()
            .filter(|bend| bend.stock().is_some())
            .count()
    };
    // A U-turn; there is one elbow on the shelf.
    assert_eq!(stock(&cheap), 1);
    assert!(
        cheap
            .route
            .bends
            .iter()
            .any(|bend| matches!(bend.make, Make::Pies { .. }))
    );
    let dear = solved(&task(500.0, [400.0, 120.0, 100.0])).best;
    assert_eq!(stock(&dear), 0);
    assert!(cheap.cost.money < dear.cost.money);
}

#[test]
fn legs_are_used_for_straights() {
    let mandrel = StockBend {
        name: "90 mandrel".to_owned(),
        od: Length::from_mm(60.3),
        clr: Length::from_mm(90.0),
        turn: Angle::QUARTER,
        leg: Length::from_mm(150.0),
        price: 30.0,
        count: None,
    };
    let task = Task {
        pies: false,
        stock: vec![mandrel],
        most_bends: 1,
        ..elbows_only([200.0, 0.0, 190.0], [-1.0, 0.0, 0.0])
    };
    // Both straights are 110 and 100 mm: the legs reach, trimmed, without a joint.
    let best = solved(&task).best;
    assert_eq!(best.run.pieces().len(), 1);
    assert_eq!((best.cost.joints, best.cost.cuts), (0, 2));
    let legs = best.run.pieces()[0].piece.bent().unwrap().legs;
    assert!((legs[0].mm() - 100.0).abs() < 1e-9 && (legs[1].mm() - 110.0).abs() < 1e-9);
}

/// Where a run comes out, from the shapes of its pieces alone: a straight goes on, a
/// miter turns by twice its cut, an arc turns along its CLR.
fn walked(candidate: &Candidate) -> (Point, Vector) {
    let run = &candidate.run;
    let mut at = run.centerline().points()[0];
    let mut end = run.pieces()[0].axis.into_inner();
    for placed in run.pieces() {
        let axis = placed.axis.into_inner();
        match placed.piece.bent() {
            None => {
                at += axis * placed.edge.mm();
                end = axis;
            }
            Some(bent) => {
                let (sin, cos) = bent.turn.sin_cos();
                let out = placed.zero.into_inner();
                let clr = bent.clr.mm();
                at += axis * (bent.legs[0].mm() + clr * sin) - out * (clr * (1.0 - cos));
                end = axis * cos - out * sin;
                at += end * bent.legs[1].mm();
            }
        }
    }
    (at, end)
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 24,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(20_261_126),
        ..ProptestConfig::default()
    })]

    #[test]
    fn runs_with_stock_bends_close_on_both_ports(seed in any::<u64>()) {
        let mut numbers = support::Numbers::new(seed);
        let random = support::random(&mut numbers);
        let task = Task {
            stock: ElbowPattern::ALL.map(elbow).to_vec(),
            pies: seed % 2 == 0,
            ..Task::new(shop_pipe(), random.start, random.end)
        };
        let Ok(solution) = solve(&task) else { return Err(TestCaseError::reject("no route")) };
        let (at, axis) = walked(&solution.best);
        prop_assert!((at - task.end.center).norm() < 1e-9 * 1000.0, "{at}");
        prop_assert!(angle_between(&axis, &-task.end.outward.into_inner()).radians() < 1e-9);
        let joints: f64 = solution.best.run.pieces().iter().map(|p| p.edge.mm()).sum();
        prop_assert!((joints - solution.best.run.length().mm()).abs() < 1e-9);
    }
}
