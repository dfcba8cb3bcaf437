//! Files that claim or hold far too much, read in little memory: refused with what to do.
#![cfg(unix)]

#[path = "support/program.rs"]
mod program;
#[path = "support/scan_files.rs"]
mod scan_files;

use program::{run_in, says, stderr};
use scan_files::gzip;
use std::fs;
use std::process::Command;
use tempfile::TempDir;

/// Most address space of the program, kB: of a shell's `ulimit -v`. More is asked for than
/// is used; the program by itself maps some 400 MB.
const MEMORY: u32 = 1_500_000;

const STACK: &str = include_str!("../examples/stack.json");

fn shop() -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("stack.json"), STACK).expect("a job");
    folder
}

/// Runs the program on `file` with little memory. It must be refused; what it says.
#[track_caller]
fn refused(file: &str, bytes: &[u8], arguments: &[&str]) -> String {
    let shop = shop();
    fs::write(shop.path().join(file), bytes).expect("a file");
    let script = format!("ulimit -v {MEMORY}; exec \"$@\"");
    let output = Command::new("sh")
        .args(["-c", &script, "sh", env!("CARGO_BIN_EXE_runwright")])
        .args(arguments)
        .current_dir(shop.path())
        // The allocator reserves 64 MB a thread otherwise, however many cores there are.
        .env("MALLOC_ARENA_MAX", "1")
        .env("RAYON_NUM_THREADS", "2")
        .output()
        .expect("a shell");
    let said = stderr(&output);
    assert_eq!(output.status.code(), Some(1), "{said:.2000}");
    says(&said, "\nhelp: ");
    said
}

fn refused_job(bytes: &[u8]) -> String {
    refused("job.json", bytes, &["check", "job.json"])
}

fn refused_scan(file: &str, bytes: &[u8]) -> String {
    let arguments = ["clear", file, "--units", "mm", "--job", "stack.json"];
    refused(file, bytes, &arguments)
}

#[test]
fn two_million_empty_runs_are_refused() {
    // Once: they took 3.8 GB.
    let runs = format!("\"runs\": [ {}{{}} ]", "{},".repeat(2_000_000));
    let said = refused_job(format!("{{ {runs} }}").as_bytes());
    says(&said, "holds more than 200000 values");
}

#[test]
fn a_hundred_thousand_ports_are_refused() {
    // Once: they were checked for minutes.
    let ports: Vec<String> = (0..20_000)
        .map(|i| format!("\"p{i}\": {{ \"center\": [0, 0, {i}] }}"))
        .collect();
    let job = STACK.replace(
        "\"ports\": {",
        &format!("\"ports\": {{ {},", ports.join(",")),
    );
    says(&refused_job(job.as_bytes()), "ports: holds 20002 ports");
}

#[test]
fn ten_million_numbers_are_refused() {
    let numbers = format!("[{}0]", "0,".repeat(10_000_000));
    says(&refused_job(numbers.as_bytes()), "too large for a job");
    let packet = ["packet", "plan.json", "-o", "out"];
    let said = refused("plan.json", numbers.as_bytes(), &packet);
    says(&said, "holds more than 2000000 values");
}

#[test]
fn a_million_brackets_are_refused() {
    let deep = "[".repeat(4_000_000);
    says(&refused_job(deep.as_bytes()), "recursion limit");
    let packet = ["packet", "plan.json", "-o", "out"];
    says(
        &refused("plan.json", deep.as_bytes(), &packet),
        "recursion limit",
    );
    let objects = "{\"a\":".repeat(1_000_000);
    says(&refused_job(objects.as_bytes()), "recursion limit");
}

#[test]
fn a_plan_of_a_thousand_runs_makes_no_packet() {
    // Once: it took 9 GB and minutes.
    let shop = shop();
    let planned = run_in(
        shop.path(),
        &["plan", "stack.json", "-o", "out", "--no-packet"],
    );
    assert!(planned.status.success(), "{}", stderr(&planned));
    let plan = fs::read(shop.path().join("out/plan.json")).expect("a plan");
    let mut plan: serde_json::Value = serde_json::from_slice(&plan).expect("JSON");
    let mut run = plan["runs"][0].take();
    for key in ["pieces", "joints", "alternatives"] {
        run[key] = serde_json::json!([]);
    }
    let runs = (0..1000).map(|i| {
        run["name"] = format!("run {i}").into();
        run.clone()
    });
    plan["runs"] = runs.collect();
    let arguments = ["packet", "plan.json", "-o", "out"];
    let said = refused("plan.json", plan.to_string().as_bytes(), &arguments);
    says(
        &said,
        "the plan has 7000 pieces: a packet is made of 1000 at most",
    );
}

#[test]
fn meshes_that_claim_billions_are_refused() {
    let ply = "ply\nformat binary_little_endian 1.0\nelement vertex 4294967295\nproperty float x\n\
        property float y\nproperty float z\nelement face 4294967295\n\
        property list uint int vertex_indices\nend_header\n";
    refused_scan("bay.ply", ply.as_bytes());
    let mut stl = vec![0; 80];
    stl.extend(u32::MAX.to_le_bytes());
    stl.extend([0; 500]);
    says(&refused_scan("bay.stl", &stl), "is cut short");
}

#[test]
fn what_unpacks_to_far_more_is_refused() {
    // 200 MB without an end of line, packed to some 200 kB.
    let line = vec![b'v'; 200_000_000];
    says(&refused_scan("bay.obj.gz", &gzip(&line)), "is longer than");
}
