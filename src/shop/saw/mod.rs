//! What comes to the saw: the cuts of a stick, whichever pieces it was chosen for.
//!
//! `bench` makes cuts one after the other and keeps count of marks; `sheet` has it cut a
//! run in order, `sticks` the pieces of a layout. `cut_list` is every stick to cut. `one_piece` is for a piece by itself.

mod bench;
mod cut;
mod cut_list;
mod longer;
mod one_piece;
mod sheet;
mod stop;

pub(in crate::shop) use bench::{Asked, Saw, turn_between};
pub use cut::{Drops, SawCut};
pub use cut_list::{CutList, StickChoice, StickToCut};
pub use longer::Longer;
pub use one_piece::cuts_of_one;
pub use sheet::SawSheet;
pub use stop::stop_distance;
