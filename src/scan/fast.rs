//! Points and boxes as the index has them, and back.

use crate::geometry::Point;
use parry3d_f64::bounding_volume::Aabb;
use parry3d_f64::math::Vector as Fast;

/// A point as the index has it.
pub(super) fn fast(point: Point) -> Fast {
    Fast::new(point.x, point.y, point.z)
}

/// A point of the index.
pub(super) fn plain(point: Fast) -> Point {
    Point::new(point.x, point.y, point.z)
}

/// Least distance between two boxes along the axes.
pub(super) fn box_distance(a: &Aabb, b: &Aabb) -> f64 {
    let apart = (a.mins - b.maxs).max(b.mins - a.maxs).max(Fast::ZERO);
    apart.length()
}
