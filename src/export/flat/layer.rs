//! [`Layer`]: what a line is for, in plain words.

/// What is drawn, sorted by what is done with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Layer {
    /// Scales to check by, register marks and key maps.
    Help,
    /// Where overlapping paper goes under.
    Tab,
    /// Degrees round the tube.
    Clock,
    /// Lines to line things up by: long sides, center lines, marks of the run.
    Marks,
    /// Where the tube's own seam goes.
    Seam,
    /// Where a saw blade passes.
    Slot,
    /// Where to fold.
    Fold,
    /// Where to cut.
    Cut,
    /// Words and numbers.
    Text,
}

impl Layer {
    /// Every layer, the lowest first.
    pub const ALL: [Self; 9] = [
        Self::Help,
        Self::Tab,
        Self::Clock,
        Self::Marks,
        Self::Seam,
        Self::Slot,
        Self::Fold,
        Self::Cut,
        Self::Text,
    ];

    /// Its name in files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Help => "help",
            Self::Tab => "tab",
            Self::Clock => "clock",
            Self::Marks => "marks",
            Self::Seam => "seam",
            Self::Slot => "slot",
            Self::Fold => "fold",
            Self::Cut => "cut",
            Self::Text => "text",
        }
    }

    /// Its color where machines go by colors, by number in the color index of DXF and as
    /// red, green and blue; common practice, no source.
    pub const fn color(self) -> (u8, &'static str) {
        match self {
            Self::Cut => (1, "#ff0000"),
            Self::Marks => (3, "#009900"),
            Self::Tab => (4, "#0099aa"),
            Self::Fold => (5, "#0000ff"),
            Self::Seam => (6, "#cc00cc"),
            Self::Slot => (30, "#ff7f00"),
            Self::Text => (7, "#000000"),
            Self::Clock => (8, "#808080"),
            Self::Help => (9, "#909090"),
        }
    }

    /// Its ink on paper: what is cut stands out, what only helps stands back.
    pub const fn ink(self) -> &'static str {
        match self {
            Self::Cut | Self::Fold | Self::Text | Self::Slot => "#000",
            Self::Marks | Self::Seam => "#222",
            Self::Clock | Self::Tab => "#444",
            Self::Help => "#666",
        }
    }
}
