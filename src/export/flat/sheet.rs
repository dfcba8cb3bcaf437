//! [`Sheet`]: one page of paper at true size.

use super::area::Area;
use super::drawing::Drawing;
use super::svg_file::Ink;
use crate::units::Length;

/// One page, printed at 100 %.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// From left to right; a page may lie on its side.
    pub width: Length,
    /// From bottom to top.
    pub height: Length,
    /// What is on it; the lower left corner of the page is the origin.
    pub drawing: Drawing,
}

impl Sheet {
    /// The page from corner to corner.
    pub const fn area(&self) -> Area {
        Area::of_size([0.0; 2], [self.width.mm(), self.height.mm()])
    }

    /// The page as an SVG document of its own size in millimeters.
    pub fn svg(&self) -> String {
        self.drawing.svg(&self.area(), Ink::Paper)
    }
}
