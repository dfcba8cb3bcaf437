//! Directions, clocks, planes, polylines, distances, fits and scatters, in plain
//! millimeters.
//!
//! Points and vectors are `nalgebra` types in one right-handed frame, the
//! job's. This room knows nothing of tubes.

mod clock;
mod ellipse;
mod fit;
mod level;
mod plane;
mod polyline;
mod scatter;
mod segment;
mod turn;

pub use clock::{across, clock_between, perpendicular, toward, transport};
pub use ellipse::{complete_elliptic_e, ellipse_perimeter};
pub use fit::{CircleFit, FitError, PlaneFit, RigidFit, Spread};
pub use level::{FoundSide, Level};
pub use plane::Plane;
pub use polyline::Polyline;
pub use scatter::Scatter;
pub use segment::{ClosestPoints, Segment};
pub use turn::least_turn;

/// A position in millimeters.
pub type Point = nalgebra::Point3<f64>;
/// A displacement in millimeters.
pub type Vector = nalgebra::Vector3<f64>;
/// A direction: unit length.
pub type Direction = nalgebra::Unit<Vector>;

/// Angle from `a` to `b`, in [0, π]; accurate near 0 and π, where an arc
/// cosine is not.
pub fn angle_between(a: &Vector, b: &Vector) -> crate::units::Angle {
    crate::units::Angle::from_radians(a.cross(b).norm().atan2(a.dot(b)))
}
