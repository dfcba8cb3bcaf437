//! What stands in a run's way, and what it must stay within.
//!
//! A [`Solid`] is one convex body with an exact signed distance; an [`Obstacle`]
//! is a solid with a name, the side that is forbidden and the clearance to keep.
//! Points, vectors and distances are plain millimeters in the job's frame. This
//! room knows nothing of tubes but their radius.

mod obstacle;
mod solid;

pub use obstacle::{Obstacle, Side};
pub use solid::{Near, Solid};
