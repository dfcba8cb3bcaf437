//! Shop measurements turned into ports that can be trusted: readings of tape, square,
//! level and rim points, fitted all at once, with what is left over at each, how well
//! the port is held, which reading is off, and what to measure next.

#[allow(dead_code, reason = "its users follow")]
mod adjust;
