//! What stands in a run's way, as a user meets it: rooms about flanges, ports inside bodies,
//! ports that face the wrong way.

#[path = "support/program.rs"]
mod program;

use program::{run_in, says, stderr, stdout};
use runwright::clear::{Rule, places_of_run, rooms_of_run};
use runwright::job::{Job, read_job};
use runwright::plan::{Plan, plan};
use runwright::route::{Control, ROOM_SLACK, solve_with};
use runwright::scene::Side;
use serde_json::{Value, json};
use std::fs;
use std::process::Output;
use tempfile::TempDir;

/// The README's example.
fn stack() -> Value {
    serde_json::from_str(include_str!("../examples/stack.json")).expect("JSON")
}

/// The README's example with a flange on its outlet, in inches.
fn flanged(wrench: f64) -> Value {
    let mut job = stack();
    job["ports"]["outlet"]["flange"] = json!({ "radius": 2.125, "wrench": wrench });
    job
}

fn read(job: &Value) -> Job {
    let checked = read_job(job.to_string().as_bytes(), "job");
    checked
        .job
        .unwrap_or_else(|| panic!("{:?}", checked.errors))
}

fn planned(job: &Value) -> Plan {
    plan(&read(job)).unwrap_or_else(|problems| panic!("{problems:?}"))
}

/// What a command says of a job.
fn asked(job: &Value, arguments: &[&str]) -> (TempDir, Output) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("job.json"), job.to_string()).expect("a job");
    let output = run_in(folder.path(), arguments);
    (folder, output)
}

fn check(job: &Value) -> Output {
    asked(job, &["check", "job.json"]).1
}

/// The rules that a run is held to.
fn rules(plan: &Plan, run: usize) -> Vec<Rule> {
    let task = &plan.job.runs[run].task;
    let rule = |obstacle: &runwright::scene::Obstacle| Rule {
        obstacle: obstacle.clone(),
        outside: task.outside(obstacle),
    };
    task.obstacles.iter().map(rule).collect()
}

#[test]
fn a_miter_past_the_wrench_is_not_in_the_wrench_s_way() {
    // Once: the ball at the end of the exempt stretch was widened for the first miter, and
    // so never left the room; nothing with a flange and less straight could be planned.
    for wrench in [0.25, 1.5, 3.0] {
        for (clr, cut) in [(1.9, 9.0), (3.75, 11.25), (3.75, 4.0), (6.0, 9.0)] {
            let mut job = flanged(wrench);
            job["runs"][0]["clr"] = json!(clr);
            job["shop"] = json!({ "usual_cut": cut, "max_cut": cut });
            let plan = planned(&job);
            let run = plan.runs[0].run();
            // The outside, but for the straight tube in the room, stays out of it.
            let skin = rooms_of_run(run, &[]).points;
            let [radius, height, tube] = [2.125, wrench, 1.25].map(|inches| inches * 25.4);
            let is_in = |p: &&runwright::geometry::Point| {
                let out = p.x.hypot(p.y);
                p.z > 1e-3 && p.z < height - 1e-3 && out < radius && out > tube + 1e-3
            };
            assert_eq!(skin.iter().find(is_in), None, "{wrench} {clr} {cut}");
        }
    }
}

#[test]
fn another_run_stays_out_of_a_wrench_s_room() {
    let mut job = flanged(3.0);
    job["ports"]["left"] = json!({ "center": [-14, 0.5, 2], "outward": [1, 0, 0] });
    job["ports"]["right"] = json!({ "center": [14, 0.5, 2], "outward": [-1, 0, 0] });
    job["runs"] = json!([ { "name": "by", "from": "left", "to": "right" } ]);
    let plan = planned(&job);
    let standing = plan.runs[0].standings[0];
    assert!(standing.nearest.distance >= -ROOM_SLACK, "{standing:?}");
    assert!(plan.runs[0].run().pieces().len() > 1);
    job["ports"]["outlet"]["flange"] = Value::Null;
    assert_eq!(planned(&job).runs[0].run().pieces().len(), 1);
}

#[test]
fn the_room_that_a_run_leaves_hides_no_tighter_place() {
    // Once: the tightest place was always where the tube leaves its own flange's room.
    let mut job = flanged(1.5);
    let post = json!({ "min": [-8, -3, 4], "max": [-2.5, 3, 6] });
    job["scene"] = json!({ "keep_out": [ { "name": "post", "box": post } ] });
    let plan = planned(&job);
    let run = plan.runs[0].run();
    let rules = rules(&plan, 0);
    assert!(rules.iter().any(Rule::is_own_room));
    let places = places_of_run(run, &rules);
    assert!(!places.is_empty());
    for place in &places {
        assert_eq!(rules[place.obstacle].obstacle.name, "post");
    }
    let tightest = places[0].room.mm();
    let rooms = rooms_of_run(run, &rules);
    let least = rooms.rooms.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(
        tightest > 1.0 && least >= tightest - 1e-6,
        "{least} {tightest}"
    );
    let (folder, output) = asked(&job, &["plan", "job.json", "-o", "out", "--no-packet"]);
    assert!(output.status.success(), "{}", stderr(&output));
    let sheet = fs::read_to_string(folder.path().join("out/sheet.txt")).expect("a sheet");
    says(
        &sheet,
        "'wrench room at outlet' is left free but for its own tube",
    );
    let cleared = run_in(
        folder.path(),
        &["clear", "out/plan.json", "--job", "job.json"],
    );
    let table = stdout(&cleared);
    assert!(
        cleared.status.success() && !table.contains("wrench room"),
        "{table}"
    );
}

#[test]
fn a_run_that_comes_back_into_its_own_room_is_told() {
    // Up from the outlet and down again beside it, through the room of a wide flange.
    let mut job = stack();
    job["ports"]["exit"] = json!({ "center": [9, 0, -12], "outward": [0, 0, 1] });
    let plan = planned(&job);
    job["ports"]["outlet"]["flange"] = json!({ "radius": 12, "wrench": 0.5 });
    let task = read(&job).runs[0].task.clone();
    let room = task.obstacles[0].clone();
    let rule = Rule {
        outside: task.outside(&room),
        obstacle: room,
    };
    let places = places_of_run(plan.runs[0].run(), std::slice::from_ref(&rule));
    assert!(!places.is_empty());
    assert!(places.iter().all(|place| !place.is_clear()), "{places:?}");
    let rooms = rooms_of_run(plan.runs[0].run(), std::slice::from_ref(&rule));
    let seen = rooms.rooms.iter().zip(&rooms.asked);
    assert!(seen.into_iter().any(|(room, asked)| *asked && *room < 0.0));
}

#[test]
fn a_plane_that_looks_the_wrong_way_is_told() {
    // Once: no problems, and the planner sought for long in vain.
    let mut job = stack();
    let hood =
        |z: f64| json!({ "name": "hood", "plane": { "point": [0, 0, 20], "normal": [0, 0, z] } });
    job["scene"] = json!({ "keep_out": [hood(-1.0)] });
    assert_eq!(check(&job).status.code(), Some(0));
    job["scene"] = json!({ "keep_out": [hood(1.0)] });
    for arguments in [
        &["check", "job.json"][..],
        &["plan", "job.json", "-o", "out"],
    ] {
        let output = asked(&job, arguments).1;
        let messages = stderr(&output);
        assert_eq!(output.status.code(), Some(1));
        says(
            &messages,
            "scene.keep_out[0]: port 'outlet' lies 20.000 in and port 'exit' 10.000 in inside 'hood'",
        );
        says(
            &messages,
            "is 'normal' the wrong way round? It points from the body into free space",
        );
    }
    job["scene"] = json!({ "keep_in": [hood(-1.0)] });
    let messages = stderr(&check(&job));
    says(&messages, "scene.keep_in[0]: port 'outlet' lies 20.000 in");
    says(&messages, "outside 'hood', which the runs keep within");
}

#[test]
fn a_port_inside_a_body_is_told_with_how_deep() {
    let boxed = |name: &str, min: [f64; 3], max: [f64; 3]| json!({ "name": name, "box": { "min": min, "max": max } });
    let mut job = stack();
    let far = boxed("far", [40.0, 40.0, 40.0], [41.0, 41.0, 41.0]);
    let battery = boxed("battery", [5.0, 2.0, 8.0], [12.0, 6.0, 12.0]);
    job["scene"] = json!({ "keep_out": [far, battery] });
    let messages = stderr(&check(&job));
    says(
        &messages,
        "scene.keep_out[1]: port 'exit' lies 2.000 in inside 'battery', which the runs keep out of",
    );
    // On its face, or with a slide that may bring it out, it may well be possible.
    let block = boxed("block", [-5.0, -5.0, -9.0], [5.0, 5.0, 0.0]);
    job["scene"] = json!({ "keep_out": [block] });
    assert_eq!(check(&job).status.code(), Some(0));
    let battery = boxed("battery", [8.0, 2.0, 8.0], [12.0, 6.0, 12.0]);
    job["scene"] = json!({ "keep_out": [battery] });
    assert_eq!(check(&job).status.code(), Some(1));
    job["ports"]["exit"]["slide"] = json!([ { "along": [1, 0, 0], "back": 2 } ]);
    assert_eq!(check(&job).status.code(), Some(0));
}

#[test]
fn a_port_s_depth_refuses_only_what_no_run_can_do() {
    // What is refused outright has no route where the same is asked of the planner.
    let mut job = stack();
    for depth in [0.01, 1.0] {
        let floor = json!({ "point": [0, 0, depth], "normal": [0, 0, 1] });
        job["scene"] = json!({ "keep_out": [ { "name": "floor", "plane": floor } ] });
        assert_eq!(check(&job).status.code(), Some(1), "{depth}");
        let mut task = read(&stack()).runs[0].task.clone();
        job["scene"]["keep_out"][0]["plane"]["point"][2] = json!(-1);
        let mut floor = read(&job).runs[0].task.obstacles[0].clone();
        if let runwright::scene::Body::Solid(runwright::scene::Solid::HalfSpace(plane)) =
            &mut floor.body
        {
            plane.point.z = depth * 25.4;
        }
        assert_eq!(floor.side, Side::KeepOut);
        task.obstacles = vec![floor];
        let control = Control {
            explain: false,
            ..Control::default()
        };
        assert!(solve_with(&task, &control).is_err(), "{depth}");
    }
}

#[test]
fn the_readme_s_bodies_are_understood() {
    let readme = include_str!("../README.md");
    let begin = readme
        .find("\"scene\": { \"clearance\": \"3/8\"")
        .expect("bodies in the README");
    let block = readme[begin..].split("```").next().expect("a block");
    let mut job = stack();
    let scene: Value = serde_json::from_str(&format!("{{ {block} }}")).expect("JSON");
    job["scene"] = scene["scene"].clone();
    // Where examples/bay.json has its ports.
    job["ports"]["outlet"] = json!({ "center": [0, 0, 0], "outward": [0, -1, 0] });
    job["ports"]["exit"] = json!({ "center": [14, -9, -13], "outward": [0, 0, 1] });
    let output = check(&job);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let shown = stdout(&output);
    for body in ["mount", "ground", "starter"] {
        says(&shown, &format!("keeps out of '{body}' by"));
    }
}

#[test]
fn a_port_turned_round_is_asked_about_before_planning() {
    let question = "does 'exit' point into its flange?";
    let mut job = stack();
    assert!(!stdout(&check(&job)).contains("point into its flange"));
    job["ports"]["exit"]["outward"] = json!([1, 0, 0]);
    says(&stdout(&check(&job)), question);
    // A U between two ports that face the same way is what it is.
    job["ports"]["exit"] = json!({ "center": [12, 0, 0], "outward": [0, 0, 1] });
    assert!(!stdout(&check(&job)).contains("point into its flange"));
}

#[test]
fn no_example_is_asked_about_its_ports() {
    for example in [
        "bay",
        "charge",
        "copy",
        "duct",
        "jig",
        "stack",
        "tight",
        "pump/pump",
    ] {
        let path = format!("examples/{example}.json");
        let output = program::runwright(&["check", &path]);
        assert_eq!(output.status.code(), Some(0), "{path}");
        let shown = stdout(&output);
        assert!(!shown.contains("point into its flange"), "{path}");
    }
}

#[test]
fn ports_are_shown_in_order_of_flow() {
    let job = stack();
    let shown = stdout(&check(&job));
    let place = |name: &str| shown.find(&format!("port '{name}'")).expect("a port");
    assert!(place("outlet") < place("exit"));
}
