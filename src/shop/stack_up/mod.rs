//! How errors add up along a run: what causes them (`cause`, `accuracy`), what each moves
//! (`motion`, `build`), the table of all (`stack_up`), and which piece to leave for last
//! (`closing`).

mod accuracy;
mod build;
mod cause;
mod closing;
mod motion;
mod source;
#[allow(clippy::module_inception)]
mod stack_up;

pub use accuracy::Accuracy;
pub(in crate::shop) use build::Build;
pub use cause::Cause;
pub(in crate::shop) use closing::DEVIATIONS;
pub use closing::{Closing, marked_trim};
pub(in crate::shop) use motion::Motion;
pub use stack_up::{Share, StackUp};
