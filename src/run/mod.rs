//! A run as it is made: ports, joints and pieces in order of flow.
//!
//! A miter-cut run is exactly a polyline: one vertex a joint, one edge a piece,
//! the bisector plane at each vertex. Where a stock bend stands in it, a vertex is
//! the corner of its arc ([`Centerline`]). [`Run`] adds what the shop needs: how long
//! each piece is cut, at which angles and clocks.

mod allowance;
mod centerline;
mod clearance;
mod envelope;
mod freedom;
mod joint;
mod piece_meshes;
mod port;
#[allow(clippy::module_inception)]
mod run;
mod skin;
mod swept;

pub use allowance::Allowance;
pub use centerline::{Arc, Centerline};
pub use clearance::{Clearance, Outside, Standoff, clearance_between};
pub use freedom::{Freedom, Slide};
pub use joint::{Joint, JointKind};
pub use port::{Flange, Port};
pub use run::{Placed, Run, RunError};
pub use skin::Skin;
pub use swept::Stretch;
