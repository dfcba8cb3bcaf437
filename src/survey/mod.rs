//! Shop measurements turned into ports that can be trusted: readings of tape, square,
//! level and rim points, fitted all at once, with what is left over at each, how well
//! the port is held, which reading is off, and what to measure next. And an existing
//! tube that was touched along its length, turned into the polyline that it is made of.

#[allow(dead_code, reason = "its users follow")]
mod adjust;
mod trace;

pub use trace::{
    Caution, EndShift, Left, MOST_JOINTS, MOST_POINTS, OwnLines, Spot, Suspect, Touched, Trace,
    TraceError, Traced, TracedJoint, TubeEnd, trace,
};
