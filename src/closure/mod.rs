//! The last piece, from what was really built: two measured ends or a measured gap
//! turned into a piece of tube that closes it.
//!
//! ```text
//! built_end → axis → closure (trim, seam) → ways
//! ```

mod axis;
mod blank;
mod built_end;
#[allow(clippy::module_inception)]
mod closure;
mod fit_up;
mod gap;
mod reclock;
mod seam;
mod several;
mod trim;
mod ways;

pub use axis::Axis;
pub use blank::{Blank, Recut};
pub use built_end::{BuiltEnd, Rim};
pub use closure::{Against, CUT_SLACK, Closure, NoPiece, Side};
pub use fit_up::FitUp;
pub use gap::{Gap, GapError, Slip, Station, Widths};
pub use reclock::{LooseJoint, Reclock, Turn};
pub use seam::Seam;
pub use several::{NoPieces, Open, Several};
pub use trim::{Back, Trim};
pub use ways::{Way, Ways};
