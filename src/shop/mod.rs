//! What happens at the bench: the saw sheet, where weld seams come to lie, which pieces are
//! alike, how far off the end may come out and which piece to leave for last, in which order
//! the run is tacked up and what a tape should then read.

mod accuracy;
mod build;
mod built_face;
mod cause;
mod closing;
mod kind;
mod lines;
mod marks;
mod motion;
mod origin;
mod reach;
mod saw;
mod seam_sides;
mod seams;
mod sight;
mod source;
mod stack_up;
mod stick_piece;
mod tack_gap;
mod tack_up;
mod tape;

pub use accuracy::Accuracy;
pub use built_face::{BuiltFace, Spot};
pub use cause::Cause;
pub use closing::Closing;
pub use kind::{Kind, kinds};
pub use marks::{MatchMark, MatchMarks};
pub use origin::Origin;
pub use saw::{SawSheet, SawStep};
pub use seams::{JointSeam, PieceSeam, SeamMargin, SeamPlan, Seams};
pub use stack_up::{Share, StackUp};
pub use stick_piece::StickPiece;
pub use tack_gap::{GapWidth, TackGap};
pub use tack_up::{TackStep, TackUp, Tacking};
pub use tape::{CENTER_TAPES, Fixed, MOST_TAPES, Tape};
