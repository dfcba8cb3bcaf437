//! What comes to the saw: the cuts of a stick, whichever pieces it was chosen for.
//!
//! `bench` makes cuts one after the other and keeps count of marks; `sheet` has it cut a
//! run in order, `sticks` the pieces of a layout. `cut_list` is every stick to cut.

mod bench;
mod cut;
mod cut_list;
mod longer;
mod sheet;
mod stop;

pub(in crate::shop) use bench::{Asked, Saw, turn_between};
pub use cut::{Drops, SawCut};
pub use cut_list::{CutList, StickChoice, StickToCut};
pub use longer::Longer;
pub use sheet::SawSheet;
pub use stop::stop_distance;
