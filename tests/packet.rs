//! The shop packet as a user meets it, and what must hold of any packet.

#[path = "support/program.rs"]
mod program;
#[path = "support/winding.rs"]
mod winding;

use program::{runwright, says, stderr, stdout};
use runwright::export::{DEFAULT_TEMPLATE, Exporter, Packet, PaperSize, PlanJson};
use runwright::job::read_job;
use runwright::plan::{PlanFile, plan, read_plan};
use std::fs;
use std::path::PathBuf;
use tempfile::TempDir;

const SMALLEST: &str = include_str!("../examples/stack.json");
const DUCT: &str = include_str!("../examples/duct.json");

/// The plan of a job, as its `plan.json` has it.
fn planned(job: &str) -> PlanFile {
    let job = read_job(job.as_bytes(), "job").job.expect("a right job");
    let plan = plan(&job).expect("a route");
    let files = PlanJson.files(&plan).expect("plan.json");
    read_plan(&files[0].bytes).expect("our own plan")
}

fn pdf(packet: &Packet, plan: &PlanFile) -> Vec<u8> {
    packet.of(plan).expect("a packet").bytes
}

/// How often `text` stands in uncompressed parts of a PDF.
fn count(pdf: &[u8], text: &str) -> usize {
    pdf.windows(text.len())
        .filter(|part| *part == text.as_bytes())
        .count()
}

/// A folder where `plan` was run.
struct Bench {
    folder: TempDir,
}

impl Bench {
    fn of(job: &str) -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("job.json"), job).expect("a job file");
        let bench = Self { folder };
        let output = runwright(&["plan", &bench.at("job.json"), "-o", &bench.at("out")]);
        assert!(output.status.success(), "{}", stderr(&output));
        bench
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn at(&self, name: &str) -> String {
        self.path(name).to_string_lossy().into_owned()
    }

    fn read(&self, name: &str) -> Vec<u8> {
        fs::read(self.path(name)).expect(name)
    }
}

#[test]
fn a_packet_of_a_plan_file_is_the_one_that_planning_wrote() {
    let bench = Bench::of(SMALLEST);
    let output = runwright(&[
        "packet",
        &bench.at("out/plan.json"),
        "-o",
        &bench.at("again"),
    ]);
    assert!(output.status.success(), "{}", stderr(&output));
    assert_eq!(bench.read("out/packet.pdf"), bench.read("again/packet.pdf"));
}

#[test]
fn equal_plans_make_equal_bytes() {
    for job in [SMALLEST, DUCT] {
        let plan = planned(job);
        let first = pdf(&Packet::default(), &plan);
        assert!(first.starts_with(b"%PDF-"));
        assert!(first == pdf(&Packet::default(), &plan), "bytes differ");
        let other = PlanFile {
            job: "another".to_owned(),
            ..plan
        };
        assert!(
            first != pdf(&Packet::default(), &other),
            "the job's name is not in it"
        );
    }
}

#[test]
fn paper_goes_with_the_unit_unless_it_is_said() {
    let (inches, millimeters) = (planned(SMALLEST), planned(DUCT));
    let on = |page| Packet {
        page,
        ..Packet::default()
    };
    let default = pdf(&on(None), &inches);
    assert!(default == pdf(&on(Some(PaperSize::Letter)), &inches));
    assert!(default != pdf(&on(Some(PaperSize::A4)), &inches));
    let default = pdf(&on(None), &millimeters);
    assert!(default == pdf(&on(Some(PaperSize::A4)), &millimeters));
}

/// A plan that was written before the packet's keys were in it says less, and that is
/// all.
#[test]
fn an_older_plan_makes_a_packet() {
    let bench = Bench::of(SMALLEST);
    let mut value: serde_json::Value =
        serde_json::from_slice(&bench.read("out/plan.json")).expect("JSON");
    let root = value.as_object_mut().expect("an object");
    const FIRST: [&str; 9] = [
        "format",
        "made_by",
        "job",
        "units",
        "ports",
        "accuracy",
        "scans",
        "runs",
        "alternatives",
    ];
    root.retain(|key, _| FIRST.contains(&key.as_str()));
    const RUN: [&str; 20] = [
        "name",
        "from",
        "to",
        "tube",
        "limits",
        "allowance",
        "rates",
        "vertices_mm",
        "length_mm",
        "cut_length_mm",
        "weld_mm",
        "ends",
        "bends",
        "pie_bends",
        "straights_mm",
        "pieces",
        "joints",
        "saw",
        "stack_up",
        "cost",
    ];
    let runs = root
        .get_mut("runs")
        .and_then(|runs| runs.as_array_mut())
        .expect("runs");
    for run in runs {
        run.as_object_mut()
            .expect("a run")
            .retain(|key, _| RUN.contains(&key.as_str()));
    }
    fs::write(bench.path("old.json"), value.to_string()).expect("written");
    let output = runwright(&["packet", &bench.at("old.json"), "-o", &bench.at("paper")]);
    assert!(output.status.success(), "{}", stderr(&output));
    assert!(bench.read("paper/packet.pdf").starts_with(b"%PDF-"));
}

#[test]
fn a_template_of_ones_own_decides_how_it_looks() {
    let bench = Bench::of(SMALLEST);
    let template = "#let packet = json(\"packet.json\")\n#set page(width: 100mm, height: 50mm)\n= #packet.job\n#packet.runs.first().name";
    fs::write(bench.path("mine.typ"), template).expect("written");
    let arguments = [
        "packet",
        &bench.at("out/plan.json"),
        "-o",
        &bench.at("mine"),
        "--template",
        &bench.at("mine.typ"),
    ];
    let output = runwright(&arguments);
    assert!(output.status.success(), "{}", stderr(&output));
    // 100 by 50 mm in points.
    assert_eq!(
        count(&bench.read("mine/packet.pdf"), "[0 0 283.46457 141.73228]"),
        1
    );
}

#[test]
fn the_template_that_is_printed_is_the_one_that_is_used() {
    let output = runwright(&["template"]);
    assert_eq!(stdout(&output), DEFAULT_TEMPLATE);
    let plan = planned(SMALLEST);
    let printed = Packet {
        template: Some(stdout(&output)),
        ..Packet::default()
    };
    assert!(pdf(&printed, &plan) == pdf(&Packet::default(), &plan));
}

#[test]
fn a_wrong_template_is_told_by_line_and_column_and_writes_nothing() {
    let bench = Bench::of(SMALLEST);
    fs::write(
        bench.path("bad.typ"),
        "= fine\n#let x = json(\"other.json\")\n#nothing\n",
    )
    .expect("written");
    let arguments = [
        "packet",
        &bench.at("out/plan.json"),
        "-o",
        &bench.at("bad"),
        "--template",
        &bench.at("bad.typ"),
    ];
    let output = runwright(&arguments);
    assert_eq!(output.status.code(), Some(1));
    let said = stderr(&output);
    says(&said, "bad.typ: line 2, column 15: file not found");
    says(&said, "help: see what 'runwright template' prints");
    assert!(!bench.path("bad").exists());
}

#[test]
fn a_template_reads_nothing_but_the_packet() {
    let bench = Bench::of(SMALLEST);
    fs::write(bench.path("nosy.typ"), "#read(\"job.json\")").expect("written");
    let arguments = [
        "packet",
        &bench.at("out/plan.json"),
        "-o",
        &bench.at("nosy"),
        "--template",
        &bench.at("nosy.typ"),
    ];
    assert_eq!(runwright(&arguments).status.code(), Some(1));
}

#[test]
fn what_is_no_plan_is_refused_with_its_name() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name).to_string_lossy().into_owned();
    for (name, bytes) in [
        ("empty.json", ""),
        ("job.json", SMALLEST),
        ("text.json", "hello"),
        ("list.json", "[1]"),
    ] {
        fs::write(folder.path().join(name), bytes).expect("written");
        let output = runwright(&["packet", &at(name), "-o", &at("out")]);
        assert_eq!(output.status.code(), Some(1), "{name}");
        says(&stderr(&output), name);
        says(&stderr(&output), "help: ");
        assert!(!folder.path().join("out").exists());
    }
}

#[test]
fn a_packet_never_replaces_a_file_unasked_nor_its_own_inputs() {
    let bench = Bench::of(SMALLEST);
    let plan = bench.at("out/plan.json");
    let output = runwright(&["packet", &plan, "-o", &bench.at("out")]);
    assert_eq!(output.status.code(), Some(1));
    says(&stderr(&output), "--force");
    let output = runwright(&["packet", &plan, "-o", &bench.at("out"), "--force"]);
    assert!(output.status.success());
    // A template with the packet's own name is not written over, asked or not.
    fs::write(bench.path("out/packet.pdf"), DEFAULT_TEMPLATE).expect("written");
    let template = bench.at("out/packet.pdf");
    let output = runwright(&[
        "packet",
        &plan,
        "-o",
        &bench.at("out"),
        "--force",
        "--template",
        &template,
    ]);
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(bench.read("out/packet.pdf"), DEFAULT_TEMPLATE.as_bytes());
}

#[test]
fn sixty_pieces_make_a_packet() {
    let plan = planned(&winding::winding_job(60));
    let pieces: usize = plan.runs.iter().map(|file| file.run.pieces().len()).sum();
    assert_eq!(pieces, 60);
    assert!(pdf(&Packet::default(), &plan).starts_with(b"%PDF-"));
}

/// Once: a run without miters has no seams to tell of, and the template fell over the empty
/// table.
#[test]
fn a_straight_run_makes_a_packet() {
    let job = r#"{ "units": "mm", "tube": { "od": 50, "wall": 1.5 },
        "ports": { "a": { "center": [0, 0, 0], "outward": [0, 0, 1] },
                   "b": { "center": [0, 0, 400], "outward": [0, 0, -1] } },
        "runs": [ { "name": "straight", "from": "a", "to": "b" } ] }"#;
    assert!(pdf(&Packet::default(), &planned(job)).starts_with(b"%PDF-"));
}

/// Sticks of the shop: the same from plan.json as planning laid out, and all in the packet.
#[test]
fn runs_off_the_shops_sticks_make_a_packet() {
    let mut job: serde_json::Value = serde_json::from_str(SMALLEST).expect("JSON");
    job["shop"] = serde_json::json!({ "sticks": [ { "length": "12 in" } ], "shelf": ["9 in"] });
    let file = planned(&job.to_string());
    let layouts = file.layouts();
    assert!(
        layouts[0].sticks.len() > 1,
        "the run takes more than one stick"
    );
    let seams = file.seam_plans(&layouts);
    let seams = seams[0].as_ref().expect("a seam");
    assert_eq!(seams.sticks().len(), layouts[0].sticks.len());
    assert!(pdf(&Packet::default(), &file).starts_with(b"%PDF-"));
}
