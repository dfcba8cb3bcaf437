//! Jobs with scans, as a user meets them: exit code and messages.

#[path = "support/program.rs"]
mod program;

use program::{run_in, says, stderr, stdout};
use serde_json::Value;
use std::fs;
use tempfile::TempDir;

/// A plate beside the way of the run below, in meters.
const PLATE: &str = "\
g plate\nv 0.03 -0.05 0.1\nv 0.03 0.05 0.1\nv 0.03 0.05 0.3\nv 0.03 -0.05 0.3\nf 1 2 3 4
g bracket\nv 0.2 0 0.1\nv 0.2 0.05 0.1\nv 0.2 0.05 0.3\nf 5 6 7
";

/// A folder with a job that asks for `scan`, and `bay.obj`.
fn shop(scan: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let job = format!(
        r#"{{ "units": "mm", "tube": {{ "od": 40, "wall": 1.5 }},
          "ports": {{ "a": {{ "center": [0, 0, 0], "outward": [0, 0, 1] }},
                      "b": {{ "center": [0, 0, 400], "outward": [0, 0, -1] }} }},
          "scene": {{ "clearance": 5, "scans": [ {scan} ] }},
          "runs": [ {{ "name": "duct", "from": "a", "to": "b" }} ] }}"#
    );
    fs::write(folder.path().join("job.json"), job).expect("a job");
    fs::write(folder.path().join("bay.obj"), PLATE).expect("a scan");
    folder
}

/// What `check` says of a job that it refuses.
#[track_caller]
fn refused(folder: &TempDir) -> String {
    let checked = run_in(folder.path(), &["check", "job.json"]);
    let messages = stderr(&checked);
    assert_eq!(checked.status.code(), Some(1), "{messages}");
    assert!(checked.stdout.is_empty());
    messages
}

#[test]
fn a_scan_is_kept_clear_of_and_told_in_the_plan() {
    let folder = shop(r#"{ "name": "bay", "file": "bay.obj", "units": "m" }"#);
    let checked = run_in(folder.path(), &["check", "job.json"]);
    let shown = stdout(&checked);
    says(&shown, "scan 'bay': 3 triangles in 2 groups");
    says(
        &shown,
        "reaches from (30.0, -50.0, 100.0) mm to (200.0, 50.0, 300.0) mm",
    );
    says(
        &shown,
        "keeps out of 'bay' by 5.0 mm, but for 25.0 mm of centerline",
    );
    let planned = run_in(folder.path(), &["plan", "job.json", "-o", "out"]);
    assert_eq!(planned.status.code(), Some(0), "{}", stderr(&planned));
    let plan = fs::read(folder.path().join("out/plan.json")).expect("a plan");
    let plan: Value = serde_json::from_slice(&plan).expect("JSON");
    assert_eq!(plan["scans"][0]["triangles"], 3);
    let near = &plan["runs"][0]["obstacles"][0];
    assert!(near["room_mm"].as_f64().is_some_and(|room| room >= -1.1e-3));
    let place = |key: &str, axis: usize| near[key][axis].as_f64().expect("a number");
    let square =
        (0..3).map(|axis| (place("on_run_mm", axis) - place("on_obstacle_mm", axis)).powi(2));
    let apart = square.sum::<f64>().sqrt();
    let room = near["room_mm"].as_f64().expect("a number");
    assert!((apart - 5.0 - room).abs() < 1e-6);
}

#[test]
fn everything_wrong_with_scans_is_said_at_once() {
    let folder = shop(
        r#"{ "name": "one", "file": "bay.obj" },
           { "name": "two", "file": "bay.obj", "units": "furlong", "zones": [ { "name": "z", "clearance": 3 } ] },
           { "name": "three", "file": "bay.obj", "units": "m", "rims": [ { "near": [0, 0, 0], "port": "c" } ] },
           { "name": "four", "fiel": "bay.obj", "units": "m", "landmarks": [ { "scan": [0, 0], "job": [0, 0, 0] } ] }"#,
    );
    let messages = refused(&folder);
    says(&messages, "scene.scans[0].units: is missing");
    says(&messages, "scene.scans[1].units: is no unit");
    says(&messages, "scene.scans[1].zones[0]: holds nothing");
    says(
        &messages,
        "scene.scans[2].rims[0].port: there is no port 'c'",
    );
    says(&messages, "scene.scans[3].fiel: is not a known key");
    says(&messages, "scene.scans[3].landmarks[0].scan: has 2 entries");
}

#[test]
fn files_that_hold_no_scan_are_refused_with_what_to_do() {
    let scan = |file: &str| format!(r#"{{ "name": "bay", "file": "{file}", "units": "m" }}"#);
    let cases: [(&str, Option<&[u8]>, &str); 4] = [
        ("gone.stl", None, "'gone.stl': No such file"),
        ("empty.stl", Some(b""), "'empty.stl' is empty"),
        ("cut.stl", Some(&[0; 84]), "'cut.stl'"),
        ("note.txt", Some(b"a shopping list"), "'note.txt'"),
    ];
    for (file, bytes, expected) in cases {
        let folder = shop(&scan(file));
        if let Some(bytes) = bytes {
            fs::write(folder.path().join(file), bytes).expect("a file");
        }
        let messages = refused(&folder);
        says(
            &messages,
            &format!("job.json: scene.scans[0].file: {expected}"),
        );
        says(&messages, "help: ");
    }
}

#[test]
fn a_binary_stl_that_claims_more_than_it_holds_is_refused() {
    let folder = shop(r#"{ "name": "bay", "file": "lie.stl", "units": "mm" }"#);
    let mut bytes = vec![0; 84 + 50];
    bytes[80..84].copy_from_slice(&4_000_000_000_u32.to_le_bytes());
    fs::write(folder.path().join("lie.stl"), bytes).expect("a file");
    let messages = refused(&folder);
    says(&messages, "'lie.stl'");
}

#[test]
fn patterns_and_zones_that_hold_nothing_are_warned_of() {
    let folder = shop(
        r#"{ "name": "bay", "file": "bay.obj", "units": "m", "drop": ["hose*"],
             "zones": [ { "name": "tank", "box": { "min": [900, 900, 900], "max": [950, 950, 950] }, "clearance": 9 } ] }"#,
    );
    let checked = run_in(folder.path(), &["check", "job.json"]);
    assert_eq!(checked.status.code(), Some(0));
    let messages = stderr(&checked);
    says(&messages, "no group of 'bay.obj' is named \"hose*\"");
    says(&messages, "it has plate, bracket");
    says(&messages, "'tank' holds nothing of 'bay'");
}

#[test]
fn a_scan_is_never_overwritten() {
    let folder = shop(r#"{ "name": "bay", "file": "out/run.stl", "units": "mm" }"#);
    let scan = "solid bay\nfacet normal 0 0 1\nouter loop\nvertex 30 0 100\nvertex 30 9 100\nvertex 30 0 300\nendloop\nendfacet\nendsolid\n";
    fs::create_dir(folder.path().join("out")).expect("a folder");
    fs::write(folder.path().join("out/run.stl"), scan).expect("a scan");
    let planned = run_in(folder.path(), &["plan", "job.json", "-o", "out", "--force"]);
    assert_eq!(planned.status.code(), Some(1), "{}", stderr(&planned));
    let kept = || fs::read_to_string(folder.path().join("out/run.stl")).expect("the scan");
    assert_eq!(kept(), scan);
    let planned = run_in(folder.path(), &["plan", "job.json", "-o", "plan"]);
    assert_eq!(planned.status.code(), Some(0), "{}", stderr(&planned));
    // The scan by the name of a file that `clear` writes.
    let job = fs::read_to_string(folder.path().join("job.json")).expect("the job");
    fs::write(
        folder.path().join("job.json"),
        job.replace("run.stl", "envelope.stl"),
    )
    .expect("a job");
    fs::write(folder.path().join("out/envelope.stl"), scan).expect("a scan");
    let words = [
        "clear",
        "plan/plan.json",
        "--job",
        "job.json",
        "-o",
        "out",
        "--force",
    ];
    let cleared = run_in(folder.path(), &words);
    assert_eq!(cleared.status.code(), Some(1), "{}", stderr(&cleared));
    says(&stderr(&cleared), "is the file that was read");
    let kept = fs::read_to_string(folder.path().join("out/envelope.stl")).expect("the scan");
    assert_eq!(kept, scan);
}

#[test]
fn dropping_every_group_is_refused() {
    let folder = shop(r#"{ "name": "bay", "file": "bay.obj", "units": "m", "drop": ["*"] }"#);
    says(&refused(&folder), "scene.scans[0].file: 'bay.obj'");
}

/// Four marks of a scan in centimeters that is a quarter turn and 100 mm from the job; the
/// last one `off` by so much along x.
fn marked(units: &str, sign: f64, off: f64) -> String {
    let marks = [
        [3.0, -5.0, 10.0],
        [3.0, 5.0, 10.0],
        [3.0, 5.0, 30.0],
        [-4.0, 5.0, 30.0],
        [20.0, -5.0, 30.0],
        [-4.0, -5.0, 11.0],
    ];
    let marks = marks.iter().enumerate().map(|(i, [x, y, z])| {
        let off = if i == 3 { off } else { 0.0 };
        let job = [100.0 - 10.0 * y + off, 10.0 * x, 10.0 * z];
        format!(
            r#"{{ "name": "m{}", "scan": [{}, {y}, {z}], "job": {job:?} }}"#,
            i + 1,
            sign * x
        )
    });
    let marks: Vec<String> = marks.collect();
    format!(
        r#"{{ "name": "bay", "file": "bay.obj", "units": "{units}", "landmarks": [ {} ] }}"#,
        marks.join(", ")
    )
}

#[test]
fn marks_tell_a_wrong_unit_outright() {
    // Once: the best turn and shift were taken, with marks half a meter off, and nothing
    // was said.
    let folder = shop(&marked("cm", 1.0, 0.0));
    let checked = run_in(folder.path(), &["check", "job.json"]);
    assert_eq!(checked.status.code(), Some(0), "{}", stderr(&checked));
    says(&stdout(&checked), "placed to 0.00 mm rms");
    for (unit, times) in [
        ("mm", "10.0"),
        ("in", "0.394"),
        ("m", "0.010"),
        ("ft", "0.033"),
    ] {
        let messages = refused(&shop(&marked(unit, 1.0, 0.0)));
        says(
            &messages,
            &format!(
                "scene.scans[0].units: the marks are {times} times as far apart in the job as in 'bay': its unit is 'cm', not '{unit}'"
            ),
        );
        says(&messages, "help: write \"units\": \"cm\"");
    }
}

#[test]
fn a_mirrored_frame_is_told() {
    let messages = refused(&shop(&marked("cm", -1.0, 0.0)));
    says(
        &messages,
        "the marks fit as a mirror image, and far worse as they are",
    );
    says(&messages, "one of these frames is left-handed");
}

#[test]
fn marks_that_agree_with_nothing_are_refused() {
    // Two marks change places.
    let swapped = marked("cm", 1.0, 0.0)
        .replace(
            "\"m1\", \"scan\": [3, -5, 10]",
            "\"m1\", \"scan\": [20, -5, 30]",
        )
        .replace(
            "\"m5\", \"scan\": [20, -5, 30]",
            "\"m5\", \"scan\": [3, -5, 10]",
        );
    let messages = refused(&shop(&swapped));
    says(&messages, "the marks of 'bay' do not fit the job");
    says(&messages, "check which mark is which");
}

#[test]
fn a_mark_that_is_off_is_left_out_of_the_place() {
    // Once: it was named, and stayed in.
    let folder = shop(&marked("cm", 1.0, 12.0));
    let checked = run_in(folder.path(), &["check", "job.json"]);
    assert_eq!(checked.status.code(), Some(0));
    says(
        &stderr(&checked),
        "scene.scans[0].landmarks[3]: 'm4' is 12.00 mm off what the other marks say (which agree to 0.00 mm); it is left out",
    );
    let shown = stdout(&checked);
    says(&shown, "placed to 0.00 mm rms");
    says(&shown, "'m4' is 12.00 mm off, and left out");
}

#[test]
fn marks_that_are_all_poor_are_warned_of() {
    let poor = marked("cm", 1.0, 0.0);
    let mut job: Value = serde_json::from_str(&poor).expect("JSON");
    for (i, mark) in job["landmarks"]
        .as_array_mut()
        .expect("marks")
        .iter_mut()
        .enumerate()
    {
        let at = &mut mark["job"][i % 3];
        let off = if i < 3 { 6.0 } else { -6.0 };
        *at = Value::from(at.as_f64().expect("a number") + off);
    }
    let folder = shop(&job.to_string());
    let checked = run_in(folder.path(), &["check", "job.json"]);
    assert_eq!(checked.status.code(), Some(0), "{}", stderr(&checked));
    says(
        &stderr(&checked),
        "times as much as their accuracy explains",
    );
    // On paper too.
    let planned = run_in(
        folder.path(),
        &["plan", "job.json", "-o", "out", "--no-packet"],
    );
    assert_eq!(planned.status.code(), Some(0), "{}", stderr(&planned));
    let sheet = fs::read_to_string(folder.path().join("out/sheet.txt")).expect("a sheet");
    says(&sheet, "the marks of 'bay' disagree");
}

/// Walls about the way, in millimeters.
const WALLS: &str = "v -200 300 -100\nv 400 300 -100\nv 400 300 500\nv -200 300 500
v -200 -300 -100\nv 400 -300 500\nf 1 2 3\nf 1 3 4\nf 1 5 2\nf 2 5 6\n";

#[test]
fn a_scan_without_marks_that_is_far_too_large_is_told_which_unit_is_like_the_job() {
    let check = |unit: &str| {
        let folder = shop(&format!(
            r#"{{ "name": "bay", "file": "walls.obj", "units": "{unit}" }}"#
        ));
        fs::write(folder.path().join("walls.obj"), WALLS).expect("a scan");
        let checked = run_in(folder.path(), &["check", "job.json"]);
        assert_eq!(checked.status.code(), Some(0));
        stderr(&checked)
    };
    assert_eq!(check("mm"), "");
    for unit in ["cm", "in"] {
        let messages = check(unit);
        says(&messages, "times as far as the ports are apart");
        says(&messages, &format!("is '{unit}' its unit?"));
        says(
            &messages,
            "help: in \"mm\" it would be 1039.2 mm across, with ports 400.0 mm apart",
        );
    }
    for unit in ["m", "ft"] {
        says(
            &check(unit),
            "in \"mm\" it would lie about the ports, 1039.2 mm across",
        );
    }
}

#[test]
fn a_scan_whose_only_group_has_no_name_says_so() {
    // Once: keeps none of its groups: ``.
    let folder = shop(r#"{ "name": "bay", "file": "plain.obj", "units": "m", "drop": ["*"] }"#);
    fs::write(
        folder.path().join("plain.obj"),
        "v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n",
    )
    .expect("a scan");
    let messages = refused(&folder);
    says(
        &messages,
        "'plain.obj' keeps nothing: it has no groups to choose from",
    );
    says(&messages, "help: leave the patterns out");
}
