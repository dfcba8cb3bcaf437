//! [`Bend`]: a pie bend at one corner of a route.

use crate::geometry::{Direction, Point, Vector};
use crate::units::{Angle, Length};

/// A bend made of miter joints: the tangent polygon of an arc.
///
/// n joints share the turn θ evenly: cut angle κ = θ/(2n). On the centerline a
/// pie measures 2·CLR·tan κ; the half pies at both ends, CLR·tan κ each, are one
/// piece with the neighboring straights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Where the two straights would meet.
    pub corner: Point,
    /// Direction of flow before the bend.
    pub incoming: Direction,
    /// Direction of flow after the bend.
    pub outgoing: Direction,
    /// Change of direction, θ.
    pub turn: Angle,
    /// Centerline radius.
    pub clr: Length,
    /// Number of miter joints, at least one.
    pub joints: u32,
}

impl Bend {
    /// Saw angle off square at each joint, κ = θ/(2n).
    pub fn cut(&self) -> Angle {
        self.turn / (2.0 * f64::from(self.joints))
    }

    /// Corner to the end of the arc, CLR·tan(θ/2).
    pub fn take_out(&self) -> Length {
        self.clr * (self.turn / 2.0).tan()
    }

    /// Center length of a pie, 2·CLR·tan κ.
    pub fn pie_length(&self) -> Length {
        self.clr * (2.0 * self.cut().tan())
    }

    /// Side of a pie on the inside of the bend, 2·(CLR − r)·tan κ.
    pub fn pie_short_side(&self, radius: Length) -> Length {
        (self.clr - radius) * (2.0 * self.cut().tan())
    }

    /// Side of a pie on the outside of the bend, 2·(CLR + r)·tan κ.
    pub fn pie_long_side(&self, radius: Length) -> Length {
        (self.clr + radius) * (2.0 * self.cut().tan())
    }

    /// Radius that the outside of the bend swings through, CLR + r.
    pub fn outside_swing(&self, radius: Length) -> Length {
        self.clr + radius
    }

    /// The same arc as two bends of half the turn each. The joints are shared out,
    /// an odd one to the first; a single joint goes to both.
    pub fn halves(&self) -> [Self; 2] {
        let half_take_out = self.clr * (self.turn / 4.0).tan();
        let along = (self.take_out() - half_take_out).mm();
        let first = self.corner - self.incoming.into_inner() * along;
        let second = self.corner + self.outgoing.into_inner() * along;
        let between = Direction::new_normalize(second - first);
        let half = |corner, incoming, outgoing, joints| Self {
            corner,
            incoming,
            outgoing,
            turn: self.turn / 2.0,
            clr: self.clr,
            joints,
        };
        [
            half(first, self.incoming, between, self.joints.div_ceil(2)),
            half(second, between, self.outgoing, (self.joints / 2).max(1)),
        ]
    }

    /// The joints' positions in order of flow.
    pub fn vertices(&self) -> Vec<Point> {
        if self.joints == 1 {
            return vec![self.corner];
        }
        let half_pie = self.pie_length() / 2.0;
        let along = (self.take_out() - half_pie).mm();
        let first = self.corner - self.incoming.into_inner() * along;
        let last = self.corner + self.outgoing.into_inner() * along;
        let arc_start = self.corner - self.incoming.into_inner() * self.take_out().mm();
        let center = arc_start + self.inward() * self.clr.mm();
        let spoke = self.clr.mm() / self.cut().cos();
        let mut vertices = vec![first];
        for joint in 1..self.joints - 1 {
            let (sin, cos) = (self.cut() * f64::from(2 * joint + 1)).sin_cos();
            let out = self.incoming.into_inner() * sin - self.inward() * cos;
            vertices.push(center + out * spoke);
        }
        vertices.push(last);
        vertices
    }

    /// From the centerline to the center of the arc, at the arc's start.
    fn inward(&self) -> Vector {
        let (incoming, outgoing) = (&self.incoming, &self.outgoing);
        let square = outgoing.into_inner() - incoming.into_inner() * incoming.dot(outgoing);
        Direction::new_normalize(square).into_inner()
    }
}
