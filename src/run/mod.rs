//! A run as it is made: ports, joints and pieces in order of flow.
//!
//! A miter-cut run is exactly a polyline: one vertex a joint, one edge a piece,
//! the bisector plane at each vertex. [`Run`] adds what the shop needs: how long
//! each piece is cut, at which angles and clocks.

mod allowance;
mod clearance;
mod joint;
mod port;
#[allow(clippy::module_inception)]
mod run;

pub use allowance::Allowance;
pub use clearance::{Clearance, clearance_between};
pub use joint::{Joint, JointKind};
pub use port::Port;
pub use run::{Placed, Run, RunError};
