//! An existing miter-cut tube, touched along its length, as a polyline: one vertex a
//! joint, one edge a piece.
//!
//! Unknown are all vertices. Readings are points on joints, on the centerline or on the
//! outside, and both ends as they were measured. `readings` has what each says,
//! `lines` and `chain` the first guess, `pieces_of` which points lie along which piece
//! where nobody said so, `suspects` what does not go with the rest, `traced` the result.

mod blame;
mod caution;
mod chain;
mod cut_up;
mod end;
mod error;
mod finish;
mod from_centerline;
mod from_joints;
mod from_pieces;
mod joint;
mod lines;
mod order;
mod polygon;
mod readings;
mod shape;
mod spot;
mod suspects;
mod touched;
#[allow(clippy::module_inception)]
mod trace;
mod traced;

pub(super) use lines::outside_lines;

pub use caution::Caution;
pub use end::{EndShift, TubeEnd};
pub use error::TraceError;
pub use from_centerline::MOST_JOINTS;
pub use joint::{OwnLines, TracedJoint};
pub use spot::Spot;
pub use suspects::Suspect;
pub use touched::{Touched, Trace};
pub use trace::{MOST_POINTS, trace};
pub use traced::{Left, Traced};
