//! Round tube and one piece's exact shape: its sides at any clock, its unrolled
//! outline and its mesh.
//!
//! Everything about one piece follows from four numbers: center length, the cut
//! angle at each end, and the clock between the two long sides. See [`Piece`]; a
//! [`Part`] is such a piece or a stock bend.

mod bent;
mod cut;
mod elbow;
mod facets;
mod mesh;
mod outline;
mod part;
mod piece;
mod stock;

pub use bent::BentPiece;
pub use cut::Cut;
pub use elbow::{ElbowPattern, StockBend, StockBendError};
pub use facets::Facets;
pub use mesh::{Mesh, Ring};
pub use outline::{Curve, Outline};
pub use part::Part;
pub use piece::{Piece, PieceError};
pub use stock::{Tube, TubeError};
