//! Stick layout: which pieces are cut from which stick, so that least is bought.
//!
//! [`lay_out`] is the way in. A stick is a trail through its pieces' faces (`faces`,
//! `trail`, `order`); which sticks to take is an integer program (`choose`) that learns
//! from the choices that cannot be packed: even in fractions (`worth`), or by search
//! (`pack`, `patterns`). `solve` walks between them; `cuts` is what they come to at the saw.

mod blank;
mod choose;
mod cuts;
mod cutting;
mod faces;
mod fill;
mod layout;
mod order;
mod pack;
mod patterns;
mod relax;
mod remnant;
mod solve;
mod stock;
mod supply;
mod trail;
mod worth;

pub use layout::{LayoutCost, Stick, StickLayout, TooLong, lay_out};
pub use stock::{Leftover, StickStock, StockStick, StockTube};
pub use supply::StickSource;
