//! Where weld seams come to lie: pieces as they lie on their stick (`stick_piece`), the
//! sides of bends to keep off (`sides`), and the plan for all of it (`seams`).

#[allow(clippy::module_inception)]
mod seams;
mod sides;
mod stick_piece;

pub use seams::{JointSeam, PieceSeam, SeamMargin, SeamPlan, Seams};
pub use stick_piece::StickPiece;
