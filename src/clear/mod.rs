//! What is made, against what is in the way: the tightest places of a planned run or of
//! any mesh, what is not asked about, and the room at every place of the outside.

mod part;
mod place;
mod rooms;
mod run;

pub use part::{APART, MOST_PLACES, places_of_mesh};
pub use place::{Exempt, Place, Rule};
pub use rooms::{Rooms, rooms_of_mesh, rooms_of_run};
pub use run::{exempt_of_run, places_of_run};
