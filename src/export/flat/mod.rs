//! Flat drawings at true size, apart from any format: shapes in millimeters, y upward,
//! each on a layer that says what it is for. [`Drawing::svg`] and [`Drawing::dxf`] write
//! them; [`Drawing::clipped`] cuts tiles out of them; a [`Sheet`] is one page of paper.

mod area;
mod check;
mod clip;
mod drawing;
mod dxf_file;
mod flatten;
mod layer;
mod letters;
mod pages;
mod paper;
mod path;
mod pen;
mod sheet;
mod svg_file;
mod text;
mod tiles;

pub use area::Area;
pub use check::check_bars;
pub use drawing::{Drawing, Item, Shape};
pub use layer::Layer;
pub use letters::text_width;
pub use pages::{Block, pages};
pub use paper::PaperSize;
pub use path::{Path, Segment, Step};
pub use pen::{Dash, Pen};
pub use sheet::Sheet;
pub use svg_file::Ink;
pub use text::{Anchor, Text};
pub use tiles::{Grid, Tile};
