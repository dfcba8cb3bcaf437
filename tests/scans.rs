//! Scanned surfaces in a run's way: cleared exactly, gone through where there is a hole,
//! and named where there is none.

mod support;

use runwright::geometry::{Point, Vector};
use runwright::job::{Job, read_job};
use runwright::plan::plan;
use runwright::route::{Candidate, Relaxation, Task, solve};
use runwright::run::{Flange, Outside, Port, Run};
use runwright::scan::{Group, Mesh, Surface};
use runwright::scene::{Body, Obstacle, Side};
use runwright::tube::Tube;
use runwright::units::{Angle, Length};
use std::sync::Arc;
use support::port;

/// What the check allows for rounding of the search, mm.
const SLACK: f64 = 1.1e-3;

/// A flat piece of wall of `n` by `m` squares from `corner` along `u` and `v`, but for
/// the squares that `is_hole` says.
fn wall(
    mesh: &mut Mesh,
    corner: [f64; 3],
    [u, v]: [[f64; 3]; 2],
    [n, m]: [u32; 2],
    is_hole: impl Fn(u32, u32) -> bool,
) {
    let (corner, u, v) = (Point::from(corner), Vector::from(u), Vector::from(v));
    let first = mesh.points.len() as u32;
    for j in 0..=m {
        for i in 0..=n {
            mesh.points
                .push(corner + u * f64::from(i) + v * f64::from(j));
        }
    }
    for j in 0..m {
        for i in 0..n {
            let at = |i: u32, j: u32| first + i + (n + 1) * j;
            if !is_hole(i, j) {
                mesh.triangles.push([at(i, j), at(i + 1, j), at(i, j + 1)]);
                mesh.triangles
                    .push([at(i + 1, j), at(i + 1, j + 1), at(i, j + 1)]);
            }
        }
    }
}

/// A flat piece of wall without holes.
fn sheet(corner: [f64; 3], ways: [[f64; 3]; 2], count: [u32; 2]) -> Mesh {
    let mut mesh = Mesh::default();
    wall(&mut mesh, corner, ways, count, |_, _| false);
    mesh
}

fn scan(mut mesh: Mesh, clearance: f64) -> Obstacle {
    mesh.groups = vec![Group {
        name: String::new(),
        triangles: 0..mesh.triangles.len(),
    }];
    Obstacle {
        name: "bay".to_owned(),
        body: Body::Scan(Arc::new(Surface::new(mesh))),
        side: Side::KeepOut,
        clearance: Length::from_mm(clearance),
        reach: Length::ZERO,
    }
}

/// A run of 60 mm tube.
fn task(start: Port, end: Port) -> Task {
    let tube = Tube::new(Length::from_mm(60.0), Length::from_mm(1.5), "304");
    Task::new(tube.unwrap_or_else(|error| panic!("{error}")), start, end)
}

/// Ports 500 mm apart that face each other, with 60 mm between their axes.
fn facing() -> Task {
    let start = port("a", [0.0, 0.0, 0.0], [0.0, 0.0, 1.0]);
    let end = port("b", [60.0, 0.0, 500.0], [0.0, 0.0, -1.0]);
    task(start, end)
}

/// A wall across the middle, 600 mm each way, with a square hole of `holes` squares of
/// 20 mm about (x, y) = (20, 0).
fn wall_with_hole(holes: u32) -> Mesh {
    let mut mesh = Mesh::default();
    let is_hole = |i: u32, j: u32| {
        let from = [16 - holes / 2, 15 - holes / 2];
        (from[0]..from[0] + holes).contains(&i) && (from[1]..from[1] + holes).contains(&j)
    };
    wall(
        &mut mesh,
        [-300.0, -300.0, 250.0],
        [[20.0, 0.0, 0.0], [0.0, 20.0, 0.0]],
        [30, 30],
        is_hole,
    );
    mesh
}

fn solved(task: &Task) -> Candidate {
    match solve(task) {
        Ok(solution) => solution.best,
        Err(reason) => panic!("no route: {reason:?}"),
    }
}

fn room_left(task: &Task, run: &Run) -> f64 {
    let rooms = task.obstacles.iter().map(|obstacle| {
        let standoff = run.clearance_to(obstacle, task.outside(obstacle));
        standoff.map_or(f64::INFINITY, |standoff| standoff.distance.mm())
    });
    rooms.fold(f64::INFINITY, f64::min)
}

/// Least distance from a dense sample of the run's outside to an obstacle's surface, mm,
/// but for what lies within `exempt` of a port: never less than the true distance.
fn sampled(run: &Run, obstacle: &Obstacle, outside: Outside) -> f64 {
    let Body::Scan(surface) = &obstacle.body else {
        return f64::INFINITY;
    };
    let mut least = f64::INFINITY;
    for stretch in run.swept(outside.wrap, outside.exempt) {
        let [a, b] = stretch.body.ends;
        for i in 0..72 {
            let (sin, cos) = f64::from(i).mul_add(5.0, 0.0).to_radians().sin_cos();
            let rim =
                |end: runwright::scan::Ellipse| end.center + end.half[0] * cos + end.half[1] * sin;
            for step in 0..=20 {
                let at = rim(a) + (rim(b) - rim(a)) * (f64::from(step) / 20.0);
                let near = surface.nearest(&at, least);
                least = near.map_or(least, |near| near.distance);
            }
        }
    }
    least
}

#[test]
fn a_run_goes_round_a_scanned_wall_as_near_as_it_may() {
    let mut task = facing();
    let mesh = sheet(
        [-40.0, -150.0, 250.0],
        [[20.0, 0.0, 0.0], [0.0, 20.0, 0.0]],
        [8, 15],
    );
    task.obstacles = vec![scan(mesh, 8.0)];
    let best = solved(&task);
    let left = room_left(&task, &best.run);
    // Up against the wall's edge, but for what the search takes a miter's corner for.
    assert!((-SLACK..0.6).contains(&left), "{left}");
    let obstacle = &task.obstacles[0];
    let sampled = sampled(&best.run, obstacle, task.outside(obstacle));
    assert!((sampled - 8.0 - left).abs() < 0.3, "{sampled} {left}");
    assert!(
        sampled >= 8.0 + left - 1e-6,
        "exact is never more than sampled"
    );
}

#[test]
fn a_wall_that_a_run_passes_is_a_collision_though_the_mesh_is_open() {
    let free = solved(&facing());
    // Two triangles, and the run clean through the middle of one.
    let mesh = sheet(
        [-400.0, -400.0, 250.0],
        [[700.0, 0.0, 0.0], [0.0, 900.0, 0.0]],
        [1, 1],
    );
    let obstacle = scan(mesh, 5.0);
    let near = free.run.clearance_to(&obstacle, Outside::default());
    let near = near.unwrap_or_else(|| panic!("nothing asked"));
    let radius = free.run.tube().radius().mm();
    // The surface lies in the tube as deep as its middle.
    assert!((near.distance.mm() + radius + 5.0).abs() < 1e-6, "{near:?}");
    let mut task = facing();
    task.obstacles = vec![obstacle];
    assert!(task.candidate(free.route).is_err());
}

#[test]
fn a_wall_is_a_collision_with_no_clearance_asked_and_with_less_than_none() {
    let free = solved(&facing());
    let mesh = sheet(
        [-400.0, -400.0, 250.0],
        [[700.0, 0.0, 0.0], [0.0, 900.0, 0.0]],
        [1, 1],
    );
    for clearance in [0.0, -5.0] {
        let mut task = facing();
        task.obstacles = vec![scan(mesh.clone(), clearance)];
        assert!(task.candidate(free.route.clone()).is_err(), "{clearance}");
    }
}

#[test]
fn what_only_scratches_a_miter_s_tip_is_a_collision() {
    let run = solved(&facing()).run;
    // A small flake through the outside of the first miter, beyond the tube's radius.
    let joint = &run.joints()[1];
    let (before, after) = (&run.pieces()[0].axis, &run.pieces()[1].axis);
    let out = (before.into_inner() - after.into_inner()).normalize();
    let tip = joint.plane.point + out * (30.0 / joint.cut().cos() - 1e-3);
    let side = before.cross(after).normalize() * 0.1;
    let mesh = Mesh {
        points: vec![tip + out * 5.0, tip - side, tip + side],
        triangles: vec![[0, 1, 2]],
        groups: Vec::new(),
    };
    let obstacle = scan(mesh, 0.0);
    let near = run.clearance_to(&obstacle, Outside::default());
    assert!(
        near.is_some_and(|near| near.distance.mm() <= 0.0),
        "{near:?}"
    );
    let pieces = run.clearances_to(&obstacle, Outside::default());
    assert!(pieces.iter().any(|near| near.distance.mm() <= 0.0));
}

#[test]
fn a_run_goes_through_a_hole_that_it_fits() {
    let mut task = facing();
    // 160 mm, for a tube of 60 with 10 to keep.
    task.obstacles = vec![scan(wall_with_hole(8), 10.0)];
    let best = solved(&task);
    assert!(room_left(&task, &best.run) >= -SLACK);
    let crossing = best
        .run
        .centerline()
        .edges()
        .find(|edge| (edge.start.z - 250.0) * (edge.end.z - 250.0) <= 0.0)
        .unwrap_or_else(|| panic!("the run stays on one side"));
    let part = (250.0 - crossing.start.z) / (crossing.end.z - crossing.start.z);
    let at = crossing.start + crossing.vector() * part;
    let inside = (at.x - 20.0).abs() < 40.0 && at.y.abs() < 40.0;
    assert!(inside, "through the hole is nearer than round: {at}");
}

/// A closed box about both ports with a wall across and a hole in it.
fn closed_bay(holes: u32) -> Mesh {
    let mut mesh = wall_with_hole(holes);
    let (x, y, z) = ([20.0, 0.0, 0.0], [0.0, 20.0, 0.0], [0.0, 0.0, 20.0]);
    let mut side = |corner, ways, count| wall(&mut mesh, corner, ways, count, |_, _| false);
    for at in [-300.0, 300.0] {
        side([-300.0, at, -160.0], [x, z], [30, 41]);
        side([at, -300.0, -160.0], [y, z], [30, 41]);
    }
    for at in [-160.0, 660.0] {
        side([-300.0, -300.0, at], [x, y], [30, 30]);
    }
    mesh
}

#[test]
fn where_no_tube_gets_through_the_place_is_named_and_how_much_is_missing() {
    let mut task = facing();
    // The hole is 40 mm wide: a tube of 60 with 15 to keep needs 90.
    task.obstacles = vec![scan(closed_bay(2), 15.0)];
    let reason = solve(&task).expect_err("a hole too narrow");
    let narrow = reason
        .narrow
        .unwrap_or_else(|| panic!("not seen to be narrow: {:?}", reason.bindings));
    assert_eq!(narrow.obstacle, 0);
    // 25 mm is missing at each edge; what is proven is less by up to a cell's diagonal.
    let short = narrow.short_by.mm();
    assert!((1.0..=25.0).contains(&short), "{short}");
    let off = narrow.at - Point::new(20.0, 0.0, 250.0);
    assert!(
        off.x.abs() < 45.0 && off.y.abs() < 45.0 && off.z.abs() < 45.0,
        "{}",
        narrow.at
    );
}

#[test]
fn what_is_offered_for_a_hole_too_narrow_works() {
    let mut task = facing();
    task.obstacles = vec![scan(closed_bay(4), 15.0)];
    let reason = solve(&task).expect_err("a hole too narrow");
    let is_clearance = |relaxation: &&Relaxation| matches!(relaxation, Relaxation::Clearance(0, _));
    let offered = reason.relaxations.iter().find(is_clearance);
    let offered = offered.unwrap_or_else(|| panic!("{:?}", reason.relaxations));
    // As it is printed: rounded, and a little more where the edge is ragged.
    let rounded = |more: u32| {
        let (digit, hundredth) = (Length::from_mm(0.01), Angle::from_degrees(0.01));
        offered.rounded(digit, hundredth, more)
    };
    let printed = (0..10).map(|power| rounded(1 << power));
    let printed = printed
        .into_iter()
        .find(|relaxation| relaxation.holds(&task));
    let printed = printed.unwrap_or_else(|| panic!("{offered:?} does not hold"));
    let task = printed.apply(&task);
    // Straight through the middle it would fit with 10 mm.
    let clearance = task.obstacles[0].clearance.mm();
    assert!((0.0..=10.0).contains(&clearance), "{clearance}");
    let best = solved(&task);
    assert!(room_left(&task, &best.run) >= -SLACK);
}

#[test]
fn a_wrap_needs_room_too() {
    let mut task = facing();
    task.obstacles = vec![scan(wall_with_hole(8), 10.0)];
    let bare = solved(&task);
    task.wrap = Length::from_mm(6.0);
    let wrapped = solved(&task);
    let obstacle = &task.obstacles[0];
    let bare_tube = Outside {
        wrap: Length::ZERO,
        ..task.outside(obstacle)
    };
    let room = |run: &Run| {
        let standoff = run.clearance_to(obstacle, bare_tube);
        standoff.map_or(f64::INFINITY, |standoff| standoff.distance.mm())
    };
    assert!(room(&wrapped.run) >= 6.0 - SLACK, "{}", room(&wrapped.run));
    assert!(room(&bare.run) >= -SLACK);
}

#[test]
fn what_a_port_stands_on_is_not_in_the_way_but_what_is_beside_is() {
    let mut task = facing();
    // A plate in the plane of the first port's face, and a post beside its way out.
    let mut mesh = sheet(
        [-200.0, -200.0, 0.0],
        [[20.0, 0.0, 0.0], [0.0, 20.0, 0.0]],
        [20, 20],
    );
    wall(
        &mut mesh,
        [42.0, -20.0, 60.0],
        [[0.0, 20.0, 0.0], [0.0, 0.0, 20.0]],
        [2, 3],
        |_, _| false,
    );
    task.obstacles = vec![scan(mesh, 8.0)];
    let best = solved(&task);
    let left = room_left(&task, &best.run);
    assert!(left >= -SLACK, "{left}");
    // Past the exempt stretch the plate counts again.
    let asked = task.outside(&task.obstacles[0]);
    let all = Outside::default();
    let near = best.run.clearance_to(&task.obstacles[0], all);
    assert!(
        near.is_some_and(|near| near.distance.mm() < -7.9),
        "{near:?}"
    );
    assert!((asked.exempt.mm() - 38.0).abs() < 1e-9);
}

#[test]
fn a_wrench_reaches_the_bolts_of_a_port_beside_the_way() {
    let mut task = facing();
    let free = solved(&task);
    let mut beside = port("c", [100.0, 0.0, 250.0], [-1.0, 0.0, 0.0]);
    beside.flange = Some(Flange {
        radius: Length::from_mm(60.0),
        wrench: Length::from_mm(60.0),
    });
    task.obstacles = vec![beside.wrench_room().unwrap_or_else(|| panic!("no room"))];
    let roomy = solved(&task);
    assert!(room_left(&task, &free.run) < -1.0);
    assert!(room_left(&task, &roomy.run) >= -SLACK);
    // The port's own tube stands in the room as far as the wrench reaches, and until the
    // tightest bend has carried it, widened by the steepest miter, out of there.
    let exempt = task.exempt(&task.obstacles[0]).mm() - 60.0;
    assert!((30.0..36.0).contains(&exempt), "{exempt}");
}

#[test]
fn cores_do_not_change_the_answer() {
    let mut task = facing();
    task.obstacles = vec![scan(wall_with_hole(8), 10.0)];
    let with_threads = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        // A task of its own: nothing known from the last time.
        let task = Task {
            charts: runwright::route::Charts::default(),
            ..task.clone()
        };
        pool.unwrap_or_else(|error| panic!("{error}"))
            .install(|| solved(&task))
    };
    let one = with_threads(1);
    for threads in [2, 3] {
        assert_eq!(with_threads(threads).route, one.route, "{threads} threads");
    }
}

/// A job with an OBJ of two groups: a block and a loom of wires beside the way.
fn job_with(scan: &str) -> String {
    format!(
        r#"{{ "units": "mm", "tube": {{ "od": 40, "wall": 1.5 }},
          "ports": {{ "a": {{ "center": [0, 0, 0], "outward": [0, 0, 1] }},
                      "b": {{ "center": [0, 0, 400], "outward": [0, 0, -1] }} }},
          "scene": {{ "clearance": 5, "scans": [ {scan} ] }},
          "runs": [ {{ "name": "duct", "from": "a", "to": "b" }} ] }}"#
    )
}

const BAY: &str = "\
g block
v 0.03 -0.05 0.1\nv 0.03 0.05 0.1\nv 0.03 0.05 0.3\nv 0.03 -0.05 0.3
f 1 2 3 4
g wires
v -0.04 -0.05 0.1\nv -0.04 0.05 0.1\nv -0.04 0.05 0.3\nv -0.04 -0.05 0.3
f 5 6 7 8
";

fn loaded(scan: &str) -> (Job, Vec<String>) {
    let checked = read_job(job_with(scan).as_bytes(), "bay");
    let mut job = checked
        .job
        .unwrap_or_else(|| panic!("{:?}", checked.errors));
    let warnings = job.load_scans(|_| Ok(BAY.as_bytes()));
    let warnings = warnings.unwrap_or_else(|errors| panic!("{errors:?}"));
    (job, warnings.iter().map(ToString::to_string).collect())
}

#[test]
fn zones_keep_their_own_clearance() {
    let (job, warnings) = loaded(
        r#"{ "name": "bay", "file": "bay.obj", "units": "m",
             "zones": [ { "name": "loom", "groups": ["wire*"], "clearance": 25 } ] }"#,
    );
    assert!(warnings.is_empty(), "{warnings:?}");
    let names: Vec<&str> = job.runs[0]
        .task
        .obstacles
        .iter()
        .map(|o| o.name.as_str())
        .collect();
    assert_eq!(names, ["bay: loom", "bay"]);
    assert_eq!(job.loaded[0].parts.len(), 2);
    let plan = plan(&job).unwrap_or_else(|problems| panic!("{problems:?}"));
    // The loom is 40 mm off the axis and needs 45; the block 30 and needs 25: the run
    // moves off its axis by 5 at most.
    let standings = &plan.runs[0].standings;
    assert_eq!(standings.len(), 2);
    for standing in standings {
        assert!(standing.nearest.distance.mm() >= -SLACK, "{standing:?}");
    }
    let run = plan.runs[0].run();
    let middle = run
        .centerline()
        .edges()
        .map(|edge| edge.start.x.max(edge.end.x));
    let most = middle.fold(0.0, f64::max);
    assert!(most >= 4.99, "{most}");
}

#[test]
fn a_scan_in_a_wrong_unit_is_told_from_one_that_is_right() {
    let (_, warnings) = loaded(r#"{ "name": "bay", "file": "bay.obj", "units": "mm" }"#);
    assert_eq!(warnings.len(), 1, "{warnings:?}");
    assert!(
        warnings[0].starts_with("scene.scans[0].units: 'bay' reaches from"),
        "{}",
        warnings[0]
    );
    assert!(
        warnings[0].contains("in \"m\" it would lie about the ports"),
        "{}",
        warnings[0]
    );
}

#[test]
fn a_scan_is_carried_by_its_landmarks() {
    // Measured a quarter turn about z, and 100 mm off along x.
    let (job, warnings) = loaded(
        r#"{ "name": "bay", "file": "bay.obj", "units": "m",
             "landmarks": [ { "scan": [0.03, -0.05, 0.1], "job": [150, 30, 100] },
                            { "scan": [0.03, 0.05, 0.1], "job": [50, 30, 100] },
                            { "scan": [0.03, 0.05, 0.3], "job": [50, 30, 300] },
                            { "scan": [-0.04, 0.05, 0.3], "job": [50, -40, 300] } ] }"#,
    );
    assert!(warnings.is_empty(), "{warnings:?}");
    let placed = job.loaded[0].placed.as_ref();
    assert!(
        placed.is_some_and(|placed| placed.rms.mm() < 1e-9),
        "{placed:?}"
    );
    let (min, max) = job.loaded[0].bounds;
    assert!(
        (min - Point::new(50.0, -40.0, 100.0)).norm() < 1e-9,
        "{min}"
    );
    assert!(
        (max - Point::new(150.0, 30.0, 300.0)).norm() < 1e-9,
        "{max}"
    );
}
