//! Scanned surfaces: triangle meshes of what stands in a bay, read, cleaned, placed in
//! the job's frame, and asked for distances.
//!
//! Points are plain millimeters. A mesh may have holes, and its triangles may face
//! either way: distances have no sign. This room knows nothing of tubes.

mod drum;
mod mesh;
mod read;
mod surface;

pub use drum::{Drum, Ellipse};
pub use mesh::{Group, Mesh};
pub use read::{
    Dropped, FARTHEST, FLATTEST, MAX_MESH_BYTES, MAX_TRIANGLES, Place, ReadError, Reading, Wanted,
    read_mesh,
};
pub use surface::{Contact, Nearest, Surface};
