//! What happens at the bench: the saw sheet, which sticks to cut, which pieces are alike,
//! how far off the end may come out and which piece to leave for last.

mod accuracy;
mod build;
mod cause;
mod closing;
mod kind;
mod motion;
mod saw;
mod source;
mod stack_up;
mod sticks;

pub use accuracy::Accuracy;
pub use cause::Cause;
pub use closing::Closing;
pub use kind::{Kind, kinds};
pub use saw::{SawSheet, SawStep, stop_distance};
pub use stack_up::{Share, StackUp};
pub use sticks::{
    Drops, LayoutCost, Leftover, Stick, StickCut, StickLayout, StickSource, StickStock, StockStick,
    StockTube, TooLong, lay_out,
};
