//! What stands in a run's way, and what it must stay within.
//!
//! A [`Solid`] is one convex body with an exact signed distance; a [`Body`] is a solid or
//! a scanned surface; an [`Obstacle`] is a body with a name, the side that is forbidden
//! and the clearance to keep. Points, vectors and distances are plain millimeters in the
//! job's frame. This room knows nothing of tubes but their radius.

mod obstacle;
mod solid;

pub use obstacle::{Body, Obstacle, Side};
pub use solid::{Near, Solid};
