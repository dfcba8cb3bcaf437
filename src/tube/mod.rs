//! Round tube and one piece's exact shape: its sides at any clock, its unrolled
//! outline and its mesh.
//!
//! Everything about one piece follows from four numbers: center length, the cut
//! angle at each end, and the clock between the two long sides. See [`Piece`]; a
//! [`Part`] is such a piece or a stock bend. A [`Sleeve`] is a piece whose ends may
//! also follow points that were marked on the tube.

mod bend_cut;
mod bent;
mod cut;
mod edge;
mod elbow;
mod facets;
mod material;
mod mesh;
mod outline;
mod part;
mod piece;
mod scribed;
mod sleeve;
mod stock;

pub use bend_cut::{BendCut, Sawn};
pub use bent::BentPiece;
pub use cut::Cut;
pub use edge::Edge;
pub use elbow::{ElbowPattern, StockBend, StockBendError};
pub use facets::Facets;
pub use material::{
    EXPANSION_SPREAD, Evidence, Expansion, Family, Material, MeanExpansion, ROOM, Source,
};
pub use mesh::{Mesh, Ring};
pub use outline::{Curve, FlatPoint, Outline};
pub use part::Part;
pub use piece::{Piece, PieceError};
pub use scribed::Scribed;
pub use sleeve::Sleeve;
pub use stock::{OwnProperties, Tube, TubeError};
