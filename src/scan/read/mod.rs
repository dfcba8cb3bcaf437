//! Reading scanned meshes: STL, PLY and OBJ, compressed by gzip or not.
//!
//! A file is taken in a stream. Nothing is made room for because a header says so, and
//! what arrives is counted against limits: no file fills the memory.

mod clean;
mod error;
mod fan;
mod format;
mod header;
mod limits;
mod number;
mod obj;
mod pattern;
mod ply;
mod reading;
mod soup;
mod source;
mod stl;
mod text;
mod wanted;

pub use clean::{Dropped, FARTHEST, FLATTEST};
pub use error::{Place, ReadError};
pub use limits::{MAX_MESH_BYTES, MAX_TRIANGLES};
pub use pattern::fits;
pub use reading::{Reading, read_mesh};
pub use wanted::Wanted;
