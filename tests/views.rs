//! Pictures: outlines and what hides what against points and lines of sight of the tubes
//! themselves; numbers on the page.

mod support;

use proptest::prelude::*;
use runwright::export::view::{
    Convex, Gaze, Look, Painting, Picture, Shown, Spot, isometric, three_views,
};
use runwright::geometry::{Direction, Plane, Point, Polyline, Vector, across};
use runwright::run::{Allowance, Centerline, Port, Run, clearance_between};
use runwright::units::{Length, LengthUnit, Style};
use std::collections::BTreeMap;
use std::f64::consts::TAU;
use support::{Numbers, run_along, tube};

/// A view from anywhere.
fn gaze(numbers: &mut Numbers) -> Gaze {
    let toward = numbers.direction();
    let [right, _] = across(&toward);
    Gaze {
        right,
        up: Direction::new_normalize(toward.cross(&right)),
        toward,
    }
}

/// A run that wanders without coming back on itself; `None` where it would.
fn wandering(numbers: &mut Numbers, edges: usize) -> Option<Run> {
    let mut points = vec![Point::from(
        [(); 3].map(|()| numbers.between(-150.0, 150.0)),
    )];
    let mut way = numbers.direction();
    for _ in 0..edges {
        let length = numbers.between(60.0, 300.0);
        points.push(points[points.len() - 1] + way.into_inner() * length);
        let turn = numbers.direction().into_inner() * numbers.between(0.1, 0.8);
        way = Direction::new_normalize(way.into_inner() + turn);
    }
    let centerline = Polyline::new(points)?;
    let [(start, out), (end, back)] = centerline.ends();
    let ports = [Port::new("a", start, out), Port::new("b", end, back)];
    let run = Run::new(
        &tube(),
        &ports[0],
        &ports[1],
        centerline,
        Allowance::default(),
    )
    .ok()?;
    let clear = run
        .self_clearance()
        .is_none_or(|c| c.distance > Length::from_mm(1.0));
    clear.then_some(run)
}

/// A leg, a stock bend of `turn`, a leg.
fn bent(numbers: &mut Numbers) -> Run {
    let first = numbers.direction();
    let mut second = numbers.direction();
    // More than some 125° of turn does not fit between the legs.
    while first.dot(&second) < -0.6 {
        second = numbers.direction();
    }
    let corner = Point::from([(); 3].map(|()| numbers.between(-150.0, 150.0)));
    let leg = 600.0;
    let points = vec![
        corner - first.into_inner() * leg,
        corner - first.into_inner() * (leg * 0.9),
        corner,
        corner + second.into_inner() * leg,
    ];
    let centerline = Polyline::new(points).expect("edges have length");
    let ends = centerline.ends();
    let ports = [0, 1].map(|i| Port::new("end", ends[i].0, ends[i].1));
    let clr = Some(Length::from_inches(3.75));
    let centerline = Centerline::new(centerline, vec![None, None, clr, None]).expect("it fits");
    Run::new(
        &tube(),
        &ports[0],
        &ports[1],
        centerline,
        Allowance::default(),
    )
    .expect("a run")
}

/// Points of the ellipse in which a tube of radius `r` along `axis` meets `plane`.
fn ellipse(plane: &Plane, axis: &Direction, r: f64) -> Vec<Point> {
    let [u, w] = across(axis);
    let round = (0..720).map(|i| TAU * f64::from(i) / 720.0);
    round
        .map(|t| {
            let point = plane.point + (u.into_inner() * t.cos() + w.into_inner() * t.sin()) * r;
            point + axis.into_inner() * plane.reach(&point, axis)
        })
        .collect()
}

/// How far spots reach along 360 ways.
fn supports(spots: &[Spot]) -> Vec<f64> {
    let ways = (0..360).map(|i| f64::from(i).to_radians().sin_cos());
    ways.map(|(sin, cos)| {
        let reach = spots.iter().map(|spot| spot.x * cos + spot.y * sin);
        reach.fold(f64::NEG_INFINITY, f64::max)
    })
    .collect()
}

fn shoelace(spots: &[Spot]) -> f64 {
    let next = spots.iter().cycle().skip(1);
    let twice = spots.iter().zip(next).map(|(a, b)| a.x * b.y - a.y * b.x);
    twice.sum::<f64>().abs() / 2.0
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn outlines_are_the_hulls_of_the_outside(seed in any::<u64>()) {
        let mut numbers = Numbers::new(seed);
        let gaze = gaze(&mut numbers);
        let Some(run) = wandering(&mut numbers, 4) else { return Err(TestCaseError::reject("no run")) };
        let r = run.tube().radius().mm();
        let painting = Painting::new(&[&run], gaze);
        let mut pieces: BTreeMap<usize, Vec<Spot>> = BTreeMap::new();
        for body in painting.bodies() {
            let outline = body.outline().flattened(24);
            let hull = Convex::hull(outline.clone());
            // Convex: nothing of it crosses itself or turns in.
            let (area, _) = hull.middle().expect("an area");
            prop_assert!((shoelace(&outline) - area).abs() < 1e-4 * area);
            pieces.entry(body.piece).or_default().extend(outline);
        }
        for (i, spots) in pieces {
            let axis = run.pieces()[i].axis;
            let ends = [i, i + 1].map(|joint| ellipse(&run.joints()[joint].plane, &axis, r));
            let outside: Vec<Spot> = ends.iter().flatten().map(|p| gaze.place(p)).collect();
            for (drawn, true_reach) in supports(&spots).into_iter().zip(supports(&outside)) {
                prop_assert!((drawn - true_reach).abs() < 0.01, "{drawn} {true_reach}");
            }
        }
    }

    #[test]
    fn a_stock_bend_is_outlined_too(seed in any::<u64>()) {
        let mut numbers = Numbers::new(seed);
        let gaze = gaze(&mut numbers);
        let run = bent(&mut numbers);
        let r = run.tube().radius().mm();
        let painting = Painting::new(&[&run], gaze);
        let bend = run.pieces().iter().position(|placed| placed.arc.is_some()).expect("a bend");
        let arc = run.pieces()[bend].arc.expect("a bend");
        let bodies = painting.bodies().iter().filter(|body| body.piece == bend && body.is_bent());
        let drawn: Vec<Spot> = bodies.flat_map(|body| body.outline().flattened(24)).collect();
        let outside: Vec<Spot> = (0..=400)
            .flat_map(|i| {
                let (point, normal) = arc.at(arc.turn() * (f64::from(i) / 400.0));
                ellipse(&Plane { point, normal }, &normal, r)
            })
            .map(|p| gaze.place(&p))
            .collect();
        for (drawn, true_reach) in supports(&drawn).into_iter().zip(supports(&outside)) {
            prop_assert!((drawn - true_reach).abs() < 0.01, "{drawn} {true_reach}");
        }
    }

    #[test]
    fn the_nearest_piece_is_on_top(seed in any::<u64>()) {
        let mut numbers = Numbers::new(seed);
        let gaze = gaze(&mut numbers);
        let runs: Vec<Run> = (0..3).filter_map(|_| wandering(&mut numbers, 6)).collect();
        let apart = |a: &Run, b: &Run| {
            clearance_between(a, b).is_none_or(|c| c.distance > Length::from_mm(1.0))
        };
        let mut kept: Vec<&Run> = Vec::new();
        for run in &runs {
            if kept.iter().all(|other| apart(run, other)) {
                kept.push(run);
            }
        }
        let painting = Painting::new(&kept, gaze);
        let mut asked = 0;
        for _ in 0..if kept.is_empty() { 0 } else { 400 } {
            let run = (numbers.between(0.0, kept.len() as f64) as usize).min(kept.len() - 1);
            let pieces = kept[run].pieces();
            let piece = (numbers.between(0.0, pieces.len() as f64) as usize).min(pieces.len() - 1);
            let [a, b] = [piece, piece + 1].map(|j| {
                ellipse(&kept[run].joints()[j].plane, &pieces[piece].axis, kept[run].tube().radius().mm())
            });
            let side = numbers.between(0.0, 719.0) as usize;
            let point = a[side] + (b[side] - a[side]) * numbers.between(0.0, 1.0);
            let spot = gaze.place(&point);
            // Where it is the same a little to all sides, rounding decides nothing.
            let Some(nearest) = nearest(&kept, &gaze, &spot) else { continue };
            let round = (0..8).map(|i| (TAU * f64::from(i) / 8.0).sin_cos());
            let mut beside = round.map(|(sin, cos)| Spot::new(spot.x + 0.4 * cos, spot.y + 0.4 * sin));
            if !beside.all(|spot| self::nearest(&kept, &gaze, &spot) == Some(nearest)) {
                continue;
            }
            asked += 1;
            let top = painting.top_at(&spot).map(|i| &painting.bodies()[i]);
            prop_assert_eq!(top.map(|body| (body.run, body.piece)), Some(nearest), "{}", spot);
        }
        prop_assert!(kept.is_empty() || asked > 150, "{}", asked);
    }

    #[test]
    fn numbers_stand_apart_and_on_the_page(seed in any::<u64>(), wide in 60.0..200.0_f64) {
        let mut numbers = Numbers::new(seed);
        let Some(run) = wandering(&mut numbers, 8) else { return Err(TestCaseError::reject("no run")) };
        for picture in pictures(&run, wide) {
            let (frames, page) = frames(&picture.svg);
            for (i, a) in frames.iter().enumerate() {
                prop_assert!(a[0] >= page[0] && a[1] >= page[1]);
                prop_assert!(a[2] <= page[2] && a[3] <= page[3]);
                for b in &frames[..i] {
                    let apart = a[0] >= b[2] || b[0] >= a[2] || a[1] >= b[3] || b[1] >= a[3];
                    prop_assert!(apart, "{a:?} {b:?}");
                }
            }
            prop_assert!(picture.width <= Length::from_mm(wide));
            prop_assert!(on_page(&picture.svg, page));
        }
    }
}

/// The piece that a line of sight meets first, by run and number.
fn nearest(runs: &[&Run], gaze: &Gaze, spot: &Spot) -> Option<(usize, usize)> {
    let mut best: Option<(f64, (usize, usize))> = None;
    let base = gaze.lift(spot, 0.0);
    for (number, run) in runs.iter().enumerate() {
        for (i, placed) in run.pieces().iter().enumerate() {
            let joints = [i, i + 1].map(|j| run.joints()[j].plane);
            let Some(depth) = meets(&base, &gaze.toward, joints, &placed.axis, run) else {
                continue;
            };
            if best.is_none_or(|(most, _)| depth > most) {
                best = Some((depth, (number, i)));
            }
        }
    }
    best.map(|(_, which)| which)
}

/// Greatest depth at which a line is on or in the tube between two planes: of the crossings
/// with side and faces that one which lies within all of them.
fn meets(
    base: &Point,
    toward: &Vector,
    planes: [Plane; 2],
    axis: &Vector,
    run: &Run,
) -> Option<f64> {
    let r = run.tube().radius().mm();
    let off = |d: f64| base + toward * d;
    let from_axis = |p: &Point| (p - planes[0].point).cross(axis).norm();
    let inside = |p: &Point| {
        from_axis(p) <= r + 1e-6 && planes[0].distance(p) >= -1e-6 && planes[1].distance(p) <= 1e-6
    };
    let mut crossings: Vec<f64> = planes
        .iter()
        .map(|plane| plane.reach(base, &Direction::new_normalize(*toward)))
        .collect();
    let (q, t) = ((base - planes[0].point).cross(axis), toward.cross(axis));
    let (a, b, c) = (t.dot(&t), q.dot(&t), q.dot(&q) - r * r);
    let root = (b * b - a * c).sqrt();
    crossings.extend([(-b - root) / a, (-b + root) / a]);
    crossings.retain(|d| d.is_finite() && inside(&off(*d)));
    crossings.into_iter().reduce(f64::max)
}

fn shown(run: &Run) -> Shown<'_> {
    Shown {
        name: "a run & more",
        run,
        ports: ["out <1>", "in"],
    }
}

fn pictures(run: &Run, wide: f64) -> [Picture; 2] {
    let look = Look {
        width: Length::from_mm(wide),
        height: Length::from_mm(wide * 1.3),
        ..Look::new(Style::new(LengthUnit::In))
    };
    [
        isometric(&[shown(run)], &look),
        three_views(&[shown(run)], &look),
    ]
}

/// Attributes of the elements called `name`.
fn elements<'a>(svg: &'a str, name: &str) -> Vec<BTreeMap<&'a str, &'a str>> {
    let open = format!("<{name} ");
    svg.split(&open)
        .skip(1)
        .filter_map(|rest| rest.split_once('>'))
        .map(|(inside, _)| {
            let mut parts = inside.trim_end_matches('/').split('"');
            let mut found = BTreeMap::new();
            while let (Some(key), Some(value)) = (parts.next(), parts.next()) {
                found.insert(key.trim().trim_end_matches('='), value);
            }
            found
        })
        .collect()
}

fn value(element: &BTreeMap<&str, &str>, key: &str) -> f64 {
    element[key].parse().expect("a number")
}

/// Boxes of the frames round numbers, which are a group of their own, and of the page.
fn frames(svg: &str) -> (Vec<[f64; 4]>, [f64; 4]) {
    let paper = &elements(svg, "rect")[0];
    let square = |e: &BTreeMap<&str, &str>| {
        let [x, y, w, h] = ["x", "y", "width", "height"].map(|key| value(e, key));
        [x, y, x + w, y + h]
    };
    let (_, group) = svg.split_once("<g fill=\"white\"").expect("frames");
    let (group, _) = group.split_once("</g>").expect("frames");
    let mut frames: Vec<[f64; 4]> = elements(group, "rect").iter().map(square).collect();
    frames.extend(elements(group, "circle").iter().map(|disc| {
        let [x, y, r] = ["cx", "cy", "r"].map(|key| value(disc, key));
        [x - r, y - r, x + r, y + r]
    }));
    (frames, square(paper))
}

/// Whether every spot of every path is on the page: `M` to a spot, `l` and `c` from the
/// last.
fn on_page(svg: &str, page: [f64; 4]) -> bool {
    elements(svg, "path").iter().all(|path| {
        let mut at = [0.0, 0.0];
        let data = path["d"].replace('-', " -");
        let mut steps = data.split_inclusive(['M', 'l', 'c', 'Z']);
        let mut letter = steps.next().and_then(|s| s.chars().last());
        steps.all(|step| {
            let step_letter = letter;
            letter = step.chars().last().filter(|c| c.is_alphabetic());
            let numbers = step
                .trim_end_matches(['M', 'l', 'c', 'Z'])
                .split_whitespace();
            let numbers: Vec<f64> = numbers.map(|n| n.parse().expect("a number")).collect();
            let from = if step_letter == Some('M') {
                [0.0, 0.0]
            } else {
                at
            };
            numbers.chunks(2).all(|off| {
                at = [from[0] + off[0], from[1] + off[1]];
                at[0] >= page[0] && at[0] <= page[2] && at[1] >= page[1] && at[1] <= page[3]
            })
        })
    })
}

/// A helix of `pieces` pieces.
fn coil(pieces: usize) -> Run {
    let points = (0..=pieces).map(|i| {
        let t = i as f64 * 0.35;
        Point::new(260.0 * t.cos(), 260.0 * t.sin(), 30.0 * t)
    });
    run_along(&tube(), points.collect()).0
}

#[test]
fn a_long_run_stays_small_and_every_piece_is_numbered() {
    let run = coil(60);
    for picture in pictures(&run, 180.0) {
        assert!(picture.svg.len() < 200_000, "{}", picture.svg.len());
    }
    let [iso, _] = pictures(&run, 180.0);
    assert_eq!(iso, pictures(&run, 180.0)[0], "the same bytes twice");
    let discs = frames(&iso.svg).0.len();
    assert_eq!(discs + iso.left_out, 60 + 61);
    assert!(iso.left_out < 12, "{}", iso.left_out);
    assert!(iso.svg.contains("out &lt;1&gt;"));
}

#[test]
fn no_size_breaks_a_picture() {
    let run = coil(3);
    for mm in [f64::NAN, -1.0, 0.0, 1e-9, 5.0, 1e9, f64::INFINITY] {
        let look = Look {
            width: Length::from_mm(mm),
            text: Length::from_mm(mm),
            ..Look::new(Style::new(LengthUnit::Mm))
        };
        for picture in [
            isometric(&[shown(&run)], &look),
            three_views(&[shown(&run)], &look),
            isometric(&[], &look),
            three_views(&[], &look),
        ] {
            assert!(picture.width.is_finite() && picture.width > Length::ZERO);
            assert!(
                !picture.svg.contains("NaN") && !picture.svg.contains("inf"),
                "{mm}"
            );
        }
    }
}

#[test]
fn three_tubes_that_lie_on_each_other_in_a_circle_are_cut() {
    // Each passes over the next: no order of whole tubes is right.
    let reach = 300.0;
    let runs: Vec<Run> = (0..3)
        .map(|i| {
            let (sin, cos) = (TAU * f64::from(i) / 3.0).sin_cos();
            let at = |along: f64, z: f64| {
                Point::new(90.0 * -sin + along * cos, 90.0 * cos + along * sin, z)
            };
            run_along(&tube(), vec![at(-reach, -70.0), at(reach, 70.0)]).0
        })
        .collect();
    let all: Vec<&Run> = runs.iter().collect();
    let painting = Painting::new(&all, Gaze::top());
    assert!(painting.bodies().len() > 3);
    for i in 0..3 {
        let (sin, cos) = (TAU * f64::from(i) / 3.0).sin_cos();
        for along in [-160.0, -100.0, 0.0, 100.0, 160.0] {
            let spot = Spot::new(90.0 * -sin + along * cos, -(90.0 * cos + along * sin));
            let top = painting.top_at(&spot).map(|i| painting.bodies()[i].run);
            assert_eq!(top, nearest(&all, &Gaze::top(), &spot).map(|(run, _)| run));
        }
    }
}

#[test]
fn sizes_read_as_the_box_and_the_ports_distances() {
    // From z to x: 300 mm over, 200 mm up, 2 1/2 in tube: 331.75 mm and 231.75 mm over all.
    let points = [[0.0, 0.0, 0.0], [0.0, 0.0, 200.0], [300.0, 0.0, 200.0]];
    let (run, ..) = run_along(&tube(), points.map(Point::from).to_vec());
    let look = Look::new(Style::new(LengthUnit::Mm));
    let svg = three_views(&[shown(&run)], &look).svg;
    for text in ["300.0 mm", "200.0 mm", "331.8 mm", "231.8 mm", "63.5 mm"] {
        assert!(svg.contains(text), "{text}");
    }
    assert!(!svg.contains(" 0.0 mm") && !svg.contains(">0.0 mm"));
}
