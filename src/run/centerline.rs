//! [`Centerline`]: the polyline of a run, some of whose corners are stock bends.

use crate::geometry::{Direction, Point, Polyline, angle_between};
use crate::units::{Angle, Length};

/// Where a run goes: vertices from face to face, each a joint or the corner that the
/// legs of a stock bend would meet at.
#[derive(Clone, Debug, PartialEq)]
pub struct Centerline {
    polyline: Polyline,
    /// CLR of the stock bend at each vertex; `None` at joints.
    bends: Vec<Option<Length>>,
}

/// The arc of a stock bend where it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Where its legs would meet.
    pub corner: Point,
    /// Direction of flow before it.
    pub incoming: Direction,
    /// Direction of flow after it.
    pub outgoing: Direction,
    /// Centerline radius.
    pub clr: Length,
}

impl Arc {
    /// Change of direction, θ.
    pub fn turn(&self) -> Angle {
        angle_between(&self.incoming, &self.outgoing)
    }

    /// Corner to the end of the arc, CLR·tan(θ/2).
    pub fn take_out(&self) -> Length {
        self.clr * (self.turn() / 2.0).tan()
    }

    /// Straight tube between the arc and the joint at `joint`.
    pub fn leg(&self, joint: Point) -> Length {
        Length::from_mm((joint - self.corner).norm()) - self.take_out()
    }

    /// From the arc's center to the middle of the tube at the arc's start: where the
    /// outside of the bend is. Square to the incoming axis.
    pub fn outside(&self) -> Direction {
        let (a, b) = (self.incoming.into_inner(), self.outgoing.into_inner());
        Direction::new_normalize(a * a.dot(&b) - b)
    }

    /// Center of the arc.
    pub fn center(&self) -> Point {
        let start = self.corner - self.incoming.into_inner() * self.take_out().mm();
        start - self.outside().into_inner() * self.clr.mm()
    }

    /// Point and direction of flow after `turned` of the turn.
    pub fn at(&self, turned: Angle) -> (Point, Direction) {
        let (sin, cos) = turned.sin_cos();
        let (along, out) = (self.incoming.into_inner(), self.outside().into_inner());
        let point = self.center() + (out * cos + along * sin) * self.clr.mm();
        (point, Direction::new_normalize(along * cos - out * sin))
    }
}

impl Centerline {
    /// From its vertices and the CLR of the stock bend at each; `None` unless there is
    /// one entry a vertex, bends stand between joints, and every arc fits its legs.
    pub fn new(polyline: Polyline, bends: Vec<Option<Length>>) -> Option<Self> {
        let centerline = Self { polyline, bends };
        centerline.is_sound().then_some(centerline)
    }

    fn is_sound(&self) -> bool {
        let (points, bends) = (self.polyline.points(), &self.bends);
        let ends_are_joints = bends.first() == Some(&None) && bends.last() == Some(&None);
        let apart = !bends
            .windows(2)
            .any(|pair| pair[0].is_some() && pair[1].is_some());
        let fits = (0..bends.len()).all(|vertex| {
            self.arc_at(vertex).is_none_or(|arc| {
                let joints = [points[vertex - 1], points[vertex + 1]];
                joints.into_iter().all(|joint| arc.leg(joint) >= -LEAST_LEG)
            })
        });
        bends.len() == points.len() && ends_are_joints && apart && fits
    }

    /// The vertices as a polyline.
    pub const fn polyline(&self) -> &Polyline {
        &self.polyline
    }

    /// Whether a stock bend stands at `vertex`.
    pub fn is_bend(&self, vertex: usize) -> bool {
        self.bends.get(vertex).is_some_and(Option::is_some)
    }

    /// The stock bend's arc at `vertex`, if there is one.
    pub fn arc_at(&self, vertex: usize) -> Option<Arc> {
        let clr = (*self.bends.get(vertex)?)?;
        let points = self.polyline.points();
        let (before, corner) = (points.get(vertex.checked_sub(1)?)?, points[vertex]);
        Some(Arc {
            corner,
            incoming: Direction::new_normalize(corner - before),
            outgoing: Direction::new_normalize(points.get(vertex + 1)? - corner),
            clr,
        })
    }
}

impl From<Polyline> for Centerline {
    /// Miter joints at every vertex.
    fn from(polyline: Polyline) -> Self {
        let bends = vec![None; polyline.points().len()];
        Self { polyline, bends }
    }
}

/// Legs shorter than this are none: rounding.
pub(super) const LEAST_LEG: Length = Length::from_mm(1e-6);
