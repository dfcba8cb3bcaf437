//! Copying a tube, as a user meets it.

#[path = "support/program.rs"]
mod program;

use program::{runwright, says, stderr, stdout};
use std::fs;
use std::process::Output;
use tempfile::TempDir;

const EXAMPLE: &str = include_str!("../examples/copy.json");

/// Runs a command on a job: what it said, and the folder with what it wrote.
fn on(command: &str, job: &str) -> (Output, TempDir) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("job.json");
    fs::write(&file, job).expect("a job file");
    let (file, out) = (file.to_string_lossy(), folder.path().join("out"));
    let out = out.to_string_lossy();
    let output = match command {
        "plan" => runwright(&["plan", &file, "-o", &out]),
        _ => runwright(&[command, &file]),
    };
    (output, folder)
}

fn refused(job: &str) -> String {
    let (output, _) = on("check", job);
    assert_eq!(output.status.code(), Some(1), "{}", stderr(&output));
    assert_eq!(stdout(&output), "");
    stderr(&output)
}

/// A job with a tube of 50 mm that turns 30° once, up and over to x, and `copy`.
fn job(copy: &str, more: &str) -> String {
    format!(
        r#"{{ "units": "mm", "tube": {{ "od": 50, "wall": 1.5 }},
        "ports": {{
            "a": {{ "center": [0, 0, 0], "outward": [0, 0, 1] }},
            "b": {{ "center": [180, 0, 309.30], "outward": [-0.8660254, 0, -0.5] }} }},
        "runs": [ {{ "name": "old", "from": "a", "to": "b", "copy": {copy} {more} }} ] }}"#
    )
}

/// Two joints of 30°: at (0, 0, 100) and (50, 0, 186.6), then 150 mm to b or so.
const JOINTS: &str = r#"{ "joints": [[0, 0, 120], [52.96, 0, 223.5]] }"#;

#[test]
fn the_example_is_copied_and_says_how_well_it_fits() {
    let (output, folder) = on("plan", EXAMPLE);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(!stderr(&output).contains("warning"), "{}", stderr(&output));
    let read = |name: &str| fs::read_to_string(folder.path().join("out").join(name)).unwrap();
    let sheet = read("sheet.txt");
    says(
        &sheet,
        "COPIED FROM points on the outside of its pieces: 48 points of 0.020 in each; fit at each joint.",
    );
    let plan: serde_json::Value = serde_json::from_str(&read("plan.json")).unwrap();
    let run = &plan["runs"][0];
    assert_eq!(run["stopped"], "copied");
    assert_eq!(run["pieces"].as_array().unwrap().len(), 6);
    assert_eq!(run["reasons"][0], "copied from an existing tube");
    assert!(plan["alternatives"].as_array().unwrap().is_empty());
    let copied = &run["copied"];
    assert_eq!(copied["degrees_of_freedom"], 37);
    // The tube that the points were made from, in: each joint within 4 of its σ.
    let truth = [
        [6.0, 0.0, 0.5],
        [13.0, 0.0, 3.5],
        [20.0, 2.0, 6.0],
        [27.0, 5.5, 5.5],
        [33.0, 10.0, 2.5],
    ];
    for (joint, truth) in copied["joints"].as_array().unwrap().iter().zip(truth) {
        let off: f64 = (0..3)
            .map(|i| (joint["at_mm"][i].as_f64().unwrap() - truth[i] * 25.4).powi(2))
            .sum();
        assert!(
            off.sqrt() < 4.0 * joint["sigma_mm"].as_f64().unwrap(),
            "{joint}"
        );
        assert!(joint["apart_mm"].as_f64().unwrap() < 4.0);
    }
    let (checked, _) = on("check", EXAMPLE);
    assert_eq!(checked.status.code(), Some(0));
    says(&stdout(&checked), "copied from an existing tube");
    let table = |text: &str| text.split("COPIED FROM").nth(1).unwrap()[..400].to_owned();
    assert_eq!(table(&stdout(&checked)), table(&sheet));
}

#[test]
fn a_point_that_is_off_is_named_with_its_place() {
    // The third point of the third piece, moved away from the axis or so.
    let old = "[16.165, 1.12, 3.319]";
    assert!(EXAMPLE.contains(old));
    let (output, _) = on("check", &EXAMPLE.replace(old, "[16.165, 1.15, 3.159]"));
    assert_eq!(output.status.code(), Some(0));
    says(&stderr(&output), "warning: ");
    says(&stderr(&output), "runs[0].copy.pieces[2][2]: is 0.2");
    says(
        &stderr(&output),
        "off what the others say (off the tube); the tube is copied without it",
    );
    says(&stderr(&output), "help: measure it again, or leave it out");
    assert_eq!(
        stderr(&output).matches("warning").count(),
        1,
        "{}",
        stderr(&output)
    );
    says(&stdout(&output), "measure again: runs[0].copy.pieces[2][2]");
}

#[test]
fn a_wrong_diameter_is_said_of_the_tube() {
    let old = r#""od": 2.5"#;
    assert!(EXAMPLE.contains(old));
    let (output, _) = on("check", &EXAMPLE.replace(old, r#""od": 2.375"#));
    says(
        &stderr(&output),
        "tube.od: the points on the outside fit a tube of 2.",
    );
    assert!(
        !stderr(&output).contains("measure it again"),
        "{}",
        stderr(&output)
    );
}

#[test]
fn a_copied_run_has_joints_and_no_bends() {
    let (_, folder) = on("plan", EXAMPLE);
    let sheet = fs::read_to_string(folder.path().join("out/sheet.txt")).unwrap();
    says(&sheet, "  joint 1: ");
    says(&sheet, "° turn, cut at ");
    assert!(!sheet.contains("outside swing"), "{sheet}");
}

#[test]
fn a_copy_by_its_joints_says_what_it_does_not_know() {
    let (output, folder) = on("plan", &job(JOINTS, ""));
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let sheet = fs::read_to_string(folder.path().join("out/sheet.txt")).unwrap();
    says(
        &sheet,
        "COPIED FROM the middles of its joints: 2 points of 0.50 mm each",
    );
    says(&sheet, "apart");
    // Steeper than a shop's usual 11.25°.
    says(
        &stderr(&output),
        "runs[0].copy: run 'old': cut steeper than shop.max_cut",
    );
}

#[test]
fn limits_and_obstacles_warn_and_do_not_refuse() {
    let job = job(JOINTS, "").replace(
        r#""runs": ["#,
        r#""shop": { "max_cut": 40, "min_short_side": 110, "saw_angles": [10] },
           "scene": { "keep_out": [ { "name": "tank", "box": { "min": [20, -20, 100], "max": [200, 20, 140] } } ] },
           "runs": ["#,
    );
    let (output, _) = on("plan", &job);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    for said in [
        "cut where the saw has no stop: joint 1 at",
        "short sides below shop.min_short_side, 110.00 mm: piece",
        "nearer than asked for:",
        "from 'tank', 9.5 mm asked for",
    ] {
        says(&stderr(&output), said);
    }
}

#[test]
fn everything_wrong_with_a_copy_is_said_at_once() {
    let copy = r#"{ "joints": [[0, 0]], "centerline": [[1, 2, "x"]], "accuracy": -1, "withn": 3 }"#;
    let said = refused(&job(
        copy,
        r#", "clr": 75, "max_bends": 2, "through": [], "length": 400"#,
    ));
    for expected in [
        "runs[0].clr: guides a search, but a copied run is not searched for\nhelp: leave it out",
        "runs[0].max_bends: guides a search",
        "runs[0].through: guides a search",
        "runs[0].length: guides a search",
        "runs[0].copy: gives more than one of joints, pieces and centerline",
        "runs[0].copy.accuracy: is the number -1, but must be more than 0",
        "runs[0].copy.withn: is not a known key",
    ] {
        says(&said, expected);
    }
    let said = refused(&job("{}", ""));
    says(&said, "runs[0].copy: says nothing of the tube");
    let said = refused(&job(
        r#"{ "joints": [[0, 0], [1, "y", 2]], "within": 1 }"#,
        "",
    ));
    says(&said, "runs[0].copy.joints[0]: has 2 entries");
    says(&said, "runs[0].copy.joints[1][1]: \"y\"");
    says(
        &said,
        "runs[0].copy.within: goes with points along the centerline",
    );
}

#[test]
fn points_that_hold_no_tube_say_where_and_what_to_do() {
    let pieces = |second: &str| job(&format!(r#"{{ "pieces": [[], {second}, []] }}"#), "");
    let said = refused(&pieces("[[25, 0, 130], [0, 25, 140], [10, 25, 150]]"));
    says(
        &said,
        "runs[0].copy.pieces[1]: there are 3 points on piece 2: it takes 4",
    );
    let said = refused(&pieces(
        "[[25, 0, 130], [25, 0, 130], [25, 0, 130], [25, 0, 130]]",
    ));
    says(
        &said,
        "runs[0].copy.pieces[1]: the points on piece 2 are all in one place",
    );
    let said = refused(&job(
        r#"{ "joints": [[0, 0, 120], [0, 0, 120.2], [52.96, 0, 223.5]] }"#,
        "",
    ));
    says(
        &said,
        "runs[0].copy.joints[1]: is only 0.20 mm from the joint or port before it",
    );
    let said = refused(&job(
        r#"{ "joints": [[0, 0, -80], [52.96, 0, 223.5]] }"#,
        "",
    ));
    says(
        &said,
        "runs[0].copy.joints: the tube would leave 'a' backward",
    );
    let said = refused(&job(
        r#"{ "joints": [[0, 0, 120], [52.96, 0, 223.5]], "accuracy": "1 in" }"#,
        "",
    ));
    says(
        &said,
        "runs[0].copy.accuracy: is 25.40 mm, which no such points have",
    );
    let centerline = r#"{ "centerline": [[0, 0, 20], [0, 0, 90], [0, 0, 50], [0, 0, 110]] }"#;
    let said = refused(&job(centerline, ""));
    says(
        &said,
        "runs[0].copy.centerline[1]: the centerline turns back on itself here",
    );
    let many: Vec<String> = (0..1001)
        .map(|i| format!("[0, 0, {}]", f64::from(i) / 10.0))
        .collect();
    let said = refused(&job(
        &format!(r#"{{ "centerline": [{}] }}"#, many.join(", ")),
        "",
    ));
    says(
        &said,
        "runs[0].copy.centerline: holds 1001, but at most 1000 are taken",
    );
}

#[test]
fn a_copy_in_a_group_of_equal_length_stays_as_it_is() {
    let job = r#"{ "units": "mm", "tube": { "od": 42.4, "wall": 2 },
        "ports": {
            "a1": { "center": [0, 0, 0], "outward": [0, 0, 1] },
            "a2": { "center": [300, 0, 0], "outward": [0, 0, 1] },
            "b1": { "center": [0, 0, 300], "outward": [0, 0, -1] },
            "b2": { "center": [300, 0, 400], "outward": [0, 0, -1] } },
        "runs": [{ "name": "one", "from": "a1", "to": "b1", "copy": { "centerline": [[0, 0, 100], [0, 0, 200]] } },
                 { "name": "two", "from": "a2", "to": "b2" }],
        "equal_length": [["one", "two"]] }"#;
    let (output, folder) = on("plan", job);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    says(
        &stderr(&output),
        "run 'one' is 100.0 mm shorter than the 400.0 mm that is wished for",
    );
    says(&stderr(&output), "a copy is as long as its tube");
    let plan = fs::read_to_string(folder.path().join("out/plan.json")).unwrap();
    let plan: serde_json::Value = serde_json::from_str(&plan).unwrap();
    assert_eq!(plan["runs"][0]["length_mm"], 300.0);
}

#[test]
fn a_tube_that_does_not_meet_its_ports_is_refused() {
    // Joints of another tube: the last piece would come from the other side.
    let messages = refused(&job(r#"{ "joints": [[0, 0, 120], [90, 0, 180]] }"#, ""));
    says(
        &messages,
        "runs[0].copy: the tube's points do not meet 'b': they put its face",
    );
    says(
        &messages,
        "help: check that 'from' and 'to' are its two ends",
    );
}

#[test]
fn nothing_touched_is_no_copy() {
    for copy in [
        r#"{ "joints": [] }"#,
        r#"{ "pieces": [[]] }"#,
        r#"{ "centerline": [] }"#,
    ] {
        says(&refused(&job(copy, "")), "runs[0].copy: holds no points");
    }
}

#[test]
fn a_smooth_bend_s_ports_are_not_doubted() {
    for count in [20, 100, 1000] {
        let point = |i: u32| {
            let (sin, cos) =
                (f64::from(i) / f64::from(count - 1) * std::f64::consts::FRAC_PI_2).sin_cos();
            format!("[{}, 0, {}]", 300.0 - 300.0 * cos, 200.0 + 300.0 * sin)
        };
        let points: Vec<String> = (0..count).map(point).collect();
        let job = format!(
            r#"{{ "units": "mm", "tube": {{ "od": 50, "wall": 1.5 }}, "ports": {{
                "a": {{ "center": [0, 0, 0], "outward": [0, 0, 1] }},
                "b": {{ "center": [500, 0, 500], "outward": [-1, 0, 0] }} }},
            "runs": [ {{ "name": "old", "from": "a", "to": "b", "copy": {{ "centerline": [{}] }} }} ] }}"#,
            points.join(", ")
        );
        let (output, _) = on("check", &job);
        assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
        assert_eq!(stderr(&output), "", "{count} points");
    }
}
