//! [`PaperSize`]: what a shop's printer holds.
use crate::units::{Length, LengthUnit};

/// What a shop's printer holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperSize {
    /// 8 1/2 by 11 inches.
    Letter,
    /// 210 by 297 mm.
    A4,
}

impl PaperSize {
    /// What goes with a unit: Letter with inches and feet, A4 with others.
    pub const fn usual(unit: LengthUnit) -> Self {
        if unit.is_imperial() {
            Self::Letter
        } else {
            Self::A4
        }
    }

    /// From side to side.
    pub const fn width(self) -> Length {
        match self {
            Self::Letter => Length::from_inches(8.5),
            Self::A4 => Length::from_mm(210.0),
        }
    }

    /// From top to bottom.
    pub const fn height(self) -> Length {
        match self {
            Self::Letter => Length::from_inches(11.0),
            Self::A4 => Length::from_mm(297.0),
        }
    }
}
