//! The program, run as a user runs it.
#![allow(dead_code, reason = "each user takes what it needs")]

use std::path::Path;
use std::process::{Command, Output};

/// Runs the program.
pub fn runwright(arguments: &[&str]) -> Output {
    run_in(Path::new("."), arguments)
}

/// Runs the program in a folder.
pub fn run_in(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_runwright"))
        .args(arguments)
        .current_dir(folder)
        .output()
        .expect("the program starts")
}

pub fn stderr(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

pub fn stdout(output: &Output) -> String {
    String::from_utf8_lossy(&output.stdout).into_owned()
}

/// That a text holds another.
#[track_caller]
pub fn says(text: &str, expected: &str) {
    assert!(text.contains(expected), "{expected:?} is not in:\n{text}");
}
