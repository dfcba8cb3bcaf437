//! The program, killed while it writes: every file is whole or not there, and with
//! `--force` each is wholly the old one or wholly the new one.

#[path = "support/program.rs"]
mod program;
#[path = "support/writing.rs"]
mod writing;

use program::{run_in, stderr};
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};
use writing::{STACK, WRITING, shop};

/// How often each command is killed while it writes.
const KILLS: u32 = 12;
/// How often it is killed at any moment from its start on.
const EARLY_KILLS: u32 = 6;
/// What unfinished files are called.
const UNFINISHED: &str = ".runwright-";
/// How often is looked whether writing has begun.
const PAUSE: Duration = Duration::from_micros(100);
/// A command that has not written by then never will.
const PATIENCE: Duration = Duration::from_secs(60);

/// Files below a folder, by their names in it.
type Files = BTreeMap<PathBuf, Vec<u8>>;

fn files(folder: &Path) -> Files {
    let mut files = Files::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(here) = folders.pop() {
        for entry in fs::read_dir(here).into_iter().flatten().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).expect("below it").to_owned();
                files.insert(name, fs::read(path).expect("a file"));
            }
        }
    }
    files
}

fn is_unfinished(name: &Path) -> bool {
    let name = name.file_name().expect("a name");
    name.to_string_lossy().starts_with(UNFINISHED)
}

fn has_unfinished(folder: &Path) -> bool {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .into_iter()
        .any(|entry| is_unfinished(&entry.path()))
}

/// What a command writes when nothing disturbs it.
fn undisturbed(shop: &Path, command: &[&str], out: &str) -> Files {
    let mut arguments = command.to_vec();
    arguments.push(out);
    let output = run_in(shop, &arguments);
    let files = files(&shop.join(out));
    assert!(!files.is_empty(), "{command:?}: {}", stderr(&output));
    assert!(!files.keys().any(|name| is_unfinished(name)));
    files
}

fn start(shop: &Path, command: &[&str], more: &[&str]) -> Child {
    let mut program = Command::new(env!("CARGO_BIN_EXE_runwright"));
    program.args(command).args(more).current_dir(shop);
    program.stdout(Stdio::null()).stderr(Stdio::null());
    program.spawn().expect("the program starts")
}

/// Waits until the program has begun to write in `out`, or has ended.
fn wait_for_writing(child: &mut Child, out: &Path) {
    let begun = Instant::now();
    while !has_unfinished(out) && child.try_wait().expect("its state").is_none() {
        assert!(begun.elapsed() < PATIENCE, "nothing is written");
        thread::sleep(PAUSE);
    }
}

/// From the first file to the end.
fn writing_time(shop: &Path, command: &[&str]) -> Duration {
    let mut child = start(shop, command, &["timed"]);
    wait_for_writing(&mut child, &shop.join("timed"));
    let begun = Instant::now();
    child.wait().expect("its end");
    begun.elapsed()
}

fn kill(mut child: Child) {
    // One that has ended already cannot be killed, which is just as well.
    let _ = child.kill();
    child.wait().expect("its end");
}

/// That every file is whole; whether the command was cut short.
fn check(found: &Files, allowed: &[&Files], command: &[&str]) -> bool {
    let (unfinished, finished): (Vec<_>, Vec<_>) =
        found.iter().partition(|(name, _)| is_unfinished(name));
    for (name, bytes) in &finished {
        assert!(
            allowed.iter().any(|set| set.get(*name) == Some(bytes)),
            "{command:?} left {} unlike any whole one",
            name.display()
        );
    }
    !unfinished.is_empty() || finished.len() < allowed[0].len()
}

#[test]
fn killed_while_writing_leaves_whole_files() {
    let shop = shop();
    for command in WRITING {
        let whole = undisturbed(shop.path(), command, "whole");
        let time = writing_time(shop.path(), command);
        let mut cut_short = 0;
        for n in 0..KILLS {
            let out = format!("killed-{n}");
            let mut child = start(shop.path(), command, &[&out]);
            wait_for_writing(&mut child, &shop.path().join(&out));
            thread::sleep(time * n / KILLS);
            kill(child);
            cut_short += u32::from(check(&files(&shop.path().join(&out)), &[&whole], command));
            // What is left of it is not in the way of the next.
            let again = undisturbed_over(shop.path(), command, &out);
            assert!(
                whole
                    .iter()
                    .all(|(name, bytes)| again.get(name) == Some(bytes))
            );
            fs::remove_dir_all(shop.path().join(out)).expect("a folder");
        }
        assert!(cut_short > 0, "{command:?} was never killed in time");
        fs::remove_dir_all(shop.path().join("whole")).expect("a folder");
        fs::remove_dir_all(shop.path().join("timed")).expect("a folder");
    }
}

fn undisturbed_over(shop: &Path, command: &[&str], out: &str) -> Files {
    let mut child = start(shop, command, &[out, "--force"]);
    child.wait().expect("its end");
    files(&shop.join(out))
}

#[test]
fn killed_while_replacing_leaves_each_file_old_or_new() {
    let shop = shop();
    let command = WRITING[0];
    let new = undisturbed(shop.path(), command, "new");
    let wider = STACK.replace("2.5", "2.25");
    fs::write(shop.path().join("other.json"), wider).expect("a job");
    let old = undisturbed(
        shop.path(),
        &["plan", "other.json", "--pieces", "-o"],
        "old",
    );
    let time = writing_time(shop.path(), command);
    let mut kept = 0;
    for n in 0..2 * KILLS {
        let out = format!("killed-{n}");
        for (name, bytes) in &old {
            let place = shop.path().join(&out).join(name);
            fs::create_dir_all(place.parent().expect("a folder")).expect("a folder");
            fs::write(place, bytes).expect("an old file");
        }
        let mut child = start(shop.path(), command, &[&out, "--force"]);
        wait_for_writing(&mut child, &shop.path().join(&out));
        thread::sleep(time * n / (2 * KILLS));
        kill(child);
        let found = files(&shop.path().join(&out));
        check(&found, &[&new, &old], command);
        for name in old.keys() {
            assert!(found.contains_key(name), "{} is gone", name.display());
        }
        kept += u32::from(found.get(Path::new("plan.json")) == old.get(Path::new("plan.json")));
    }
    assert!(kept > 0, "never killed in time");
}

#[test]
fn killed_at_any_moment_leaves_whole_files() {
    let shop = shop();
    for command in WRITING {
        let begun = Instant::now();
        let whole = undisturbed(shop.path(), command, "whole");
        let time = begun.elapsed();
        for n in 0..EARLY_KILLS {
            let out = format!("killed-{n}");
            let child = start(shop.path(), command, &[&out]);
            thread::sleep(time * n / EARLY_KILLS);
            kill(child);
            check(&files(&shop.path().join(&out)), &[&whole], command);
            let _ = fs::remove_dir_all(shop.path().join(out));
        }
        fs::remove_dir_all(shop.path().join("whole")).expect("a folder");
    }
}
