//! [`Pass`]: a place that the run must go through.

use crate::geometry::{Direction, Point, Polyline, Segment};
use crate::units::Length;

/// A hole in a panel, or a bracket.
///
/// The run goes through on a straight, whose bends' arcs keep clear of the place.
#[derive(Clone, Debug, PartialEq)]
pub struct Pass {
    /// The user's name for it.
    pub name: String,
    /// Middle of the hole or bracket.
    pub center: Point,
    /// Square to the panel that the hole is in, either way; `None` for a bracket, which
    /// turns with the tube.
    pub direction: Option<Direction>,
    /// Radius of the hole, which the whole tube goes through; or how far the
    /// centerline may be off a bracket's middle.
    pub radius: Length,
}

impl Pass {
    /// How much room, mm, is left round a tube of `radius` whose centerline goes along
    /// `segment`; negative where it does not go through.
    ///
    /// A tube that crosses a panel at an angle ψ off square needs r/cos ψ.
    pub fn room(&self, segment: &Segment, radius: Length) -> f64 {
        let Some(axis) = segment.direction() else {
            return f64::NEG_INFINITY;
        };
        let to = self.center - segment.start;
        let (along, needs) = match &self.direction {
            None => (to.dot(&axis), 0.0),
            Some(direction) => {
                let cos = axis.dot(direction);
                if cos.abs() < LEAST_COS {
                    return f64::NEG_INFINITY;
                }
                (to.dot(direction) / cos, radius.mm() / cos.abs())
            }
        };
        if along < 0.0 || along > segment.length().mm() {
            return f64::NEG_INFINITY;
        }
        let off = segment.start + axis.into_inner() * along - self.center;
        self.radius.mm() - off.norm() - needs
    }

    /// The most room along any edge of `centerline`: that where it goes through.
    pub fn room_along(&self, centerline: &Polyline, radius: Length) -> f64 {
        let rooms = centerline.edges().map(|edge| self.room(&edge, radius));
        rooms.fold(f64::NEG_INFINITY, f64::max)
    }
}

/// Cosine of the steepest way through a hole, 80° off square.
pub(super) const LEAST_COS: f64 = 0.17;
