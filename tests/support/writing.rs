//! A shop's folder, and the commands that write from it.
#![allow(dead_code, reason = "each user takes what it needs")]

use crate::program::{run_in, stderr};
use std::fs;
use tempfile::TempDir;

pub const STACK: &str = include_str!("../../examples/stack.json");
pub const BUILT: &str = include_str!("../../examples/stack-built.json");
/// Something beside the run's way.
pub const WALL: &str = "v -90 -90 -90\nv 500 -90 -90\nv 0 500 -90\nf 1 2 3\n";

/// Every command that writes into a folder, but for the folder.
pub const WRITING: [&[&str]; 5] = [
    &["plan", "stack.json", "--pieces", "-o"],
    &["packet", "results/plan.json", "-o"],
    &[
        "close",
        "stack-built.json",
        "--plan",
        "results/plan.json",
        "-o",
    ],
    &[
        "clear",
        "results/plan.json",
        "--scan",
        "wall.obj",
        "--scan-units",
        "mm",
        "-o",
    ],
    &["man", "-o"],
];

/// A folder with what the commands read.
pub fn shop() -> TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (name, text) in [
        ("stack.json", STACK),
        ("stack-built.json", BUILT),
        ("wall.obj", WALL),
    ] {
        fs::write(folder.path().join(name), text).expect("a file");
    }
    let planned = run_in(folder.path(), &["plan", "stack.json", "-o", "results"]);
    assert!(planned.status.success(), "{}", stderr(&planned));
    folder
}
