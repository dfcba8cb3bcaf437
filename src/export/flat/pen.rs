//! [`Pen`]: how a line is drawn.

/// Width and dashes of a line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    /// mm.
    pub width: f64,
    /// Broken up, or not.
    pub dash: Dash,
}

/// How a line is broken up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    /// Not at all.
    Solid,
    /// Dashes.
    Dashed,
    /// A long dash and a short one in turn, as center lines are drawn (ISO 128).
    Center,
    /// Dots.
    Dotted,
}

impl Dash {
    /// Lengths of line and gap in turn, mm.
    pub const fn lengths(self) -> &'static [f64] {
        match self {
            Self::Solid => &[],
            Self::Dashed => &[2.0, 1.0],
            Self::Center => &[6.0, 1.5, 1.0, 1.5],
            Self::Dotted => &[0.5, 1.2],
        }
    }

    /// Its name as a line type in files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Solid => "CONTINUOUS",
            Self::Dashed => "DASHED",
            Self::Center => "CENTER",
            Self::Dotted => "DOT",
        }
    }

    /// Every one.
    pub const ALL: [Self; 4] = [Self::Solid, Self::Dashed, Self::Center, Self::Dotted];
}

impl Pen {
    /// A whole line.
    pub const fn solid(width: f64) -> Self {
        Self {
            width,
            dash: Dash::Solid,
        }
    }

    /// A broken line.
    pub const fn broken(width: f64, dash: Dash) -> Self {
        Self { width, dash }
    }

    /// What is cut along.
    pub const CUT: Self = Self::solid(0.5);
    /// What is folded along.
    pub const FOLD: Self = Self::broken(0.35, Dash::Dashed);
    /// What tube and paper are lined up by.
    pub const MARK: Self = Self::solid(0.3);
    /// What only helps.
    pub const HELP: Self = Self::solid(0.18);
}
