//! Scanned surfaces: triangle meshes of what stands in a bay, read, cleaned, placed in
//! the job's frame, and asked for distances.
//!
//! Points are plain millimeters. A mesh may have holes, and its triangles may face
//! either way: distances have no sign. This room knows nothing of tubes.

mod anchors;
mod border;
mod convex;
mod distances;
mod drum;
mod fast;
mod feeler;
mod freedom;
mod icp;
mod landmark;
mod lattice;
mod mesh;
mod place_error;
mod placed;
mod placement;
mod read;
mod rim;
mod settle;
mod settled;
mod side;
mod stitch;
mod surface;

pub use convex::{Convex, Gap, gap};
pub use distances::distances;
pub use drum::{Drum, Ellipse};
pub use freedom::Freedom;
pub use landmark::{Landmark, RimMatch};
pub use lattice::Lattice;
pub use mesh::{Group, Mesh};
pub use place_error::{PlaceError, PlaceWarning};
pub use placed::{Placed, Residual, place, stretch_of};
pub use placement::Placement;
pub use read::{
    Dropped, FARTHEST, FLATTEST, MAX_MESH_BYTES, MAX_TRIANGLES, Place, ReadError, Reading, Wanted,
    fits, read_mesh,
};
pub use rim::{Rim, RimError, nearest_rim, pick_rim, rims};
pub use settle::{settle_on_scan, settle_on_touches};
pub use settled::{IcpError, IcpLimits, IcpWarning, Settled, Stop};
pub use side::Side;
pub use surface::{Contact, Nearest, Surface};
