//! [`Bend`]: one corner of a route, and how it is made.

use crate::geometry::{Direction, Point, Vector};
use crate::units::{Angle, Length};

/// How a bend is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Make {
    /// Miter joints, at least one: the tangent polygon of an arc.
    Pies {
        /// How many.
        joints: u32,
    },
    /// A stock bend, cut down where it turns more than is asked for.
    Stock {
        /// Which of the task's stock bends.
        item: usize,
    },
}

/// A bend at one corner of a route.
///
/// Made of pies, n joints share the turn θ evenly: cut angle κ = θ/(2n). On the
/// centerline a pie measures 2·CLR·tan κ; the half pies at both ends, CLR·tan κ each,
/// are one piece with the neighboring straights. A stock bend is a true arc.
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
    /// Pies or a stock bend.
    pub make: Make,
}

impl Bend {
    /// Number of miter joints; none in a stock bend.
    pub const fn joints(&self) -> u32 {
        match self.make {
            Make::Pies { joints } => joints,
            Make::Stock { .. } => 0,
        }
    }

    /// Which of the task's stock bends it is, if it is one.
    pub const fn stock(&self) -> Option<usize> {
        match self.make {
            Make::Pies { .. } => None,
            Make::Stock { item } => Some(item),
        }
    }

    /// Saw angle off square at each joint, κ = θ/(2n); square on a stock bend.
    pub fn cut(&self) -> Angle {
        match self.make {
            Make::Pies { joints } => self.turn / (2.0 * f64::from(joints)),
            Make::Stock { .. } => Angle::ZERO,
        }
    }

    /// Corner to the end of the arc, CLR·tan(θ/2).
    pub fn take_out(&self) -> Length {
        self.clr * (self.turn / 2.0).tan()
    }

    /// Length along the centerline, from the arc's start to its end.
    pub fn length(&self) -> Length {
        match self.make {
            Make::Pies { joints } => self.pie_length() * f64::from(joints),
            Make::Stock { .. } => self.clr * self.turn.radians(),
        }
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

    /// The same bend walked from its end.
    pub fn reversed(&self) -> Self {
        Self {
            incoming: -self.outgoing,
            outgoing: -self.incoming,
            ..*self
        }
    }

    /// Corners of the same arc made as two bends of half the turn each.
    pub fn half_corners(&self) -> [Point; 2] {
        let half_take_out = self.clr * (self.turn / 4.0).tan();
        let along = (self.take_out() - half_take_out).mm();
        [
            self.corner - self.incoming.into_inner() * along,
            self.corner + self.outgoing.into_inner() * along,
        ]
    }

    /// Positions of the miter joints in order of flow; none on a stock bend.
    pub fn vertices(&self) -> Vec<Point> {
        let joints = self.joints();
        if joints <= 1 {
            return vec![self.corner; joints as usize];
        }
        let half_pie = self.pie_length() / 2.0;
        let along = (self.take_out() - half_pie).mm();
        let first = self.corner - self.incoming.into_inner() * along;
        let last = self.corner + self.outgoing.into_inner() * along;
        let arc_start = self.corner - self.incoming.into_inner() * self.take_out().mm();
        let center = arc_start + self.inward() * self.clr.mm();
        let spoke = self.clr.mm() / self.cut().cos();
        let mut vertices = vec![first];
        for joint in 1..joints - 1 {
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
