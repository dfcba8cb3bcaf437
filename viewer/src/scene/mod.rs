//! What is drawn: bodies made of the library's geometry, and how they come to the screen.

mod bodies;
mod camera;
mod paint;
mod pick;
mod section;
mod shape;
mod solids;
mod stage;

pub use bodies::{Bodies, Body, Part, ports};
pub use camera::Camera;
pub use pick::{Hit, pick};
pub use section::outline;
pub use shape::Shape;
pub use stage::Stage;
