//! Messages: where, what is wrong, what to do. On stderr, readable without color.

use crate::job::Problem;
use anstyle::{AnsiColor, Style};
use std::io::Write;

const ERROR: Style = AnsiColor::Red.on_default().bold();
const WARNING: Style = AnsiColor::Yellow.on_default().bold();
const HELP: Style = AnsiColor::Cyan.on_default();

/// Why a command did not do what was asked.
#[derive(Debug)]
pub(super) struct Failure {
    /// What the problems are about: a file's name, or nothing.
    file: String,
    problems: Vec<Problem>,
    unexpected: bool,
}

impl Failure {
    /// Problems with the user's `file` or request: exit code 1.
    pub fn of(file: impl Into<String>, problems: Vec<Problem>) -> Self {
        Self {
            file: file.into(),
            problems,
            unexpected: false,
        }
    }

    /// One problem with the user's `file` or request: exit code 1.
    pub fn one(file: impl Into<String>, message: impl ToString, help: &str) -> Self {
        Self::of(file, vec![Problem::of_file(message.to_string(), help)])
    }

    /// Something that should not happen: exit code 3.
    pub fn unexpected(message: impl ToString, help: &str) -> Self {
        Self {
            unexpected: true,
            ..Self::one("runwright", message, help)
        }
    }

    /// 1 or 3.
    pub const fn exit_code(&self) -> u8 {
        if self.unexpected { 3 } else { 1 }
    }

    /// Writes all problems to stderr.
    pub fn show(&self) {
        show_all(ERROR, "", &self.file, &self.problems);
    }
}

/// Writes warnings to stderr.
pub(super) fn warn(file: &str, warnings: &[Problem]) {
    show_all(WARNING, "warning: ", file, warnings);
}

/// Writes one line of progress to stderr.
pub(super) fn note(text: &str) {
    let _ = writeln!(anstream::stderr(), "{text}");
}

/// Writes data that was asked for to stdout. A reader that closes early is content.
pub(super) fn print(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            let help = "check where the output goes, and that the disk has room";
            Err(Failure::one("standard output", error, help))
        }
        _ => Ok(()),
    }
}

/// Most problems of one kind that are shown; the rest are counted.
const MOST_SHOWN: usize = 50;

fn show_all(style: Style, label: &str, file: &str, problems: &[Problem]) {
    for problem in problems.iter().take(MOST_SHOWN) {
        show(style, label, file, problem);
    }
    if let Some(more) = problems
        .len()
        .checked_sub(MOST_SHOWN)
        .filter(|&more| more > 0)
    {
        note(&format!("{label}{file}: and {more} more like these"));
    }
}

fn show(style: Style, label: &str, file: &str, problem: &Problem) {
    let path = if problem.path.is_empty() {
        String::new()
    } else {
        format!("{}: ", problem.path)
    };
    // Nobody is left to tell if stderr is gone.
    let _ = writeln!(
        anstream::stderr(),
        "{style}{label}{file}: {path}{style:#}{}\n{HELP}help:{HELP:#} {}",
        problem.message,
        problem.help,
    );
}
