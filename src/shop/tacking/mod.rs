//! Tacking up: in which order, by which marks, and what a tape should then read.

mod built_face;
mod lines;
mod marks;
mod origin;
mod port_mark;
mod reach;
mod sight;
mod tack_gap;
mod tack_up;
mod tape;

pub use built_face::{BuiltFace, Spot};
pub use marks::{MatchMark, MatchMarks};
pub use origin::Origin;
pub use port_mark::PortMark;
pub use tack_gap::{GapWidth, TackGap};
pub use tack_up::{TackStep, TackUp, Tacking};
pub use tape::{CENTER_TAPES, Fixed, MOST_TAPES, Tape};
