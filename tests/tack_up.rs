//! Putting a run together: the order, the marks, and what a tape reads on the way, by hand,
//! by properties, and against builds with finite errors.

#[path = "support/bench.rs"]
mod bench;
mod support;
#[path = "support/walks.rs"]
mod walks;

use bench::{Errors, Frame, Known, Reached, build, reversed};
use nalgebra::Rotation3;
use runwright::geometry::{
    Direction, FoundSide, Level, Plane, Point, Polyline, Scatter, Vector, toward,
};
use runwright::run::{Allowance, JointKind, Port, Run};
use runwright::shop::{
    Accuracy, BuiltFace, CENTER_TAPES, Fixed, MOST_TAPES, Origin, Spot, StackUp, TackUp, Tacking,
    Tape,
};
use runwright::survey::Pin;
use runwright::units::{Angle, Length};
use support::{Numbers, run_along};
use walks::{Ported, any_run, small_tube, with_stock_bends};

/// Builds of a simulation.
const BUILDS: usize = 4000;
/// Places along a tape that are looked at.
const SAMPLES: u32 = 1500;

fn miter_run(points: &[[f64; 3]]) -> Ported {
    run_along(
        &small_tube(),
        points.iter().map(|&p| Point::from(p)).collect(),
    )
}

fn pin(name: &str, at: [f64; 3]) -> Pin {
    Pin {
        name: name.to_owned(),
        at: Point::from(at),
        good_to: Length::ZERO,
    }
}

fn tack_up((run, start, end): &Ported, pins: &[Pin], closure: Option<usize>) -> TackUp {
    tacked(
        (run, [start, end]),
        pins,
        closure,
        &Accuracy::default(),
        Allowance::default(),
    )
}

fn tacked(
    (run, ports): (&Run, [&Port; 2]),
    pins: &[Pin],
    closure: Option<usize>,
    accuracy: &Accuracy,
    allowance: Allowance,
) -> TackUp {
    TackUp::new(&Tacking {
        run,
        ports,
        accuracy,
        allowance,
        pins,
        closure,
        level: Level::default(),
    })
}

/// Pins about a run, `far` mm from its middle.
fn pins_about((run, ..): &Ported, count: usize, far: f64, numbers: &mut Numbers) -> Vec<Pin> {
    let (low, high) = run.bounds();
    let middle = nalgebra::center(&low, &high);
    (0..count)
        .map(|i| Pin {
            name: format!("P{i:02}"),
            at: middle + numbers.direction().into_inner() * far,
            good_to: Length::from_mm(0.2),
        })
        .collect()
}

fn runs(seed: u64, count: usize) -> Vec<Ported> {
    let mut numbers = Numbers::new(seed);
    let mut runs: Vec<Ported> = (0..count).map(|_| any_run(&mut numbers, 50.0)).collect();
    runs.push(with_stock_bends());
    runs
}

fn near(actual: f64, expected: f64) {
    let off = (actual - expected).abs();
    assert!(off <= 1e-9 * expected.abs().max(1.0), "{actual} {expected}");
}

// --- by hand ---

/// From a face that looks along +x, a bend upward: the outside of the bend, which is the
/// first piece's long side, is at the bottom.
#[test]
fn the_first_piece_is_turned_from_the_port_s_top() {
    let run = miter_run(&[[0.0, 0.0, 0.0], [200.0, 0.0, 0.0], [300.0, 0.0, 40.0]]);
    let steps = tack_up(&run, &[], None).steps;
    let ports: Vec<_> = steps.iter().map(|step| step.port).collect();
    let [Some(first), None, Some(last)] = ports[..] else {
        panic!("{ports:?}");
    };
    for (port, piece) in [(first, 1), (last, 2)] {
        assert_eq!((port.piece, port.from), (piece, FoundSide::Top));
        near(port.clock.degrees(), 180.0);
        near(port.round.mm(), run.0.tube().circumference().mm() / 2.0);
    }
}

/// A tube that leaves its port straight up has no top: it is turned from the side ahead.
/// Looking along +z with +x at the top, +y is a quarter turn clockwise.
#[test]
fn a_plumb_port_is_turned_from_the_side_ahead() {
    let run = miter_run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [0.0, -40.0, 300.0]]);
    let steps = tack_up(&run, &[], None).steps;
    let port = steps[0].port.expect("a port");
    assert_eq!(port.from, FoundSide::Ahead);
    near(port.clock.degrees(), 90.0);
}

#[test]
fn the_line_of_a_piece_is_found_from_its_port() {
    for run in runs(71, 20) {
        for step in tack_up(&run, &[], None).steps {
            let marks = [step.marks.before, step.marks.after];
            let Some(port) = step.port else {
                assert!(marks.iter().all(Option::is_some));
                continue;
            };
            let mark = marks.into_iter().flatten().next().expect("a mark");
            let (_, axis) = run.0.centerline().ends()[usize::from(step.joint > 0)];
            let axis = if step.joint > 0 { -axis } else { axis };
            let there = toward(&axis, &port.zero, port.clock);
            assert!((there.into_inner() - mark.side.into_inner()).norm() < 1e-9);
            assert!(port.zero.dot(&axis).abs() < 1e-9);
        }
    }
}

#[test]
fn a_straight_is_taped_along_its_four_sides() {
    let run = miter_run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 300.0]]);
    let found = tack_up(&run, &[], None);
    assert_eq!(found.steps.len(), 2);
    assert_eq!(found.gap, None);
    let step = &found.steps[0];
    assert_eq!((step.joint, step.piece), (0, Some(1)));
    assert_eq!((found.steps[1].joint, found.steps[1].piece), (1, None));
    // Everything else goes through the tube.
    assert_eq!(step.tapes.len(), 4);
    let clocks = [0.0, 90.0, 180.0, 270.0];
    let spots = [Spot::Long, Spot::Right, Spot::Short, Spot::Left];
    for ((tape, degrees), spot) in step.tapes.iter().zip(clocks).zip(spots) {
        let clock = Angle::from_degrees(degrees);
        let port = "start".to_owned();
        assert_eq!(tape.from, Fixed::Rim { port, clock });
        assert_eq!(tape.to, spot);
        near(tape.distance.mm(), 300.0);
        assert!(tape.free);
        // Its length, and the lean of both its faces: ε²/2 about each of two axes, so ε²/2·r²
        // at any clock.
        let lean = 25.4 * 0.25_f64.to_radians();
        near(tape.tolerance.mm(), 3.0 * 0.5_f64.hypot(lean));
    }
}

/// One bend of 90° in the plane of x and z, tube ends in sockets, where square faces bear
/// nothing, and three pins ahead of both faces.
#[test]
fn one_planar_bend_by_hand() {
    let (run, start, end) = miter_run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [150.0, 0.0, 200.0]]);
    let deep = |port: Port| Port {
        socket: Length::from_mm(5.0),
        ..port
    };
    let run = (run, deep(start), deep(end));
    let pins = [
        pin("A", [300.0, 0.0, 200.0]),
        pin("B", [200.0, 300.0, 200.0]),
        pin("C", [200.0, -50.0, 500.0]),
    ];
    let found = tack_up(&run, &pins, None);
    let center = |step: usize, from: &str| {
        let tapes = found.steps[step].tapes.iter();
        let mut tapes = tapes.filter(|tape| tape.to == Spot::Center);
        tapes
            .find(|tape| tape.from == Fixed::Pin(from.to_owned()))
            .unwrap_or_else(|| panic!("a tape from {from}"))
    };
    let expect = |step: usize, from: &str, distance: f64, sigma: f64| {
        let tape = center(step, from);
        near(tape.distance.mm(), distance);
        near(tape.tolerance.mm(), 3.0 * sigma);
        assert!(tape.free && tape.distance == tape.welded);
    };
    // The first face's center is off along z alone, by the piece's length.
    expect(0, "A", 300.0, 0.0);
    expect(0, "B", 200.0_f64.hypot(300.0), 0.0);
    let c = 200.0_f64.hypot(50.0).hypot(300.0);
    expect(0, "C", c, 0.5 * 300.0 / c);
    // The last one's, 5 mm in its socket: along x by a length, along y by the clock, along
    // z by a length and by the cut, twice; on a lever of 150 mm, of which the face stands
    // 155 mm from the joint.
    let (clock, cut) = (155.0 * 1.0_f64.to_radians(), 155.0 * 0.5_f64.to_radians());
    let sigmas = [0.5, clock, 0.5_f64.hypot(cut)];
    for (from, way) in [
        ("A", [145.0, 0.0, 0.0]),
        ("B", [45.0, 300.0, 0.0]),
        ("C", [45.0, -50.0, 300.0]),
    ] {
        let way = Vector::from(way);
        let each = (0..3).map(|i| way[i] / way.norm() * sigmas[i]);
        let sigma = each.map(|part| part * part).sum::<f64>().sqrt();
        expect(1, from, way.norm(), sigma);
    }
    // In a planar bend the pieces' own lines meet.
    assert!(found.steps.iter().all(|step| step.marks.are_together()));
    near(found.steps[1].deflection.degrees(), 90.0);
}

#[test]
fn marks_say_where_long_sides_meet() {
    // Up, along x, up again: an S in one plane. Then along y: a quarter turn.
    let run = miter_run(&[
        [0.0, 0.0, 0.0],
        [0.0, 0.0, 200.0],
        [150.0, 0.0, 250.0],
        [150.0, 0.0, 450.0],
        [150.0, 100.0, 550.0],
    ]);
    let found = tack_up(&run, &[], None);
    let mark = |joint: usize| {
        let marks = found.steps[joint].marks;
        (marks.before, marks.after, marks.are_together())
    };
    let circumference = std::f64::consts::PI * 50.8;
    let (before, after, together) = mark(2);
    near(before.unwrap().clock.degrees(), 180.0);
    near(before.unwrap().round.mm(), circumference / 2.0);
    assert!(after.unwrap().clock == Angle::ZERO && !together);
    // Piece 3 goes along z; its start's long side looks to +x, its end's to −y, which is
    // a quarter turn before it, clockwise looking along +z.
    let (before, after, _) = mark(3);
    near(before.unwrap().clock.degrees(), 270.0);
    near(before.unwrap().round.mm(), circumference * 0.75);
    assert_eq!((before.unwrap().piece, after.unwrap().piece), (3, 4));
    // At the ports there is one piece alone.
    assert!(mark(0).0.is_none() && mark(4).1.is_none());
    assert!(mark(0).2 && mark(4).2);
}

#[test]
fn marks_bring_stock_bends_where_they_belong() {
    let run = with_stock_bends();
    let found = tack_up(&run, &[], None);
    let mut checked = 0;
    for step in &found.steps {
        let (Some(before), Some(after)) = (step.marks.before, step.marks.after) else {
            continue;
        };
        let pieces = run.0.pieces();
        let (a, b) = (&pieces[before.piece - 1], &pieces[after.piece - 1]);
        if run.0.joints()[step.joint].kind != JointKind::Square {
            continue;
        }
        // Where a bend follows, its outside is at the mark on the piece before it.
        if let (None, Some(arc), Some(piece)) = (a.arc, b.arc, a.piece.straight())
            && piece.start().angle + piece.end().angle > Angle::ZERO
        {
            let side = toward(&a.axis, &a.zero, before.clock);
            assert!((side.into_inner() - arc.outside().into_inner()).norm() < 1e-9);
            checked += 1;
        }
    }
    assert_eq!(checked, 1);
}

#[test]
fn welds_pull_a_face_back_along_its_joints() {
    let points = [[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [150.0, 0.0, 200.0]];
    let points: Vec<Point> = points.map(Point::from).to_vec();
    let (_, start, end) = run_along(&small_tube(), points.clone());
    let allowance = Allowance {
        gap: Length::from_mm(2.0),
        shrinkage: Length::from_mm(1.2),
    };
    let centerline = Polyline::new(points).unwrap();
    let run = Run::new(&small_tube(), &start, &end, centerline, allowance).unwrap();
    let pins = [
        pin("A", [300.0, 0.0, 200.0]),
        pin("B", [200.0, 300.0, 200.0]),
        pin("C", [200.0, -50.0, 500.0]),
    ];
    let accuracy = Accuracy::default();
    let found = tacked((&run, [&start, &end]), &pins, None, &accuracy, allowance);
    // Half of 0.8 mm behind the joint's plane, which stands at 45°.
    let back = 0.4 * 2.0_f64.sqrt();
    let face = found.steps[0].face.unwrap();
    near(face.center.z, 200.0 - back);
    near(face.unshrunk.z, 1.2);
    let face = found.steps[1].face.unwrap();
    // The flange gives nothing: all of 0.8 mm is before the tube's end.
    near(face.center.x, 150.0 - 0.8);
    // Both joints: straight up, and along their plane's normal.
    let slant = 1.2 / 2.0_f64.sqrt();
    assert!((face.unshrunk - Vector::new(slant, 0.0, 1.2 + slant)).norm() < 1e-9);
    for tape in found.steps.iter().flat_map(|step| &step.tapes) {
        near(tape.distance.mm(), (tape.to_at - tape.from_at).norm());
        assert!((tape.welded - tape.distance).abs() > Length::ZERO);
    }
    // A gap without shrinkage moves no face while joints are tacked.
    let still = Allowance {
        shrinkage: Length::ZERO,
        ..allowance
    };
    let found = tacked((&run, [&start, &end]), &pins, None, &accuracy, still);
    let mut tapes = found.steps.iter().flat_map(|step| &step.tapes);
    assert!(tapes.all(|tape| tape.welded == tape.distance));
}

// --- properties ---

#[test]
fn every_joint_and_piece_comes_once_and_the_closure_last() {
    for run in runs(1, 12) {
        let pieces = run.0.pieces().len();
        for closure in std::iter::once(None).chain((1..=pieces).map(Some)) {
            let found = tack_up(&run, &[], closure);
            let mut joints: Vec<usize> = found.steps.iter().map(|step| step.joint).collect();
            let put_on = |step: &runwright::shop::TackStep| step.piece;
            let mut numbers: Vec<usize> = found.steps.iter().filter_map(put_on).collect();
            if let Some(closure) = closure {
                assert_eq!(joints[pieces - 1..], [closure - 1, closure]);
                assert_eq!(numbers[pieces - 1], closure);
            }
            assert_eq!(found.gap.as_ref().map(|gap| gap.piece), closure);
            joints.sort_unstable();
            numbers.sort_unstable();
            assert_eq!(joints, (0..=pieces).collect::<Vec<_>>());
            assert_eq!(numbers, (1..=pieces).collect::<Vec<_>>());
            // A piece is put on next to what stands: its other joint is its face's.
            for step in &found.steps {
                let Some(face) = step.face else {
                    assert!(step.tapes.is_empty());
                    continue;
                };
                let number = step.piece.unwrap();
                assert_eq!(face.piece, number);
                assert_eq!(step.joint, face.origin.joined_at(number - 1));
                let expected = closure.is_some_and(|closure| number > closure);
                assert_eq!(face.origin == Origin::Last, expected);
            }
        }
    }
}

#[test]
fn places_on_a_face_are_on_the_cut_and_on_the_outside() {
    for run in runs(2, 20) {
        let closure = 1 + run.0.pieces().len() / 2;
        for step in tack_up(&run, &[], Some(closure)).steps {
            let Some(face) = step.face else { continue };
            let joint = &run.0.joints()[face.origin.face_joint(face.piece - 1)];
            let radius = run.0.tube().radius().mm();
            assert!((face.center - joint.plane.point).norm() < 1e-9);
            for spot in Spot::ALL {
                let at = face.at(spot);
                assert!(joint.plane.distance(&at).abs() < 1e-9);
                let arm = at - face.center;
                let along = face.axis.dot(&arm);
                let off = (arm - face.axis.into_inner() * along).norm();
                near(off, if spot == Spot::Center { 0.0 } else { radius });
            }
            // The long side's tip is the farthest out of the tube.
            let reach = radius * joint.cut().tan();
            let out = |spot| face.axis.dot(&(face.at(spot) - face.center)) * face.origin.sign();
            near(out(Spot::Long), reach);
            near(out(Spot::Short), -reach);
            near(out(Spot::Right), 0.0);
            // Right is a quarter turn clockwise looking downstream.
            let across = face.axis.cross(&face.long);
            assert!(across.dot(&(face.at(Spot::Right) - face.center)) > 0.0);
        }
    }
}

#[test]
fn tapes_are_few_and_keep_out_of_the_tube_where_they_can() {
    let mut numbers = Numbers::new(3);
    for run in runs(3, 12) {
        let pins = pins_about(&run, 8, 900.0, &mut numbers);
        let closure = 1 + run.0.pieces().len() / 2;
        for pins in [&pins[..], &[]] {
            for step in tack_up(&run, pins, Some(closure)).steps {
                let Some(face) = step.face else { continue };
                assert!((CENTER_TAPES..=MOST_TAPES).contains(&step.tapes.len()));
                let to_center = step.tapes.iter().filter(|tape| tape.to == Spot::Center);
                let to_center: Vec<&Tape> = to_center.collect();
                for tape in &step.tapes {
                    near(tape.distance.mm(), (tape.to_at - tape.from_at).norm());
                    let is_pin = matches!(tape.from, Fixed::Pin(_));
                    assert_eq!(is_pin, !pins.is_empty());
                    // A line to the center from behind the face goes through the wall.
                    let ahead = face.outward.dot(&(tape.from_at - face.center)) > 0.0;
                    assert!(!(tape.to == Spot::Center && tape.free && !ahead));
                    assert!(tape.free || step.tapes.len() == CENTER_TAPES);
                    assert_eq!(tape.free, is_clear(&run.0, &face, tape), "{tape:?}");
                }
                // Three to the center never lie in one plane where there is a choice.
                if let ([a, b, c], false) = (&to_center[..], pins.is_empty()) {
                    let way = |tape: &Tape| (tape.to_at - tape.from_at).normalize();
                    let volume = way(a).cross(&way(b)).dot(&way(c)).abs();
                    assert!(volume > 0.01, "{volume}");
                }
            }
        }
    }
}

/// Whether a tape's line keeps out of all that stands, by samples. The closure is the middle
/// piece.
fn is_clear(run: &Run, face: &BuiltFace, tape: &Tape) -> bool {
    let pieces = run.pieces().len();
    let stands: Vec<usize> = match face.origin {
        Origin::First => (0..face.piece).collect(),
        Origin::Last => (0..pieces / 2).chain(face.piece - 1..pieces).collect(),
    };
    let way = tape.to_at - tape.from_at;
    let mut along = (1..SAMPLES).map(|i| tape.from_at + way * (f64::from(i) / f64::from(SAMPLES)));
    !along.any(|at| stands.iter().any(|&index| holds(run, index, at)))
}

/// Whether a piece holds a place, more than 1 mm deep.
fn holds(run: &Run, index: usize, at: Point) -> bool {
    let placed = &run.pieces()[index];
    let radius = run.tube().radius().mm() - 1.0;
    if let Some(arc) = placed.arc {
        let mut steps = (0..=500).map(|i| arc.at(arc.turn() * (f64::from(i) / 500.0)));
        return steps.any(|(center, axis)| {
            let arm = at - center;
            axis.dot(&arm).abs() < 0.2 && arm.norm() < radius - 0.2
        });
    }
    let planes: [&Plane; 2] = [0, 1].map(|end| &run.joints()[index + end].plane);
    let arm = at - planes[0].point;
    let off = (arm - placed.axis.into_inner() * placed.axis.dot(&arm)).norm();
    planes[0].distance(&at) > 1e-6 && planes[1].distance(&at) < -1e-6 && off < radius
}

#[test]
fn a_moved_job_is_taped_alike() {
    let mut numbers = Numbers::new(4);
    for _ in 0..15 {
        let run = any_run(&mut numbers, 50.0);
        let pins = pins_about(&run, 7, 800.0, &mut numbers);
        let turn = Rotation3::new(numbers.direction().into_inner() * 2.0);
        let shift = Vector::new(300.0, -40.0, 7.0);
        let moved = |at: &Point| turn * at + shift;
        let points = run.0.centerline().points().iter().map(moved).collect();
        let there = run_along(&small_tube(), points);
        let closure = Some(1 + run.0.pieces().len() / 2);
        for pins in [pins, Vec::new()] {
            let moved_pins: Vec<Pin> = pins
                .iter()
                .map(|pin| Pin {
                    at: moved(&pin.at),
                    ..pin.clone()
                })
                .collect();
            let here = tack_up(&run, &pins, closure);
            let there = tack_up(&there, &moved_pins, closure);
            for (a, b) in here.steps.iter().zip(&there.steps) {
                assert_eq!((a.joint, a.piece, a.origin), (b.joint, b.piece, b.origin));
                assert_eq!(a.tapes.len(), b.tapes.len());
                for (a, b) in a.tapes.iter().zip(&b.tapes) {
                    assert_eq!((&a.from, a.to, a.free), (&b.from, b.to, b.free));
                    assert!((moved(&a.to_at) - b.to_at).norm() < 1e-8);
                    assert!((a.distance - b.distance).abs() < Length::from_mm(1e-8));
                    assert!((a.tolerance - b.tolerance).abs() < Length::from_mm(1e-8));
                }
            }
            let (a, b) = (here.gap.unwrap(), there.gap.unwrap());
            for (a, b) in a.widths.iter().zip(&b.widths) {
                assert!((a.distance - b.distance).abs() < Length::from_mm(1e-8));
                assert!((a.tolerance - b.tolerance).abs() < Length::from_mm(1e-8));
            }
        }
    }
}

/// What is built from the last port is what the same run turned round builds from its first.
#[test]
fn from_the_last_port_it_is_the_run_turned_round() {
    let mut numbers = Numbers::new(5);
    for run in runs(5, 12) {
        let pins = pins_about(&run, 7, 800.0, &mut numbers);
        let pieces = run.0.pieces().len();
        let accuracy = Accuracy {
            setting: Angle::from_degrees(0.1),
            ..Accuracy::default()
        };
        let (run, start, end) = &run;
        let back = reversed(run, start, end);
        for closure in 1..=pieces {
            let here = tacked(
                (run, [start, end]),
                &pins,
                Some(closure),
                &accuracy,
                Allowance::default(),
            );
            let mirrored = Some(pieces + 1 - closure);
            let there = tacked(
                (&back, [end, start]),
                &pins,
                mirrored,
                &accuracy,
                Allowance::default(),
            );
            for step in here.steps.iter().filter(|step| step.face.is_some()) {
                let number = pieces + 1 - step.piece.unwrap();
                let same = there.steps.iter().find(|other| other.piece == Some(number));
                let same = same.unwrap();
                assert_ne!(step.origin, same.origin);
                for tape in &step.tapes {
                    let spot = match tape.to {
                        Spot::Right => Spot::Left,
                        Spot::Left => Spot::Right,
                        other => other,
                    };
                    let twin = same
                        .tapes
                        .iter()
                        .find(|twin| twin.from == tape.from && twin.to == spot);
                    // Obstructions differ by what else stands, so not every tape is chosen
                    // on both; where one is, it reads the same.
                    if let Some(twin) = twin {
                        assert!((twin.distance - tape.distance).abs() < Length::from_mm(1e-8));
                        assert!((twin.tolerance - tape.tolerance).abs() < Length::from_mm(1e-8));
                    }
                }
            }
            let (a, b) = (here.gap.unwrap(), there.gap.unwrap());
            near(a.widths[0].distance.mm(), b.widths[0].distance.mm());
            near(a.widths[0].tolerance.mm(), b.widths[0].tolerance.mm());
        }
    }
}

#[test]
fn the_gap_is_the_closure_s_sides() {
    for run in runs(6, 15) {
        for (index, placed) in run.0.pieces().iter().enumerate() {
            let Some(piece) = placed.piece.straight() else {
                continue;
            };
            let gap = tack_up(&run, &[], Some(index + 1)).gap.unwrap();
            for width in &gap.widths {
                let side = match width.spot.clock() {
                    None => piece.length(),
                    Some(clock) => piece.side(clock),
                };
                near(width.distance.mm(), side.mm());
            }
        }
    }
}

/// Along a run that goes on one way every tolerance across it grows.
#[test]
fn tolerance_grows_along_the_chain() {
    let run = miter_run(&[
        [0.0, 0.0, 0.0],
        [0.0, 0.0, 200.0],
        [40.0, 0.0, 400.0],
        [40.0, 40.0, 600.0],
        [0.0, 40.0, 800.0],
        [0.0, 0.0, 1000.0],
    ]);
    // A pin beside each face, the same way off.
    let mut least = 0.0;
    for (index, joint) in run.0.joints().iter().enumerate().skip(1) {
        let at = joint.plane.point + Vector::new(0.0, 500.0, 300.0);
        let pins = ["A", "B", "C"].map(|name| Pin {
            name: name.to_owned(),
            at: at + Vector::x() * (f64::from(name.as_bytes()[0]) - 66.0) * 50.0,
            good_to: Length::ZERO,
        });
        let found = tack_up(&run, &pins, None);
        let tapes = &found.steps[index - 1].tapes;
        let tape = tapes.iter().find(|tape| tape.to == Spot::Center).unwrap();
        assert!(
            tape.tolerance.mm() > least,
            "{} {least}",
            tape.tolerance.mm()
        );
        least = tape.tolerance.mm();
    }
}

#[test]
fn without_errors_there_is_no_tolerance_and_all_scale_alike() {
    let mut numbers = Numbers::new(7);
    for run in runs(7, 6) {
        let exact = pins_about(&run, 6, 700.0, &mut numbers)
            .into_iter()
            .map(|pin| Pin {
                good_to: Length::ZERO,
                ..pin
            });
        let pins: Vec<Pin> = exact.collect();
        let (run, start, end) = &run;
        let of = |factor: f64| {
            let usual = Accuracy::default();
            let accuracy = Accuracy {
                cut: usual.cut * factor,
                setting: Angle::from_degrees(0.1) * factor,
                length: usual.length * factor,
                clock: usual.clock * factor,
                bend: usual.bend * factor,
            };
            let found = tacked(
                (run, [start, end]),
                &pins,
                Some(2),
                &accuracy,
                Allowance::default(),
            );
            let tapes = found.steps.into_iter().flat_map(|step| step.tapes);
            let tapes: Vec<f64> = tapes.map(|tape| tape.tolerance.mm()).collect();
            let widths = found.gap.unwrap().widths.into_iter();
            let widths: Vec<f64> = widths.map(|width| width.tolerance.mm()).collect();
            [tapes, widths].concat()
        };
        assert!(of(0.0).iter().all(|tolerance| *tolerance == 0.0));
        for (once, thrice) in of(1.0).iter().zip(of(3.0)) {
            near(thrice, 3.0 * once);
        }
    }
}

#[test]
fn odd_input_does_no_harm() {
    let run = miter_run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [150.0, 0.0, 200.0]]);
    let odd = [
        // On a face's center, and all in one place.
        pin("A", [0.0, 0.0, 200.0]),
        pin("B", [0.0, 0.0, 200.0]),
        pin("C", [0.0, 0.0, 200.0]),
        pin("D", [f64::NAN, 0.0, 0.0]),
        pin("E", [f64::INFINITY, 0.0, 0.0]),
    ];
    for closure in [None, Some(0), Some(1), Some(2), Some(3), Some(usize::MAX)] {
        let found = tack_up(&run, &odd, closure);
        assert_eq!(found.steps.len(), 3);
        let mut tapes = found.steps.iter().flat_map(|step| &step.tapes);
        assert!(tapes.all(|tape| tape.distance.is_finite() && tape.tolerance.is_finite()));
    }
}

// --- against builds with finite errors ---

/// A run, how it is made, how well its ports are known, and its fixed places.
struct Case {
    run: Ported,
    accuracy: Accuracy,
    known: [Known; 2],
    pins: Vec<Pin>,
    closure: usize,
}

/// Where one build has its faces and its ports.
struct Built {
    /// By the piece's index: the face and the plan's.
    faces: Vec<Option<(Reached, Reached)>>,
    /// The motion of each port.
    moved: [(Vector, Vector); 2],
}

impl Case {
    fn settings(&self, numbers: &mut Numbers) -> Vec<f64> {
        let mut drawn: Vec<(f64, f64)> = Vec::new();
        let joints = self.run.0.joints().iter();
        joints
            .map(|joint| joint.cut().radians())
            .map(|cut| {
                if let Some(known) = drawn.iter().find(|one| (one.0 - cut).abs() < 1e-7) {
                    return known.1;
                }
                let error = self.accuracy.setting.radians() * numbers.normal();
                drawn.push((cut, error));
                error
            })
            .collect()
    }

    fn tack_up(&self) -> TackUp {
        let (run, start, end) = &self.run;
        let closure = Some(self.closure);
        let allowance = Allowance::default();
        tacked(
            (run, [start, end]),
            &self.pins,
            closure,
            &self.accuracy,
            allowance,
        )
    }

    fn built(&self, back: &Run, numbers: &mut Numbers) -> Built {
        let (run, start, end) = &self.run;
        let settings = self.settings(numbers);
        let mirrored: Vec<f64> = settings.iter().rev().copied().collect();
        let errors = Errors::drawn(run, [false; 2], &self.accuracy, &settings, numbers);
        let back_errors = Errors::drawn(back, [false; 2], &self.accuracy, &mirrored, numbers);
        let moved = [
            self.known[0].motion(numbers, &start.outward),
            self.known[1].motion(numbers, &end.outward),
        ];
        let count = run.pieces().len();
        let faces = (0..count).map(|index| {
            let number = index + 1;
            let (run, errors, (shift, turn), count) = match number.cmp(&self.closure) {
                std::cmp::Ordering::Less => (run, &errors, moved[0], number),
                std::cmp::Ordering::Equal => return None,
                std::cmp::Ordering::Greater => (back, &back_errors, moved[1], count - index),
            };
            let from = Frame::start(run);
            let plan = build(run, from, &Errors::none(run), count);
            Some((build(run, from.moved(shift, turn), errors, count), plan))
        });
        Built {
            faces: faces.collect(),
            moved,
        }
    }
}

/// Where a place on a planned face is on the built one.
fn on_built(spot: Spot, face: &BuiltFace, (built, plan): &(Reached, Reached)) -> Point {
    let planned = face.at(spot);
    on_face(planned - face.center, face, (built, plan))
}

/// The same for a place an arm away from the planned center, on the rim or in its middle.
fn on_face(arm: Vector, face: &BuiltFace, (built, plan): (&Reached, &Reached)) -> Point {
    let out = face.axis.into_inner() * face.origin.sign();
    let square = arm - out * out.dot(&arm);
    if square.norm() < 1e-6 {
        return built.tube.point;
    }
    let axis = built.tube.axis();
    let side = if face.cut > Angle::ZERO {
        // Marked from the built long side, which the face itself shows.
        let long = -(built.face - axis * axis.dot(&built.face)).normalize();
        let across = axis.cross(&long);
        let planned_across = out.cross(&face.long);
        long * square.dot(&face.long) + across * square.dot(&planned_across)
    } else {
        built.tube.turn * (plan.tube.turn.inverse() * square)
    };
    let height = -built.face.dot(&side) / built.face.dot(&axis);
    built.tube.point + side + axis * height
}

/// A planned point of a port that is moved as a body.
fn with_port(at: &Point, port: Point, (shift, turn): (Vector, Vector)) -> Point {
    port + shift + Rotation3::new(turn) * (at - port)
}

/// How many of the deviations lie within 1, 2 and 3 σ, against the normal distribution
/// (68.27 %, 95.45 %, 99.73 %): within five standard errors, and what is beyond first order.
fn covers(deviations: &[f64], sigma: f64, beyond: f64, what: &str) {
    if sigma < 1e-9 {
        assert!(deviations.iter().all(|off| off.abs() < 1e-2), "{what}");
        return;
    }
    let count = deviations.len() as f64;
    for (k, part) in [(1.0, 0.682_689), (2.0, 0.954_500), (3.0, 0.997_300)] {
        let within = deviations
            .iter()
            .filter(|off| off.abs() <= k * sigma)
            .count() as f64;
        let error = (part * (1.0_f64 - part) / count).sqrt();
        let off = (within / count - part).abs();
        assert!(
            off < 5.0 * error + beyond,
            "{what}: {k} σ: {} {part}",
            within / count
        );
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

fn cases(part: f64) -> Vec<Case> {
    let mut numbers = Numbers::new(41);
    let mut cases = Vec::new();
    for (i, run) in runs(8, 5).into_iter().enumerate() {
        let known = KNOWN.map(|known| Known {
            shift: known.shift * part,
            lean: known.lean * part,
        });
        let with = |port: Port, known: Known| Port {
            scatter: Scatter::even(
                Length::from_mm(known.shift),
                Angle::from_radians(known.lean),
                &port.outward,
            ),
            ..port
        };
        let pins = pins_about(&run, 7, 900.0, &mut numbers);
        let usual = Accuracy::default();
        let (run, start, end) = run;
        let closure = 1 + run.pieces().len() / 2;
        cases.push(Case {
            run: (run, with(start, known[0]), with(end, known[1])),
            accuracy: Accuracy {
                cut: usual.cut * part,
                setting: Angle::from_degrees(0.1 * part),
                length: usual.length * part,
                clock: usual.clock * part,
                bend: usual.bend * part,
            },
            known,
            pins: if i % 2 == 0 { pins } else { Vec::new() },
            closure,
        });
    }
    cases
}

fn covered(part: f64, beyond: f64) {
    for (seed, case) in (500..).zip(cases(part)) {
        let (run, start, end) = &case.run;
        let back = reversed(run, start, end);
        let tack_up = case.tack_up();
        let mut numbers = Numbers::new(seed);
        let builds: Vec<Built> = (0..BUILDS)
            .map(|_| case.built(&back, &mut numbers))
            .collect();
        for step in tack_up.steps.iter().filter(|step| step.face.is_some()) {
            let face = step.face.unwrap();
            let port = [start, end][face.origin.index()].center;
            for tape in &step.tapes {
                let deviation = |build: &Built| {
                    let from = match &tape.from {
                        Fixed::Pin(name) => {
                            let pin = case.pins.iter().find(|pin| pin.name == *name).unwrap();
                            let off = [(); 3].map(|()| pin.good_to.mm() * numbers.normal());
                            tape.from_at + Vector::from(off)
                        }
                        Fixed::Rim { .. } => {
                            with_port(&tape.from_at, port, build.moved[face.origin.index()])
                        }
                    };
                    let built = build.faces[face.piece - 1].as_ref().unwrap();
                    (on_built(tape.to, &face, built) - from).norm() - tape.distance.mm()
                };
                let off: Vec<f64> = builds.iter().map(deviation).collect();
                let sigma = tape.tolerance.mm() / tack_up.deviations;
                let what = format!("case {seed}, piece {}, {tape:?}", face.piece);
                covers(&off, sigma, beyond, &what);
            }
        }
        let gap = tack_up.gap.as_ref().unwrap();
        let faces = |number: usize| {
            let mut steps = tack_up.steps.iter();
            steps
                .find_map(|step| step.face.filter(|face| face.piece == number))
                .unwrap()
        };
        let sides = [faces(case.closure - 1), faces(case.closure + 1)];
        for width in &gap.widths {
            let deviation = |build: &Built| {
                let end = |i: usize, at: Point| {
                    let (built, plan) = build.faces[sides[i].piece - 1].as_ref().unwrap();
                    on_face(at - sides[i].center, &sides[i], (built, plan))
                };
                let between = end(1, width.to_at) - end(0, width.from_at);
                between.norm() - width.distance.mm()
            };
            let off: Vec<f64> = builds.iter().map(deviation).collect();
            let sigma = width.tolerance.mm() / tack_up.deviations;
            covers(&off, sigma, beyond, &format!("case {seed}, gap {width:?}"));
        }
    }
}

/// Errors of a tenth, where what is beyond first order cannot be seen.
#[test]
fn small_errors_are_covered_as_often_as_told() {
    covered(0.1, 0.001);
}

/// Errors as shops have them.
#[test]
fn usual_errors_are_covered_as_often_as_told() {
    covered(1.0, 0.01);
}

/// The last face of a run without a closure is off as the stack-up says.
#[test]
fn the_last_face_agrees_with_the_stack_up() {
    let mut numbers = Numbers::new(9);
    for run in runs(9, 10) {
        let (run, start, end) = &run;
        let accuracy = Accuracy {
            setting: Angle::from_degrees(0.1),
            ..Accuracy::default()
        };
        let all = StackUp::new(run, [start, end], &accuracy, Length::from_mm(3.0));
        // Pins ahead of the last face, so that its center can be taped.
        let ahead = -end.outward.into_inner();
        let pins: Vec<Pin> = (0..5)
            .map(|i| Pin {
                name: format!("P{i}"),
                at: end.center + ahead * 400.0 + numbers.direction().into_inner() * 300.0,
                good_to: Length::ZERO,
            })
            .collect();
        let found = tacked(
            (run, [start, end]),
            &pins,
            None,
            &accuracy,
            Allowance::default(),
        );
        let step = &found.steps[run.pieces().len() - 1];
        let to_center = step.tapes.iter().filter(|tape| tape.to == Spot::Center);
        let mut count = 0;
        for tape in to_center {
            let way = Direction::new_normalize(tape.to_at - tape.from_at);
            near(tape.tolerance.mm(), 3.0 * all.built.along(&way).mm());
            count += 1;
        }
        assert!(count >= CENTER_TAPES);
    }
}
