//! What is open, what is shown and what is chosen: everything apart from drawing.

mod built;
mod corner;
mod document;
mod field;
mod fields;
mod json_text;
mod numbers;
mod opened;
mod order;
mod saving;
mod session;
mod shown;
mod step;
mod view;
mod worker;

pub use corner::{Corner, Drag};
pub use document::{Document, SaveError};
pub use field::{Field, Kind};
pub use fields::{Section, sections};
pub use json_text::{remove, set};
pub use numbers::{PieceNumbers, way_numbers};
pub use opened::{Kept, Opened, open};
pub use order::{Found, Nearness, Order};
pub use session::{Ask, Notice, Session};
pub use shown::Shown;
pub use step::{Phase, Step, steps};
pub use view::{Measure, SectionAxis, SectionPlane, Tool, View};
pub use worker::{Progress, Report, Worker};
