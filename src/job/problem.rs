//! [`Problem`]: where, what is wrong, and what to do.

use super::path::Path;
use std::fmt;

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
            path: path.to_string(),
            message: message.into(),
            help: help.into(),
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
