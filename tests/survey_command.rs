//! Ports from measurements, as a user meets them: what `check` says, what it refuses and
//! what it warns of.

#[path = "support/program.rs"]
mod program;

use program::{run_in, says, stderr, stdout};
use serde_json::Value;
use std::fs;
use tempfile::TempDir;

/// A folder with a job whose first port is `port`, with `more` keys.
fn shop(port: &str, more: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let job = format!(
        r#"{{ "units": "mm", "tube": {{ "od": 60, "wall": 2 }}, {more}
          "pins": {{ "A": [0, 0, -200], "B": [400, 0, -200], "C": [0, 400, -200], "D": [400, 400, 0] }},
          "ports": {{ "a": {port}, "b": {{ "center": [500, 100, 600], "outward": [-1, 0, 0] }} }},
          "runs": [ {{ "name": "pipe", "from": "a", "to": "b" }} ] }}"#
    );
    fs::write(folder.path().join("job.json"), job).expect("a job");
    folder
}

fn measured(readings: &str) -> TempDir {
    shop(&format!("{{ \"measured\": {{ {readings} }} }}"), "")
}

/// What `check` shows of a good job, and what it warns of.
#[track_caller]
fn checked(folder: &TempDir) -> (String, String) {
    let output = run_in(folder.path(), &["check", "job.json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    (stdout(&output), stderr(&output))
}

/// What `check` says of a job that it refuses.
#[track_caller]
fn refused(folder: &TempDir) -> String {
    let output = run_in(folder.path(), &["check", "job.json"]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
    assert!(output.stdout.is_empty());
    stderr(&output)
}

const RIM: &str =
    r#""rim": [[30, 0, 0], [0, 30, 0], [-30, 0, 0], [0, -30, 0]], "toward": [0, 0, 1]"#;

#[test]
fn rim_points_make_a_port() {
    let (shown, warned) = checked(&measured(RIM));
    assert!(warned.is_empty(), "{warned}");
    says(
        &shown,
        "port 'a': center (0.0, 0.0, 0.0) mm, outward (0.0000, 0.0000, 1.0000)",
    );
    // 0.5 mm over four points: 0.5/√2 across, 0.5/√4 along; 0.5/(30·√2) of lean.
    says(
        &shown,
        "known to, two of three within: center 0.35 mm along",
    );
    says(&shown, "0.25 mm across; direction 0.68°");
    says(&shown, "rim across: 60.00 mm");
    says(
        &shown,
        "4 readings, 2 numbers more than it takes; each less what fits all best:",
    );
    says(
        &shown,
        "rim point 3: 0.00 mm off the face, 0.00 mm off the circle",
    );
    says(
        &shown,
        "one reading more that would help most: a point on a straight rod",
    );
}

#[test]
fn the_tools_accuracy_is_taken() {
    let port = format!("{{ \"measured\": {{ {RIM} }} }}");
    let (shown, _) = checked(&shop(&port, r#""measuring": { "point": "0.1 mm" },"#));
    says(
        &shown,
        "known to, two of three within: center 0.07 mm along",
    );
    says(
        &shown,
        "measuring, two of three within: point 0.10 mm, tape 1.00 mm",
    );
    let port = r#"{ "center": [0, 0, 0], "outward": [0, 0, 1], "good_to": { "center": 0.2, "outward": 0.1 } }"#;
    let (shown, _) = checked(&shop(port, ""));
    says(
        &shown,
        "known to, two of three within: center 0.20 mm any way; direction 0.10° any way",
    );
    let port = r#"{ "center": [0, 0, 0], "outward": [0, 0, 1], "good_to": { "center": 0, "outward": 0 } }"#;
    says(&checked(&shop(port, "")).0, "taken as exact");
}

#[test]
fn directions_by_angles() {
    for (angles, more, expected) in [
        (
            r#""azimuth": 90, "elevation": 0"#,
            "",
            "(0.0000, 1.0000, 0.0000)",
        ),
        (
            r#""azimuth": 0, "elevation": 90"#,
            "",
            "(0.0000, 0.0000, 1.0000)",
        ),
        (
            r#""level": 30, "heading": 0"#,
            "",
            "(0.8660, 0.0000, 0.5000)",
        ),
        (
            r#""level": -90, "heading": 10"#,
            "",
            "(0.0000, 0.0000, -1.0000)",
        ),
        // Clockwise for someone who looks down: from +x to −y.
        (
            r#""level": 0, "heading": 90"#,
            "",
            "(0.0000, -1.0000, 0.0000)",
        ),
        (
            r#""level": 0, "heading": 90"#,
            r#""ahead": [0, 1, 0],"#,
            "(1.0000, 0.0000, 0.0000)",
        ),
        (
            r#""level": 90, "heading": 0"#,
            r#""up": [0, 1, 0],"#,
            "(0.0000, 1.0000, 0.0000)",
        ),
    ] {
        let port = format!("{{ \"center\": [0, 0, 0], \"outward\": {{ {angles} }} }}");
        let (shown, _) = checked(&shop(&port, more));
        says(
            &shown,
            &format!("port 'a': center (0.0, 0.0, 0.0) mm, outward {expected}"),
        );
    }
    // A level on the face of a port that points straight up lies.
    let (shown, _) = checked(&measured(r#""center": [0, 0, 0], "face_level": 0"#));
    says(&shown, "outward (0.0000, 0.0000, 1.0000)");
    let (shown, _) = checked(&measured(
        r#""center": [0, 0, 0], "face_level": 60, "heading": 0"#,
    ));
    says(&shown, "outward (0.8660, 0.0000, 0.5000)");
    let (shown, _) = checked(&measured(
        r#""center": [0, 0, 0], "face_level": -60, "heading": 0"#,
    ));
    says(&shown, "outward (0.8660, 0.0000, -0.5000)");
}

#[test]
fn tapes_make_a_port_and_the_mirrored_one_is_told() {
    // From pins at (0, 0), (400, 0), (0, 400) of one plane 200 below, and one level with it.
    let to = |pin: [f64; 3], at: [f64; 3]| -> f64 {
        pin.iter()
            .zip(at)
            .map(|(p, q)| (p - q).powi(2))
            .sum::<f64>()
            .sqrt()
    };
    let pins = [
        ("A", [0.0, 0.0, -200.0]),
        ("B", [400.0, 0.0, -200.0]),
        ("C", [0.0, 400.0, -200.0]),
        ("D", [400.0, 400.0, 0.0]),
    ];
    let row = |(name, pin): &(&str, [f64; 3])| {
        format!(
            r#"{{ "pin": "{name}", "center": {}, "tip": {} }}"#,
            to(*pin, [150.0, 120.0, 40.0]),
            to(*pin, [150.0, 120.0, 290.0])
        )
    };
    let tape = |count: usize| {
        let rows: Vec<String> = pins[..count].iter().map(row).collect();
        format!("\"tape\": [{}], \"tip\": 250", rows.join(", "))
    };
    let (shown, _) = checked(&measured(&tape(4)));
    says(
        &shown,
        "port 'a': center (150.0, 120.0, 40.0) mm, outward (0.0000, 0.0000, 1.0000)",
    );
    says(&shown, "rod's tip out of the face: 250.00 mm");
    says(&shown, "the tape from 'D' to the tip: 0.00 mm");
    let messages = refused(&measured(&tape(3)));
    says(
        &messages,
        "job.json: ports.a: two ports fit the readings: one at (150.0, 120.0,",
    );
    says(&messages, "help: add 'toward'");
    let (shown, _) = checked(&measured(&format!("{}, \"near\": [150, 100, 0]", tape(3))));
    says(&shown, "center (150.0, 120.0, 40.0) mm");
}

#[test]
fn a_reading_that_is_off_is_named_where_it_stands() {
    let rim = r#""rim": [[30, 0, 0], [21.2, 21.2, 0], [0, 30, 6], [-21.2, 21.2, 0], [-30, 0, 0],
        [-21.2, -21.2, 0], [0, -30, 0]], "toward": [0, 0, 1]"#;
    let (_, warned) = checked(&measured(rim));
    says(
        &warned,
        "job.json: ports.a.measured.rim[2]: rim point 3 is 6.00 mm off what the other readings say; it is left out",
    );
    says(&warned, "help: measure it again");
    // Four points of a square: one is off, and which one nobody can tell.
    let four = RIM.replace("[0, 30, 0]", "[0, 30, 9]");
    let (_, warned) = checked(&measured(&four));
    says(&warned, "ports.a: one of these is off, perhaps by");
    says(&warned, "and nothing tells which: rim point");
}

#[test]
fn poor_geometry_says_what_it_achieves_and_what_would_help() {
    let rod = r#""rod": [ { "at": [0, 0, 0], "out": 0 }, { "at": [0, 0, 20], "out": 20 } ]"#;
    let (_, warned) = checked(&measured(rod));
    says(&warned, "ports.a: the readings hold the center to");
    says(&warned, "the direction to 2.03°, two of three within");
    says(
        &warned,
        "the points on the rod are only 20.0 mm apart, which holds its direction to 2.03°",
    );
    says(
        &warned,
        "help: points 200.0 mm apart would hold it to 0.20°",
    );
    let arc = r#""rim": [[30, 0, 0], [26, 15, 0], [15, 26, 0]], "toward": [0, 0, 1]"#;
    let (_, warned) = checked(&measured(arc));
    says(&warned, "the points cover only 60.14°");
    says(&warned, "touch points all round");
    let line = r#""rim": [[30, 0, 0], [29.6, 5, 0], [28.3, 10, 0]], "toward": [0, 0, 1]"#;
    let messages = refused(&measured(line));
    says(
        &messages,
        "which is no port; the points on the face lie nearly in a line",
    );
    says(&messages, "touch points all round the face");
    let line =
        r#""face": [[0, 0, 0], [10, 0, 0], [20, 0, 0]], "center": [0, 0, 0], "toward": [0, 0, 1]"#;
    let messages = refused(&measured(line));
    says(
        &messages,
        "the readings do not hold the port: its direction may lean any amount to (0.0000,",
    );
    says(&messages, "the points on the face lie nearly in a line");
}

#[test]
fn a_port_far_from_where_it_was_said_to_be_is_told() {
    let (_, warned) = checked(&measured(&format!("{RIM}, \"near\": [0, 0, 300]")));
    says(
        &warned,
        "ports.a.measured.near: the center comes out 300.0 mm from 'near'",
    );
    let aside = RIM.replace("[0, 0, 1]", "[1, 0, 0.15]");
    let (_, warned) = checked(&measured(&aside));
    says(
        &warned,
        "ports.a.measured.toward: the port faces 81.47° off 'toward'",
    );
    // Inches where the job has millimeters.
    let inches = RIM.replace("30", "1.2");
    let (_, warned) = checked(&measured(&format!("{inches}, \"level\": 89")));
    says(&warned, "the rim is 2.40 mm across, the tube 60.00 mm");
}

#[test]
fn what_check_warns_of_is_on_the_sheet() {
    let off = "[30, 0, 0], [21.2, 21.2, 5], [-21.2, 21.2, 0], [21.2, -21.2, 0], ";
    let folder = measured(&RIM.replace("[30, 0, 0], ", off));
    let planned = run_in(folder.path(), &["plan", "job.json", "-o", "out"]);
    assert_eq!(planned.status.code(), Some(0), "{}", stderr(&planned));
    let sheet = fs::read_to_string(folder.path().join("out/sheet.txt")).expect("a sheet");
    says(
        &sheet,
        "WARNING  ports.a.measured.rim[1]: rim point 2 is 5.0",
    );
    let plan = fs::read_to_string(folder.path().join("out/plan.json")).expect("a plan");
    says(&plan, "ports.a.measured.rim[1]: rim point 2 is 5.0");
    // Once on the screen, and not "no problems".
    assert_eq!(stderr(&planned).matches("rim point 2 is 5.0").count(), 1);
    says(&checked(&folder).0, "job: no errors, 1 warning\n");
}

#[test]
fn a_level_has_no_sign_but_toward_has() {
    for (key, reading) in [("level", 30), ("face_level", 60)] {
        let text = format!("\"center\": [0, 0, 0], \"{key}\": {reading}, \"heading\": 0");
        let (shown, _) = checked(&measured(&text));
        says(&shown, "outward (0.8660, 0.0000, 0.5000)");
        let (shown, _) = checked(&measured(&format!("{text}, \"toward\": [1, 0, -1]")));
        says(&shown, "outward (0.8660, 0.0000, -0.5000)");
    }
    let messages = refused(&measured("\"center\": [0, 0, 0], \"level\": 30"));
    says(&messages, "give 'heading' too");
}

#[test]
fn a_steep_level_with_a_heading_tells_both() {
    let (shown, warned) = checked(&measured(
        "\"center\": [1, 2, 3], \"level\": 88, \"heading\": 30",
    ));
    says(&shown, "outward (0.0302, -0.0174, 0.9994)");
    says(&shown, "no number more than it takes");
    assert!(warned.is_empty(), "{warned}");
}

#[test]
fn a_rod_s_points_may_be_bare() {
    let text = r#""rod": [[0, 0, 100], [0, 0, 300]], "face": [[30, 0, 0]], "toward": [0, 0, 1]"#;
    let (shown, _) = checked(&measured(text));
    says(
        &shown,
        "port 'a': center (0.0, 0.0, 0.0) mm, outward (0.0000, 0.0000, 1.0000)",
    );
}

#[test]
fn a_diameter_is_off_as_a_diameter() {
    let eight = "\"rim\": [[30, 0, 0], [0, 30, 0], [-30, 0, 0], [0, -30, 0], [21.213, 21.213, 0], [-21.213, -21.213, 0]], \"toward\": [0, 0, 1]";
    let (_, warned) = checked(&measured(&format!("{eight}, \"rim_diameter\": 66")));
    says(
        &warned,
        "measured.rim_diameter: the rim's diameter is 6.00 mm off what the other readings say",
    );
}

#[test]
fn a_center_on_either_side_of_two_holes_is_told() {
    let holes = r#""bolts": [[40, 30, 0], [40, -30, 0]], "bolt_circle": 100, "outward": [0, 0, 1]"#;
    let messages = refused(&measured(holes));
    says(&messages, "two ports fit the readings: one at (");
    says(&messages, "80.0, 0.0, 0.0) mm");
    says(&messages, "add 'near'");
    let (shown, _) = checked(&measured(&format!("{holes}, \"near\": [5, 0, 0]")));
    says(&shown, "center (0.0, 0.0, 0.0) mm");
    // Half way between is no answer.
    says(
        &refused(&measured(&format!("{holes}, \"near\": [40, 0, 0]"))),
        "move 'near'",
    );
}

#[test]
fn all_that_is_wrong_is_said_at_once() {
    let folder = shop(
        r#"{ "center": [0, 0, 0], "measured": {
            "center": [1, 2], "outward": { "azimuth": 3 }, "level": 95, "rim_diameter": 60,
            "rod": [ { "out": 5 } ], "tape": [ { "pin": "E", "center": 10 }, { "pin": "A" }, { "pin": "B", "tip": -4 } ],
            "bolt_circle": 90, "toward": [0, 0, 0], "scan_rim": { "scan": "bay" }, "rimm": [] } }"#,
        r#""measuring": { "tape": -1, "level": 90, "point": "2 ft" }, "up": [0, 0, 0],"#,
    );
    let messages = refused(&folder);
    for expected in [
        "measuring.tape: is the number -1, but must not be negative",
        "measuring.level: must be from 0° to 45°",
        "measuring.point: is more than 12 in (304.8 mm)",
        "up: is zero",
        "ports.a.center: stands beside 'measured'",
        "ports.a.measured.rimm: is not a known key",
        "did you mean 'rim'?",
    ] {
        says(&messages, expected);
    }
    let folder = shop(
        r#"{ "measured": {
            "center": [1, 2], "outward": { "azimuth": 3 }, "level": 95, "rim_diameter": 60,
            "rod": [ { "out": 5 } ], "tape": [ { "pin": "E", "center": 10 }, { "pin": "A" }, { "pin": "B", "tip": -4 } ],
            "bolt_circle": 90, "toward": [0, 0, 0], "scan_rim": { "scan": "bay" } } }"#,
        "",
    );
    let messages = refused(&folder);
    for expected in [
        "measured.center: has 2 entries",
        "measured.outward: is no direction by azimuth alone",
        "give 'azimuth' and 'elevation', or 'level' and 'heading'",
        "measured.level: must be from -90° to 90°",
        "measured.bolt_circle: says nothing without 'bolts'",
        "measured.rod[0].at: is missing",
        "measured.tape[0].pin: there is no pin 'E'\nhelp: the pins are A, B, C, D",
        "measured.tape[1]: holds no distance",
        "measured.tape[2].tip: is the number -4, but must be more than 0",
        "measured.toward: is zero",
        "measured.scan_rim.near: is missing",
    ] {
        says(&messages, expected);
    }
    says(
        &refused(&measured("")),
        "ports.a.measured: holds no readings",
    );
    says(
        &refused(&shop("{ \"center\": [0, 0, 0] }", "")),
        "ports.a.outward: is missing",
    );
    says(
        &refused(&shop("{ \"center\": [0, 0, 0], \"outward\": \"up\" }", "")),
        "ports.a.outward: is the text \"up\", but must be a list",
    );
}

#[test]
fn what_points_away_from_toward_is_refused() {
    let rod = r#""rod": [ { "at": [0, 0, 0], "out": 0 }, { "at": [0, 0, 200], "out": 200 } ], "toward": [0, 0, -1]"#;
    let messages = refused(&measured(rod));
    says(
        &messages,
        "the readings say that the port faces (0.0000, 0.0000, 1.0000), away from 'toward'",
    );
}

/// A tube of radius 30 about the z-axis from z = 0 to 100, open at both ends, in meters.
fn tube() -> String {
    let mut text = String::new();
    let sides = 24;
    for z in [0.0, 0.1] {
        for i in 0..sides {
            let t = f64::from(i) * std::f64::consts::TAU / f64::from(sides);
            text += &format!("v {} {} {z}\n", 0.03 * t.cos(), 0.03 * t.sin());
        }
    }
    for i in 0..sides {
        let next = (i + 1) % sides;
        let [a, b, c, d] = [i + 1, next + 1, next + sides + 1, i + sides + 1];
        text += &format!("f {a} {b} {c} {d}\n");
    }
    text
}

#[test]
fn a_port_may_be_a_rim_of_a_scan() {
    let scan = r#""scene": { "scans": [ { "name": "head", "file": "head.obj", "units": "m" } ] },"#;
    let port = r#"{ "measured": { "scan_rim": { "scan": "head", "near": [2, 3, 95] } } }"#;
    let folder = shop(port, scan);
    fs::write(folder.path().join("head.obj"), tube()).expect("a scan");
    let (shown, warned) = checked(&folder);
    assert!(warned.is_empty(), "{warned}");
    says(
        &shown,
        "port 'a': center (0.0, 0.0, 100.0) mm, outward (0.0000, 0.0000, 1.0000)",
    );
    says(&shown, "rim across: 60.00 mm");
    // 24 points tell no more than 8: 0.5 mm/√4 across, /√8 along, lean 0.5/(30·2).
    says(
        &shown,
        "known to, two of three within: center 0.25 mm along",
    );
    says(&shown, "0.18 mm across; direction 0.48°");
    let planned = run_in(folder.path(), &["plan", "job.json", "-o", "out"]);
    assert_eq!(planned.status.code(), Some(0), "{}", stderr(&planned));
    let plan = fs::read(folder.path().join("out/plan.json")).expect("a plan");
    let plan: Value = serde_json::from_slice(&plan).expect("JSON");
    let first = &plan["runs"][0]["vertices_mm"][0];
    assert!(
        (first[2].as_f64().expect("z") - 100.0).abs() < 1e-3,
        "{first}"
    );
    // What the scan says of the side is not overruled without a word.
    let port = r#"{ "measured": { "scan_rim": { "scan": "head", "near": [2, 3, 95] }, "toward": [0, 0, -1] } }"#;
    let folder = shop(port, scan);
    fs::write(folder.path().join("head.obj"), tube()).expect("a scan");
    says(
        &checked(&folder).1,
        "'toward' is on the other side than the scan says",
    );
    // The other end, seen from within the same scan.
    let port = r#"{ "measured": { "scan_rim": { "scan": "head", "near": [0, 0, 0] } } }"#;
    let folder = shop(port, scan);
    fs::write(folder.path().join("head.obj"), tube()).expect("a scan");
    says(&checked(&folder).0, "outward (0.0000, 0.0000, -1.0000)");
}

#[test]
fn a_rim_that_is_not_there_is_refused() {
    let scan = r#""scene": { "scans": [ { "name": "head", "file": "head.obj", "units": "m" } ] },"#;
    let at = |near: &str, scan_name: &str| {
        let port = format!(
            r#"{{ "measured": {{ "scan_rim": {{ "scan": "{scan_name}", "near": {near} }} }} }}"#
        );
        let folder = shop(&port, scan);
        fs::write(folder.path().join("head.obj"), tube()).expect("a scan");
        refused(&folder)
    };
    says(
        &at("[300, 0, 50]", "head"),
        "ports.a.measured.scan_rim: no open rim within",
    );
    says(
        &at("[0, 0, 100]", "heed"),
        "scan_rim.scan: there is no scan 'heed'",
    );
    says(&at("[0, 0, 100]", "heed"), "did you mean 'head'?");
    let placed = r#""scene": { "scans": [ { "name": "head", "file": "head.obj", "units": "m",
        "rims": [ { "near": [0, 0, 0.1], "port": "a" } ] } ] },"#;
    let port = r#"{ "measured": { "scan_rim": { "scan": "head", "near": [0, 0, 95] } } }"#;
    let folder = shop(port, placed);
    fs::write(folder.path().join("head.obj"), tube()).expect("a scan");
    says(
        &refused(&folder),
        "places the scan by 'a', which is itself picked from a scan",
    );
}

#[test]
fn a_rim_with_a_caliper_s_word_for_it() {
    let scan = r#""scene": { "scans": [ { "name": "head", "file": "head.obj", "units": "m" } ] },"#;
    let port = r#"{ "measured": { "scan_rim": { "scan": "head", "near": [2, 3, 95] }, "rim_diameter": 60.1,
        "rod": [ { "at": [0, 0, 350] } ] } }"#;
    let folder = shop(port, scan);
    fs::write(folder.path().join("head.obj"), tube()).expect("a scan");
    let (shown, _) = checked(&folder);
    says(&shown, "26 readings");
    says(&shown, "scan rim point 24: ");
    says(&shown, "rod point 1: 0.00 mm beside the axis");
}

#[test]
fn points_on_the_outside_tell_the_axis() {
    let outside = r#""rim": [[30, 0, 0], [0, 30, 0], [-30, 0, 0], [0, -30, 0]], "rim_diameter": 60,
        "outside": [[30, 0, -80], [0, 30, -90], [-30, 0, -80], [0, -30, -90]]"#;
    // They are behind the face: 'toward' is not needed.
    let (shown, warned) = checked(&measured(outside));
    assert!(warned.is_empty(), "{warned}");
    says(
        &shown,
        "port 'a': center (0.0, 0.0, 0.0) mm, outward (0.0000, 0.0000, 1.0000)",
    );
    let wrong = outside.replace("[-30, 0, -80]", "[-36, 0, -80]");
    let (_, warned) = checked(&measured(&wrong));
    says(&warned, "ports.a.measured.outside[2]: outside point 3 is");
    let ahead =
        outside.replace("0, -80", "0, 80").replace("-90", "90") + r#", "outward": [0, 0, 1]"#;
    let messages = refused(&measured(&ahead));
    says(&messages, "ahead of the face");
    let center = r#""center": [0, 0, 0], "outward": [0, 0, 1], "rim_diameter": 60"#;
    says(&refused(&measured(center)), "says nothing without 'rim'");
}
