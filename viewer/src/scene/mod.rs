//! What is drawn: bodies made of the library's geometry, and how they come to the screen.

mod bodies;
mod camera;
mod levels;
mod paint;
mod pick;
mod scan_shapes;
mod section;
mod shape;
mod solids;
mod stage;

pub use bodies::{Bodies, Body, Part, ports};
pub use camera::Camera;
pub use levels::Levels;
pub use pick::{Hit, pick};
pub use scan_shapes::ScanShapes;
pub use section::outline;
pub use shape::Shape;
pub use stage::Stage;
