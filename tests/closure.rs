//! The last piece, against exact geometry: its edges lie on the rims, perfect ends give
//! the planned piece, trimmed ends the miter polyline.

mod support;

use proptest::prelude::*;
use runwright::closure::{Axis, Blank, BuiltEnd, Closure, FitUp, Gap, Side, Station, Ways, Widths};
use runwright::geometry::{Direction, Plane, Point, Polyline, Vector, across, toward};
use runwright::route::{Limits, Rates};
use runwright::run::{Allowance, Port, Run};
use runwright::shop::{Drops, cuts_of_one};
use runwright::tube::{Cut, Edge, Piece, Sleeve, Tube};
use runwright::units::{Angle, Length};

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

fn degrees(value: f64) -> Angle {
    Angle::from_degrees(value)
}

fn tube(od: f64) -> Tube {
    Tube::new(mm(od), mm(1.65), "304").expect("a tube")
}

fn fit_up(tube: &Tube, gap: f64) -> FitUp {
    FitUp::usual(tube, &Limits::for_tube(tube), Rates::default(), mm(gap))
}

/// A direction `lean` off `axis`, toward the clock `at` about it.
fn leaned(axis: &Direction, lean: f64, at: f64) -> Direction {
    let [x, _] = across(axis);
    let side = toward(axis, &x, degrees(at));
    let (sin, cos) = degrees(lean).sin_cos();
    Direction::new_normalize(axis.into_inner() * cos + side.into_inner() * sin)
}

/// Some direction in space.
fn direction() -> impl Strategy<Value = Direction> {
    (-1.0..1.0_f64, -1.0..1.0_f64, -1.0..1.0_f64)
        .prop_map(|(x, y, z)| Vector::new(x, y, z))
        .prop_filter("not the zero vector", |v| v.norm() > 1e-2)
        .prop_map(Direction::new_normalize)
}

/// Two flat built ends that face each other: leans off the line between them, cuts, and
/// the clocks of both; nearly square and nearly in line as often as not.
fn facing() -> impl Strategy<Value = [BuiltEnd; 2]> {
    let small = || prop_oneof![Just(0.0), 1e-9..1e-6_f64, 0.0..12.0_f64];
    let clock = || 0.0..360.0_f64;
    let end = (small(), clock(), small(), clock());
    (direction(), 60.0..400.0_f64, end.clone(), end).prop_map(|(line, apart, first, last)| {
        let from = Point::new(120.0, -40.0, 310.0);
        let make = |center: Point, line: Direction, (lean, at, cut, cut_at)| {
            let axis = leaned(&line, lean, at);
            BuiltEnd::flat(center, axis, leaned(&axis, cut, cut_at))
        };
        [
            make(from, line, first),
            make(from + line.into_inner() * apart, -line, last),
        ]
    })
}

/// How far a point is off an end's rim plane.
fn off(end: &BuiltEnd, point: &Point) -> f64 {
    let plane = Plane {
        point: end.center,
        normal: end.normal(),
    };
    plane.distance(point)
}

fn clocks(count: usize) -> impl Iterator<Item = Angle> {
    (0..count).map(move |i| Angle::FULL * (i as f64 / count as f64))
}

proptest! {
    #[test]
    fn edges_lie_on_both_rim_planes(ends in facing(), od in 12.0..150.0_f64) {
        let tube = tube(od);
        let closure = Closure::new(&tube, [&ends[0], &ends[1]], [false; 2], &fit_up(&tube, 0.0));
        let Ok(closure) = closure else { return Err(TestCaseError::reject("no piece")) };
        for clock in clocks(48) {
            for (end, edge) in ends.iter().zip(closure.edges_at(clock)) {
                prop_assert!(off(end, &edge).abs() < 1e-9, "{}", off(end, &edge));
                let out = closure.axis.out(&edge).norm();
                prop_assert!((out - od / 2.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn a_root_gap_is_left_square_to_both_rims(ends in facing(), gap in 0.0..3.0_f64) {
        let tube = tube(63.5);
        let closure = Closure::new(&tube, [&ends[0], &ends[1]], [false; 2], &fit_up(&tube, gap));
        let Ok(closure) = closure else { return Err(TestCaseError::reject("no piece")) };
        for clock in clocks(48) {
            for (end, edge) in ends.iter().zip(closure.edges_at(clock)) {
                prop_assert!((off(end, &edge) - gap).abs() < 1e-9);
            }
        }
    }

    /// The mismatch's mean square is least: no line nearby has less.
    #[test]
    fn no_line_beside_it_meets_the_walls_better(
        ends in facing(),
        nudge in prop::array::uniform4(-1.0..1.0_f64),
        size in 1e-3..2.0_f64,
    ) {
        let radius = mm(31.75);
        let axis = Axis::of_least_mismatch([&ends[0], &ends[1]], radius).expect("a line");
        let squares = |axis: &Axis| -> f64 {
            let points = ends.iter().flat_map(|end| end.rim_points(radius, 48));
            points.map(|p| (axis.out(&p).norm() - radius.mm()).powi(2)).sum()
        };
        let [x, y] = across(&axis.along);
        let moved = |end: &BuiltEnd, by: &[f64]| {
            axis.foot(&end.center) + (x.into_inner() * by[0] + y.into_inner() * by[1]) * size
        };
        let other = Axis::between(moved(&ends[0], &nudge[..2]), moved(&ends[1], &nudge[2..]));
        let other = other.expect("a line");
        prop_assert!(squares(&axis) <= squares(&other) + 1e-12);
    }

    /// A miter-cut run, one of its pieces left out: the ends that stand there are closed by
    /// that very piece, with and without a gap, trimmed or not.
    #[test]
    fn perfect_ends_give_the_planned_piece(
        turns in prop::collection::vec((4.0..30.0_f64, 0.0..360.0_f64, 90.0..260.0_f64), 2..6),
        left_out in 1..5_usize,
        gap in prop_oneof![Just(0.0), 0.0..2.0_f64],
        trimmed in prop::array::uniform2(any::<bool>()),
    ) {
        let tube = tube(63.5);
        let (run, allowance) = planned(&tube, &turns, gap);
        let number = left_out.min(run.pieces().len() - 2);
        let ends = ends_at(&run, number, allowance);
        let closure = Closure::new(&tube, [&ends[0], &ends[1]], trimmed, &fit_up(&tube, gap));
        let closure = closure.expect("the planned piece goes in");
        let piece = run.pieces()[number].piece.straight().expect("straight").clone();
        prop_assert!((closure.sleeve.length() - piece.length()).mm().abs() < 1e-9);
        prop_assert_eq!(closure.trims, [None, None]);
        for (edge, cut) in [(closure.sleeve.start(), piece.start()), (closure.sleeve.end(), piece.end())] {
            let Edge::Cut(made) = edge else { panic!("a plane") };
            prop_assert!((made.angle - cut.angle).radians().abs() < 1e-11);
            for clock in clocks(12) {
                let apart = made.extension(tube.radius(), clock) - cut.extension(tube.radius(), clock);
                prop_assert!(apart.mm().abs() < 1e-8, "{apart:?}");
            }
        }
        prop_assert!(closure.high_low().mm() < 1e-9);
    }

    /// Both ends cut again: what is built is the run along the two axes and the line
    /// between the new corners, mitered as any run is.
    #[test]
    fn trimmed_ends_are_the_exact_miter_polyline(ends in facing(), gap in prop_oneof![Just(0.0), 0.0..2.0_f64]) {
        let tube = tube(63.5);
        let asked = fit_up(&tube, gap);
        let Ok(closure) = Closure::new(&tube, [&ends[0], &ends[1]], [true; 2], &asked) else {
            return Err(TestCaseError::reject("no piece"));
        };
        prop_assume!(closure.trims.iter().all(Option::is_some));
        let stub = |i: usize| closure.corners[i] - ends[i].axis.into_inner() * 300.0;
        let points = vec![stub(0), closure.corners[0], closure.corners[1], stub(1)];
        let port = |i: usize| Port::new("stub", stub(i), ends[i].axis);
        let allowance = Allowance { gap: mm(gap), shrinkage: Length::ZERO };
        let line = Polyline::new(points).expect("a line");
        let run = Run::new(&tube, &port(0), &port(1), line, allowance);
        // Two tubes that are in line have no joint.
        let Ok(run) = run else { return Err(TestCaseError::reject("no piece")) };
        let piece = run.pieces()[1].piece.straight().expect("straight").clone();
        prop_assert!((closure.sleeve.length() - piece.length()).mm().abs() < 1e-8);
        let (mine, theirs) = (closure.sleeve.long_side().0, piece.long_side());
        prop_assert!((mine - theirs).mm().abs() < 1e-7);
        for (i, trim) in closure.trims.iter().flatten().enumerate() {
            let joint = &run.joints()[i + 1];
            prop_assert!((trim.cut - joint.cut()).radians().abs() < 1e-10);
            prop_assert!((trim.least - asked.shave).mm().abs() < 1e-9);
            // The new face stands half of the gap behind the joint.
            let behind = joint.plane.distance(&trim.plane.point).abs();
            prop_assert!((behind - gap / 2.0).abs() < 1e-8);
            prop_assert!(closure.seams[i].high_low == Length::ZERO);
        }
    }

    /// Wherever the built ends stand in space, the piece is the same.
    #[test]
    fn moving_everything_changes_nothing(ends in facing(), by in direction(), turn in 0.0..6.0_f64) {
        let tube = tube(50.8);
        let asked = fit_up(&tube, 0.5);
        let rotation = nalgebra::Rotation3::from_axis_angle(&by, turn);
        let place = |p: &Point| rotation * p + Vector::new(400.0, -900.0, 55.0);
        let moved = ends.each_ref().map(|end| {
            let turned = |d: &Direction| Direction::new_normalize(rotation * d.into_inner());
            BuiltEnd::flat(place(&end.center), turned(&end.axis), turned(&end.normal()))
        });
        for trimmed in [[false; 2], [true; 2], [true, false]] {
            let one = Closure::new(&tube, [&ends[0], &ends[1]], trimmed, &asked);
            let two = Closure::new(&tube, [&moved[0], &moved[1]], trimmed, &asked);
            match (one, two) {
                (Ok(one), Ok(two)) => {
                    prop_assert!((one.sleeve.length() - two.sleeve.length()).mm().abs() < 1e-7);
                    prop_assert!((one.high_low() - two.high_low()).mm().abs() < 1e-7);
                    let sides = (one.sleeve.short_side().0, two.sleeve.short_side().0);
                    prop_assert!((sides.0 - sides.1).mm().abs() < 1e-6);
                }
                (one, two) => prop_assert_eq!(one.is_err(), two.is_err()),
            }
        }
    }

    #[test]
    fn widths_of_two_planes_give_the_piece_between_them(
        width in 60.0..200.0_f64,
        slants in prop::array::uniform4(-8.0..8.0_f64),
        count in 4..25_usize,
    ) {
        let tube = tube(76.2);
        let radius = tube.radius();
        let cut = |a: f64, b: f64| Cut {
            angle: Angle::from_radians((a.hypot(b) / radius.mm()).atan()),
            clock: Angle::from_radians(b.atan2(a)).wrapped(),
        };
        let (start, end) = (cut(slants[0], slants[1]), cut(slants[2], slants[3]));
        let stations: Vec<Station> = clocks(count)
            .map(|clock| {
                let width = mm(width) + start.extension(radius, clock) + end.extension(radius, clock);
                Station { clock, width }
            })
            .collect();
        let widths = Widths { stations, good_to: mm(0.5), before: start, ragged: false };
        let gap = Gap::new(&tube, &widths, Length::ZERO).expect("a piece");
        prop_assert!((gap.width.mm() - width).abs() < 1e-9);
        prop_assert!(gap.slips.is_empty());
        for clock in clocks(36) {
            let end_at = mm(width) + end.extension(radius, clock);
            prop_assert!((gap.sleeve.end_at(clock) - end_at).mm().abs() < 1e-8);
            let start_at = -start.extension(radius, clock);
            prop_assert!((gap.sleeve.start_at(clock) - start_at).mm().abs() < 1e-8);
        }
    }

    /// No numbers make it panic.
    #[test]
    fn hostile_ends_are_refused_or_closed(
        numbers in prop::array::uniform12(prop_oneof![Just(0.0), Just(f64::NAN), Just(1e300), Just(-1e-300), -1e3..1e3_f64]),
        trimmed in prop::array::uniform2(any::<bool>()),
    ) {
        let tube = tube(63.5);
        let end = |n: &[f64]| {
            let axis = Direction::new_unchecked(Vector::new(n[3], n[4], n[5]));
            BuiltEnd::flat(Point::new(n[0], n[1], n[2]), axis, axis)
        };
        let ends = [end(&numbers[..6]), end(&numbers[6..])];
        let _ = Closure::new(&tube, [&ends[0], &ends[1]], trimmed, &fit_up(&tube, 1.0));
        let _ = Ways::new(&tube, [&ends[0], &ends[1]], [true; 2], &fit_up(&tube, 1.0));
    }
}

fn cut(angle: f64, clock: f64) -> Cut {
    Cut {
        angle: degrees(angle),
        clock: degrees(clock),
    }
}

/// What was sawn longer by the plan's sheet: an end that is cut as asked stays, the other is
/// trimmed; closed forms of what comes off and what is to spare.
#[test]
fn a_sawn_piece_keeps_the_end_that_is_cut_as_asked() {
    let (tube, kerf, good_to) = (tube(60.0), mm(1.6), degrees(0.25));
    let reach = |angle: f64| 30.0 * angle.to_radians().tan();
    let along = |angle: f64| 1.6 / angle.to_radians().cos();
    let piece = Piece::new(tube.clone(), mm(200.0), cut(8.0, 0.0), cut(10.0, 40.0)).expect("one");
    let blank = |longer: f64| Blank {
        piece: &piece,
        longer: mm(longer),
    };
    let asked = |length: f64, start: Cut, end: Cut| {
        let (start, end) = (Edge::Cut(start), Edge::Cut(end));
        Sleeve::new(tube.clone(), mm(length), start, end).expect("a piece")
    };
    // Its end is cut again on the same slant: nothing but the extra and a kerf.
    let found = blank(12.0).recut(&asked(203.0, cut(8.1, 0.0), cut(10.0, 40.0)), good_to, kerf);
    assert_eq!(found.stays, Some(Side::Before));
    assert!(
        (found.spare.mm() - (9.0 - along(10.0))).abs() < 1e-3,
        "{found:?}"
    );
    // A start of 11° takes more off at its long side.
    let steep = asked(203.0, cut(11.0, 0.0), cut(10.0, 40.0));
    let found = blank(12.0).recut(&steep, good_to, kerf);
    assert_eq!(found.stays, Some(Side::After));
    let off = reach(11.0) - reach(8.0) + along(11.0);
    assert!((found.off_start.mm() - off).abs() < 1e-3, "{found:?}");
    assert!((found.spare.mm() - (9.0 - off)).abs() < 1e-3, "{found:?}");
    // An end that turned by half a turn and was cut flatter: neither stays, both slants add.
    let turned = asked(203.0, cut(7.0, 0.0), cut(9.0, 220.0));
    let found = blank(20.0).recut(&turned, good_to, kerf);
    assert_eq!(found.stays, None);
    let off = [
        reach(8.0) - reach(7.0) + along(7.0),
        reach(9.0) + reach(10.0) + along(9.0),
    ];
    assert!((found.off_start.mm() - off[0]).abs() < 1e-3, "{found:?}");
    assert!(
        (found.spare.mm() - (17.0 - off[0] - off[1])).abs() < 1e-3,
        "{found:?}"
    );
    // Not sawn longer, it is too short.
    let found = blank(0.0).recut(&steep, good_to, kerf);
    assert!(found.spare < Length::ZERO && found.stays.is_none());
}

/// The saw's rows of one piece: stop, feed and rotate by their definitions.
#[test]
fn one_piece_takes_two_rows_at_the_saw() {
    let radius = mm(30.0);
    let (start, end) = (cut(8.0, 350.0), cut(10.0, 40.0));
    let reach = |angle: f64| 30.0 * angle.to_radians().tan();
    let along = |angle: f64| 1.6 / angle.to_radians().cos();
    let near = |found: f64, right: f64| assert!((found - right).abs() < 1e-9, "{found} {right}");
    for (turned, [first, last]) in [(false, [8.0, 10.0]), (true, [10.0, 8.0])] {
        let rows = cuts_of_one(radius, (4, turned), mm(200.0), [start, end], mm(1.6));
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[0].drops, Drops::End);
        near(rows[0].angle.degrees(), first);
        near(rows[0].feed.mm(), reach(first) + along(first));
        let drops = Drops::Piece {
            run: 0,
            piece: 4,
            turned,
        };
        assert_eq!(rows[1].drops, drops);
        near(rows[1].angle.degrees(), last);
        near(rows[1].feed.mm(), 200.0 + along(last));
        near(rows[1].stop.mm(), 200.0 + reach(8.0) + reach(10.0));
        // Half a turn, less the 50° from one long side to the other, whichever comes first.
        near(rows[1].rotate.degrees(), 130.0);
    }
    let square = cuts_of_one(radius, (1, false), mm(100.0), [Cut::SQUARE, end], mm(1.6));
    assert_eq!(square.len(), 1);
    near(square[0].feed.mm(), 100.0 + along(10.0));
}

/// A run of the given turns (deflection, clock, length), with a root gap.
fn planned(tube: &Tube, turns: &[(f64, f64, f64)], gap: f64) -> (Run, Allowance) {
    let mut axis = Vector::z_axis();
    let mut points = vec![Point::origin()];
    let mut at = Point::origin() + axis.into_inner() * 120.0;
    points.push(at);
    for (deflection, clock, length) in turns {
        axis = leaned(&axis, *deflection, *clock);
        at += axis.into_inner() * *length;
        points.push(at);
    }
    let line = Polyline::new(points).expect("a line");
    let [(from, out), (to, back)] = line.ends();
    let allowance = Allowance {
        gap: mm(gap),
        shrinkage: Length::ZERO,
    };
    let ports = [Port::new("from", from, out), Port::new("to", to, back)];
    let run = Run::new(tube, &ports[0], &ports[1], line, allowance).expect("a run");
    (run, allowance)
}

/// The ends that stand on both sides of the piece with index `number`.
fn ends_at(run: &Run, number: usize, allowance: Allowance) -> [BuiltEnd; 2] {
    let before = &run.joints()[number];
    let after = &run.joints()[number + 1];
    let first = run.pieces()[number - 1].end_axis();
    let last = run.pieces()[number + 1].axis;
    let back = |cut: Angle| allowance.setback(cut).mm();
    [
        BuiltEnd::flat(
            before.plane.point - first.into_inner() * back(before.cut()),
            first,
            before.plane.normal,
        ),
        BuiltEnd::flat(
            after.plane.point + last.into_inner() * back(after.cut()),
            -last,
            -after.plane.normal,
        ),
    ]
}
