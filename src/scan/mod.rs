//! Scanned surfaces: triangle meshes of what stands in a bay, read, cleaned, placed in
//! the job's frame, and asked for distances.
//!
//! Points are plain millimeters. A mesh may have holes, and its triangles may face
//! either way: distances have no sign. This room knows nothing of tubes.

mod distances;
mod drum;
mod lattice;
mod mesh;
mod surface;

pub use distances::distances;
pub use drum::{Drum, Ellipse};
pub use lattice::Lattice;
pub use mesh::{Group, Mesh};
pub use surface::{Contact, Nearest, Surface};
