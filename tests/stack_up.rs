//! How far off a run may end: by hand, and against builds with finite errors.

#[path = "support/bench.rs"]
mod bench;
mod support;
#[path = "support/walks.rs"]
mod walks;

use bench::{Errors, Frame, Known, build, reversed};
use nalgebra::{Matrix6, Rotation3, Vector6};
use runwright::geometry::{Direction, Point, Polyline, Scatter, Vector, angle_between, toward};
use runwright::run::{Allowance, Centerline, JointKind, Port, Run};
use runwright::shop::{Accuracy, Cause, Closing, StackUp};
use runwright::units::{Angle, Length};
use support::{Numbers, run_along};
use walks::{Ported, any_run, small_tube, with_stock_bends};

/// Least short side that closures must keep in these tests.
const SHORT: Length = Length::from_mm(3.0);

/// Builds of a simulation.
const BUILDS: usize = 20_000;

fn miter_run(points: &[[f64; 3]]) -> Ported {
    run_along(
        &small_tube(),
        points.iter().map(|&p| Point::from(p)).collect(),
    )
}

/// With tube ends in sockets, whose square faces bear nothing.
fn socketed((run, start, end): Ported) -> Ported {
    let deep = |port: Port| Port {
        socket: Length::from_mm(5.0),
        ..port
    };
    (run, deep(start), deep(end))
}

fn stack_up((run, start, end): &Ported, accuracy: &Accuracy) -> StackUp {
    StackUp::new(run, [start, end], accuracy, SHORT)
}

fn scaled(accuracy: &Accuracy, factor: f64) -> Accuracy {
    Accuracy {
        cut: accuracy.cut * factor,
        setting: accuracy.setting * factor,
        length: accuracy.length * factor,
        clock: accuracy.clock * factor,
        bend: accuracy.bend * factor,
    }
}

/// Two bends of three joints each, out of one plane.
fn two_bends() -> Ported {
    let first = pie_bend(Point::origin(), Vector::z_axis(), Vector::x_axis(), 60.0, 3);
    let (mut points, axis) = first;
    let last = points[points.len() - 1];
    let side = toward(
        &axis,
        &Direction::new_normalize(Vector::y().cross(&axis)),
        Angle::from_degrees(70.0),
    );
    let (more, _) = pie_bend(last + axis.into_inner() * 80.0, axis, side, 75.0, 4);
    // The bends' straights are one piece.
    points.pop();
    points.extend(&more[1..]);
    run_along(&small_tube(), points)
}

/// Straight, bend of `joints` toward `side`, straight: its points and last direction.
fn pie_bend(
    from: Point,
    axis: Direction,
    side: Direction,
    turn: f64,
    joints: u32,
) -> (Vec<Point>, Direction) {
    let mut points = vec![from, from + axis.into_inner() * 90.0];
    let at = |degrees: f64| {
        let (sin, cos) = Angle::from_degrees(degrees).sin_cos();
        Direction::new_normalize(axis.into_inner() * cos + side.into_inner() * sin)
    };
    let each = turn / f64::from(joints);
    for joint in 1..=joints {
        let next = at(each * f64::from(joint));
        let edge = if joint == joints { 110.0 } else { 26.0 };
        points.push(points[points.len() - 1] + next.into_inner() * edge);
    }
    (points, at(turn))
}

fn near(actual: f64, expected: f64) {
    let off = (actual - expected).abs();
    assert!(
        off <= 1e-9 * expected.abs().max(1e-3),
        "{actual} {expected}"
    );
}

// --- by hand ---

#[test]
fn a_straight_leans_off_its_first_face() {
    let run = miter_run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 300.0]]);
    let found = stack_up(&run, &Accuracy::default());
    let face = 0.25_f64.to_radians() / 2.0_f64.sqrt();
    let [x, y, z] = [Vector::x_axis(), Vector::y_axis(), Vector::z_axis()];
    near(found.built.along(&x).mm(), 300.0 * face);
    near(found.built.along(&y).mm(), 300.0 * face);
    near(found.built.along(&z).mm(), 0.5);
    // Its own two faces lean, the far one about the far flange.
    near(found.built.lean(&z).degrees(), 0.25);
    assert_eq!(found.gap, found.built);
    // There is no rest to tack up.
    assert_eq!(found.closing, None);
}

#[test]
fn one_miter_by_hand() {
    let run = socketed(miter_run(&[
        [0.0, 0.0, 0.0],
        [0.0, 0.0, 200.0],
        [150.0, 0.0, 200.0],
    ]));
    let found = stack_up(&run, &Accuracy::default()).built;
    let (turn, clock) = (0.5_f64.to_radians(), 1.0_f64.to_radians());
    near(found.along(&Vector::x_axis()).mm(), 0.5);
    near(found.along(&Vector::y_axis()).mm(), 150.0 * clock);
    near(
        found.along(&Vector::z_axis()).mm(),
        0.5_f64.hypot(150.0 * turn),
    );
    let [clocked, turned] = found.leans(&Vector::x_axis());
    near(clocked.0.degrees(), 1.0);
    near(turned.0.degrees(), 0.5);
    assert!(clocked.1.y.abs() > 1.0 - 1e-9 && turned.1.z.abs() > 1.0 - 1e-9);
}

#[test]
fn a_planar_run_by_its_lever_arms() {
    // The end is (200, 100) and (100, 0) from its joints, as (x, z).
    let run = socketed(miter_run(&[
        [0.0, 0.0, 0.0],
        [0.0, 0.0, 100.0],
        [100.0, 0.0, 200.0],
        [200.0, 0.0, 200.0],
    ]));
    let one = Angle::from_degrees(0.1);
    let turn = 2.0 * one.radians();
    let independent = Accuracy {
        cut: one,
        ..Accuracy::EXACT
    };
    let found = stack_up(&run, &independent);
    near(found.built.along(&Vector::x_axis()).mm(), 100.0 * turn);
    near(
        found.built.along(&Vector::z_axis()).mm(),
        200.0_f64.hypot(100.0) * turn,
    );
    assert!(found.built.along(&Vector::y_axis()).mm() < 1e-12);
    // Mean squares: 50,000 of joint 1, 10,000 of joint 2.
    let shares: Vec<_> = found
        .shares
        .iter()
        .map(|s| (s.cause.clone(), s.fraction))
        .collect();
    assert_eq!(shares.len(), 2);
    assert_eq!(shares[0].0, Cause::Cut { joint: 1 });
    near(shares[0].1, 5.0 / 6.0);
    near(shares[1].1, 1.0 / 6.0);
    // One setting, wrong: both joints turn together.
    let together = Accuracy {
        setting: one,
        ..Accuracy::EXACT
    };
    let found = stack_up(&run, &together);
    near(found.built.along(&Vector::x_axis()).mm(), 100.0 * turn);
    near(found.built.along(&Vector::z_axis()).mm(), 300.0 * turn);
    assert_eq!(found.shares.len(), 1);
}

#[test]
fn a_wrong_setting_turns_all_joints_of_a_pie_bend_together() {
    let (points, axis) = pie_bend(Point::origin(), Vector::z_axis(), Vector::x_axis(), 90.0, 5);
    let run = socketed(run_along(&small_tube(), points));
    let one = Angle::from_degrees(0.2);
    let together = Accuracy {
        setting: one,
        ..Accuracy::EXACT
    };
    let independent = Accuracy {
        cut: one,
        ..Accuracy::EXACT
    };
    near(
        stack_up(&run, &together).built.lean(&axis).degrees(),
        5.0 * 0.4,
    );
    near(
        stack_up(&run, &independent).built.lean(&axis).degrees(),
        5.0_f64.sqrt() * 0.4,
    );
}

#[test]
fn an_arc_that_turns_more_goes_on_round_its_center() {
    let points = [[0.0, 0.0, 0.0], [0.0, 0.0, 100.0], [100.0, 0.0, 100.0]];
    let polyline = Polyline::new(points.map(Point::from).to_vec()).unwrap();
    let start = Port::new("a", Point::origin(), Vector::z_axis());
    let end = Port::new("b", Point::new(100.0, 0.0, 100.0), -Vector::x_axis());
    let centerline = Centerline::new(polyline, vec![None, Some(Length::from_mm(80.0)), None]);
    let run = Run::new(
        &small_tube(),
        &start,
        &end,
        centerline.unwrap(),
        Allowance::default(),
    )
    .unwrap();
    let accuracy = Accuracy {
        bend: Angle::from_degrees(0.5),
        ..Accuracy::EXACT
    };
    let found = stack_up(&(run, start, end), &accuracy).built;
    let turn = 0.5_f64.to_radians();
    // 80·ε on along the leg, and the 20 mm leg swings by ε.
    near(found.along(&Vector::x_axis()).mm(), 80.0 * turn);
    near(found.along(&Vector::z_axis()).mm(), 20.0 * turn);
}

#[test]
fn ports_count_where_the_run_ends() {
    let (run, start, end) = miter_run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [150.0, 0.0, 200.0]]);
    let (shift, lean) = (Length::from_mm(0.4), Angle::from_degrees(0.5));
    let known = |port: Port, shift, lean| Port {
        scatter: Scatter::even(shift, lean, &port.outward),
        ..port
    };
    let run = (
        run,
        known(start, shift, lean),
        known(end, shift, Angle::ZERO),
    );
    let found = stack_up(&run, &Accuracy::EXACT);
    assert!(found.built.is_none());
    let lean = lean.radians();
    let both = 0.4 * 2.0_f64.sqrt();
    near(
        found.gap.along(&Vector::x_axis()).mm(),
        both.hypot(200.0 * lean),
    );
    near(
        found.gap.along(&Vector::y_axis()).mm(),
        both.hypot(200.0 * lean),
    );
    near(
        found.gap.along(&Vector::z_axis()).mm(),
        both.hypot(150.0 * lean),
    );
    let names: Vec<&Cause> = found.shares.iter().map(|share| &share.cause).collect();
    let port = |name: &str| Cause::Port { name: name.into() };
    assert_eq!(names, [&port("start"), &port("end")]);
    let closing = found.closing.unwrap();
    assert!(closing.trim > Length::ZERO);
    assert!(closing.trim_by_making == Length::ZERO);
}

// --- properties ---

#[test]
fn no_errors_nothing_off_and_all_scale_alike() {
    let mut numbers = Numbers::new(11);
    for _ in 0..20 {
        let run = any_run(&mut numbers, 40.0);
        let none = stack_up(&run, &Accuracy::EXACT);
        assert!(none.gap.is_none() && none.shares.is_empty());
        assert_eq!(none.closing.map(|closing| closing.trim), Some(Length::ZERO));
        let once = stack_up(&run, &Accuracy::default());
        let thrice = stack_up(&run, &scaled(&Accuracy::default(), 3.0));
        let off = thrice.gap.covariance() - once.gap.scaled(3.0).covariance();
        assert!(off.amax() < 1e-12 * thrice.gap.covariance().amax());
        let total: f64 = once.shares.iter().map(|share| share.fraction).sum();
        near(total, 1.0);
        assert!(
            once.shares
                .windows(2)
                .all(|two| two[0].fraction >= two[1].fraction - 1e-9)
        );
    }
}

#[test]
fn a_moved_job_has_its_scatter_moved_along() {
    let mut numbers = Numbers::new(12);
    for _ in 0..20 {
        let (run, start, end) = any_run(&mut numbers, 40.0);
        let turn = Rotation3::new(numbers.direction().into_inner() * 2.0);
        let shift = Vector::new(300.0, -40.0, 7.0);
        let points = run.centerline().points();
        let moved = run_along(
            &small_tube(),
            points.iter().map(|p| turn * p + shift).collect(),
        );
        let accuracy = Accuracy {
            setting: Angle::from_degrees(0.1),
            ..Accuracy::default()
        };
        let here = stack_up(&(run, start, end), &accuracy);
        let there = stack_up(&moved, &accuracy);
        let carried = turn.matrix() * here.gap.shift() * turn.matrix().transpose();
        assert!((carried - there.gap.shift()).amax() < 1e-7);
        let carried = turn.matrix() * here.gap.turn() * turn.matrix().transpose();
        assert!((carried - there.gap.turn()).amax() < 1e-9);
        let (a, b) = (here.closing.unwrap(), there.closing.unwrap());
        assert_eq!(a.piece, b.piece);
        assert!((a.trim - b.trim).abs() < Length::from_mm(1e-6));
    }
}

/// Built from the other end, the gap is the same motion seen there. Clocks are left out:
/// what is clocked is about the axis of the tube that is built on.
#[test]
fn from_the_other_end_the_gap_is_the_same() {
    let mut numbers = Numbers::new(13);
    for _ in 0..20 {
        let (run, start, end) = any_run(&mut numbers, 40.0);
        let known = |port: &Port| Port {
            scatter: Scatter::even(
                Length::from_mm(0.3),
                Angle::from_degrees(0.4),
                &port.outward,
            ),
            ..port.clone()
        };
        let (start, end) = (known(&start), known(&end));
        let accuracy = Accuracy {
            clock: Angle::ZERO,
            setting: Angle::from_degrees(0.1),
            ..Accuracy::default()
        };
        let back = reversed(&run, &start, &end);
        let arm = start.center - end.center;
        let onward = StackUp::new(&run, [&start, &end], &accuracy, SHORT);
        let back = StackUp::new(&back, [&end, &start], &accuracy, SHORT);
        let off = onward.gap.seen_at(&arm).covariance() - back.gap.covariance();
        assert!(off.amax() < 1e-9 * back.gap.covariance().amax());
    }
}

#[test]
fn the_closure_is_the_same_from_either_end() {
    let mut numbers = Numbers::new(14);
    for _ in 0..20 {
        let (run, start, end) = any_run(&mut numbers, 40.0);
        let back = reversed(&run, &start, &end);
        let pieces = run.pieces().len();
        let here = StackUp::new(&run, [&start, &end], &Accuracy::default(), SHORT);
        let there = StackUp::new(&back, [&end, &start], &Accuracy::default(), SHORT);
        let (here, there) = (here.closing.unwrap(), there.closing.unwrap());
        assert_eq!(here.piece, pieces + 1 - there.piece);
        assert!((here.trim - there.trim).abs() < Length::from_mm(1e-9));
    }
}

// --- against builds with finite errors ---

/// A run, how it is made, and how well its ports are known.
struct Case {
    run: Ported,
    accuracy: Accuracy,
    known: [Known; 2],
}

impl Case {
    fn new((run, start, end): Ported, accuracy: Accuracy, known: [Known; 2]) -> Self {
        let with = |port: Port, known: Known| Port {
            scatter: Scatter::even(
                Length::from_mm(known.shift),
                Angle::from_radians(known.lean),
                &port.outward,
            ),
            ..port
        };
        Self {
            run: (run, with(start, known[0]), with(end, known[1])),
            accuracy,
            known,
        }
    }

    /// Errors of the saw's settings at each joint: miters cut alike share one.
    fn settings(&self, numbers: &mut Numbers) -> Vec<f64> {
        let mut drawn: Vec<(f64, f64)> = Vec::new();
        let joints = self.run.0.joints().iter();
        let setting = |cut: f64| {
            if let Some(known) = drawn.iter().find(|one| (one.0 - cut).abs() < 1e-7) {
                return known.1;
            }
            let error = self.accuracy.setting.radians() * numbers.normal();
            drawn.push((cut, error));
            error
        };
        joints
            .map(|joint| joint.cut().radians())
            .map(setting)
            .collect()
    }

    fn errors(&self, run: &Run, settings: &[f64], numbers: &mut Numbers) -> Errors {
        Errors::drawn(run, [false; 2], &self.accuracy, settings, numbers)
    }

    /// The gap of many builds from the first port: shift and turn.
    fn gaps(&self, seed: u64) -> Vec<Vector6<f64>> {
        let (run, start, end) = &self.run;
        let mut numbers = Numbers::new(seed);
        let count = run.pieces().len();
        let plan = build(run, Frame::start(run), &Errors::none(run), count).end;
        assert!((plan.point - end.center).norm() < 1e-6, "the bench closes");
        assert!(angle_between(&plan.axis(), &-end.outward).radians() < 1e-9);
        let one = |_| {
            let settings = self.settings(&mut numbers);
            let (shift, turn) = self.known[0].motion(&mut numbers, &start.outward);
            let from = Frame::start(run).moved(shift, turn);
            let errors = self.errors(run, &settings, &mut numbers);
            let end_is = build(run, from, &errors, count).end;
            let (shift, turn) = self.known[1].motion(&mut numbers, &end.outward);
            let port = plan.moved(shift, turn);
            let turn = (end_is.turn * port.turn.inverse()).scaled_axis();
            let shift = end_is.point - port.point;
            Vector6::from_iterator(shift.iter().chain(turn.iter()).copied())
        };
        (0..BUILDS).map(one).collect()
    }
}

fn covariance(samples: &[Vector6<f64>]) -> Matrix6<f64> {
    let count = samples.len() as f64;
    let mean = samples.iter().sum::<Vector6<f64>>() / count;
    let sum: Matrix6<f64> = samples
        .iter()
        .map(|s| (s - mean) * (s - mean).transpose())
        .sum();
    sum / (count - 1.0)
}

/// Every entry within five standard errors of sampling, √((Cᵢᵢ·Cⱼⱼ + Cᵢⱼ²)/N), and
/// `beyond` of √(Cᵢᵢ·Cⱼⱼ) for what is beyond first order.
fn agrees(samples: &[Vector6<f64>], expected: &Matrix6<f64>, beyond: f64) {
    let found = covariance(samples);
    for i in 0..6 {
        for j in 0..=i {
            let product = expected[(i, i)] * expected[(j, j)];
            let error = ((product + expected[(i, j)].powi(2)) / samples.len() as f64).sqrt();
            let off = (found[(i, j)] - expected[(i, j)]).abs();
            let allowed = 5.0 * error + beyond * product.sqrt();
            assert!(
                off <= allowed,
                "entry {i} {j}: {off:e} over {allowed:e}\n{found}{expected}"
            );
        }
    }
}

const KNOWN: [Known; 2] = [
    Known {
        shift: 0.4,
        lean: 0.006,
    },
    Known {
        shift: 0.7,
        lean: 0.004,
    },
];

fn usual() -> Accuracy {
    Accuracy {
        setting: Angle::from_degrees(0.1),
        ..Accuracy::default()
    }
}

/// Errors of a tenth, where what is beyond first order cannot be seen.
#[test]
fn small_errors_scatter_builds_as_told() {
    let mut numbers = Numbers::new(21);
    let mut runs = vec![two_bends(), with_stock_bends()];
    runs.extend((0..8).map(|_| any_run(&mut numbers, 40.0)));
    for (seed, run) in (100..).zip(runs) {
        let known = KNOWN.map(|known| Known {
            shift: known.shift / 10.0,
            lean: known.lean / 10.0,
        });
        let case = Case::new(run, scaled(&usual(), 0.1), known);
        let gap = stack_up(&case.run, &case.accuracy).gap;
        let gaps = case.gaps(seed);
        agrees(&gaps, gap.covariance(), 1e-4);
        // A normal deviate of three dimensions lies within 1σ and 2σ in 19.87 % and
        // 73.85 % (chi-square with three degrees of freedom).
        let inverse = gap.shift().try_inverse().unwrap();
        for (sigmas, part) in [(1.0, 0.198_75), (2.0, 0.738_54)] {
            let within = |s: &&Vector6<f64>| {
                let shift = Vector::new(s[0], s[1], s[2]);
                shift.dot(&(inverse * shift)) <= sigmas * sigmas
            };
            let found = gaps.iter().filter(within).count() as f64 / BUILDS as f64;
            let error = (part * (1.0 - part) / BUILDS as f64).sqrt();
            assert!((found - part).abs() < 5.0 * error, "{found} {part}");
        }
    }
}

/// Errors as shops have them: beyond first order by less than 1 % of a variance.
#[test]
fn usual_errors_scatter_builds_as_told() {
    for (seed, run) in (200..).zip([two_bends(), with_stock_bends()]) {
        for known in [[Known::EXACTLY; 2], KNOWN] {
            let case = Case::new(run.clone(), usual(), known);
            let gap = stack_up(&case.run, &case.accuracy).gap;
            agrees(&case.gaps(seed), gap.covariance(), 0.01);
        }
    }
}

/// One build from both ends, and the piece that would close it.
struct Closed {
    /// Longest side of the piece.
    long: f64,
    /// Center to center.
    center: f64,
    /// How askew it stands to the tube before and after, against the plan.
    askew: [f64; 2],
}

impl Case {
    /// What closes `index` in many builds from both ends; the plan's own first.
    fn closures(&self, index: usize, builds: usize, seed: u64) -> Vec<Closed> {
        let (run, start, end) = &self.run;
        let back = reversed(run, start, end);
        let beyond = run.pieces().len() - 1 - index;
        let radius = run.tube().radius().mm();
        let mut numbers = Numbers::new(seed);
        let mut plan: Option<[Vector; 2]> = None;
        let mut one = |errors: [&Errors; 2], moved: [(Vector, Vector); 2]| {
            let from = |run: &Run, (shift, turn)| Frame::start(run).moved(shift, turn);
            let a = build(run, from(run, moved[0]), errors[0], index);
            let b = build(&back, from(&back, moved[1]), errors[1], beyond);
            let between = b.tube.point - a.tube.point;
            let along = between.normalize();
            let own = [&a, &b].map(|side| side.tube.turn.inverse() * along);
            let planned = *plan.get_or_insert(own);
            // Side at p, a unit vector across: L + r·p·(nA/(nA·u) − nB/(nB·u)).
            let slope = a.face / a.face.dot(&along) - b.face / b.face.dot(&along);
            let across = slope - along * slope.dot(&along);
            Closed {
                long: between.norm() + radius * across.norm(),
                center: between.norm(),
                askew: [0, 1].map(|i| angle_between(&own[i], &planned[i]).radians()),
            }
        };
        let still = (Vector::zeros(), Vector::zeros());
        let exact = [&Errors::none(run), &Errors::none(&back)];
        let mut closed = vec![one(exact, [still; 2])];
        for _ in 0..builds {
            let settings = self.settings(&mut numbers);
            let mirrored: Vec<f64> = settings.iter().rev().copied().collect();
            let errors = self.errors(run, &settings, &mut numbers);
            let back_errors = self.errors(&back, &mirrored, &mut numbers);
            let moved = [
                self.known[0].motion(&mut numbers, &start.outward),
                self.known[1].motion(&mut numbers, &end.outward),
            ];
            closed.push(one([&errors, &back_errors], moved));
        }
        closed
    }

    fn closing(&self) -> Closing {
        stack_up(&self.run, &self.accuracy)
            .closing
            .expect("a piece is long enough")
    }
}

fn root_mean_square(values: impl Iterator<Item = f64>) -> f64 {
    let squares: Vec<f64> = values.map(|value| value * value).collect();
    (squares.iter().sum::<f64>() / squares.len() as f64).sqrt()
}

#[test]
fn a_closure_stands_as_askew_as_told() {
    for (seed, run) in (300..).zip([two_bends(), with_stock_bends()]) {
        let known = KNOWN.map(|known| Known {
            shift: known.shift / 10.0,
            lean: known.lean / 10.0,
        });
        let case = Case::new(run, scaled(&usual(), 0.1), known);
        let closing = case.closing();
        let closed = case.closures(closing.piece - 1, BUILDS, seed);
        let (plan, builds) = closed.split_first().unwrap();
        let along = root_mean_square(builds.iter().map(|one| one.center - plan.center));
        // Three in a hundred: six standard errors of 20,000 builds.
        assert!(
            (along / closing.along.mm() - 1.0).abs() < 0.03,
            "{along} {closing:?}"
        );
        for i in 0..2 {
            let askew = root_mean_square(builds.iter().map(|one| one.askew[i]));
            let told = closing.askew[i].radians();
            assert!((askew / told - 1.0).abs() < 0.03, "end {i}: {askew} {told}");
        }
    }
}

/// No other straight piece would stand less askew, by simulation.
#[test]
fn the_closure_is_the_one_that_stands_least_askew() {
    for (seed, run) in (500..).zip([two_bends(), with_stock_bends()]) {
        let case = Case::new(run, scaled(&usual(), 0.1), [Known::EXACTLY; 2]);
        let pieces = case.run.0.pieces().iter().enumerate();
        let straight = pieces.filter(|(_, placed)| placed.piece.straight().is_some());
        let worse = straight.map(|(index, _)| {
            let closed = case.closures(index, 2000, seed);
            let askew = |i: usize| root_mean_square(closed.iter().map(|one| one.askew[i]));
            (index + 1, askew(0).max(askew(1)))
        });
        let least = worse.min_by(|a, b| a.1.total_cmp(&b.1)).unwrap();
        assert_eq!(case.closing().piece, least.0);
    }
}

/// At least 99 of 100 closures are long enough with the trim, and the trim is no more
/// than three times what 99 of 100 need.
#[test]
fn the_trim_is_enough() {
    let mut numbers = Numbers::new(31);
    let mut runs = vec![two_bends(), with_stock_bends()];
    runs.extend((0..10).map(|_| any_run(&mut numbers, 40.0)));
    for (seed, run) in (400..).zip(runs) {
        for known in [[Known::EXACTLY; 2], KNOWN] {
            let case = Case::new(run.clone(), usual(), known);
            let closing = case.closing();
            let closed = case.closures(closing.piece - 1, 4000, seed);
            let planned = case.run.0.pieces()[closing.piece - 1]
                .piece
                .long_side()
                .mm();
            assert!((closed[0].long - planned).abs() < 1e-6, "the bench closes");
            let mut longer: Vec<f64> = closed.iter().map(|one| one.long - planned).collect();
            longer.sort_by(f64::total_cmp);
            let ninety_nine = longer[longer.len() * 99 / 100];
            let trim = closing.trim.mm();
            println!(
                "piece {} trim {trim:.2} needed {ninety_nine:.2}",
                closing.piece
            );
            assert!(ninety_nine <= trim, "{ninety_nine} {trim}");
            assert!(trim <= 3.0 * ninety_nine, "{ninety_nine} {trim}");
        }
    }
}

#[test]
fn a_closure_keeps_its_short_side() {
    let (run, start, end) = two_bends();
    let all = StackUp::new(&run, [&start, &end], &Accuracy::default(), SHORT);
    let closing = all.closing.unwrap();
    let short = run.pieces()[closing.piece - 1].piece.short_side();
    let none = StackUp::new(&run, [&start, &end], &Accuracy::default(), short);
    // The long piece between the bends is the longest of all.
    assert_eq!(run.joints()[closing.piece].kind, JointKind::Miter);
    assert!(
        none.closing
            .is_none_or(|other| other.piece != closing.piece)
    );
}
