//! Disks that are full, folders that may not be written to, odd names, and streams that
//! nobody reads: exit code 1 and a message that names the file and says what to do, or
//! the work done; never a panic, never half a file.
#![cfg(unix)]

#[path = "support/program.rs"]
mod program;
#[path = "support/writing.rs"]
mod writing;

use program::{run_in, says, stderr};
use std::ffi::{OsStr, OsString};
use std::fs::{self, File, Permissions};
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::PermissionsExt;
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use tempfile::TempDir;
use writing::{STACK, WALL, WRITING, shop};

/// A user that may do nothing: `nobody`, on most systems.
const NOBODY: u32 = 65_534;

/// Every command that prints.
const PRINTING: [&[&str]; 11] = [
    &["check", "stack.json"],
    &["close", "stack-built.json", "--plan", "results/plan.json"],
    &[
        "clear",
        "results/plan.json",
        "--scan",
        "wall.obj",
        "--scan-units",
        "mm",
    ],
    &["completions", "bash"],
    &["man"],
    &["schema"],
    &["schema", "built"],
    &["schema", "plan"],
    &["schema", "closure"],
    &["template"],
    &["--help"],
];

fn program(folder: &Path) -> Command {
    let mut program = Command::new(env!("CARGO_BIN_EXE_runwright"));
    program.current_dir(folder);
    program
}

/// Names in a folder, hidden ones too; none where there is no folder.
fn names(folder: &Path) -> Vec<OsString> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.into_iter().map(|entry| entry.file_name()).collect()
}

/// That a command said which file could not be written and what to do, and ended with 1.
#[track_caller]
fn refused(output: &Output, named: &str) {
    let said = stderr(output);
    assert_eq!(output.status.code(), Some(1), "{said}");
    says(&said, named);
    says(&said, "\nhelp: ");
    assert!(!said.contains("panicked"), "{said}");
}

#[test]
fn a_disk_that_fills_up_leaves_nothing_behind() {
    // A limit on the size of files stands for the disk's end: it needs no rights, and the
    // system refuses to write in the same way.
    let shop = shop();
    for command in WRITING {
        // So many blocks of 512 or 1024 bytes; the first files are smaller, others larger.
        let script = r#"trap '' XFSZ; ulimit -f 2; exec "$@""#;
        let mut shell = Command::new("sh");
        shell.args(["-c", script, "sh", env!("CARGO_BIN_EXE_runwright")]);
        shell.args(command).arg("full").current_dir(shop.path());
        let output = shell.output().expect("a shell");
        refused(&output, "full/");
        says(&stderr(&output), "the disk has room");
        assert_eq!(names(&shop.path().join("full")), [""; 0], "{command:?}");
    }
}

#[test]
fn a_full_disk_behind_stdout_is_told() {
    let shop = shop();
    for command in PRINTING.iter().filter(|command| command[0] != "--help") {
        let full = File::options()
            .write(true)
            .open("/dev/full")
            .expect("/dev/full");
        let output = program(shop.path()).args(*command).stdout(full).output();
        refused(&output.expect("the program starts"), "standard output");
    }
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    let shop = shop();
    for command in PRINTING {
        let mut child = program(shop.path())
            .args(command)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        drop(child.stdout.take());
        let output = child.wait_with_output().expect("its end");
        assert!(!stderr(&output).contains("panicked"), "{command:?}");
        assert_eq!(
            output.status.code(),
            Some(0),
            "{command:?}: {}",
            stderr(&output)
        );
    }
}

#[test]
fn work_is_done_though_nobody_reads_the_messages() {
    let shop = shop();
    let mut child = program(shop.path())
        .args(["plan", "stack.json", "-o", "silent"])
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts");
    drop(child.stderr.take());
    assert_eq!(child.wait().expect("its end").code(), Some(0));
    assert!(shop.path().join("silent/plan.json").is_file());
}

#[test]
fn a_file_where_a_folder_should_be_is_named() {
    let shop = shop();
    for command in WRITING {
        for (out, named) in [
            ("wall.obj", "wall.obj is not a folder"),
            ("wall.obj/below", "wall.obj"),
        ] {
            let mut arguments = command.to_vec();
            arguments.push(out);
            refused(&run_in(shop.path(), &arguments), named);
        }
    }
    assert_eq!(
        fs::read_to_string(shop.path().join("wall.obj")).expect("it"),
        WALL
    );
}

/// The program as a user that may not write to the shop's folders.
struct Guest {
    shop: TempDir,
    program: PathBuf,
    is_root: bool,
}

impl Guest {
    fn new() -> Self {
        let shop = shop();
        let may = |path: &Path, mode| {
            fs::set_permissions(path, Permissions::from_mode(mode)).expect("permissions")
        };
        for folder in ["locked", "hidden"] {
            fs::create_dir(shop.path().join(folder)).expect("a folder");
        }
        fs::write(shop.path().join("hidden.json"), STACK).expect("a job");
        // Tests may run as root, whom no permission stops: then as somebody else, who must
        // be able to reach the program.
        let program = shop.path().join("program");
        fs::copy(env!("CARGO_BIN_EXE_runwright"), &program).expect("a copy");
        may(&program, 0o755);
        may(&shop.path().join("locked"), 0o555);
        may(&shop.path().join("hidden"), 0o000);
        may(&shop.path().join("hidden.json"), 0o000);
        may(shop.path(), 0o755);
        let is_root = File::open(shop.path().join("hidden.json")).is_ok();
        Self {
            shop,
            program,
            is_root,
        }
    }

    fn run(&self, arguments: &[&str]) -> Output {
        let mut command = Command::new(&self.program);
        command.args(arguments).current_dir(self.shop.path());
        if self.is_root {
            command.uid(NOBODY).gid(NOBODY);
        }
        command.output().expect("the program starts")
    }
}

#[test]
fn a_folder_that_may_not_be_written_to_is_named() {
    let guest = Guest::new();
    for command in WRITING {
        for out in ["locked", "locked/below", "hidden"] {
            let mut arguments = command.to_vec();
            arguments.push(out);
            let output = guest.run(&arguments);
            refused(&output, &format!("{out}/"));
            says(&stderr(&output), "check that the folder may be written to");
        }
        assert_eq!(names(&guest.shop.path().join("locked")), [""; 0]);
    }
    let output = guest.run(&["new", "locked/first.json"]);
    refused(&output, "locked/first.json");
}

#[test]
fn a_file_that_may_not_be_read_is_named() {
    let guest = Guest::new();
    for arguments in [
        &["check", "hidden.json"][..],
        &["plan", "hidden.json", "-o", "out"],
        &["packet", "hidden.json", "-o", "out"],
        &["close", "hidden.json"],
        &["clear", "hidden.json", "--job", "stack.json"],
        &["clear", "results/plan.json", "--job", "hidden.json"],
        &[
            "clear",
            "results/plan.json",
            "--scan",
            "hidden.json",
            "--scan-units",
            "mm",
        ],
        &[
            "packet",
            "results/plan.json",
            "-o",
            "out",
            "--template",
            "hidden.json",
        ],
    ] {
        let output = guest.run(arguments);
        refused(&output, "hidden.json: ");
        says(&stderr(&output), "you may read it");
    }
}

#[test]
fn odd_names_are_read_and_written() {
    let shop = shop();
    for odd in [
        &b"two words"[..],
        b"-dash",
        b"no\xff\xfeutf8",
        "ü½ 管".as_bytes(),
        b"new\nline",
        b"quo\"te",
    ] {
        let odd = OsStr::from_bytes(odd);
        let folder = shop.path().join(odd);
        fs::create_dir(&folder).expect("a folder");
        let job = folder.join(odd).with_added_extension("json");
        fs::copy(shop.path().join("stack.json"), &job).expect("a copy");
        let output = program(shop.path())
            .arg("plan")
            .arg(&job)
            .arg("-o")
            .arg(folder.join(odd))
            .output()
            .expect("the program starts");
        assert_eq!(
            output.status.code(),
            Some(0),
            "{odd:?}: {}",
            stderr(&output)
        );
        assert!(folder.join(odd).join("plan.json").is_file(), "{odd:?}");
    }
}
