//! `runwright clear` as a user meets it: exit code, both streams, files.

#[path = "support/program.rs"]
mod program;

use program::{runwright, says, stderr, stdout};
use runwright::plan::{PlanFile, read_plan};
use runwright::scan::{Wanted, read_mesh};
use runwright::shop::TackUp;
use runwright::units::Length;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};
use tempfile::TempDir;

/// 60 mm tube straight up 400 mm, a box beside it and none in its way.
const JOB: &str = r#"{ "units": "mm", "tube": { "od": 60, "wall": 2 },
    "ports": {
        "low": { "center": [0, 0, 0], "outward": [0, 0, 1] },
        "high": { "center": [0, 0, 400], "outward": [0, 0, -1] } },
    "scene": { "clearance": 8, "keep_out": [
        { "name": "battery", "box": { "min": [BOX, -50, 150], "max": [200, 50, 250] } } ] },
    "runs": [ { "name": "riser", "from": "low", "to": "high" } ] }"#;

struct Shop {
    folder: TempDir,
}

impl Shop {
    /// A plan of the straight run with a box that leaves 20 mm.
    fn new() -> Self {
        let shop = Self {
            folder: tempfile::tempdir().expect("a temporary folder"),
        };
        shop.write("job.json", JOB.replace("BOX", "50"));
        let (job, out) = (shop.text("job.json"), shop.text("plan"));
        let output = runwright(&["plan", &job, "-o", &out, "--effort", "quick"]);
        assert!(output.status.success(), "{}", stderr(&output));
        shop
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        self.path(name).to_string_lossy().into_owned()
    }

    fn write(&self, name: &str, bytes: impl AsRef<[u8]>) {
        fs::write(self.path(name), bytes).expect("a file");
    }

    /// Runs `clear` on `made`; words that begin with `@` are files of the folder.
    fn clear(&self, made: &str, more: &[&str]) -> Output {
        let made = self.text(made);
        let more = more.iter().map(|word| match word.strip_prefix('@') {
            Some(name) => self.text(name),
            None => (*word).to_owned(),
        });
        let words: Vec<String> = more.collect();
        let mut arguments = vec!["clear", &made];
        arguments.extend(words.iter().map(String::as_str));
        runwright(&arguments)
    }
}

/// A wall across the way at this height: one square of two triangles, open.
fn wall(z: f64) -> String {
    format!("v -90 -90 {z}\nv 90 -90 {z}\nv 90 90 {z}\nv -90 90 {z}\nf 1 2 3 4\n")
}

#[test]
fn a_run_that_is_clear_ends_with_0() {
    let shop = Shop::new();
    let output = shop.clear("plan/plan.json", &["--job", "@job.json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(stderr(&output), "");
    let text = stdout(&output);
    says(&text, "battery");
    says(&text, "12.00 mm  20.00 mm  (30.0, 0.0,");
    says(
        &text,
        "run 'riser': at its first port the first 38.00 mm of centerline is not checked; nearest there: ",
    );
    says(&text, "at its last port");
}

#[test]
fn a_box_in_the_way_ends_with_1() {
    let shop = Shop::new();
    shop.write("tight.json", JOB.replace("BOX", "34"));
    let output = shop.clear("plan/plan.json", &["--job", "@tight.json"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stdout(&output), "-4.00 mm  4.00 mm");
    says(
        &stderr(&output),
        "is too near in 1 place; worst: piece 1 of 'riser' is 4.00 mm from 'battery'",
    );
    says(&stderr(&output), "help: ");
    says(&stderr(&output), "4.00 mm short of the clearance");
}

#[test]
fn an_open_wall_that_is_passed_through_is_found() {
    let shop = Shop::new();
    shop.write("wall.obj", wall(170.0));
    let scan = ["--scan", "@wall.obj", "--scan-units", "mm"];
    let output = shop.clear("plan/plan.json", &scan);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "runs into 'wall'");
    // As deep as the whole radius, and the default clearance beyond.
    says(&stdout(&output), "-39.53 mm  -30.00 mm");
}

#[test]
fn what_ports_exempt_is_told() {
    let shop = Shop::new();
    shop.write("wall.obj", wall(-3.0));
    let scan = [
        "--scan",
        "@wall.obj",
        "--scan-units",
        "mm",
        "--clearance",
        "5",
    ];
    let output = shop.clear("plan/plan.json", &scan);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    says(
        &stdout(&output),
        "first port the first 35.00 mm of centerline is not checked; nearest there: 3.00 mm from 'wall'",
    );
    says(&stdout(&output), "33.00 mm  38.00 mm");
}

#[test]
fn a_mesh_is_checked_too() {
    let shop = Shop::new();
    // The run's own STL against a wall beside it; then one through it.
    shop.write(
        "beside.obj",
        "v 70 -90 0\nv 70 90 0\nv 70 90 400\nv 70 -90 400\nf 1 2 3 4\n",
    );
    shop.write("through.obj", wall(100.5));
    let made = "plan/run.stl";
    let near = [
        "--units",
        "mm",
        "--scan",
        "@beside.obj",
        "--scan-units",
        "mm",
    ];
    let output = shop.clear(made, &near);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    says(&stdout(&output), "30.48 mm  40.00 mm  (30.0, 0.0,");
    let through = [
        "--units",
        "mm",
        "--scan",
        "@through.obj",
        "--scan-units",
        "mm",
    ];
    let output = shop.clear(made, &through);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "runs into 'through'");
    let job = ["--units", "mm", "--job", "@job.json"];
    let output = shop.clear(made, &job);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    says(&stdout(&output), "12.00 mm   20.00 mm  (30.0, 0.0,");
}

#[test]
fn files_are_written_and_the_same_each_time() {
    let shop = Shop::new();
    for (out, threads) in [("one", "1"), ("two", "3")] {
        let output = Command::new(env!("CARGO_BIN_EXE_runwright"))
            .env("RAYON_NUM_THREADS", threads)
            .args(["clear", &shop.text("plan/plan.json")])
            .args(["--job", &shop.text("job.json"), "-o", &shop.text(out)])
            .output()
            .expect("the program starts");
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    }
    for name in ["clearance.csv", "clearance.ply", "envelope.stl"] {
        let read = |out: &str| fs::read(shop.path(out).join(name)).expect(name);
        assert!(read("one") == read("two"), "{name} differs");
        assert!(read("one").len() > 100, "{name}");
    }
    let csv = fs::read_to_string(shop.path("one/clearance.csv")).unwrap();
    assert!(
        csv.starts_with("run,piece,obstacle,asked,room_mm,clear_mm,"),
        "{csv}"
    );
    says(&csv, "riser,1,battery,yes,12.000,20.000,8.000,30.000,");
    // The envelope: radius 38 and its flats' corners, 400 long.
    let bytes = fs::read(shop.path("one/envelope.stl")).unwrap();
    let wanted = Wanted::all(Length::from_mm(1.0));
    let mesh = read_mesh("envelope.stl", bytes.as_slice(), &wanted)
        .unwrap()
        .mesh;
    let (low, high) = mesh.bounds().unwrap();
    assert!((-38.2..=-38.0).contains(&low.x) && (38.0..=38.2).contains(&high.y));
    assert_eq!((low.z, high.z), (0.0, 400.0));
    let ply = fs::read(shop.path("one/clearance.ply")).unwrap();
    let skin = read_mesh("clearance.ply", ply.as_slice(), &wanted).unwrap();
    assert!(skin.mesh.triangles.len() > 1000 && skin.dropped == Default::default());
    // A mesh gets its own vertices and no envelope.
    let mesh = ["--units", "mm", "--job", "@job.json", "-o", "@mesh"];
    assert!(shop.clear("plan/run.stl", &mesh).status.success());
    assert_eq!(fs::read_dir(shop.path("mesh")).unwrap().count(), 2);
}

#[test]
fn nothing_is_written_over_what_is_there() {
    let shop = Shop::new();
    fs::create_dir(shop.path("out")).unwrap();
    shop.write("out/clearance.csv", "mine");
    let job = ["--job", "@job.json", "-o", "@out"];
    let output = shop.clear("plan/plan.json", &job);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(stdout(&output), "");
    says(&stderr(&output), "--force");
    assert_eq!(fs::read_dir(shop.path("out")).unwrap().count(), 1);
    assert_eq!(
        fs::read_to_string(shop.path("out/clearance.csv")).unwrap(),
        "mine"
    );
    // Nor over what is read, whatever is said.
    let ply = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n\
        property float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n\
        300 0 0\n300 9 0\n300 0 9\n3 0 1 2\n";
    shop.write("out/clearance.ply", ply);
    let scan = [
        "--scan",
        "@out/clearance.ply",
        "--scan-units",
        "mm",
        "-o",
        "@out",
        "--force",
    ];
    let output = shop.clear("plan/plan.json", &scan);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "is the file that was read");
}

#[test]
fn names_that_are_not_there_are_told_with_the_nearest() {
    let shop = Shop::new();
    let output = shop.clear("plan/plan.json", &["--job", "@job.json", "--run", "rizer"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "there is no run named 'rizer'");
    says(&stderr(&output), "help: did you mean 'riser'?");
    shop.write(
        "other.json",
        JOB.replace("BOX", "50").replace("riser", "rise"),
    );
    let output = shop.clear("plan/plan.json", &["--job", "@other.json", "-o", "@out"]);
    assert_eq!(output.status.code(), Some(1));
    says(
        &stderr(&output),
        "other.json: there is no run named 'riser'",
    );
    assert!(!shop.path("out").exists());
}

#[test]
fn wrong_usage_ends_with_2() {
    let shop = Shop::new();
    let wrong: [&[&str]; 5] = [
        &[],
        &[
            "--job",
            "@job.json",
            "--scan",
            "@job.json",
            "--scan-units",
            "mm",
        ],
        &["--scan", "@plan/run.stl"],
        &["--scan", "@plan/run.stl", "--scan-units", "furlong"],
        &[
            "--scan",
            "@plan/run.stl",
            "--scan-units",
            "mm",
            "--clearance",
            "-1",
        ],
    ];
    for more in wrong {
        let output = shop.clear("plan/plan.json", more);
        assert_eq!(
            output.status.code(),
            Some(2),
            "{more:?} {}",
            stderr(&output)
        );
        assert_eq!(stdout(&output), "");
    }
}

#[test]
fn another_clearance_than_the_jobs_may_be_asked_for() {
    let shop = Shop::new();
    let room = |more: &[&str]| {
        let arguments = [&["--job", "@job.json"], more].concat();
        let shown = stdout(&shop.clear("plan/plan.json", &arguments));
        let first = shown.lines().nth(1).expect("a place").to_owned();
        let end = first.find(" mm").expect("a unit");
        let number = first[..end].rsplit(' ').next().expect("a number");
        number.parse::<f64>().expect("room")
    };
    let (own, none) = (room(&[]), room(&["--clearance", "0"]));
    assert!(own.is_finite() && none > own, "{own} {none}");
}

#[test]
fn a_mesh_without_its_unit_is_refused() {
    let shop = Shop::new();
    let output = shop.clear("plan/run.stl", &["--job", "@job.json"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "does not say what unit it is in");
    let output = shop.clear("plan/plan.json", &["--job", "@job.json", "--units", "mm"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "is a plan, which says its units itself");
}

#[test]
fn a_job_with_nothing_in_the_way_is_refused() {
    let shop = Shop::new();
    shop.write(
        "bare.json",
        r#"{ "units": "mm", "tube": { "od": 60, "wall": 2 },
        "ports": {
            "low": { "center": [0, 0, 0], "outward": [0, 0, 1] },
            "high": { "center": [0, 0, 400], "outward": [0, 0, -1] } },
        "runs": [ { "name": "riser", "from": "low", "to": "high" } ] }"#,
    );
    let output = shop.clear("plan/plan.json", &["--job", "@bare.json"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "has nothing in the way");
}

#[test]
fn garbage_is_refused_with_its_place() {
    let shop = Shop::new();
    let plan = fs::read_to_string(shop.path("plan/plan.json")).unwrap();
    let cases: [(String, &str); 10] = [
        (String::new(), "is empty"),
        ("[1]".to_owned(), "holds a list of 1, not a plan"),
        ("{".to_owned(), "is not valid JSON"),
        ("{}".to_owned(), "format: is missing"),
        (JOB.replace("BOX", "50"), "is a job, not a plan"),
        (
            plan.replace("runwright-plan-1", "runwright-plan-9"),
            "format: is the text",
        ),
        (
            plan.replacen("\"od_mm\": 60.0", "\"od_mm\": -1", 1),
            "runs[0].tube: the outside diameter",
        ),
        (
            plan.replacen("\"od_mm\": 60.0", "\"od_mm\": 1e-9", 1),
            "runs[0].tube: the wall must be",
        ),
        (
            plan.replace("\"socket_mm\": 0.0", "\"socket_mm\": \"deep\""),
            "socket_mm: is the text \"deep\", but must be a number",
        ),
        (
            plan.replace("400.0", "1e300"),
            "runs[0].vertices_mm[1][2]: is 1e300, more than 1000000 mm",
        ),
    ];
    for (text, expected) in cases {
        shop.write("bad.json", text);
        let output = shop.clear("bad.json", &["--job", "@job.json", "-o", "@out"]);
        assert_eq!(output.status.code(), Some(1), "{expected}");
        says(&stderr(&output), expected);
        assert_eq!(stdout(&output), "");
        assert!(!shop.path("out").exists());
    }
    for name in ["nowhere.json", "plan"] {
        let output = shop.clear(name, &["--job", "@job.json"]);
        assert_eq!(output.status.code(), Some(1), "{name}");
    }
    shop.write("bad.stl", b"\x00\x01 no mesh");
    let bad = ["--units", "mm", "--job", "@job.json"];
    let output = shop.clear("bad.stl", &bad);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
}

#[test]
fn every_shortened_plan_is_refused_without_harm() {
    let shop = Shop::new();
    let plan = fs::read(shop.path("plan/plan.json")).unwrap();
    for length in (0..plan.len() - 2).step_by(37) {
        assert!(read_plan(&plan[..length]).is_err());
    }
    // Any one number replaced by another leaves a plan or problems, never a panic.
    let text = String::from_utf8(plan).unwrap();
    for (at, _) in text
        .match_indices(": 0.0")
        .chain(text.match_indices("400.0"))
    {
        for other in ["1e308", "-1e5", "null", "1e-300", "[]"] {
            let mut changed = text.clone();
            let from = at + text[at..].find(char::is_numeric).unwrap();
            let to = from + text[from..].find([',', '\n']).unwrap();
            changed.replace_range(from..to, other);
            let _ = read_plan(changed.as_bytes());
        }
    }
}

#[test]
fn a_plan_that_is_too_long_for_its_tube_is_refused() {
    let shop = Shop::new();
    let plan = fs::read_to_string(shop.path("plan/plan.json")).unwrap();
    let thin = plan
        .replace("\"od_mm\": 60.0", "\"od_mm\": 1e-3")
        .replace("\"wall_mm\": 2.0", "\"wall_mm\": 1e-4");
    let problems = read_plan(thin.as_bytes()).unwrap_err();
    says(
        &problems[0].message,
        "are longer than 100000 times the radius",
    );
}

fn same_tack_up(read: &TackUp, planned: &TackUp) {
    assert_eq!(read.steps.len(), planned.steps.len());
    for (a, b) in read.steps.iter().zip(&planned.steps) {
        assert_eq!((a.joint, a.piece, a.origin), (b.joint, b.piece, b.origin));
        assert_eq!(a.tapes.len(), b.tapes.len());
        for (a, b) in a.tapes.iter().zip(&b.tapes) {
            assert_eq!((&a.from, a.to, a.free), (&b.from, b.to, b.free));
            assert!((a.distance - b.distance).abs().mm() < 1e-9);
            assert!((a.tolerance - b.tolerance).abs().mm() < 1e-9);
        }
    }
    let widths = |tack_up: &TackUp| tack_up.gap.as_ref().map(|gap| gap.widths.len());
    assert_eq!(widths(read), widths(planned));
}

#[test]
fn the_examples_plans_are_read_back_as_they_are() {
    for example in ["bay", "charge", "copy", "duct", "jig", "stack", "tight"] {
        let bytes = fs::read(format!("examples/{example}.json")).expect("an example");
        let job = runwright::job::read_job(&bytes, example)
            .job
            .expect("a job");
        let effort = runwright::route::Effort::Quick;
        let control = runwright::route::Control {
            effort,
            ..Default::default()
        };
        let plan = runwright::plan::plan_with(&job, &control).expect("a plan");
        use runwright::export::Exporter;
        let files = runwright::export::PlanJson.files(&plan).expect("a file");
        let back: PlanFile = read_plan(&files[0].bytes).expect("a plan");
        assert_eq!(back.pins, plan.job.pins());
        assert_eq!(back.runs.len(), plan.runs.len());
        assert_eq!(
            (back.job.as_str(), back.style.unit),
            (plan.job.name.as_str(), plan.job.style.unit)
        );
        let seam_plans = back.seam_plans(&back.layouts());
        for ((read, planned), seams) in back.runs.iter().zip(&plan.runs).zip(&seam_plans) {
            assert_eq!(read.name, planned.name);
            same_tack_up(&back.tack_up(read), &planned.tack_up);
            let seams = seams.as_ref().expect("a seam");
            let planned_seams = planned.seams.as_ref().expect("a seam");
            assert_eq!(seams.seams, planned_seams.seams);
            for (a, b) in seams.pieces.iter().zip(&planned_seams.pieces) {
                assert_eq!((a.number, a.turned), (b.number, b.turned));
                // A piece that is square at both ends may lie anyhow.
                let clocks = a.clock.zip(b.clock);
                assert!(clocks.is_none_or(|(a, b)| (a - b).abs().radians() < 1e-9));
                assert_eq!(a.clock.is_none(), b.clock.is_none());
            }
            let (read, run) = (&read.run, planned.run());
            let points = read.centerline().points().iter();
            for (a, b) in points.zip(run.centerline().points()) {
                assert!((a - b).norm() < 1e-9);
            }
            assert_eq!(read.pieces().len(), run.pieces().len());
            for (a, b) in read.pieces().iter().zip(run.pieces()) {
                let (a, b) = (&a.piece, &b.piece);
                assert!((a.length() - b.length()).abs().mm() < 1e-9);
                assert!((a.long_side() - b.long_side()).abs().mm() < 1e-9);
                assert!((a.start().angle - b.start().angle).abs().radians() < 1e-9);
                assert_eq!(a.straight().is_some(), b.straight().is_some());
            }
            assert!((read.length() - run.length()).abs().mm() < 1e-9);
            assert_eq!(read.tube(), run.tube());
        }
    }
}
