//! The README's whole job: every command of the section, in order and as printed, held
//! against the machine as it really is. What the section quotes must be in the output.
#![allow(
    clippy::duplicate_mod,
    reason = "both examples bring the support of tests"
)]

#[path = "support/program.rs"]
mod program;
#[allow(dead_code, reason = "its main is not called")]
#[path = "../examples/pump_bay.rs"]
mod pump_bay;
#[allow(dead_code, reason = "its main is not called")]
#[path = "../examples/simulate_build.rs"]
mod simulate_build;
#[path = "support/story.rs"]
mod story;

use nalgebra::Rotation3;
use program::run_in;
use pump_bay::pump::{self, INCH};
use runwright::geometry::{Direction, Point, Vector, across, perpendicular};
use runwright::job::{Job, read_job};
use runwright::plan::{FileRun, read_plan};
use runwright::scan::Placement;
use serde_json::Value;
use std::f64::consts::TAU;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::LazyLock;
use story::{Block, section, words};
use tempfile::TempDir;

/// Rounding, mm.
const EXACT: f64 = 1e-9;
/// Deviations within which a measured number is from the truth: one in 370 is not.
const SIGMAS: f64 = 3.0;

/// The job, done once for all tests.
struct Done {
    folder: TempDir,
    /// All that was printed.
    shown: String,
}

static DONE: LazyLock<Done> = LazyLock::new(|| {
    let mut done = Done {
        folder: tempfile::tempdir().expect("a temporary folder"),
        shown: String::new(),
    };
    let pump = done.path("examples/pump");
    fs::create_dir_all(&pump).expect("a folder");
    for block in section("## A whole job") {
        if let Block::Commands(commands) = block {
            commands.iter().for_each(|command| done.run(command));
        }
    }
    done
});

impl Done {
    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn run(&mut self, command: &str) {
        let (words, to) = words(command);
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        match words[..] {
            ["runwright", ref arguments @ ..] => {
                let output = run_in(self.folder.path(), arguments);
                let (out, told) = (program::stdout(&output), program::stderr(&output));
                assert_eq!(output.status.code(), Some(0), "{command}\n{out}{told}");
                self.shown += &out;
                self.shown += &told;
            }
            ["cargo", "run", "--example", "pump_bay", "--", folder] => {
                pump_bay::write(&self.path(folder)).expect("files");
            }
            [
                "cargo",
                "run",
                "--example",
                "simulate_build",
                "--",
                job,
                plan,
                seed,
            ] => {
                let name = |file: &str| self.path(file).display().to_string();
                let built = simulate_build::simulate(&name(job), &name(plan), seed);
                let to = self.path(&to.expect("a file that it goes to"));
                fs::write(to, built.expect("a build") + "\n").expect("a file");
            }
            _ => panic!("what is {command:?}?"),
        }
    }

    fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap_or_else(|error| panic!("{name}: {error}"))
    }

    fn json(&self, name: &str) -> Value {
        serde_json::from_str(&self.text(name)).expect("JSON")
    }

    fn planned(&self, name: &str) -> FileRun {
        let plan = read_plan(self.text(name).as_bytes()).expect("a plan");
        plan.runs.into_iter().next().expect("a run")
    }

    /// The job with its scan in place.
    fn job(&self) -> Job {
        let text = self.text("examples/pump/pump.json");
        let mut job = read_job(text.as_bytes(), "pump").job.expect("a good job");
        let open = |name: &str| fs::File::open(self.path("examples/pump").join(name));
        job.load_scans(open).expect("a scan");
        job
    }

    fn placement(&self) -> Placement {
        let job = self.job();
        let placed = job.loaded[0].placed.as_ref().expect("a placed scan");
        placed.placement
    }
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn vector(value: &Value) -> Vector {
    Vector::from([0, 1, 2].map(|i| number(&value[i])))
}

#[test]
fn files_of_the_example_are_those_that_its_commands_make() {
    for name in ["bay.obj", "pump.json", "built.json"] {
        let name = format!("examples/pump/{name}");
        let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join(&name);
        let kept = fs::read_to_string(kept).expect("a file of the example");
        assert!(
            kept == DONE.text(&name),
            "{name}: write it again with the README's command"
        );
    }
}

#[test]
fn what_the_section_quotes_is_in_the_output() {
    let sheets = ["results/pump/sheet.txt", "results/closing/closure.txt"];
    let written = sheets.map(|name| DONE.text(name)).concat();
    let quotes: Vec<String> = section("## A whole job")
        .into_iter()
        .filter_map(|block| match block {
            Block::Quoted(quoted) => Some(quoted),
            Block::Commands(_) => None,
        })
        .collect();
    assert!(quotes.len() >= 4);
    for quoted in quotes {
        assert!(
            DONE.shown.contains(&quoted) || written.contains(&quoted),
            "not in the output:\n{quoted}\nbut:\n{}{written}",
            DONE.shown
        );
    }
}

#[test]
fn ports_are_fitted_to_within_what_is_told() {
    let plan = DONE.json("results/pump/plan.json");
    for (name, truth) in [("outlet", pump::OUTLET), ("pit", pump::PIT)] {
        let port = &plan["ports"][name];
        let off = vector(&port["center_mm"]) - truth.center_mm().coords;
        for axis in port["known"]["ellipsoid"].as_array().expect("three axes") {
            let along = off.dot(&vector(&axis["direction"])).abs();
            assert!(
                along <= SIGMAS * number(&axis["sigma_mm"]),
                "{name}: {along} mm, {axis}"
            );
        }
        let lean = vector(&port["outward"]) - truth.direction().into_inner();
        for axis in port["known"]["leans"].as_array().expect("two leans") {
            let along = lean.dot(&vector(&axis["direction"])).abs().to_degrees();
            assert!(
                along <= SIGMAS * number(&axis["sigma_deg"]),
                "{name}: {along}°, {axis}"
            );
        }
    }
}

#[test]
fn the_scan_comes_to_lie_where_the_machine_is() {
    /// What marks touched to 0.5 mm, six of them, leave at worst over the bay.
    const WITHIN: f64 = 2.0;
    let placement = DONE.placement();
    let turn = placement.turn.rotation_to(&pump::job_from_scan_turn());
    assert!(turn.angle().to_degrees() < 0.25, "{}", turn.angle());
    for (name, at) in pump::MARKS {
        let scan = Point::from(pump::in_scan(at).map(|c| c * pump::SCAN_UNIT));
        let off = placement.apply(&scan) - Point::from(at.map(|c| c * INCH));
        assert!(off.norm() < WITHIN, "{name} is {} mm off", off.norm());
    }
}

#[test]
fn the_run_meets_the_fitted_ports_and_bisects_its_corners() {
    let plan = DONE.json("results/pump/plan.json");
    let run = &plan["runs"][0];
    let points: Vec<Vector> = run["vertices_mm"]
        .as_array()
        .expect("vertices")
        .iter()
        .map(vector)
        .collect();
    let last = points.len() - 1;
    let edges: Vec<Vector> = points
        .windows(2)
        .map(|p| (p[1] - p[0]).normalize())
        .collect();
    let ends = [
        ("outlet", points[0], edges[0]),
        ("pit", points[last], -edges[last - 1]),
    ];
    for (name, point, out) in ends {
        let port = &plan["ports"][name];
        assert!((point - vector(&port["center_mm"])).norm() < EXACT);
        assert!((out - vector(&port["outward"])).norm() < EXACT);
    }
    let joints = run["joints"].as_array().expect("joints");
    assert_eq!(joints.len(), points.len());
    for i in 1..last {
        let half = edges[i - 1]
            .cross(&edges[i])
            .norm()
            .atan2(edges[i - 1].dot(&edges[i]))
            / 2.0;
        assert!((number(&joints[i]["cut_deg"]) - half.to_degrees()).abs() < EXACT);
        let normal = vector(&joints[i]["normal"]);
        assert!((normal - (edges[i - 1] + edges[i]).normalize()).norm() < EXACT);
    }
}

#[test]
fn the_saw_sheet_alone_leads_to_the_port() {
    let plan = DONE.json("results/pump/plan.json");
    let run = &plan["runs"][0];
    let kerf = number(&run["rates"]["kerf_mm"]);
    let vertex = |i: usize| vector(&run["vertices_mm"][i]);
    // Where the first piece points, and where its long side is: outside of the first bend.
    let mut at = vertex(0);
    let mut axis = (vertex(1) - vertex(0)).normalize();
    let next = vertex(2) - vertex(1);
    let mut long = -(next - axis * axis.dot(&next)).normalize();
    for (i, step) in run["saw"].as_array().expect("rows").iter().enumerate() {
        let (feed, cut) = (
            number(&step["feed_mm"]),
            number(&step["angle_deg"]).to_radians(),
        );
        if i > 0 && cut > 0.0 {
            // Half a turn lets faces mate; what is turned less is the tube's own twist.
            let twist = (180.0 - number(&step["rotate_deg"])).to_radians();
            long = Rotation3::from_axis_angle(&Direction::new_normalize(axis), twist) * long;
        }
        at += axis * (feed - kerf / cut.cos());
        let (sin, cos) = (2.0 * cut).sin_cos();
        (axis, long) = (axis * cos - long * sin, long * cos + axis * sin);
    }
    let pit = &plan["ports"]["pit"];
    assert!((at - vector(&pit["center_mm"])).norm() < 1e-8);
    assert!((axis + vector(&pit["outward"])).norm() < EXACT);
}

/// Least distance of a run's outside from each part of the machine, mm, by samples; what
/// is within `exempt` inches, and the part's clearance, of a port's face is not
/// checked. `clearance` is what stands in for the parts' own.
fn sampled(run: &FileRun, placement: &Placement, clearance: Option<f64>) -> Vec<(pump::Part, f64)> {
    const ROUND: usize = 180;
    const STEP: f64 = 0.5;
    let points = run.run.centerline().points();
    let axes: Vec<Vector> = points
        .windows(2)
        .map(|p| (p[1] - p[0]).normalize())
        .collect();
    let radius = run.run.tube().radius().mm();
    let normals: Vec<Vector> = run
        .run
        .joints()
        .iter()
        .map(|joint| joint.plane.normal.into_inner())
        .collect();
    let from_start = |i: usize| {
        points[..=i]
            .windows(2)
            .map(|p| (p[1] - p[0]).norm())
            .sum::<f64>()
    };
    let whole = from_start(points.len() - 1);
    // From the job, where the scan came to lie, back to the machine's own axes.
    let truth = Placement {
        turn: pump::job_from_scan_turn(),
        shift: Vector::from(pump::JOB_FROM_SCAN_SHIFT),
    };
    let back = placement.inverse().then(&truth);
    let mut least: Vec<(pump::Part, f64)> = pump::parts()
        .into_iter()
        .map(|part| (part, f64::INFINITY))
        .collect();
    for (i, axis) in axes.iter().enumerate() {
        let sides = across(&Direction::new_normalize(*axis));
        let edge = (points[i + 1] - points[i]).norm();
        for k in 0..ROUND {
            let (sin, cos) = (TAU * k as f64 / ROUND as f64).sin_cos();
            let out = (sides[0].into_inner() * cos + sides[1].into_inner() * sin) * radius;
            // Where this line along the outside meets the planes of both joints.
            let cut = |joint: usize| -normals[joint].dot(&out) / normals[joint].dot(axis);
            let (low, high) = (cut(i), edge + cut(i + 1));
            let count = ((high - low) / STEP).ceil() as usize;
            for n in 0..=count {
                let along = low + (high - low) * n as f64 / count as f64;
                let done = from_start(i) + along;
                let at = back.apply(&(points[i] + axis * along + out)).coords / INCH;
                for (part, found) in &mut least {
                    let exempt = radius + clearance.unwrap_or(part.clearance) * INCH;
                    if (exempt..=whole - exempt).contains(&done) {
                        *found = found.min(part.shape.distance(&at) * INCH);
                    }
                }
            }
        }
    }
    least
}

/// The stated distance from a group of parts lies between what the true surfaces, which
/// hold the scan's flats, and a finite number of samples allow.
#[track_caller]
fn bounded(stated: f64, least: &[(pump::Part, f64)], wiring: bool) {
    /// What samples 0.5 mm apart along and 0.9 mm round may miss of a distance, mm, and
    /// digits of the scan.
    const SLACK: f64 = 0.02;
    let parts = || {
        let of_it = |entry: &&(pump::Part, f64)| entry.0.group.starts_with("loom") == wiring;
        least.iter().filter(of_it)
    };
    let low = parts().map(|(_, at)| *at).fold(f64::INFINITY, f64::min);
    let deeper = parts().map(|(part, at)| at + part.shape.sagitta() * INCH);
    let high = deeper.fold(f64::INFINITY, f64::min);
    assert!(
        (low - SLACK..=high + SLACK).contains(&stated),
        "{stated} is not within {low} to {high} mm"
    );
}

#[test]
fn stated_clearances_are_those_of_the_machine() {
    let plan = DONE.json("results/pump/plan.json");
    let run = DONE.planned("results/pump/plan.json");
    let least = sampled(&run, &DONE.placement(), None);
    let obstacles = plan["runs"][0]["obstacles"].as_array().expect("obstacles");
    assert_eq!(obstacles.len(), 2);
    for obstacle in obstacles {
        let asked = number(&obstacle["clearance_mm"]);
        let stated = number(&obstacle["room_mm"]) + asked;
        assert!(stated >= asked - 1.1e-3, "{obstacle}");
        bounded(stated, &least, obstacle["name"] == "bay: wiring");
    }
}

#[test]
fn the_second_way_is_the_plans_alternative() {
    let first = DONE.json("results/pump/plan.json");
    let second = DONE.json("results/shortest/plan.json");
    let taken = &second["runs"][0];
    assert_eq!(
        taken["vertices_mm"],
        first["alternatives"][0]["vertices_mm"]
    );
    assert_eq!(
        second["alternatives"][0]["vertices_mm"],
        first["runs"][0]["vertices_mm"]
    );
    assert!(number(&taken["length_mm"]) < number(&first["runs"][0]["length_mm"]));
}

#[test]
fn the_closing_piece_lies_between_the_built_ends() {
    let closing = DONE.json("results/closing/closure.json");
    let closure = &closing["closure"];
    let (start, axis) = (vector(&closure["start_mm"]), vector(&closure["axis"]));
    let zero = vector(&closure["zero"]);
    let radius = number(&closing["tube"]["od_mm"]) / 2.0;
    let ordinates = closure["ordinates"].as_array().expect("ordinates");
    assert_eq!(ordinates.len(), 24);
    for station in ordinates {
        let (sin, cos) = number(&station["clock_deg"]).to_radians().sin_cos();
        let out = (zero * cos + axis.cross(&zero) * sin) * radius;
        for (side, key) in ["start_mm", "end_mm"].into_iter().enumerate() {
            let edge = start + out + axis * number(&station[key]);
            let end = &closing["ends"][side];
            let off = (edge - vector(&end["center_mm"])).dot(&vector(&end["normal"]));
            assert!(off.abs() < EXACT, "{off} mm off the rim's plane");
        }
    }
    // And the walls meet: both corners within the step that is told of the ends' centers.
    let step = closure["seams"].as_array().expect("seams");
    for seam in step {
        assert!(number(&seam["high_low_mm"]) <= number(&closing["fit_up"]["high_low_mm"]));
    }
}

#[test]
fn the_finished_run_is_clear() {
    let run = DONE.planned("results/closing/plan.json");
    let asked = 0.75 * INCH;
    let least = sampled(&run, &DONE.placement(), Some(0.75));
    for (part, found) in &least {
        assert!(*found >= asked - 0.02, "{}: {found} mm", part.group);
    }
    let first = DONE
        .shown
        .rsplit("piece  obstacle")
        .next()
        .and_then(|table| table.lines().nth(1))
        .expect("the tightest place");
    let numbers: Vec<&str> = first.split_whitespace().collect();
    // piece, 'bay:', 'wiring', room, in, clear, in
    let stated: f64 = numbers[5].parse().expect("a number");
    assert_eq!(numbers[1..3], ["bay:", "wiring"]);
    let wiring = least
        .iter()
        .filter(|(part, _)| part.group.starts_with("loom"));
    let found = wiring.map(|(_, at)| *at).fold(f64::INFINITY, f64::min);
    let sagitta = 0.4 * (1.0 - (std::f64::consts::PI / f64::from(pump::FLATS)).cos()) * INCH;
    let printed = 0.0005 * INCH;
    assert!((found - 0.02 - printed..=found + sagitta + 0.02 + printed).contains(&(stated * INCH)));
}

#[test]
fn perpendicular_samples_of_parts_are_told_their_distance() {
    // The yardstick of the tests above, held against what is plain.
    for part in pump::parts() {
        let (at, out) = match part.shape {
            pump::Shape::Box(min, max) => (
                (Vector::from(min) + Vector::from(max)) / 2.0
                    + Vector::new((max[0] - min[0]) / 2.0, 0.0, 0.0),
                Vector::x(),
            ),
            pump::Shape::Bar(from, to, radius) => {
                let (from, to) = (Vector::from(from), Vector::from(to));
                let out = perpendicular(&Direction::new_normalize(to - from)).into_inner();
                ((from + to) / 2.0 + out * radius, out)
            }
            pump::Shape::Stub(..) => continue,
        };
        assert!(part.shape.distance(&at).abs() < 1e-12);
        assert!((part.shape.distance(&(at + out * 0.7)) - 0.7).abs() < 1e-12);
    }
}
