//! Where weld seams come to lie: against every offset tried one by one, and against the
//! pieces as they stand in the run.

mod support;

use proptest::prelude::*;
use runwright::geometry::{Direction, clock_between, toward, transport};
use runwright::shop::{SawSheet, SeamPlan, Seams, StickPiece};
use runwright::tube::{Cut, Piece};
use runwright::units::{Angle, Length};
use support::{Numbers, random, run_along, smallest, tube};

/// Steps of a half turn that are tried one by one.
const STEPS: u32 = 3600;

fn degrees(degrees: f64) -> Angle {
    Angle::from_degrees(degrees)
}

/// A piece between two miters whose long sides stand at these clocks on the stick.
fn pie(number: usize, start: f64, end: f64, turnable: bool) -> StickPiece {
    StickPiece {
        run: 0,
        number,
        start: Some(degrees(start)),
        end: Some(degrees(end)),
        turnable,
        end_first: false,
    }
}

/// How far a clock is off a side and off the one opposite.
fn off_sides(seam: f64, side: f64) -> f64 {
    let off = (seam - side).rem_euclid(180.0);
    off.min(180.0 - off)
}

/// The least of that over all long sides of a stick.
fn margin(stick: &[StickPiece], seam: f64) -> f64 {
    let sides = stick.iter().flat_map(|piece| [piece.start, piece.end]);
    let off = sides.flatten().map(|side| off_sides(seam, side.degrees()));
    off.fold(90.0, f64::min)
}

fn apart(a: f64, b: f64) -> f64 {
    let off = (a - b).rem_euclid(360.0);
    off.min(360.0 - off)
}

/// A bend in one plane, cut in order from one stick: long sides of neighbors lie opposite.
fn planar_bend(pies: usize) -> Vec<StickPiece> {
    let side = |number: usize| 180.0 * (number % 2) as f64;
    (1..=pies)
        .map(|number| pie(number, side(number), side(number), true))
        .collect()
}

#[test]
fn a_bend_in_one_plane_has_its_seams_on_the_neutral_side() {
    let stick = planar_bend(6);
    let plan = SeamPlan::new(std::slice::from_ref(&stick), Seams::Staggered);
    assert!((plan.offsets[0].degrees() - 90.0).abs() < 1e-9);
    assert!((plan.worst.unwrap().margin.degrees() - 90.0).abs() < 1e-9);
    // Every other piece was turned half round in the stick.
    for joint in &plan.joints {
        assert!((joint.apart.degrees() - 180.0).abs() < 1e-9);
    }
    assert!(plan.pieces.iter().all(|piece| !piece.turned));
    // In line every other piece is turned end for end, and no more.
    let plan = SeamPlan::new(&[stick], Seams::InLine);
    assert_eq!(plan.joints.len(), 5);
    for joint in &plan.joints {
        assert!(joint.apart.degrees() < 1e-9);
    }
    let turned = plan.pieces.iter().filter(|piece| piece.turned);
    assert_eq!(turned.count(), 3);
    assert!((plan.worst.unwrap().margin.degrees() - 90.0).abs() < 1e-9);
}

#[test]
fn sticks_are_turned_against_each_other() {
    // Each piece from a stick of its own: nothing staggers them but a choice.
    let sticks: Vec<Vec<StickPiece>> = (1..=4).map(|i| vec![pie(i, 0.0, 0.0, false)]).collect();
    let plan = SeamPlan::new(&sticks, Seams::Staggered);
    assert!(
        plan.joints
            .iter()
            .all(|joint| (joint.apart.degrees() - 180.0).abs() < 1e-9)
    );
    let plan = SeamPlan::new(&sticks, Seams::InLine);
    assert!(plan.joints.iter().all(|joint| joint.apart.degrees() < 1e-9));
    // More sticks than can be tried all together.
    let sticks: Vec<Vec<StickPiece>> = (1..=30).map(|i| vec![pie(i, 0.0, 0.0, false)]).collect();
    let plan = SeamPlan::new(&sticks, Seams::InLine);
    assert!(!plan.proven);
    assert!(plan.joints.iter().all(|joint| joint.apart.degrees() < 1e-9));
}

#[test]
fn nothing_mitered_has_no_seam_to_keep_off() {
    let plain = StickPiece {
        start: None,
        end: None,
        turnable: false,
        ..pie(1, 0.0, 0.0, false)
    };
    let plan = SeamPlan::new(&[vec![plain], Vec::new()], Seams::Staggered);
    assert!(plan.worst.is_none() && plan.joints.is_empty());
    assert_eq!(plan.pieces[0].clock, None);
    assert!(SeamPlan::new(&[], Seams::InLine).pieces.is_empty());
}

/// A piece of two equal cuts is the same turned end for end, whatever its clock: what is at
/// the clock t comes to clock − t.
#[test]
fn equal_cuts_turn_end_for_end() {
    let long = Length::from_mm(80.0);
    for clock in [0.0, 40.0, 180.0, 333.0] {
        let cut = |clock: f64| Cut {
            angle: degrees(11.0),
            clock: degrees(clock),
        };
        let piece = Piece::new(tube(), long, cut(0.0), cut(clock)).expect("long enough");
        let radius = piece.tube().radius();
        for t in 0..36 {
            let here = degrees(f64::from(t) * 10.0);
            let there = degrees(clock) - here;
            let off = |a: Length, b: Length| assert!((a - b).abs() < Length::from_mm(1e-9));
            off(
                piece.start().extension(radius, here),
                piece.end().extension(radius, there),
            );
            off(
                piece.end().extension(radius, here),
                piece.start().extension(radius, there),
            );
        }
    }
}

/// Seams as they stand in planned runs: clock and joint worked out in space.
#[test]
fn seams_stand_in_the_run_as_told() {
    let mut numbers = Numbers::new(61);
    let mut runs = vec![smallest()];
    runs.extend((0..12).map(|_| random(&mut numbers)));
    let mut joints = 0;
    for task in runs {
        let Ok(solution) = runwright::route::solve(&task) else {
            continue;
        };
        let run = solution.best.run;
        let saw = SawSheet::new(0, &run, task.rates.kerf);
        let stick = StickPiece::lying(&saw.cuts, &[&run]);
        for seams in Seams::ALL {
            let plan = SeamPlan::new(std::slice::from_ref(&stick), seams);
            assert_eq!(plan.pieces.len(), run.pieces().len());
            let seam = |index: usize| -> Direction {
                let placed = &run.pieces()[index];
                let clock = plan.pieces[index].clock.unwrap_or(Angle::ZERO);
                toward(&placed.axis, &placed.zero, clock)
            };
            let mut least = 90.0_f64;
            for joint in &plan.joints {
                let (a, b) = (&run.pieces()[joint.joint - 1], &run.pieces()[joint.joint]);
                let [before, after] = [seam(joint.joint - 1), seam(joint.joint)];
                let carried = transport(&before, &a.axis, &b.axis);
                let between = clock_between(&b.axis, &carried, &after).degrees();
                let told = joint.apart.degrees();
                assert!(
                    (apart(between, 0.0) - told).abs() < 1e-6,
                    "{between} {told}"
                );
                // The long side of the piece after looks away from where it comes from.
                let square = a.axis.into_inner() - b.axis.into_inner() * b.axis.dot(&a.axis);
                let long = Direction::new_normalize(square);
                for (axis, seam) in [(&a.axis, &before), (&b.axis, &after)] {
                    let long = transport(&long, &b.axis, axis);
                    let clock = clock_between(axis, &long, seam).degrees();
                    least = least.min(off_sides(clock, 0.0));
                }
                joints += 1;
            }
            if let Some(worst) = plan.worst {
                assert!((worst.margin.degrees() - least).abs() < 1e-6);
            }
            if seams != Seams::InLine {
                let mut all = plan.joints.iter();
                assert!(all.all(|joint| (joint.apart.degrees() - 180.0).abs() < 1e-6));
            }
        }
    }
    assert!(joints > 100, "{joints}");
}

#[test]
fn a_straight_run_rolls_as_it_likes() {
    let (run, ..) = run_along(&tube(), vec![[0.0; 3].into(), [0.0, 0.0, 300.0].into()]);
    let saw = SawSheet::new(0, &run, Length::ZERO);
    let plan = SeamPlan::new(&[StickPiece::lying(&saw.cuts, &[&run])], Seams::Staggered);
    assert_eq!((plan.pieces.len(), plan.pieces[0].clock), (1, None));
}

/// Clocks of long sides, some alike, and whether a piece may be turned.
fn piece() -> impl Strategy<Value = (f64, f64, bool, bool)> {
    let clock = prop_oneof![(0..24_u32).prop_map(|i| f64::from(i) * 15.0), 0.0..360.0];
    (clock.clone(), clock, any::<bool>(), any::<bool>())
}

fn sticks() -> impl Strategy<Value = Vec<Vec<StickPiece>>> {
    (prop::collection::vec(piece(), 1..7), 1..3_usize).prop_map(|(pieces, count)| {
        let mut sticks = vec![Vec::new(); count];
        for (i, (start, end, turnable, end_first)) in pieces.into_iter().enumerate() {
            let piece = StickPiece {
                end_first,
                ..pie(i + 1, start, end, turnable)
            };
            sticks[i % count].push(piece);
        }
        sticks
    })
}

/// Ends of a piece's seam from its long sides, straight or turned, in degrees.
fn ends(piece: &StickPiece, seam: f64, turned: bool) -> [f64; 2] {
    let way = if piece.end_first { -1.0 } else { 1.0 };
    let side = |side: Option<Angle>| way * (seam - side.map_or(0.0, Angle::degrees));
    let [start, end] = [side(piece.start), side(piece.end)];
    if turned { [-end, -start] } else { [start, end] }
}

/// The least distance of neighbors' seams and the sum of distances.
fn told(pieces: &[StickPiece], seams: &[f64], turned: &[bool]) -> (f64, f64) {
    let each = |i: usize| ends(&pieces[i], seams[i], turned[i]);
    let joints = (1..pieces.len()).map(|i| apart(each(i - 1)[1], each(i)[0]));
    joints.fold((180.0, 0.0), |(least, sum), one| {
        (one.min(least), sum + one)
    })
}

proptest! {
    /// No offset keeps seams farther off the sides, and none of those that keep them as far
    /// does better with any pieces turned.
    #[test]
    fn no_other_offset_does_better(sticks in sticks()) {
        let plans = Seams::ALL.map(|seams| SeamPlan::new(&sticks, seams));
        let mut pieces: Vec<(usize, StickPiece)> = Vec::new();
        for (stick, list) in sticks.iter().enumerate() {
            pieces.extend(list.iter().map(|piece| (stick, *piece)));
        }
        pieces.sort_by_key(|(_, piece)| piece.number);
        let own: Vec<StickPiece> = pieces.iter().map(|(_, piece)| *piece).collect();
        let mut open: Vec<Vec<f64>> = Vec::new();
        for (i, stick) in sticks.iter().enumerate() {
            let best = margin(stick, plans[0].offsets[i].degrees());
            let tried = (0..STEPS).map(|step| margin(stick, f64::from(step) * 180.0 / f64::from(STEPS)));
            let most = tried.fold(0.0, f64::max);
            prop_assert!(most <= best + 1e-9, "{most} {best}");
            // A step is 0.05°, so the best of those tried is no farther off than half of it.
            prop_assert!(most >= best - 0.05, "{most} {best}");
            for plan in &plans {
                prop_assert!((margin(stick, plan.offsets[i].degrees()) - best).abs() < 1e-9);
            }
            // The places midway between sides that keep as far off.
            let mut sides: Vec<f64> = stick.iter().flat_map(|piece| [piece.start, piece.end])
                .flatten().map(|side| side.degrees().rem_euclid(180.0)).collect();
            sides.sort_by(f64::total_cmp);
            let pairs = sides.iter().flat_map(|a| sides.iter().map(move |b| (a + b) / 2.0));
            let middles = pairs.flat_map(|m| (0..4).map(move |quarter| m + 90.0 * f64::from(quarter)));
            let mut kept: Vec<f64> = middles.filter(|m| margin(stick, *m) >= best - 1e-9).collect();
            kept.sort_by(f64::total_cmp);
            kept.dedup_by(|a, b| (*a - *b).abs() < 1e-7);
            // Where nothing is mitered any offset is as good.
            open.push(if stick.is_empty() { vec![0.0] } else { kept });
        }
        let worst = plans[0].worst.expect("all are mitered").margin.degrees();
        let least = sticks.iter().enumerate()
            .map(|(i, stick)| margin(stick, plans[0].offsets[i].degrees()))
            .fold(90.0, f64::min);
        prop_assert!((worst - least).abs() < 1e-9);
        let result = |plan: &SeamPlan| {
            let seams: Vec<f64> = pieces.iter().map(|(stick, _)| plan.offsets[*stick].degrees()).collect();
            let turned: Vec<bool> = plan.pieces.iter().map(|piece| piece.turned).collect();
            for (piece, planned) in own.iter().zip(&plan.pieces) {
                assert!(piece.turnable || !planned.turned);
                let clock = ends(piece, plan.offsets[planned.stick].degrees(), planned.turned)[0];
                assert!(apart(clock, planned.clock.expect("mitered").degrees()) < 1e-9);
            }
            let found = told(&own, &seams, &turned);
            let stated = plan.joints.iter().map(|joint| joint.apart.degrees());
            assert!((stated.fold(180.0, f64::min) - found.0).abs() < 1e-6);
            found
        };
        let (staggered, in_line) = (result(&plans[0]).0, result(&plans[1]).1);
        result(&plans[2]);
        prop_assert!(plans[2].pieces.iter().all(|piece| !piece.turned));
        // Every offset of each stick that keeps as far off, with every set of pieces turned.
        let mut combinations: Vec<Vec<f64>> = vec![Vec::new()];
        for open in &open {
            combinations = combinations.iter().flat_map(|so_far| {
                open.iter().map(move |next| [so_far.as_slice(), &[*next]].concat())
            }).collect();
        }
        let (mut widest, mut least) = (0.0_f64, f64::INFINITY);
        for offsets in combinations.iter().take(4096) {
            let seams: Vec<f64> = pieces.iter().map(|(stick, _)| offsets[*stick]).collect();
            for mask in 0..1_u32 << own.len() {
                let turned: Vec<bool> = (0..own.len()).map(|i| mask >> i & 1 == 1).collect();
                if own.iter().zip(&turned).any(|(piece, turned)| *turned && !piece.turnable) {
                    continue;
                }
                let (apart, sum) = told(&own, &seams, &turned);
                (widest, least) = (widest.max(apart), least.min(sum));
            }
        }
        prop_assert!((staggered - widest).abs() < 1e-6, "{staggered} {widest}");
        prop_assert!((in_line - least).abs() < 1e-3, "{in_line} {least}");
    }
}
