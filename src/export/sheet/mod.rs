//! `sheet.txt`, section by section; `text` has what all text sheets are put together from.

mod alternatives;
mod copied;
mod pieces;
mod quote;
mod saw;
#[allow(clippy::module_inception)]
mod sheet;
mod stack_up;
mod sticks;
mod summary;
mod tack_up;
mod text;

pub use copied::copied_table;
pub(in crate::export) use quote::{
    SIDE_BY_SIDE, cautions, growth_warns, growth_words, mass_words, remarks, side_by_side,
};
pub(in crate::export) use saw::cut_table;
pub use sheet::Sheet;
pub(in crate::export) use text::{paragraph, tube_line, warnings};
