//! [`Problem`]: where, what is wrong, and what to do.

use super::path::Path;
use std::fmt;

/// Longest text that is told whole, in characters: some 20 lines of a terminal.
const LONGEST: usize = 2000;
/// Of a longer one this many stand before what is left out,
const BEFORE: usize = 1200;
/// and this many after it, where the reason stands.
const AFTER: usize = 400;

/// A text as it can be shown: files put whatever they like into names and values, which
/// messages quote.
fn told(text: String) -> String {
    let shown = if text.chars().any(char::is_control) {
        let letters = text.chars().map(|c| match c {
            '\n' => " ".to_owned(),
            c if c.is_control() => c.escape_default().to_string(),
            c => c.to_string(),
        });
        letters.collect()
    } else {
        text
    };
    let count = shown.chars().count();
    if count <= LONGEST {
        return shown;
    }
    let before: String = shown.chars().take(BEFORE).collect();
    let after: String = shown.chars().skip(count - AFTER).collect();
    format!("{before} … {after}")
}

/// One thing wrong with a file, or worth a warning.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Problem {
    /// JSON path, such as `runs[0].clr`; empty for the file as a whole.
    pub path: String,
    /// What is wrong.
    pub message: String,
    /// What to do about it.
    pub help: String,
}

impl Problem {
    /// At `path`.
    pub fn at(path: &Path, message: impl Into<String>, help: impl Into<String>) -> Self {
        Self {
            path: told(path.to_string()),
            message: told(message.into()),
            help: told(help.into()),
        }
    }

    /// The message with its place in the file before it, where it has one.
    pub fn placed_message(&self) -> String {
        if self.path.is_empty() {
            self.message.clone()
        } else {
            format!("{}: {}", self.path, self.message)
        }
    }

    /// About the whole file.
    pub fn of_file(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::at(&Path::root(), message, help)
    }
}

impl fmt::Display for Problem {
    /// `path: message`, then a line `help: …`; the caller puts the file in front.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if !self.path.is_empty() {
            write!(f, "{}: ", self.path)?;
        }
        write!(f, "{}\nhelp: {}", self.message, self.help)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_of_any_length_makes_a_message_that_can_be_read() {
        // Once: a length of eight megabytes of letters was quoted whole.
        let problem = Problem::of_file(format!("{:?} is no length", "x".repeat(9000)), "write one");
        assert!(problem.message.chars().count() < LONGEST);
        assert!(problem.message.ends_with("\" is no length"));
    }

    #[test]
    fn a_name_in_a_file_cannot_steer_the_terminal() {
        // Once: a run's name was told as it is, escape sequences and all.
        let problem = Problem::of_file("there is no run named '\u{1b}[2J'", "see\nthe file");
        assert_eq!(problem.message, "there is no run named '\\u{1b}[2J'");
        assert_eq!(problem.help, "see the file");
    }
}
