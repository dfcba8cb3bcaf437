//! [`PaperSize`]: what drawings are printed on.

use crate::units::{Length, LengthUnit};

/// A size of paper, upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PaperSize {
    /// 8 1/2 by 11 in.
    #[default]
    Letter,
    /// 210 by 297 mm (ISO 216).
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

    /// Width and height, upright.
    pub const fn size(self) -> (Length, Length) {
        match self {
            Self::Letter => (Length::from_inches(8.5), Length::from_inches(11.0)),
            Self::A4 => (Length::from_mm(210.0), Length::from_mm(297.0)),
        }
    }
}
