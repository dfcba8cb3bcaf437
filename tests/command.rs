//! The program as a user meets it: exit code and both streams.

#[path = "support/program.rs"]
mod program;

use program::{runwright, says, stderr, stdout};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use tempfile::TempDir;

const SMALLEST: &str = include_str!("../examples/stack.json");

/// A folder with a job file in it.
struct Shop {
    folder: TempDir,
}

impl Shop {
    fn with(job: impl AsRef<[u8]>) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("job.json"), job).expect("a job file");
        Self { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn text(&self, name: &str) -> String {
        self.path(name).to_string_lossy().into_owned()
    }

    fn plan(&self, more: &[&str]) -> Output {
        let (job, out) = (self.text("job.json"), self.text("out"));
        let mut arguments = vec!["plan", &job, "-o", &out];
        arguments.extend(more);
        runwright(&arguments)
    }

    /// The messages with the folder's name taken out.
    fn messages(&self, output: &Output) -> String {
        let folder = format!("{}/", self.folder.path().display());
        stderr(output).replace(&folder, "")
    }
}

/// Runs `check` and `plan` on a job that must be refused: exit code 1, nothing on
/// stdout, nothing written. Returns what was said.
fn refused(job: impl AsRef<[u8]>) -> String {
    let shop = Shop::with(job);
    let checked = runwright(&["check", &shop.text("job.json")]);
    assert_eq!(checked.status.code(), Some(1), "{}", stderr(&checked));
    assert_eq!(stdout(&checked), "");
    let planned = shop.plan(&[]);
    assert_eq!(planned.status.code(), Some(1), "{}", stderr(&planned));
    assert!(!shop.path("out").exists(), "nothing is written");
    shop.messages(&checked)
}

/// The smallest job with one text replaced.
fn with(old: &str, new: &str) -> String {
    assert!(SMALLEST.contains(old), "{old}");
    SMALLEST.replace(old, new)
}

// --- plan ---

#[test]
fn plan_writes_every_file() {
    let shop = Shop::with(SMALLEST);
    let output = shop.plan(&["--pieces"]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    assert_eq!(stdout(&output), "", "data goes to files");
    for name in [
        "plan.json",
        "sheet.txt",
        "pieces.csv",
        "patterns.svg",
        "patterns.dxf",
        "card.svg",
        "card.dxf",
        "clock-tape.svg",
        "cradle.svg",
        "cradle.dxf",
        "run.svg",
        "views.svg",
        "run.stl",
        "pieces/stack-01.stl",
    ] {
        let size = fs::metadata(shop.path("out").join(name)).map(|m| m.len());
        assert!(size.is_ok_and(|size| size > 100), "{name}");
    }
}

#[test]
fn plan_json_holds_what_other_programs_read() {
    let shop = Shop::with(SMALLEST);
    assert!(shop.plan(&[]).status.success());
    let text = fs::read_to_string(shop.path("out/plan.json")).unwrap();
    let plan: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(plan["format"], "runwright-plan-1");
    let run = &plan["runs"][0];
    for key in [
        "name",
        "vertices_mm",
        "bends",
        "pieces",
        "joints",
        "length_mm",
        "clearance_mm",
        "cost",
        "stopped",
    ] {
        assert!(run.get(key).is_some(), "runs[0].{key}");
    }
    for key in [
        "length_mm",
        "start_cut_deg",
        "end_cut_deg",
        "clock_deg",
        "long_mm",
        "short_mm",
    ] {
        assert!(run["pieces"][0][key].is_f64(), "runs[0].pieces[0].{key}");
    }
    assert!(
        plan["alternatives"]
            .as_array()
            .is_some_and(|all| !all.is_empty())
    );
    assert_eq!(run["stopped"], "choices-tried");
    let pieces = run["pieces"].as_array().unwrap().len();
    assert_eq!(run["joints"].as_array().unwrap().len(), pieces + 1);
    assert_eq!(run["vertices_mm"].as_array().unwrap().len(), pieces + 1);
}

#[test]
fn a_plan_says_how_far_off_it_may_end_and_what_to_leave_for_last() {
    let better = r#""shop": { "accuracy": { "clock": 0.25, "length": "1/4 mm" } }, "runs": ["#;
    let exact = r#""measuring": { "point": 0, "direction": 0 }, "runs": ["#;
    let exact = with(r#""runs": ["#, exact);
    let (usual, better) = (
        Shop::with(exact.clone()),
        Shop::with(exact.replacen(r#""runs": ["#, better, 1)),
    );
    let stack_up = |shop: &Shop| -> serde_json::Value {
        assert!(shop.plan(&[]).status.success());
        let text = fs::read_to_string(shop.path("out/plan.json")).unwrap();
        let plan: serde_json::Value = serde_json::from_str(&text).unwrap();
        plan["runs"][0]["stack_up"].clone()
    };
    let (first, second) = (stack_up(&usual), stack_up(&better));
    let distance = |found: &serde_json::Value| found["gap"]["distance_mm"].as_f64().unwrap();
    // Clocks make more than half of the mean square.
    assert!(distance(&first) > 1.4 * distance(&second));
    assert_eq!(first["shares"][0]["kind"], "clock");
    assert_eq!(first["closure"]["piece"], 4);
    assert!(first["closure"]["trim_mm"].as_f64() > second["closure"]["trim_mm"].as_f64());
    let sheet = fs::read_to_string(usual.path("out/sheet.txt")).unwrap();
    says(&sheet, "HOW FAR OFF IT MAY END at 'exit'");
    says(&sheet, "most of it: clock at joint 1");
    says(
        &sheet,
        "LEAVE PIECE 4 FOR LAST and cut it 3/8 in longer than listed under PIECES",
    );
    // Whoever cuts by the rows alone keeps the spare too.
    says(&sheet, "for last, +3/8 in");
    let sheet = fs::read_to_string(better.path("out/sheet.txt")).unwrap();
    says(&sheet, "lengths 0.010 in, clocks 0.25°");
}

#[test]
fn where_no_piece_can_close_a_run_the_sheet_says_so() {
    let rough = r#""shop": { "accuracy": { "cut": 10, "clock": 10 } }, "runs": ["#;
    let shop = Shop::with(with(r#""runs": ["#, rough));
    assert!(shop.plan(&[]).status.success());
    let sheet = fs::read_to_string(shop.path("out/sheet.txt")).unwrap();
    says(&sheet, "No piece is long enough to be left for last");
    let plan = fs::read_to_string(shop.path("out/plan.json")).unwrap();
    says(&plan, "\"closure\": null");
}

#[test]
fn a_shop_without_errors_is_told_of_none() {
    let exact = r#""measuring": { "point": 0, "direction": 0 }, "shop": { "accuracy": { "cut": 0, "length": 0, "clock": 0, "bend": 0 } }, "runs": ["#;
    let shop = Shop::with(with(r#""runs": ["#, exact));
    assert!(shop.plan(&[]).status.success());
    let sheet = fs::read_to_string(shop.path("out/sheet.txt")).unwrap();
    assert!(!sheet.contains("HOW FAR OFF"), "{sheet}");
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let (first, second) = (Shop::with(SMALLEST), Shop::with(SMALLEST));
    assert!(first.plan(&[]).status.success());
    assert!(second.plan(&[]).status.success());
    for entry in fs::read_dir(first.path("out")).unwrap() {
        let name = entry.unwrap().file_name();
        let read = |shop: &Shop| fs::read(shop.path("out").join(&name)).unwrap();
        assert!(read(&first) == read(&second), "{name:?} differs");
    }
}

#[test]
fn files_are_replaced_only_when_told() {
    let shop = Shop::with(SMALLEST);
    fs::create_dir(shop.path("out")).unwrap();
    fs::write(shop.path("out/sheet.txt"), "my notes").unwrap();
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "sheet.txt");
    says(&stderr(&output), "--force");
    assert_eq!(
        fs::read_dir(shop.path("out")).unwrap().count(),
        1,
        "nothing else is written"
    );
    assert_eq!(
        fs::read_to_string(shop.path("out/sheet.txt")).unwrap(),
        "my notes"
    );
    assert!(shop.plan(&["--force"]).status.success());
    assert_ne!(
        fs::read_to_string(shop.path("out/sheet.txt")).unwrap(),
        "my notes"
    );
}

#[test]
fn runs_that_collide_are_planned_with_a_warning() {
    let job = r#"{ "units": "in", "tube": { "od": 2, "wall": 0.065 },
        "ports": {
            "a": { "center": [0, 0, 0], "outward": [0, 0, 1] },
            "b": { "center": [0, 0, 20], "outward": [0, 0, -1] },
            "c": { "center": [-10, 1, 10], "outward": [1, 0, 0] },
            "d": { "center": [10, 1, 10], "outward": [-1, 0, 0] } },
        "runs": [ { "name": "up", "from": "a", "to": "b" },
                  { "name": "across", "from": "c", "to": "d" } ] }"#;
    let shop = Shop::with(job);
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(0));
    says(
        &stderr(&output),
        "runs 'up' and 'across' run into each other by 1 in at (0.000, 0.500, 10.000) in",
    );
    let text = fs::read_to_string(shop.path("out/plan.json")).unwrap();
    let plan: serde_json::Value = serde_json::from_str(&text).unwrap();
    // Axes 1 in apart, radii 1 in each: 25.4 − 50.8 mm.
    assert!((plan["runs"][0]["clearance_mm"].as_f64().unwrap() + 25.4).abs() < 1e-9);
}

#[test]
fn a_port_that_points_into_its_flange_is_suspected() {
    let shop = Shop::with(with("[-1, 0, 0]", "[1, 0, 0]"));
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(0));
    says(&stderr(&output), "does 'exit' point into its flange?");
}

#[test]
fn the_job_file_is_never_overwritten() {
    let shop = Shop::with("");
    let job = shop.text("plan.json");
    fs::write(&job, SMALLEST).unwrap();
    let folder = shop.folder.path().to_string_lossy().into_owned();
    let output = runwright(&["plan", &job, "-o", &folder, "--force"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "plan.json is the file that was read");
    assert_eq!(fs::read_to_string(&job).unwrap(), SMALLEST);
}

#[test]
fn runs_with_names_alike_in_file_names_keep_all_their_pieces() {
    // Once: 'cyl 1' and 'cyl-1' wrote each other's pieces over.
    let job = r#"{ "units": "in", "tube": { "od": 2, "wall": 0.065 },
        "ports": {
            "a": { "center": [0, 0, 0], "outward": [0, 0, 1] },
            "b": { "center": [0, 0, 20], "outward": [0, 0, -1] },
            "c": { "center": [9, 0, 0], "outward": [0, 0, 1] },
            "d": { "center": [9, 0, 20], "outward": [0, 0, -1] } },
        "runs": [ { "name": "cyl 1", "from": "a", "to": "b" },
                  { "name": "cyl-1", "from": "c", "to": "d" } ] }"#;
    let shop = Shop::with(job);
    assert!(shop.plan(&["--pieces"]).status.success());
    assert_eq!(fs::read_dir(shop.path("out/pieces")).unwrap().count(), 2);
}

#[test]
fn ports_too_close_say_what_binds_and_what_would_help() {
    let messages = {
        let shop = Shop::with(with(r#"["8 1/2", 4, 10]"#, "[1, 0, 3]"));
        let output = shop.plan(&[]);
        assert_eq!(output.status.code(), Some(1));
        assert!(!shop.path("out").exists());
        shop.messages(&output)
    };
    says(
        &messages,
        "job.json: runs[0]: run 'stack': no route of up to 5 bends was found from 'outlet' to 'exit'",
    );
    says(&messages, "help: any one of these makes it possible:");
}

// --- check, new, schema ---

#[test]
fn check_shows_the_job_with_defaults_filled_in() {
    let shop = Shop::with(SMALLEST);
    let output = runwright(&["check", &shop.text("job.json")]);
    assert_eq!(output.status.code(), Some(0));
    let expected = "\
job: no problems
port 'outlet': center (0.000, 0.000, 0.000) in, outward (0.0000, 0.0000, 1.0000), straight 1/2 in, socket 0 in
  known to, two of three within: center 0.020 in any way; direction 0.50° any way
  one reading more that would help most: a point on a straight rod held in the middle of the port, 12 in out of the face; then 0.020 in and 0.13°
port 'exit': center (8.500, 4.000, 10.000) in, outward (-1.0000, 0.0000, 0.0000), straight 1/2 in, socket 0 in
  known to, two of three within: center 0.020 in any way; direction 0.50° any way
  one reading more that would help most: a point on a straight rod held in the middle of the port, 12 in out of the face; then 0.020 in and 0.13°
measuring, two of three within: point 0.020 in, tape 0.039 in, caliper 0.004 in, scan 0.020 in, pin 0.000 in; level 0.20°, heading 1.00°, direction 0.50°
making, two of three within: saw cut 0.25°, saw setting 0.00°, length 0.020 in, clock 1.00°, stock bend 0.50°
quote, no currency: filler 14 a lb, 0.75 of the wall's square in a weld, rod 0.063 in; gas 0.4 a ft³, 15 ft³/h for 0.5 of the weld's time
  purge as the material calls for: bore 6 times over, then 10 ft³/h; 30 minutes for the job; overhead 0 % of labor, markup 20 %
  to compare with where no stock bends are listed: 90° mandrel bend, leg 4.000 in, no price
sticks: as long as each run takes
leftovers from 6 in on are kept
run 'stack': 'outlet' to 'exit'
  tube 2.500 in OD × 0.065 in wall, 304; CLR 3.750 in; outside swing 5 in
  cuts 9.00° usual, 11.25° at most; short side 1/8 in at least; 0 in between bends
  a 90° bend takes 5 joints cut at 9.00°
  kerf 0.063 in, root gap 0.000 in, shrinkage 0.000 in a joint
  weld seams of neighbors apart from each other
  up to 5 bends; pies may be cut
  rates: 75 an hour, 12 a foot of tube; minutes: 4 a saw setting, 2 a stop setting, 2 a clock, 2 a cut, 4 a fit-up; weld 2 in a minute
  weights: 0 a foot of run, 0 a velocity head of flow loss, 300 a foot off the wished length
  density 8 g/cm³ (ASM material data sheet, type 304, seen)
  mean expansion, 10⁻⁶/°C: 17.3 to 100 °C (ASM material data sheet, type 304, seen); 17.8 to 315 °C (ASM material data sheet, type 304, seen); 18.7 to 650 °C (ASM material data sheet, type 304, seen)
  how hot it gets is not said; no slip joint or flexible part; flange welds shown apart
";
    assert_eq!(stdout(&output), expected);
}

#[test]
fn new_writes_a_job_that_plans() {
    let shop = Shop::with("");
    let file = shop.text("first.json");
    let output = runwright(&[
        "new",
        &file,
        "--units",
        "mm",
        "--od",
        "60.3",
        "--to-outward",
        "-1,0,0",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let out = shop.text("out");
    assert!(runwright(&["plan", &file, "-o", &out]).status.success());
    let again = runwright(&["new", &file]);
    assert_eq!(again.status.code(), Some(1));
    says(&stderr(&again), "is there already");
}

#[test]
fn new_refuses_what_check_would_refuse() {
    let shop = Shop::with("");
    let file = shop.text("first.json");
    let output = runwright(&["new", &file, "--od", "2 furlong"]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "tube.od");
    assert!(!Path::new(&file).exists());
}

#[test]
fn new_takes_fractions_for_a_direction_and_units_by_name() {
    let shop = Shop::with("");
    let file = shop.text("first.json");
    let output = runwright(&[
        "new",
        &file,
        "--units",
        "inches",
        "--to-outward",
        "-14 3/16, 8 5/32, 22 1/2",
    ]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let job: Value = serde_json::from_slice(&fs::read(&file).unwrap()).unwrap();
    assert_eq!(job["units"], "in");
    let outward = &job["ports"]["exit"]["outward"];
    assert_eq!(*outward, serde_json::json!([-14.1875, 8.15625, 22.5]));
}

#[test]
fn the_shipped_schema_is_the_one_the_types_make() {
    let output = runwright(&["schema"]);
    assert_eq!(output.status.code(), Some(0));
    let shipped = include_str!("../examples/job.schema.json");
    assert_eq!(
        stdout(&output),
        shipped,
        "run: runwright schema > examples/job.schema.json"
    );
}

#[test]
fn the_readme_picture_is_the_one_the_program_makes() {
    let shop = Shop::with(SMALLEST);
    assert!(shop.plan(&[]).status.success());
    let made = fs::read_to_string(shop.path("out/run.svg")).unwrap();
    assert!(
        made == include_str!("../examples/stack.svg"),
        "copy run.svg to examples/stack.svg"
    );
}

#[test]
fn every_example_plans() {
    for entry in fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/examples")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let is_job = !name.ends_with(".schema.json") && !name.ends_with("-built.json");
        if name.ends_with(".json") && is_job {
            let shop = Shop::with(fs::read(&path).unwrap());
            let output = shop.plan(&[]);
            assert_eq!(output.status.code(), Some(0), "{name}: {}", stderr(&output));
        }
    }
}

#[test]
fn wrong_usage_exits_with_2() {
    for arguments in [
        &["plan"][..],
        &["plan", "x", "-o", "y", "--chord-tolerance", "0"],
        &["frobnicate"],
    ] {
        assert_eq!(runwright(arguments).status.code(), Some(2), "{arguments:?}");
    }
}

#[test]
fn every_command_shows_an_example() {
    for command in ["plan", "check", "new", "schema"] {
        says(
            &stdout(&runwright(&[command, "--help"])),
            "Example: runwright",
        );
    }
}

// --- input that is refused ---

#[test]
fn all_problems_are_reported_at_once_with_the_nearest_key() {
    let job = r#"{ "units": "inch", "tube": { "od": 2.5, "wal": 0.065 },
        "ports": { "a": { "center": [0, 0], "outward": [0, 0, 0] },
                   "b": { "center": [1, "2 furlong", 3], "outward": [0, 0, 1], "sockets": 1 } },
        "runs": [ { "name": "x", "from": "a", "to": "c" }, { "name": "x", "from": "b", "to": "b" } ] }"#;
    let messages = refused(job);
    for expected in [
        "job.json: tube.wal: is not a known key\nhelp: did you mean 'wall'?",
        "job.json: ports.b.sockets: is not a known key\nhelp: did you mean 'socket'?",
        "job.json: units: is the text \"inch\", which is no unit\nhelp: use one of in, mm, cm, m, ft",
        "job.json: tube.wall: is missing",
        "job.json: ports.a.center: has 2 entries\nhelp: give three: x, y, z",
        "job.json: ports.a.outward: is zero, which points nowhere",
        "job.json: ports.b.center[1]: \"2 furlong\" has the unknown unit 'furlong'",
        "job.json: runs[0].to: there is no port named 'c'",
        "job.json: runs[1].name: is the name of another run too",
    ] {
        says(&messages, expected);
    }
}

#[test]
fn an_empty_object_lists_what_a_job_needs() {
    let messages = refused("{}");
    for key in ["units", "tube", "ports", "runs"] {
        says(&messages, &format!("job.json: {key}: is missing"));
    }
}

#[test]
fn values_of_the_wrong_shape_are_named_once() {
    let messages = refused(r#"{ "units": "in", "tube": 3, "ports": [], "runs": { } }"#);
    says(&messages, "tube: is the number 3, but must be an object");
    says(&messages, "ports: is a list of 0, but must be an object");
    says(&messages, "runs: is an object, but must be a list");
    assert!(!messages.contains("is missing"), "{messages}");
}

#[test]
fn a_list_is_not_taken_for_an_object_by_position() {
    let messages = refused(with(
        r#"{ "od": 2.5, "wall": 0.065, "material": "304" }"#,
        r#"[2.5, 0.065, "304"]"#,
    ));
    says(&messages, "tube: is a list of 3, but must be an object");
}

#[test]
fn a_wall_as_thick_as_the_radius_leaves_no_bore() {
    let messages = refused(with("0.065", "1.25"));
    says(
        &messages,
        "tube.wall: the wall must be less than half the outside diameter",
    );
}

#[test]
fn numbers_that_are_no_lengths_are_refused() {
    says(
        &refused(with("2.5", "-2.5")),
        "tube.od: is the number -2.5, but must be more than 0",
    );
    says(
        &refused(with("2.5", "0")),
        "tube.od: is the number 0, but must be more than 0",
    );
    says(
        &refused(with("2.5", "true")),
        "tube.od: is true, but must be a length",
    );
    says(
        &refused(with("2.5", "\"nan\"")),
        "tube.od: \"nan\" has no number",
    );
    says(&refused(with("2.5", "NaN")), "is not valid JSON");
    says(&refused(with("2.5", "Infinity")), "is not valid JSON");
    says(&refused(with("2.5", "1e999")), "number out of range");
    says(&refused(with("2.5", "1e300")), "more than 100 m");
}

#[test]
fn repeated_names_are_refused() {
    says(
        &refused(with("\"exit\": {", "\"outlet\": {")),
        "ports.outlet: this name is given twice",
    );
}

#[test]
fn names_that_paper_cannot_show_are_refused() {
    says(
        &refused(with("\"stack\"", "\"a\\u0000b\"")),
        "runs[0].name: holds a control character",
    );
    says(
        &refused(with("\"stack\"", "\" \"")),
        "runs[0].name: is empty",
    );
}

#[test]
fn a_kerf_wider_than_any_saw_s_is_refused() {
    let shop = r#""runs": ["#;
    let messages = refused(with(shop, r#""shop": { "kerf": 3 }, "runs": ["#));
    says(&messages, "shop.kerf: is more than 1/2 in");
}

#[test]
fn rates_beyond_any_shop_s_are_refused() {
    let rates = |key: &str, value: &str| {
        let shop = format!(r#""shop": {{ "rates": {{ "{key}": {value} }} }}, "runs": ["#);
        refused(with(r#""runs": ["#, &shop))
    };
    says(
        &rates("labor_per_hour", "1e308"),
        "shop.rates.labor_per_hour: is",
    );
    says(&rates("cut_minutes", "-1"), "must be 0 or more");
    says(
        &rates("weld_per_minute", "1e-300"),
        "shop.rates.weld_per_minute: is less than 0.1 mm",
    );
}

#[test]
fn an_accuracy_that_is_none_is_refused() {
    let accuracy = |key: &str, value: &str| {
        let shop = format!(r#""shop": {{ "accuracy": {{ "{key}": {value} }} }}, "runs": ["#);
        refused(with(r#""runs": ["#, &shop))
    };
    says(
        &accuracy("cut", "-0.1"),
        "shop.accuracy.cut: must be from 0° to 10°",
    );
    says(&accuracy("clock", "\"11 deg\""), "must be from 0° to 10°");
    says(
        &accuracy("length", "2"),
        "shop.accuracy.length: is more than 1/2 in",
    );
    says(&accuracy("length", "-1"), "must not be negative");
    says(&accuracy("bend", "true"), "must be an angle");
    says(&accuracy("clok", "1"), "clock");
}

#[test]
fn thousands_of_problems_are_counted_not_shown() {
    let ports: Vec<String> = (0..1900).map(|i| format!("\"p{i}\": 3")).collect();
    let job = format!(
        "{{ \"units\": \"in\", \"ports\": {{ {} }} }}",
        ports.join(", ")
    );
    let messages = refused(job);
    says(&messages, "more like these");
    assert!(
        messages.lines().count() < 110,
        "{}",
        messages.lines().count()
    );
    assert!(!messages.contains("is missing"));
}

#[test]
fn ports_that_coincide_are_refused() {
    let messages = refused(with(r#"["8 1/2", 4, 10]"#, "[0, 0, 0]"));
    says(
        &messages,
        "runs[0]: ports 'outlet' and 'exit' are at the same place",
    );
}

#[test]
fn a_direction_may_have_any_length() {
    let shop = Shop::with(with("[-1, 0, 0]", "[-3, 0, 0]"));
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(stderr(&output).matches("warning").count(), 0);
}

#[test]
fn a_clr_inside_the_tube_is_refused() {
    let messages = refused(with(r#""to": "exit""#, r#""to": "exit", "clr": 1.25"#));
    says(
        &messages,
        "runs[0].clr: is 1.250 in, not more than the tube's radius of 1.250 in",
    );
}

#[test]
fn a_fraction_without_quotes_is_told_to_take_them() {
    // Once: "expected `,` or `]`", and to fix the JSON there.
    let messages = refused(with("\"8 1/2\", 4", "14 3/16, 4"));
    says(&messages, "is not valid JSON");
    says(
        &messages,
        "help: put fractions and units in double quotes: \"14 3/16\"",
    );
    let messages = refused(with("\"od\": 2.5", "\"od\": 63.5 mm"));
    says(&messages, "in double quotes: \"63.5 mm\"");
    // What is no quantity is told as before.
    says(&refused(with("2.5", "NaN")), "help: fix the JSON there");
}

#[test]
fn a_decimal_comma_and_a_gauge_are_told_as_what_they_are() {
    // Once: "has the unknown unit ','".
    let messages = refused(with("\"od\": 2.5", "\"od\": \"63,5\""));
    says(&messages, "tube.od: \"63,5\" has a comma");
    says(&messages, "help: write a decimal point, such as 63.5");
    let messages = refused(with("0.065", "\"16 ga\""));
    says(&messages, "tube.wall: \"16 ga\" is a gauge");
    says(&messages, "help: measure it with a caliper");
}

#[test]
fn whole_numbers_may_have_a_point_and_others_are_told_what_to_give() {
    let bends = |value: &str| {
        with(
            "\"to\": \"exit\"",
            &format!("\"to\": \"exit\", \"max_bends\": {value}"),
        )
    };
    let shop = Shop::with(bends("2.0"));
    assert!(
        runwright(&["check", &shop.text("job.json")])
            .status
            .success()
    );
    for value in ["6", "-1", "2.5"] {
        let messages = refused(bends(value));
        says(&messages, "must be a whole number from 0 to 5");
        says(&messages, "help: give one of 0 to 5");
    }
    says(&refused(bends("\"2\"")), "help: write it without quotes");
}

#[test]
fn a_file_given_for_another_is_called_by_its_name() {
    let shop = Shop::with(SMALLEST);
    assert!(shop.plan(&["--no-packet"]).status.success());
    let built = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/stack-built.json");
    let (job, plan, stl) = (
        shop.text("job.json"),
        shop.text("out/plan.json"),
        shop.text("out/run.stl"),
    );
    let paper = shop.text("paper");
    for (command, file, message) in [
        (
            "packet",
            &job,
            "job.json: is a job, not a plan\nhelp: plan it with: runwright plan",
        ),
        (
            "packet",
            &stl,
            "run.stl: is an STL file, not JSON\nhelp: give the file of a job",
        ),
        (
            "packet",
            &built.to_owned(),
            "is what was built of a run, not a plan",
        ),
        (
            "plan",
            &plan,
            "plan.json: is a plan, not a job\nhelp: give the job that it was",
        ),
        ("plan", &stl, "run.stl: is an STL file, not JSON"),
        (
            "plan",
            &built.to_owned(),
            "is what was built of a run, not a job",
        ),
        (
            "close",
            &job,
            "job.json: is a job, not what was built of a run",
        ),
        (
            "close",
            &plan,
            "plan.json: is a plan, not what was built of a run",
        ),
    ] {
        let output = runwright(&[command, file, "-o", &paper]);
        assert_eq!(output.status.code(), Some(1), "{command} {file}");
        says(&stderr(&output), message);
        // And nothing else: once, a plan given as a job had fifty unknown keys.
        assert_eq!(stderr(&output).matches("help:").count(), 1, "{file}");
    }
}

#[test]
fn text_that_is_not_utf8_is_refused() {
    says(
        &refused(b"{ \"units\": \"\xff\" }"),
        "is not UTF-8 text: byte 12 is wrong",
    );
}

#[test]
fn deep_nesting_is_refused() {
    says(&refused("[".repeat(100_000)), "recursion limit");
    says(&refused("{\"a\":".repeat(100_000)), "recursion limit");
}

#[test]
fn a_hundred_megabytes_of_junk_are_refused_unread() {
    let shop = Shop::with("");
    let file = fs::File::create(shop.path("job.json")).unwrap();
    file.set_len(100 * 1024 * 1024).unwrap();
    let begun = std::time::Instant::now();
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "too large for a job");
    assert!(begun.elapsed().as_secs() < 5, "it is not read to its end");
}

#[test]
fn a_missing_file_and_a_folder_are_refused() {
    for name in ["nowhere.json", "."] {
        let shop = Shop::with("");
        let output = runwright(&["check", &shop.text(name)]);
        assert_eq!(output.status.code(), Some(1));
        says(
            &stderr(&output),
            "help: check the name and that you may read it",
        );
    }
}

// --- scenes, stock, free ports ---

#[test]
fn everything_wrong_with_a_scene_is_said_at_once() {
    let scene = r#""scene": {
        "clearance": -1,
        "keep_out": [
            { "name": "two", "box": { "min": [0, 0, 0], "max": [1, 1, 1] }, "plane": { "point": [0, 0, 0], "normal": [0, 0, 1] } },
            { "name": "flat", "box": { "min": [0, 0, 0], "max": [1, 0, 1] } },
            { "name": "short", "cylinder": { "from": [1, 1, 1], "to": [1, 1, 1], "radius": 2 } },
            { "box": { "min": [0, 0, 0], "max": [1, 1, 1] } }
        ] },
        "runs": ["#;
    let messages = refused(with(r#""runs": ["#, scene));
    for part in [
        "scene.clearance: is the number -1, but must not be negative",
        "scene.keep_out[0]: must be one body",
        "scene.keep_out[1].box: is not larger at 'max' than at 'min' along every axis",
        "scene.keep_out[2].cylinder: has no length",
        "scene.keep_out[3].name: is missing",
    ] {
        says(&messages, part);
    }
}

/// Once: a box whose corners were mixed up counted as one turned inside out.
#[test]
fn a_box_with_its_corners_mixed_up_is_refused() {
    let scene = r#""scene": { "keep_out": [
        { "name": "box", "box": { "min": [90, 0, 0], "max": [9, 5, 5] } }
        ] },
        "runs": ["#;
    says(
        &refused(with(r#""runs": ["#, scene)),
        "scene.keep_out[0].box: is not larger at 'max' than at 'min' along every axis",
    );
}

#[test]
fn everything_wrong_with_a_run_s_wishes_is_said_at_once() {
    let wishes = r#""to": "exit", "made_of": "stock", "max_bends": 9, "one_setting": "yes",
        "through": [{ "name": "hole", "center": [1, 1, 1], "direction": [1, 0, 0], "radius": 1 }]"#;
    let messages = refused(with(r#""to": "exit""#, wishes));
    for part in [
        "runs[0].max_bends: is the number 9, but must be a whole number from 0 to 5",
        "runs[0].one_setting: is the text \"yes\", but must be true or false",
        "runs[0].through[0].radius: is not more than the tube's: it does not go through",
    ] {
        says(&messages, part);
    }
    let stock = with(r#""to": "exit""#, r#""to": "exit", "made_of": "stock""#);
    says(
        &refused(stock),
        "runs[0].made_of: asks for stock bends, but the shop has none that fit the run",
    );
    let swing = with(r#""to": "exit""#, r#""to": "exit", "max_swing": 4"#);
    says(&refused(swing), "runs[0].max_swing: is 4.000 in");
}

#[test]
fn elbows_and_saw_angles_that_are_none_are_refused() {
    let shop = r#""shop": { "saw_angles": [0, 50], "bends": [
        { "b16_9": "2 XL 90" }, { "name": "own", "clr": 3, "turn": 190 } ] }, "runs": ["#;
    let messages = refused(with(r#""runs": ["#, shop));
    for part in [
        "shop.saw_angles[0]: must be more than 0° and less than 45°",
        "shop.saw_angles[1]: must be more than 0° and less than 45°",
        "shop.bends[0].b16_9: \"2 XL 90\" is no elbow that is known here",
        "shop.bends[1].turn: must be more than 0° and less than 180°",
    ] {
        says(&messages, part);
    }
}

#[test]
fn a_stock_bend_that_fits_no_run_is_warned_of() {
    let shop = r#""shop": { "bends": [{ "b16_9": "4 LR 90" }] }, "runs": ["#;
    let shop = Shop::with(with(r#""runs": ["#, shop));
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    says(
        &shop.messages(&output),
        "shop.bends[0]: 'NPS 4 LR 90' fits no run",
    );
}

#[test]
fn a_port_that_slides_twice_the_same_way_is_refused() {
    let free = r#""outward": [-1, 0, 0], "cone": 85, "slide": [{ "along": [0, 0, 1] }]"#;
    let messages = refused(with(r#""outward": [-1, 0, 0]"#, free));
    says(&messages, "ports.exit.cone: must be from 0° to 80°");
    let twice = r#""outward": [-1, 0, 0],
        "slide": [{ "along": [0, 0, 1], "ahead": 1 }, { "along": [0, 0, -2], "ahead": 1 }]"#;
    let messages = refused(with(r#""outward": [-1, 0, 0]"#, twice));
    says(
        &messages,
        "ports.exit.slide: holds more than three slides, or some that point the same way",
    );
}

#[test]
fn the_shipped_examples_plan() {
    for example in ["bay", "charge", "copy", "duct", "stack", "tight"] {
        let job = fs::read(format!("examples/{example}.json")).expect("an example");
        let shop = Shop::with(job);
        let output = shop.plan(&["--effort", "quick"]);
        assert_eq!(
            output.status.code(),
            Some(0),
            "{example}: {}",
            stderr(&output)
        );
    }
}

#[test]
fn runs_of_equal_length_come_out_equal() {
    let job = r#"{ "units": "mm", "tube": { "od": 42.4, "wall": 2 },
        "ports": {
            "a1": { "center": [0, 0, 0], "outward": [0, 0, 1] },
            "a2": { "center": [90, 0, 0], "outward": [0, 0, 1] },
            "b1": { "center": [250, 250, 120], "outward": [0, -1, 0] },
            "b2": { "center": [330, 250, 120], "outward": [0, -1, 0] } },
        "runs": [{ "name": "one", "from": "a1", "to": "b1" }, { "name": "two", "from": "a2", "to": "b2" }],
        "equal_length": [["one", "two"]] }"#;
    let shop = Shop::with(job);
    let output = shop.plan(&[]);
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    let plan: serde_json::Value =
        serde_json::from_slice(&fs::read(shop.path("out/plan.json")).unwrap()).unwrap();
    let length = |i: usize| plan["runs"][i]["length_mm"].as_f64().unwrap();
    assert!(
        (length(0) - length(1)).abs() < 0.5,
        "{} and {}",
        length(0),
        length(1)
    );
}

#[test]
fn the_number_of_cores_changes_no_byte() {
    let planned = |cores: &str| {
        let shop = Shop::with(fs::read("examples/bay.json").expect("an example"));
        let (job, out) = (shop.text("job.json"), shop.text("out"));
        let status = Command::new(env!("CARGO_BIN_EXE_runwright"))
            .env("RAYON_NUM_THREADS", cores)
            .args(["plan", &job, "-o", &out, "--effort", "quick"])
            .status()
            .expect("the program starts");
        assert!(status.success());
        fs::read(shop.path("out/plan.json")).unwrap()
    };
    assert_eq!(planned("1"), planned("3"));
}

#[test]
fn a_job_is_read_from_standard_input_as_from_its_file() {
    let run = |job: &str| {
        let program = Command::new(env!("CARGO_BIN_EXE_runwright"))
            .args(["check", job])
            .stdin(fs::File::open("examples/stack.json").expect("an example"))
            .output();
        program.expect("the program starts")
    };
    let [from_file, piped] = ["examples/stack.json", "-"].map(run);
    assert_eq!(piped.status.code(), Some(0), "{}", stderr(&piped));
    let name = stdout(&from_file).replacen("stack", "standard input", 1);
    assert_eq!(stdout(&piped), name);
}

/// A stick of 320 mm for a straight of 300 mm and two cuts of 1.6 mm leaves enough; one of
/// 304 mm leaves 0.8 mm, and two cuts, each good to 0.5 mm, may use up 3·√2·0.5 mm.
#[test]
fn a_stick_that_may_come_out_too_short_is_to_be_measured_first() {
    let sheet = |stick: &str| {
        let shop = Shop::with(format!(
            r#"{{ "units": "mm", "tube": {{ "od": 50, "wall": 1.5 }},
                "ports": {{
                  "a": {{ "center": [0, 0, 0], "outward": [0, 0, 1] }},
                  "b": {{ "center": [0, 0, 300], "outward": [0, 0, -1] }} }},
                "runs": [ {{ "name": "duct", "from": "a", "to": "b" }} ],
                "shop": {{ "kerf": 1.6, "accuracy": {{ "length": 0.5 }},
                  "sticks": [ {{ "length": {stick} }} ] }} }}"#
        ));
        assert_eq!(shop.plan(&["--no-packet"]).status.code(), Some(0));
        fs::read_to_string(shop.path("out/sheet.txt")).expect("a sheet")
    };
    says(
        &sheet("304"),
        "stick 1: measure it before the first cut: it leaves 0.80 mm, and its cuts may use up 2.1 mm more",
    );
    assert!(!sheet("320").contains("measure it before"));
}

#[cfg(unix)]
#[test]
fn an_interrupted_search_gives_the_best_so_far() {
    let shop = Shop::with(fs::read("examples/bay.json").expect("an example"));
    let (job, out) = (shop.text("job.json"), shop.text("out"));
    let program = Command::new(env!("CARGO_BIN_EXE_runwright"))
        .args(["plan", &job, "-o", &out, "--effort", "exhaustive"])
        .stderr(std::process::Stdio::piped())
        .spawn()
        .expect("the program starts");
    // Long enough for a first route, far too short for an exhaustive search.
    std::thread::sleep(std::time::Duration::from_secs(8));
    let kill = Command::new("kill")
        .args(["-INT", &program.id().to_string()])
        .status();
    assert!(kill.is_ok_and(|status| status.success()));
    let output = program.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(0), "{}", stderr(&output));
    says(
        &stderr(&output),
        "is the best found before the search was stopped",
    );
    let plan = fs::read_to_string(shop.path("out/plan.json")).unwrap();
    says(&plan, "\"stopped\": \"interrupted\"");
}

#[test]
fn seams_are_checked_and_echoed() {
    let job = |shop: &str, tube: &str| {
        format!(
            r#"{{ "units": "mm", "tube": {{ "od": 50, "wall": 1.5{tube} }},
                "ports": {{
                  "a": {{ "center": [0, 0, 0], "outward": [0, 0, 1] }},
                  "b": {{ "center": [200, 0, 300], "outward": [-1, 0, 0] }} }},
                "runs": [ {{ "name": "r", "from": "a", "to": "b" }} ],
                "shop": {{ {shop} }} }}"#
        )
    };
    let read = |text: String| runwright::job::read_job(text.as_bytes(), "job");
    let seams = |shop: &str, tube: &str| read(job(shop, tube)).job.expect("a job").runs[0].seams;
    use runwright::shop::Seams;
    assert_eq!(seams("", ""), Some(Seams::Staggered));
    assert_eq!(seams(r#""seams": "in_line""#, ""), Some(Seams::InLine));
    assert_eq!(seams(r#""seams": "any""#, ""), Some(Seams::Any));
    assert_eq!(seams("", r#", "seam": false"#), None);
    for (shop, tube, place) in [
        (r#""seams": "in line""#, "", "shop.seams"),
        (r#""seams": 3"#, "", "shop.seams"),
        ("", r#", "seam": "no""#, "tube.seam"),
    ] {
        let checked = read(job(shop, tube));
        assert!(checked.job.is_none());
        let paths: Vec<&str> = checked.errors.iter().map(|one| one.path.as_str()).collect();
        assert_eq!(paths, [place]);
    }
}

#[test]
fn another_way_is_taken_by_its_number() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let plan = |out: &str, way: &[&str]| {
        let out = folder.path().join(out);
        let out = out.display().to_string();
        let arguments = [
            &["plan", "examples/duct.json", "-o", &out, "--no-packet"],
            way,
        ];
        let output = runwright(&arguments.concat());
        (output.status.code(), stderr(&output))
    };
    assert_eq!(plan("first", &[]).0, Some(0));
    assert_eq!(plan("second", &["--way", "duct=2"]).0, Some(0));
    let read = |name: &str| {
        let bytes = fs::read(folder.path().join(name).join("plan.json")).expect("a plan");
        serde_json::from_slice::<Value>(&bytes).expect("JSON")
    };
    let (first, second) = (read("first"), read("second"));
    assert_eq!(
        second["runs"][0]["vertices_mm"],
        first["alternatives"][0]["vertices_mm"]
    );
    let wrong: [(&[&str], &str); 5] = [
        (&["--way", "0"], "'0' is no way"),
        (&["--way", "99"], "ways found for run 'duct'"),
        (&["--way", "best"], "choose a number from OTHER WAYS"),
        (&["--way", "drain=1"], "with one of the runs 'duct'"),
        (&["--way", "1", "--way", "2"], "is given twice"),
    ];
    for (way, expected) in wrong {
        let (code, told) = plan("wrong", way);
        assert_eq!(code, Some(1), "{told}");
        says(&told, expected);
        says(&told, "help: ");
    }
    assert!(!folder.path().join("wrong").exists());
}
