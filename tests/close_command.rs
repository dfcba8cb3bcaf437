//! `runwright close` as a user meets it: what it prints and writes, and what it refuses.

#[path = "support/program.rs"]
mod program;

use program::{run_in, says, stderr, stdout};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;
use tempfile::TempDir;

/// A folder with one file, `built.json`.
fn shop(built: &Value) -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("built.json"), built.to_string()).expect("a file");
    folder
}

/// What is printed of a gap that can be closed, and what is warned of.
#[track_caller]
fn closed(built: &Value) -> (String, String) {
    let folder = shop(built);
    let output = run_in(folder.path(), &["close", "built.json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    (stdout(&output), stderr(&output))
}

/// Says of both ends that they are mitered, and about which way is out.
fn say_mitered(built: &mut Value) {
    for (end, toward) in [("before", [0, 0, 1]), ("after", [0, 0, -1])] {
        built[end]["cut"] = json!("miter");
        built[end]["measured"]["toward"] = json!(toward);
    }
}

#[track_caller]
fn refused(built: &Value) -> String {
    refused_text(&built.to_string())
}

#[track_caller]
fn refused_text(built: &str) -> String {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("built.json"), built).expect("a file");
    let output = run_in(folder.path(), &["close", "built.json"]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
    stderr(&output)
}

/// Two square ends of 60 mm tube, 100 mm apart, in line; touched at four sides each.
fn square() -> Value {
    let end = |z: f64, toward: i32| {
        let rim = [
            [30.0, 0.0, z],
            [0.0, 30.0, z],
            [-30.0, 0.0, z],
            [0.0, -30.0, z],
        ];
        json!({ "cut": "square", "measured": { "rim": rim, "toward": [0, 0, toward] } })
    };
    json!({ "units": "mm", "tube": { "od": 60, "wall": 2 },
        "before": end(0.0, 1), "after": end(100.0, -1) })
}

fn widths(widths: &[f64]) -> Value {
    json!({ "units": "mm", "tube": { "od": 60, "wall": 2 }, "gap": { "widths": widths } })
}

/// A planned example and what was built of it, in one folder.
fn stack() -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    for file in ["stack.json", "stack-built.json"] {
        fs::copy(examples.join(file), folder.path().join(file)).expect("a copy");
    }
    let output = run_in(folder.path(), &["plan", "stack.json", "-o", "results"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    folder
}

const CLOSE: [&str; 4] = ["close", "stack-built.json", "--plan", "results/plan.json"];

#[test]
fn two_square_ends_take_a_square_piece() {
    let (shown, warned) = closed(&square());
    assert!(warned.is_empty(), "{warned}");
    says(&shown, "both ends as they are");
    says(&shown, "TAKE THIS");
    says(&shown, "longest line 100.0 mm (100.00 mm)");
    says(
        &shown,
        "AT THE SAW, from tube with a square end; kerf 1.59 mm",
    );
    // The stop stands a whole piece from the saw, the feed takes the kerf along.
    says(&shown, "1  101.6 mm   101.59 mm  100.0 mm     any  0.00°");
    says(&shown, "saw: start square; end square");
    says(
        &shown,
        "One piece, both ends as they are: the walls step by 0.00 mm at worst, 1.00 mm can be welded",
    );
    says(&shown, "12 stations");
    says(&shown, "24 stations");
    says(&shown, "BEFORE YOU CUT");
}

/// Nothing tells how an end is cut: with a job, whose plan would tell, that was once taken
/// as square without a word.
#[test]
fn a_cut_that_nobody_told_is_not_guessed() {
    let folder = stack();
    let output = run_in(folder.path(), &["close", "stack-built.json"]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
    for end in ["before", "after"] {
        let said = format!("{end}.cut: is not said, and there is no plan to tell it");
        says(&stderr(&output), &said);
    }
    says(
        &stderr(&output),
        "help: give --plan results/plan.json, or write",
    );
    let path = folder.path().join("stack-built.json");
    let text = fs::read_to_string(&path).expect("a file");
    let mut built: Value = serde_json::from_str(&text).expect("JSON");
    say_mitered(&mut built);
    fs::write(&path, built.to_string()).expect("written");
    let output = run_in(folder.path(), &["close", "stack-built.json"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    // The same of a gap's widths.
    let gap = json!({ "job": "stack.json", "gap": { "widths": [7.33, 7.32, 7.34, 7.33] } });
    fs::write(&path, gap.to_string()).expect("written");
    let output = run_in(folder.path(), &["close", "stack-built.json"]);
    assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
    says(
        &stderr(&output),
        "gap: says no 'cut', and there is no plan to tell it",
    );
    // Without a job square is usual, and is said where it is read.
    let mut bare = square();
    bare["after"].as_object_mut().expect("an end").remove("cut");
    let (shown, warned) = closed(&bare);
    for said in [shown, warned] {
        says(
            &said,
            "after.cut: is not said, and there is no plan to tell it: the end is taken as cut square",
        );
    }
    let (_, warned) = closed(&widths(&[100.0, 100.0, 100.0, 100.0]));
    says(&warned, "the piece is taken to start square");
}

/// The plan's stack with welds that pull, closed as tacked; as the sheet puts it.
#[test]
fn the_sheet_says_what_welds_still_pull_and_what_the_root_gap_is() {
    let folder = stack();
    let path = folder.path().join("stack.json");
    let text = fs::read_to_string(&path).expect("a file");
    let mut job: Value = serde_json::from_str(&text).expect("JSON");
    job["shop"] = json!({ "gap": "0.5 mm", "shrinkage": "0.3 mm" });
    fs::write(&path, job.to_string()).expect("written");
    let output = run_in(
        folder.path(),
        &["plan", "stack.json", "-o", "results", "--force"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let shown = stdout(&run_in(folder.path(), &CLOSE));
    says(
        &shown,
        "asked: root gap 0.008 in once welded (of the job's gap of 0.020 in, 0.012 in less that the weld pulls in)",
    );
    says(
        &shown,
        "MEASURED TACKED: welds will still pull in 0.012 in each at joints 0, 1, 2, 5, 6, 7,",
    );
    says(
        &shown,
        "from where it was measured, for the welds still to come",
    );
    let path = folder.path().join("stack-built.json");
    let text = fs::read_to_string(&path).expect("a file");
    let mut built: Value = serde_json::from_str(&text).expect("JSON");
    built["welded"] = json!(true);
    fs::write(&path, built.to_string()).expect("written");
    let shown = stdout(&run_in(folder.path(), &CLOSE));
    says(
        &shown,
        "MEASURED WELDED: no weld behind the gap will pull any more.",
    );
    for (welded, said) in [
        (
            json!([3]),
            "welded[0]: is joint 3, which is one of the gap's own",
        ),
        (
            json!([99]),
            "welded[0]: is 99, but the plan's last joint is 7",
        ),
        (json!("yes"), "welded: is"),
    ] {
        built["welded"] = welded;
        fs::write(&path, built.to_string()).expect("written");
        let output = run_in(folder.path(), &CLOSE);
        assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
        says(&stderr(&output), said);
    }
    built["welded"] = json!([1, 2]);
    built["tacked"] = json!([2]);
    fs::write(&path, built.to_string()).expect("written");
    let messages = stderr(&run_in(folder.path(), &CLOSE));
    says(
        &messages,
        "welded[1]: is joint 2, which is listed under 'tacked' too",
    );
    // Without the plan nobody knows what will pull.
    built["welded"] = json!(false);
    let all = built.as_object_mut().expect("an object");
    all.remove("tacked");
    say_mitered(&mut built);
    fs::write(&path, built.to_string()).expect("written");
    let output = run_in(folder.path(), &["close", "stack-built.json"]);
    says(
        &stderr(&output),
        "without the plan nobody knows how many will still pull",
    );
}

/// Rims known too poorly are not cut by, and what is to be measured is on the piece that
/// is there: pieces 3 and 5 of the example are half an inch of straight tube.
#[test]
fn poor_rims_are_not_taken_and_advice_stays_on_the_piece() {
    let folder = stack();
    let path = folder.path().join("stack-built.json");
    let text = fs::read_to_string(&path).expect("a file");
    let mut built: Value = serde_json::from_str(&text).expect("JSON");
    built["measuring"] = json!({ "point": "4 mm" });
    fs::write(&path, built.to_string()).expect("written");
    let output = run_in(folder.path(), &CLOSE);
    let (shown, warned) = (stdout(&output), stderr(&output));
    assert!(!shown.contains("TAKE THIS"), "{shown}");
    says(&shown, "MEASURE BETTER");
    says(&shown, "Measure both rims better before you cut");
    for far in ["2 in back", "3 in back", "2 in and"] {
        assert!(!warned.contains(far), "{warned}");
    }
}

#[test]
fn the_example_is_closed_and_its_files_are_written_whole() {
    let folder = stack();
    let mut arguments = CLOSE.to_vec();
    arguments.extend(["-o", "closing"]);
    let output = run_in(folder.path(), &arguments);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert!(output.stdout.is_empty());
    says(&stderr(&output), "One piece, both ends as they are");
    says(&stderr(&output), "wrote 7 files to closing");
    let closing = folder.path().join("closing");
    let mut names: Vec<String> = fs::read_dir(&closing)
        .expect("a folder")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    names.sort();
    assert_eq!(
        names,
        [
            "closure-in-place.stl",
            "closure.dxf",
            "closure.json",
            "closure.stl",
            "closure.svg",
            "closure.txt",
            "plan.json"
        ]
    );
    let read = |name: &str| fs::read(closing.join(name)).expect("a file");
    let closure: Value = serde_json::from_slice(&read("closure.json")).expect("JSON");
    assert_eq!(closure["format"], "runwright-closure-1");
    assert_eq!(
        (&closure["advice"], &closure["piece"]),
        (&json!("one piece"), &json!(4))
    );
    // The plan as built: same run, the piece as it is cut, and readable again.
    let plan: Value = serde_json::from_slice(&read("plan.json")).expect("JSON");
    let run = &plan["runs"][0];
    assert_eq!(run["pieces"].as_array().map(Vec::len), Some(7));
    assert_eq!(run["pieces"][3]["long_mm"], closure["closure"]["long_mm"]);
    assert_eq!(run["vertices_mm"][0], json!([0.0, 0.0, 0.0]));
    let cleared = run_in(
        folder.path(),
        &["clear", "closing/plan.json", "--job", "stack.json"],
    );
    assert_ne!(cleared.status.code(), Some(3), "{}", stderr(&cleared));
    // Never over what is there, nor over what was read.
    let again = run_in(folder.path(), &arguments);
    assert_eq!(again.status.code(), Some(1));
    says(&stderr(&again), "--force");
    let over = run_in(
        folder.path(),
        &[&CLOSE[..], &["-o", "results", "--force"]].concat(),
    );
    assert_eq!(over.status.code(), Some(1), "{}", stderr(&over));
    // The same bytes for the same files.
    let twice = run_in(folder.path(), &[&CLOSE[..], &["-o", "twice"]].concat());
    assert_eq!(twice.status.code(), Some(0));
    for name in &names {
        assert_eq!(
            read(name),
            fs::read(folder.path().join("twice").join(name)).expect("a file"),
            "{name}"
        );
    }
}

#[test]
fn widths_make_a_piece_and_name_the_station_that_is_off() {
    let (shown, warned) = closed(&widths(&[
        100.0, 104.0, 106.0, 104.0, 102.3, 96.0, 94.0, 96.0,
    ]));
    says(
        &warned,
        "built.json: gap.widths[4]: station 5 is 2.30 mm off what the others say: wider; it is left out",
    );
    says(&warned, "help: measure it again");
    says(&shown, "LEFT OUT");
    says(
        &shown,
        "Widths do not show whether the two rims stand beside each other",
    );
    let (_, warned) = closed(&widths(&[100.0, 106.0, 100.0, 102.0]));
    says(&warned, "one of stations 1, 2, 3, 4 is off, perhaps by");
    says(&warned, "nothing tells which");
}

#[test]
fn what_cannot_be_closed_says_why_and_ends_with_one() {
    // Two tubes that face away from each other.
    let mut away = square();
    away["before"]["measured"]["toward"] = json!([0, 0, -1]);
    away["after"]["measured"]["toward"] = json!([0, 0, 1]);
    let folder = shop(&away);
    let output = run_in(folder.path(), &["close", "built.json"]);
    let shown = stdout(&output);
    says(
        &shown,
        "none: a straight piece would leave the end before it at 180°",
    );
    assert!(matches!(output.status.code(), Some(0 | 1)));
    // Nearer to each other than a piece can be short.
    let mut near = square();
    for point in near["after"]["measured"]["rim"]
        .as_array_mut()
        .expect("a list")
    {
        point[2] = json!(2.0);
    }
    let folder = shop(&near);
    let output = run_in(folder.path(), &["close", "built.json"]);
    says(&stdout(&output), "short side 2.00 mm, 3.18 mm is asked for");
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "nothing that was tried closes the gap");
}

#[test]
fn everything_that_is_wrong_is_named_with_its_place() {
    let messages = refused(
        &json!({ "units": "furlong", "tube": { "od": 60 }, "befor": {},
        "after": { "cut": "ragged-ish", "measured": { "rim": [[1, 2]] } }, "tacked": [1.5],
        "fit_up": { "high_low": 0 } }),
    );
    for expected in [
        "built.json: units: is the text \"furlong\", which is no unit",
        "built.json: tube.wall: is missing",
        "built.json: befor: is not a known key",
        "did you mean 'before'?",
        "built.json: tacked[0]: is the number 1.5, but must be a whole number",
        "built.json: after.cut: is \"ragged-ish\"",
        "built.json: after.measured.rim",
    ] {
        says(&messages, expected);
    }
    let messages = refused(&json!({ "units": "mm", "tube": { "od": 60, "wall": 2 } }));
    says(&messages, "says nothing of what was built");
    let mut both = square();
    both["gap"] = json!({ "widths": [1, 2, 3, 4] });
    says(&refused(&both), "before: stands beside 'gap'");
    let mut one = square();
    one.as_object_mut().expect("an object").remove("after");
    says(&refused(&one), "after: is missing");
    let mut cut = square();
    cut["before"]["cut"] = json!("squire");
    says(&refused(&cut), "before.cut: is \"squire\"");
    cut["before"]["cut"] = json!(50);
    says(
        &refused(&cut),
        "before.cut: must be from 0° to less than 45°",
    );
    let mut few = square();
    few["before"]["cut"] = json!("ragged");
    few["before"]["measured"]["outside"] = json!([
        [30, 0, -40],
        [0, 30, -60],
        [-30, 0, -80],
        [0, -30, -50],
        [30, 0, -90],
        [0, 30, -20]
    ]);
    says(&refused(&few), "before.measured.rim: has 4 rim points");
    says(
        &refused(&widths(&[100.0, 100.0, 100.0])),
        "gap.widths: has 3 entries",
    );
    says(
        &refused(&widths(&[100.0, -1.0, 100.0, 100.0])),
        "gap.widths[1]: is the number -1.0, but must be more than 0",
    );
    says(&refused_text("[]"), "not what was built");
    says(&refused_text(""), "built.json");
    says(&refused_text("{ \"units\": \"mm\", "), "built.json");
}

#[test]
fn joints_and_pieces_that_are_not_in_the_plan_are_refused() {
    let folder = stack();
    let path = folder.path().join("stack-built.json");
    let text = fs::read_to_string(&path).expect("a file");
    let refused = |change: &dyn Fn(&mut Value)| {
        let mut built: Value = serde_json::from_str(&text).expect("JSON");
        change(&mut built);
        fs::write(&path, built.to_string()).expect("written");
        let output = run_in(folder.path(), &CLOSE);
        assert_eq!(output.status.code(), Some(1), "{}", stdout(&output));
        stderr(&output)
    };
    says(
        &refused(&|b| b["piece"] = json!(12)),
        "piece: is 12, but the plan's last piece is 7",
    );
    says(
        &refused(&|b| b["run"] = json!("stak")),
        "run: there is no run named 'stak'",
    );
    says(
        &refused(&|b| b["tacked"] = json!([1, 99])),
        "tacked[1]: is 99, but the plan's last joint is 7",
    );
    says(
        &refused(&|b| b["tacked"] = json!([3])),
        "tacked[0]: is joint 3, which is one of the gap's own",
    );
    says(
        &refused(&|b| b["before"]["joint"] = json!(99)),
        "before.joint: is 99, on the other side of the closing piece, 4",
    );
    says(
        &refused(&|b| b["tube"] = json!({ "od": 1, "wall": 0.1 })),
        "tube: is the job's to say",
    );
    says(
        &refused(&|b| b["job"] = json!("nowhere.json")),
        "nowhere.json",
    );
}

#[test]
fn the_schema_of_what_was_built_is_printed() {
    let output = run_in(Path::new("."), &["schema", "built"]);
    let schema: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(schema["title"], "Runwright built run");
    assert!(schema["properties"]["before"].is_object());
}

/// Slips that would give a plausible piece of the wrong size: each is told.
#[test]
fn slips_that_would_make_a_wrong_piece_are_told() {
    // Inches for millimeters.
    let mut inches = square();
    for end in ["before", "after"] {
        for point in inches[end]["measured"]["rim"]
            .as_array_mut()
            .expect("points")
        {
            for i in 0..3 {
                point[i] = json!(point[i].as_f64().expect("a number") / 25.4);
            }
        }
    }
    let messages = refused(&inches);
    says(
        &messages,
        "before.measured.rim: the rim points are 2.36 mm apart at most, the tube is 60.00 mm across",
    );
    says(&messages, "help: check the unit");
    // Another tube.
    let mut other = square();
    other["tube"]["od"] = json!(70);
    says(
        &refused(&other),
        "the points are of a tube 60.00 mm across, not 70.00 mm",
    );
    // A miter called square.
    let rim: Vec<[f64; 3]> = (0..8)
        .map(|i| std::f64::consts::TAU * f64::from(i) / 8.0)
        .map(|t| [30.0 * t.cos(), 30.0 * t.sin(), 5.0 * t.cos()])
        .collect();
    let outside: Vec<[f64; 3]> = (0..6)
        .map(|i| std::f64::consts::TAU * f64::from(i) / 6.0)
        .map(|t| [30.0 * t.cos(), 30.0 * t.sin(), -50.0 - 40.0 * t.sin()])
        .collect();
    let mut miter = square();
    miter["before"]["measured"] = json!({ "rim": rim, "outside": outside, "toward": [0, 0, 1] });
    let messages = refused(&miter);
    says(
        &messages,
        "before: is taken as cut square, but its rim points lie about 9.46° off square",
    );
    miter["before"]["cut"] = json!("miter");
    let (shown, _) = closed(&miter);
    says(&shown, "cut 9.46°");
    // One place touched twice.
    let mut again = square();
    again["before"]["measured"]["rim"]
        .as_array_mut()
        .expect("points")
        .push(json!([30, 0, 0.1]));
    let (_, warned) = closed(&again);
    says(
        &warned,
        "before: rim point 5 is at the place of rim point 1",
    );
    // Widths: what cannot be welded is not passed off as good.
    let folder = shop(&widths(&[1.0, 1.0, 1.0, 1.0]));
    let output = run_in(folder.path(), &["close", "built.json"]);
    assert_eq!(output.status.code(), Some(1));
    says(
        &stdout(&output),
        "AGAINST IT: short side 1.00 mm, 3.18 mm is asked for",
    );
    let one_side = json!({ "units": "mm", "tube": { "od": 60, "wall": 2 }, "gap": { "stations": [
        { "clock": 0, "width": 100 }, { "clock": 10, "width": 100 },
        { "clock": 20, "width": 100 }, { "clock": 30, "width": 100 } ] } });
    says(&refused(&one_side), "the stations do not go round the tube");
    let (_, warned) = closed(&widths(&[100.0, 108.0, 100.0, 100.0, 105.0, 100.0, 100.0]));
    says(&warned, "the stations disagree");
}

/// 0° was said to be the start's long side, which was given at 20° from the first station.
#[test]
fn clocks_of_a_taped_gap_count_from_its_first_station() {
    let text = include_bytes!("hostile/gap.json");
    let gap = serde_json::from_slice(text).expect("JSON");
    let (sheet, _) = closed(&gap);
    says(&sheet, "start 8.00° with its long side at 20.00°");
    says(&sheet, "0° is where the marks below say");
    says(&sheet, "station 1 is at 0.00°");
}

/// Slips beside a plan.
#[test]
fn what_does_not_go_with_the_plan_is_told() {
    let folder = stack();
    let path = folder.path().join("stack-built.json");
    let text = fs::read_to_string(&path).expect("a file");
    let close_with = |change: &dyn Fn(&mut Value)| {
        let mut built: Value = serde_json::from_str(&text).expect("JSON");
        change(&mut built);
        fs::write(&path, built.to_string()).expect("written");
        run_in(folder.path(), &CLOSE)
    };
    // Every point of one end an inch high.
    let high = close_with(&|built| {
        for list in ["rim", "outside"] {
            for point in built["after"]["measured"][list]
                .as_array_mut()
                .expect("points")
            {
                point[2] = json!(point[2].as_f64().expect("a number") + 1.0);
            }
        }
    });
    says(&stderr(&high), "stack-built.json: after: stands 1.0");
    says(
        &stderr(&high),
        "off the plan; builds like this are seldom off by more than",
    );
    // The plan cuts this end aslant.
    let width = close_with(&|built| {
        let all = built.as_object_mut().expect("an object");
        all.remove("before");
        all.remove("after");
        all.insert(
            "gap".to_owned(),
            json!({ "widths": [7.33, 7.32, 7.34, 7.33] }),
        );
    });
    assert_eq!(width.status.code(), Some(1));
    says(
        &stderr(&width),
        "gap: says no 'cut', but the plan cuts joint 3 at 8.31°",
    );
    // Another job's ports, another job's tube.
    let job = fs::read_to_string(folder.path().join("stack.json")).expect("a file");
    fs::write(
        folder.path().join("stack.json"),
        job.replace("\"8 1/2\", 4, 10", "\"8 1/2\", 5, 10"),
    )
    .expect("written");
    let moved = close_with(&|_| {});
    says(
        &stderr(&moved),
        "plan: has port 'exit' 1.000 in and 0.00° off where the job has it now",
    );
    fs::write(folder.path().join("stack.json"), job.replace("2.5", "3")).expect("written");
    let other = close_with(&|_| {});
    assert_eq!(other.status.code(), Some(1));
    says(
        &stderr(&other),
        "plan: the plan is for tube of 2.500 in OD × 0.065 in wall, the job has 3.000 in",
    );
}
