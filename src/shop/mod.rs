//! What happens at the bench: the saw sheet, and which pieces are alike.

mod kind;
mod saw;

pub use kind::{Kind, kinds};
pub use saw::{SawSheet, SawStep};
