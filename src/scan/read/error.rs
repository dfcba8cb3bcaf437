//! [`ReadError`]: why a scan was not read, where, and what to do.

use super::clean::Dropped;
use std::fmt;
use std::io;
use thiserror::Error;

/// Group names that a message lists before it only counts them.
const LISTED_GROUPS: usize = 12;

/// Where in a file, unpacked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// A line, from 1.
    Line(u64),
    /// Bytes that stand before it.
    Byte(u64),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Line(line) => write!(f, "line {line}"),
            Self::Byte(byte) => write!(f, "byte {byte}"),
        }
    }
}

/// Why a mesh was not read. Messages go on from the file's name.
#[derive(Debug, Error)]
pub enum ReadError {
    /// The system refused.
    #[error("cannot be read: {0}")]
    Io(#[source] io::Error),
    /// No bytes.
    #[error("is empty")]
    Empty,
    /// Neither its start nor its name tells a format.
    #[error("is in no format that is read")]
    UnknownFormat,
    /// The compression is broken.
    #[error("is damaged: it cannot be unpacked past byte {unpacked} ({reason})")]
    Damaged {
        /// Bytes unpacked before that.
        unpacked: u64,
        /// What the unpacking found.
        reason: String,
    },
    /// More bytes than are read.
    #[error("has more than {limit} bytes unpacked")]
    TooLong {
        /// The most.
        limit: u64,
    },
    /// More of something than is read.
    #[error("has more than {limit} {what}")]
    TooMany {
        /// Of what.
        what: &'static str,
        /// The most.
        limit: usize,
    },
    /// A line without end.
    #[error("{place} is longer than {limit} bytes")]
    LineTooLong {
        /// Which.
        place: Place,
        /// The most.
        limit: usize,
    },
    /// Bytes that no text has.
    #[error("{place} is not text")]
    NotText {
        /// Which line.
        place: Place,
    },
    /// It ends before all is there.
    #[error("is cut short: {there} of {claimed} {what} are there")]
    Truncated {
        /// Triangles, or a kind of element.
        what: String,
        /// How many are whole.
        there: u64,
        /// How many its header promises.
        claimed: u64,
    },
    /// It ends within something.
    #[error("is cut short: it ends at {place}, before `{missing}`")]
    Unfinished {
        /// Where it ends.
        place: Place,
        /// What should come.
        missing: &'static str,
    },
    /// More follows than its header says.
    #[error("says that it holds {claimed} triangles, but {there} or more are there")]
    FalseCount {
        /// By the header.
        claimed: u64,
        /// Found.
        there: u64,
    },
    /// A triangle's corner is none of the points.
    #[error("{place}: there is no point {index}; the file has {points}")]
    NoSuchPoint {
        /// Where.
        place: Place,
        /// As it is written.
        index: String,
        /// How many points the file has.
        points: u64,
    },
    /// A number was expected.
    #[error("{place}: `{text}` is not {wanted}")]
    BadNumber {
        /// Where.
        place: Place,
        /// What stands there.
        text: String,
        /// What should.
        wanted: &'static str,
    },
    /// Against the rules of the format.
    #[error("{place}: {what}")]
    Malformed {
        /// Where.
        place: Place,
        /// What is wrong.
        what: String,
    },
    /// Nothing to measure to.
    #[error("has no triangles, only {points} points")]
    NoTriangles {
        /// How many points.
        points: u64,
    },
    /// The patterns leave no group.
    #[error("{}", none_kept(.groups))]
    NothingKept {
        /// Names of all.
        groups: Vec<String>,
    },
    /// No triangle is sound.
    #[error("has no sound triangle: {dropped}")]
    NothingSound {
        /// Why they were dropped.
        dropped: Dropped,
    },
}

impl ReadError {
    /// What to do about it.
    pub fn help(&self) -> &'static str {
        match self {
            Self::Io(_) => "check that the file is there and may be read",
            Self::Empty => "export the scan again: nothing was written",
            Self::UnknownFormat => {
                "STL, PLY and OBJ are read, compressed by gzip or not: name the file .stl, .ply or .obj, or .stl.gz and so on"
            }
            Self::Damaged { .. } => "copy or compress the file again: some of it is lost",
            Self::TooLong { .. } | Self::TooMany { .. } => {
                "cut the scan down to the bay, or reduce its triangles, in the scanner's software"
            }
            Self::LineTooLong { .. } | Self::NotText { .. } => {
                "is this a text file, and is its ending right? Export the scan again, or as binary PLY"
            }
            Self::Truncated { .. } | Self::Unfinished { .. } => {
                "copy or export the file again: its end is missing"
            }
            Self::FalseCount { .. } | Self::NoSuchPoint { .. } | Self::Malformed { .. } => {
                "export the scan again; if it stays so, try another format of STL, PLY and OBJ"
            }
            Self::BadNumber { .. } => {
                "export the scan again, with a point for decimals and no signs between thousands"
            }
            Self::NoTriangles { .. } => {
                "make a mesh of the points in the scanner's software and export that"
            }
            Self::NothingKept { groups } if groups.iter().all(String::is_empty) => {
                "leave the patterns out, or name groups in the scanner's software and export again"
            }
            Self::NothingKept { .. } => {
                "let the patterns keep one of these groups; * stands for any characters"
            }
            Self::NothingSound { .. } => "check the unit of the scan, and how it was exported",
        }
    }
}

/// That patterns leave nothing, and what there is to name.
fn none_kept(groups: &[String]) -> String {
    let named: Vec<String> = groups.iter().filter(|n| !n.is_empty()).cloned().collect();
    match (named.len(), groups.len() - named.len()) {
        (0, 0 | 1) => "keeps nothing: it has no groups to choose from".to_owned(),
        (0, _) => "keeps nothing: its groups have no names to choose them by".to_owned(),
        (_, 0) => format!("keeps none of its groups: {}", list_names(&named)),
        (_, unnamed) => format!(
            "keeps none of its groups: {}; {unnamed} without a name",
            list_names(&named)
        ),
    }
}

/// The first few names and how many more there are.
fn list_names(names: &[String]) -> String {
    let shown: Vec<String> = names
        .iter()
        .take(LISTED_GROUPS)
        .map(|name| format!("'{name}'"))
        .collect();
    let more = names.len() - shown.len();
    let shown = shown.join(", ");
    if more == 0 {
        shown
    } else {
        format!("{shown} and {more} more")
    }
}
