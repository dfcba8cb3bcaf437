//! What must hold for every piece and every run, whatever its numbers.
//!
//! Generators lean toward the nearly degenerate: tiny cuts, cuts near the limit,
//! clocks at quarter turns, short edges.

mod support;

use proptest::prelude::*;
use runwright::geometry::{Direction, Point, Polyline, Vector, perpendicular, toward};
use runwright::job::read_job;
use runwright::plan::plan;
use runwright::run::{Allowance, Joint, JointKind, Port, Run};
use runwright::shop::{Accuracy, SawSheet, StackUp};
use runwright::tube::{Cut, Edge, Facets, Outline, Piece, Sleeve, Tube};
use runwright::units::{Angle, Length};
use std::f64::consts::PI;

/// Largest closing error of a run, mm.
const CLOSING: f64 = 1e-9;

fn tube_of(od: f64) -> Tube {
    Tube::new(Length::from_mm(od), Length::from_mm(1.65), "304").expect("a real tube")
}

fn cut_angle() -> impl Strategy<Value = Angle> {
    prop_oneof![
        Just(0.0),
        Just(1e-6),
        Just(45.0),
        Just(11.25),
        0.0..45.0_f64,
    ]
    .prop_map(Angle::from_degrees)
}

fn clock() -> impl Strategy<Value = Angle> {
    prop_oneof![
        Just(0.0),
        Just(90.0),
        Just(180.0),
        Just(359.999_999),
        0.0..360.0_f64
    ]
    .prop_map(Angle::from_degrees)
}

/// A piece with a short side from a hair to a lot.
fn piece() -> impl Strategy<Value = Piece> {
    let numbers = (20.0..200.0_f64, cut_angle(), cut_angle(), clock(), clock());
    let spare = prop_oneof![Just(1e-3), 0.1..300.0_f64];
    (numbers, spare).prop_map(|((od, a, b, start_clock, end_clock), spare)| {
        let start = Cut {
            angle: a,
            clock: start_clock,
        };
        let end = Cut {
            angle: b,
            clock: end_clock,
        };
        let radius = Length::from_mm(od / 2.0);
        // Long enough for the worst clock.
        let length = start.reach(radius) + end.reach(radius) + Length::from_mm(spare);
        Piece::new(tube_of(od), length, start, end).expect("a short side is left")
    })
}

/// A run as a random walk: each edge turned from the last by a cut and a clock, and
/// long enough for its cuts.
fn run() -> impl Strategy<Value = (Run, Port, Port)> {
    let turn = (
        prop_oneof![Just(0.5), Just(22.5), 1.0..40.0_f64],
        clock(),
        0.5..200.0_f64,
    );
    let frame = (any::<u64>(), -3000.0..3000.0_f64);
    (frame, 30.0..120.0_f64, prop::collection::vec(turn, 1..12)).prop_map(
        |((seed, far), od, turns)| {
            let mut axis = support::Numbers::new(seed).direction();
            let mut zero = perpendicular(&axis);
            let mut points = vec![Point::new(far, -far, far / 2.0)];
            let reach = |degrees: f64| od / 2.0 * (degrees / 2.0).to_radians().tan();
            let mut before = 0.0;
            for (degrees, clock, spare) in turns {
                let edge = reach(before) + reach(degrees) + spare;
                points.push(points[points.len() - 1] + axis.into_inner() * edge);
                let side = toward(&axis, &zero, clock);
                let (sin, cos) = Angle::from_degrees(degrees).sin_cos();
                let next =
                    Direction::new_normalize(axis.into_inner() * cos + side.into_inner() * sin);
                zero = Direction::new_normalize(axis.cross(&next));
                (axis, before) = (next, degrees);
            }
            points.push(points[points.len() - 1] + axis.into_inner() * (reach(before) + 10.0));
            // The ports face along the points' own edges: rounding of coordinates in the
            // meters over edges of a few millimeters.
            support::run_along(&tube_of(od), points)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn sides_are_the_extremes_over_all_clocks(piece in piece()) {
        let sides: Vec<f64> = (0..3600)
            .map(|i| piece.side(Angle::from_degrees(f64::from(i) / 10.0)).mm())
            .collect();
        let longest = sides.iter().copied().fold(f64::MIN, f64::max);
        let shortest = sides.iter().copied().fold(f64::MAX, f64::min);
        // A tenth of a degree off the peak of a cosine of amplitude A: A·1.6e-6.
        let slack = 4e-6 * piece.long_side().mm();
        prop_assert!(longest <= piece.long_side().mm() + 1e-9);
        prop_assert!(longest >= piece.long_side().mm() - slack);
        prop_assert!(shortest >= piece.short_side().mm() - 1e-9);
        prop_assert!(shortest <= piece.short_side().mm() + slack);
    }

    #[test]
    fn a_sleeve_of_two_cuts_is_a_piece(piece in piece(), clock in clock()) {
        let (tube, radius) = (piece.tube().clone(), piece.tube().radius());
        let (start, end) = (Edge::Cut(piece.start()), Edge::Cut(piece.end()));
        let sleeve = Sleeve::new(tube.clone(), piece.length(), start.clone(), end.clone());
        let sleeve = sleeve.expect("a short side is left");
        prop_assert_eq!(&sleeve, &Sleeve::from(&piece));
        prop_assert_eq!(sleeve.tube(), piece.tube());
        prop_assert_eq!(sleeve.length(), piece.length());
        prop_assert_eq!(sleeve.side(clock), piece.side(clock));
        prop_assert_eq!(sleeve.start_at(clock), -piece.start().extension(radius, clock));
        prop_assert_eq!(sleeve.end_at(clock), piece.length() + piece.end().extension(radius, clock));
        prop_assert_eq!(sleeve.long_side().0, piece.long_side());
        prop_assert_eq!(sleeve.short_side().0, piece.short_side());
        for (side, clock) in [sleeve.long_side(), sleeve.short_side()] {
            prop_assert!((piece.side(clock) - side).abs().mm() < 1e-9);
        }
        let facets = Facets::at_least(36);
        prop_assert_eq!(sleeve.mesh(facets), piece.mesh(facets));
        let [of_sleeve, of_piece] = [
            Outline::new(&sleeve, clock, Length::ZERO),
            Outline::new(&piece, clock, Length::ZERO),
        ];
        prop_assert_eq!(of_sleeve.start_curve(), of_piece.start_curve());
        prop_assert_eq!(of_sleeve.end_curve(), of_piece.end_curve());

        // Shorter by more than its short side, nothing is left of either.
        let length = piece.length() - piece.short_side() - Length::from_mm(1.0);
        let (refused, piece) = (
            Sleeve::new(tube.clone(), length, start, end),
            Piece::new(tube, length, piece.start(), piece.end()),
        );
        prop_assert!(refused.is_err());
        prop_assert_eq!(refused.err(), piece.err());
    }

    #[test]
    fn how_far_off_is_told_for_every_run((run, start, end) in run(), cut in 0.0..10.0_f64) {
        let accuracy = Accuracy { cut: Angle::from_degrees(cut), ..Accuracy::default() };
        let found = StackUp::new(&run, [&start, &end], &accuracy, Length::from_mm(3.0));
        prop_assert!(found.gap.distance().is_finite() && found.gap.distance() > Length::ZERO);
        let total: f64 = found.shares.iter().map(|share| share.fraction).sum();
        prop_assert!((total - 1.0).abs() < 1e-9);
        if let Some(closing) = found.closing {
            let short = run.pieces()[closing.piece - 1].piece.short_side();
            prop_assert!(short - closing.trim >= Length::from_mm(3.0));
            prop_assert!(closing.trim_by_making <= closing.trim);
        }
    }

    #[test]
    fn unrolled_area_is_circumference_times_length(piece in piece()) {
        let outline = Outline::new(&piece, Angle::ZERO, Length::ZERO);
        // The trapezoid rule is exact for a cosine over a whole turn.
        let stations = 360;
        let mean_height: f64 = (0..stations)
            .map(|i| {
                let clock = Angle::from_degrees(f64::from(i));
                (outline.end_at(clock) - outline.start_at(clock)).mm()
            })
            .sum::<f64>() / f64::from(stations);
        let area = mean_height * outline.width().mm();
        prop_assert!((area / piece.outside_area_mm2() - 1.0).abs() < 1e-12);
        prop_assert!((area / (PI * piece.tube().od().mm() * piece.length().mm()) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn pattern_curves_follow_the_cuts(piece in piece(), first in clock(), paper in 0.0..1.0_f64) {
        let outline = Outline::new(&piece, first, Length::from_mm(paper));
        let curves = [(outline.start_curve(), false), (outline.end_curve(), true)];
        for (curve, is_end) in curves {
            for [a, b, c, d] in curve {
                // The middle of a span is where a cubic is farthest from a cosine.
                let middle = |i: usize| (a[i] + 3.0 * b[i] + 3.0 * c[i] + d[i]) / 8.0;
                let clock = first + Angle::FULL * (middle(0) / outline.width().mm());
                let exact = if is_end { outline.end_at(clock) } else { outline.start_at(clock) };
                prop_assert!((middle(1) - exact.mm()).abs() < 1e-3, "{} {}", middle(1), exact.mm());
            }
        }
    }

    #[test]
    fn piece_meshes_are_watertight_with_the_exact_volume(piece in piece()) {
        let mut last_error = f64::INFINITY;
        for count in [32, 64, 128, 256] {
            let mesh = piece.mesh(Facets::at_least(count));
            prop_assert!(mesh.is_watertight());
            let error = 1.0 - mesh.volume_mm3() / piece.wall_volume_mm3();
            // Inscribed flats lose 1 − sin(2π/n)/(2π/n) of every cross-section.
            let angle = 2.0 * PI / f64::from(count);
            prop_assert!((error - (1.0 - angle.sin() / angle)).abs() < 1e-9);
            prop_assert!(error < last_error);
            last_error = error;
        }
    }

    #[test]
    fn run_meshes_are_watertight_with_the_exact_volume((run, ..) in run()) {
        let facets = Facets::at_least(64);
        let angle: f64 = 2.0 * PI / 64.0;
        let section = angle.sin() / angle;
        let (outer, inner) = (run.tube().radius().mm(), run.tube().bore_radius().mm());
        for (solid, area) in [(true, PI * outer * outer), (false, PI * (outer * outer - inner * inner))] {
            let mesh = run.mesh(facets, solid);
            prop_assert!(mesh.is_watertight());
            let expected = area * section * run.length().mm();
            prop_assert!((mesh.volume_mm3() / expected - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn the_box_is_the_fine_mesh_s_from_outside((run, ..) in run()) {
        let facets = Facets::at_least(720);
        let (mesh_low, mesh_high) = run.mesh(facets, true).bounds().expect("a mesh");
        let (low, high) = run.bounds();
        // A point of the ellipse may lie half a flat off the extreme.
        let slack = run.tube().od().mm() * (PI / 720.0).powi(2);
        for i in 0..3 {
            prop_assert!(low[i] <= mesh_low[i] + 1e-9 && mesh_low[i] - low[i] < slack);
            prop_assert!(high[i] >= mesh_high[i] - 1e-9 && high[i] - mesh_high[i] < slack);
        }
    }

    #[test]
    fn mating_ends_are_one_ellipse((run, ..) in run()) {
        let radius = run.tube().radius().mm();
        for (i, joint) in run.joints().iter().enumerate().skip(1).take(run.joints().len() - 2) {
            let (before, after) = (&run.pieces()[i - 1], &run.pieces()[i]);
            let vertex = run.centerline().points()[i];
            for step in 0..24 {
                let clock = Angle::from_degrees(f64::from(step) * 15.0);
                let out = toward(&before.axis, &before.zero, clock);
                let rim = vertex
                    + out.into_inner() * radius
                    + before.axis.into_inner() * before.piece.end().extension(Length::from_mm(radius), clock).mm();
                prop_assert!(joint.plane.distance(&rim).abs() < 1e-9);
                // On the next piece's cylinder too, and on its start cut.
                let from_axis = rim - vertex;
                let along = from_axis.dot(&after.axis);
                prop_assert!(((from_axis - after.axis.into_inner() * along).norm() - radius).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn pieces_alone_rebuild_the_run((run, start, end) in run()) {
        let pieces: Vec<Cutting> = run.pieces().iter().map(|placed| Cutting {
            length: placed.edge.mm(),
            start_cut: placed.piece.start().angle.radians(),
            end_cut: placed.piece.end().angle.radians(),
            clock: placed.piece.clock().radians(),
        }).collect();
        check_rebuilds(&pieces, &run, &start, &end)?;
    }

    #[test]
    fn feed_rotate_angle_alone_rebuild_the_run((run, start, end) in run(), kerf in 0.0..3.0_f64) {
        let sheet = SawSheet::new(0, &run, Length::from_mm(kerf));
        let steps: Vec<[f64; 3]> = sheet.cuts.iter().map(|step| {
            [step.feed.mm(), step.rotate.radians(), step.angle.radians()]
        }).collect();
        check_rebuilds(&cut_from_stick(&steps, kerf), &run, &start, &end)?;
        let mut turned = 0.0;
        for step in &sheet.cuts {
            turned -= step.rotate.radians();
            let off = Angle::from_radians(turned - step.mark.radians()).wrapped().radians();
            prop_assert!(off.min(2.0 * PI - off) < 1e-9, "marks add up the turns");
        }
    }
}

/// What a fabricator holds in hand: one piece, without the run.
struct Cutting {
    length: f64,
    start_cut: f64,
    end_cut: f64,
    clock: f64,
}

/// Cuts a stick as the sheet says, and measures what drops off.
///
/// The saw's blade is fixed: it leaves the piece that drops off longest at the top.
/// `top` is where the stick's scribed line has gone to, as a clock from the top,
/// positive clockwise for someone looking from the free end.
fn cut_from_stick(steps: &[[f64; 3]], kerf: f64) -> Vec<Cutting> {
    let mut line: f64 = 0.0;
    let mut free_end_cut = 0.0;
    let mut free_end_long_side = 0.0;
    steps
        .iter()
        .map(|&[feed, rotate, angle]| {
            line += rotate;
            let end_long_side = -line;
            let cutting = Cutting {
                length: feed - kerf / angle.cos(),
                start_cut: free_end_cut,
                end_cut: angle,
                clock: end_long_side - free_end_long_side,
            };
            // What is left on the stick is longest where the piece was shortest.
            (free_end_cut, free_end_long_side) = (angle, end_long_side + PI);
            cutting
        })
        .collect()
}

/// Welds pieces together from the first port on, each turned so that long sides
/// meet, and checks that they end at the last port.
///
/// The first piece's clock at its port is free; it is taken from the run.
fn check_rebuilds(
    pieces: &[Cutting],
    run: &Run,
    start: &Port,
    end: &Port,
) -> Result<(), TestCaseError> {
    let mut at = start.center;
    let mut axis = start.outward;
    // Where the start's long side points; for the first piece, where the end's does.
    let mut long_side = run.pieces()[0].zero;
    for (i, piece) in pieces.iter().enumerate() {
        prop_assert!((at - run.centerline().points()[i]).norm() < CLOSING * 10.0);
        at += axis.into_inner() * piece.length;
        if i + 1 == pieces.len() {
            break;
        }
        // The start of the first piece is square and has no long side.
        let clock = if piece.start_cut == 0.0 {
            0.0
        } else {
            piece.clock
        };
        let end_long_side = toward(&axis, &long_side, Angle::from_radians(clock));
        // The tube bends away from its long side by both cuts.
        let deflection = piece.end_cut + pieces[i + 1].start_cut;
        let (sin, cos) = deflection.sin_cos();
        let next: Vector = axis.into_inner() * cos - end_long_side.into_inner() * sin;
        long_side =
            Direction::new_normalize(end_long_side.into_inner() * cos + axis.into_inner() * sin);
        axis = Direction::new_normalize(next);
    }
    prop_assert!(
        (at - end.center).norm() < CLOSING * 10.0,
        "misses by {}",
        (at - end.center).norm()
    );
    prop_assert!((axis.into_inner() + end.outward.into_inner()).norm() < 1e-9);
    Ok(())
}

#[test]
fn planned_runs_meet_both_ports() {
    let mut numbers = support::Numbers::new(7);
    let mut planned = 0;
    for _ in 0..40 {
        let task = support::random(&mut numbers);
        let Ok(solution) = runwright::route::solve(&task) else {
            continue;
        };
        planned += 1;
        let points = solution.best.run.centerline().points();
        assert!((points[0] - task.start.center).norm() <= CLOSING);
        assert!((points[points.len() - 1] - task.end.center).norm() <= CLOSING);
        let directions = solution.best.run.centerline().directions();
        assert!((directions[0].into_inner() - task.start.outward.into_inner()).norm() <= CLOSING);
        let last = directions[directions.len() - 1];
        assert!((last.into_inner() + task.end.outward.into_inner()).norm() <= CLOSING);
    }
    assert!(planned > 30);
}

#[test]
fn gap_and_shrinkage_shorten_and_lengthen_each_piece() {
    let mut task = support::smallest();
    let plain = runwright::route::solve(&task).expect("a route").best.run;
    task.allowance = Allowance {
        gap: Length::from_mm(1.0),
        shrinkage: Length::from_mm(0.4),
    };
    let run = Run::new(
        &task.tube,
        &task.start,
        &task.end,
        plain.centerline().clone(),
        task.allowance,
    )
    .expect("still long enough");
    for (placed, joints) in run.pieces().iter().zip(run.joints().windows(2)) {
        // Square to the joint, half of (gap − shrinkage) off each of two faces; at a
        // flange, which is not cut back, all of it.
        let part = |joint: &Joint| match joint.kind {
            JointKind::Flange => 0.6,
            JointKind::Miter | JointKind::Square => 0.3,
        };
        let setback: f64 = joints.iter().map(|at| part(at) / at.cut().cos()).sum();
        let shorter = placed.edge.mm() - placed.piece.length().mm();
        assert!((shorter - setback).abs() < 1e-12);
    }
}

/// Pieces as cut and the gaps between them are as long as the way from face to face, along
/// a straight run and a bent one; a run that leaves a gap at each port was a whole gap too
/// long.
#[test]
fn pieces_and_gaps_fill_the_way_from_flange_to_flange() {
    let tube = support::smallest().tube;
    let gap = 3.0;
    let allowance = Allowance {
        gap: Length::from_mm(gap),
        shrinkage: Length::ZERO,
    };
    let run = |points: &[[f64; 3]]| {
        let line = Polyline::new(points.iter().copied().map(Point::from).collect()).unwrap();
        let [first, last] = line.ends();
        let port = |name: &str, (center, outward)| Port::new(name, center, outward);
        let ports = [port("from", first), port("to", last)];
        Run::new(&tube, &ports[0], &ports[1], line, allowance).expect("a run")
    };
    // One piece between two flanges: 300 mm less two gaps.
    let straight = run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 300.0]]);
    assert!((straight.cut_length().mm() - 294.0).abs() < 1e-9);
    // A square corner: at 45° a gap of 3 mm takes 3/cos 45° along the axis.
    let bent = run(&[[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [150.0, 0.0, 200.0]]);
    let along = 2.0 * gap + gap / 45.0_f64.to_radians().cos();
    assert!((bent.cut_length().mm() + along - 350.0).abs() < 1e-9);
    let lengths: Vec<f64> = bent
        .pieces()
        .iter()
        .map(|p| p.piece.length().mm())
        .collect();
    let corner = gap / 2.0 / 45.0_f64.to_radians().cos();
    assert!((lengths[0] - (200.0 - gap - corner)).abs() < 1e-9);
    assert!((lengths[1] - (150.0 - gap - corner)).abs() < 1e-9);
}

#[test]
fn sockets_lengthen_the_end_pieces_only() {
    let mut task = support::smallest();
    task.start.socket = Length::from_mm(12.0);
    task.end.socket = Length::from_mm(5.0);
    let run = runwright::route::solve(&task).expect("a route").best.run;
    let extra: Vec<f64> = run
        .pieces()
        .iter()
        .map(|p| (p.piece.length() - p.edge).mm())
        .collect();
    assert!((extra[0] - 12.0).abs() < 1e-9);
    assert!((extra[extra.len() - 1] - 5.0).abs() < 1e-9);
    assert!(extra[1..extra.len() - 1].iter().all(|e| e.abs() < 1e-12));
}

/// The meshes of all pieces together are the run's: straights, and stock bends.
#[test]
fn pieces_fill_what_the_run_does() {
    let jobs: [&[u8]; 2] = [
        include_bytes!("../examples/stack.json"),
        include_bytes!("../examples/duct.json"),
    ];
    for bytes in jobs {
        let job = read_job(bytes, "job").job.expect("a good example");
        let plan = plan(&job).expect("a run");
        let run = plan.runs[0].run();
        let facets = Facets::at_least(48);
        let pieces = run.piece_meshes(facets);
        assert_eq!(pieces.len(), run.pieces().len());
        let volume: f64 = pieces.iter().map(|mesh| mesh.volume_mm3()).sum();
        let whole = run.mesh(facets, false).volume_mm3();
        assert!((volume / whole - 1.0).abs() < 1e-9, "{volume} {whole}");
        assert!(pieces.iter().all(|mesh| mesh.is_watertight()));
    }
}
