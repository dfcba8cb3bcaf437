//! [`Cause`]: what an error is made at, in the shop's words.

use crate::units::{Angle, Style};

/// What is off. Joints count from 0 at the first port, pieces from 1.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// The saw angle of one miter cut.
    Cut {
        /// The joint that it makes.
        joint: usize,
    },
    /// What the saw was set to, for all miters cut so.
    Setting {
        /// The setting, off square.
        angle: Angle,
    },
    /// Square faces that lean.
    Face {
        /// The joint that they meet at.
        joint: usize,
    },
    /// The clock of a miter joint, or of the stock bend that begins at a square one.
    Clock {
        /// The joint.
        joint: usize,
    },
    /// The length of a piece.
    Length {
        /// The piece.
        piece: usize,
    },
    /// The turn of a stock bend.
    Bend {
        /// The piece that it is.
        piece: usize,
    },
    /// Where a port is.
    Port {
        /// Its name.
        name: String,
    },
}

impl Cause {
    /// Its kind, in one word for other programs.
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Cut { .. } => "cut",
            Self::Setting { .. } => "setting",
            Self::Face { .. } => "face",
            Self::Clock { .. } => "clock",
            Self::Length { .. } => "length",
            Self::Bend { .. } => "bend",
            Self::Port { .. } => "port",
        }
    }

    /// All of its kind, as the shop says it.
    pub const fn kind_words(&self) -> &'static str {
        match self {
            Self::Cut { .. } => "saw cuts",
            Self::Setting { .. } => "saw settings",
            Self::Face { .. } => "square faces",
            Self::Clock { .. } => "clocks",
            Self::Length { .. } => "lengths",
            Self::Bend { .. } => "stock bends",
            Self::Port { .. } => "ports",
        }
    }

    /// It alone, as the shop says it.
    pub fn words(&self, style: Style) -> String {
        match self {
            Self::Cut { joint } => format!("saw cut at joint {joint}"),
            Self::Setting { angle } => format!("saw set to {}", style.angle(*angle)),
            Self::Face { joint } => format!("square faces at joint {joint}"),
            Self::Clock { joint } => format!("clock at joint {joint}"),
            Self::Length { piece } => format!("length of piece {piece}"),
            Self::Bend { piece } => format!("turn of stock bend {piece}"),
            Self::Port { name } => format!("port '{name}'"),
        }
    }
}
