//! [`BuiltEnd`]: the end of a tube as it was really built.

use super::{Axis, Side};
use crate::geometry::{
    Direction, Plane, Point, Scatter, Vector, clock_between, perpendicular, toward,
};
use crate::tube::{Cut, Edge, Scribed};
use crate::units::{Angle, Length};
use std::f64::consts::TAU;

/// The rim of a tube's end.
#[derive(Clone, Debug, PartialEq)]
pub enum Rim {
    /// Cut flat, square or mitered: the normal of its plane, out of the tube.
    Flat(Direction),
    /// As it is: how far it stands out along the axis, by clock about the axis.
    Ragged {
        /// Clock zero; square to the axis.
        zero: Direction,
        /// Heights over the center.
        edge: Scribed,
    },
}

/// The end of a built tube, with the gap in front of it.
///
/// Its rim is where the tube's outside, of radius r about the axis, ends. On a flat rim of
/// normal n, the outside at the side e (a unit vector square to the axis d) ends at
/// center + r·e + h·d with h = r·g·e and the slope g = −(n − (n·d)d)/(n·d).
#[derive(Clone, Debug, PartialEq)]
pub struct BuiltEnd {
    /// Where its axis meets its rim; on a ragged one, at its mean height.
    pub center: Point,
    /// Of the tube, out into the gap.
    pub axis: Direction,
    /// How it is cut.
    pub rim: Rim,
    /// How well center and axis are known.
    pub axis_scatter: Scatter,
    /// How well center and rim are known: its turn is that of the rim's normal.
    pub rim_scatter: Scatter,
    /// A place that is marked on the tube, such as the first rim point, and its name.
    pub mark: Option<(Point, String)>,
}

impl BuiltEnd {
    /// A flat end, exactly known.
    pub fn flat(center: Point, axis: Direction, normal: Direction) -> Self {
        Self {
            center,
            axis,
            rim: Rim::Flat(normal),
            axis_scatter: Scatter::none(),
            rim_scatter: Scatter::none(),
            mark: None,
        }
    }

    /// The normal of a flat rim; the axis of a ragged one.
    pub fn normal(&self) -> Direction {
        match self.rim {
            Rim::Flat(normal) => normal,
            Rim::Ragged { .. } => self.axis,
        }
    }

    /// The plane of a flat rim, its normal out of the tube.
    pub fn plane(&self) -> Option<Plane> {
        match self.rim {
            Rim::Flat(normal) => Some(Plane {
                point: self.center,
                normal,
            }),
            Rim::Ragged { .. } => None,
        }
    }

    /// How far the rim stands out over the center at the side `out`, a direction square
    /// to the axis, on a tube of `radius`.
    pub fn height(&self, out: &Direction, radius: Length) -> Length {
        match &self.rim {
            Rim::Flat(normal) => radius * slope(normal, &self.axis).dot(out),
            Rim::Ragged { zero, edge } => edge.extension(clock_between(&self.axis, zero, out)),
        }
    }

    /// Where the outside of a tube of `radius` ends at the side `out`.
    pub fn rim_point(&self, out: &Direction, radius: Length) -> Point {
        let height = self.height(out, radius);
        self.center + out.into_inner() * radius.mm() + self.axis.into_inner() * height.mm()
    }

    /// Its rim as an edge of tube, by clock looking downstream from its mark's side; it
    /// adds where the tube is longer than at its center.
    pub fn edge(&self, side: Side) -> Edge {
        let zero = self.mark_side();
        let downstream = side.downstream(&self.axis);
        match &self.rim {
            Rim::Flat(normal) => flat_edge(normal, &self.axis, &downstream, &zero),
            Rim::Ragged { zero: own, edge } => {
                let knots: Vec<(Angle, Length)> = edge
                    .knots()
                    .map(|(clock, height)| {
                        let out = toward(&self.axis, own, clock);
                        (clock_between(&downstream, &zero, &out), height)
                    })
                    .collect();
                // The same clocks, perhaps the other way round.
                Scribed::new(&knots).map_or(Edge::SQUARE, Edge::Scribed)
            }
        }
    }

    /// The side of its mark, square to its axis; some side where it has none.
    pub fn mark_side(&self) -> Direction {
        let out = self.mark.as_ref().and_then(|(at, _)| {
            let axis = Axis {
                through: self.center,
                along: self.axis,
            };
            Direction::try_new(axis.out(at), f64::EPSILON)
        });
        out.unwrap_or_else(|| perpendicular(&self.axis))
    }

    /// The outside's end at `count` sides evenly round the tube.
    pub fn rim_points(&self, radius: Length, count: usize) -> Vec<Point> {
        (0..count)
            .map(|i| Angle::from_radians(TAU * i as f64 / count as f64))
            .map(|clock| self.rim_at(clock, radius))
            .collect()
    }

    /// The outside's end at `clock` about the axis, from a zero of its own.
    pub(super) fn rim_at(&self, clock: Angle, radius: Length) -> Point {
        let zero = match &self.rim {
            Rim::Flat(_) => perpendicular(&self.axis),
            Rim::Ragged { zero, .. } => *zero,
        };
        self.rim_point(&toward(&self.axis, &zero, clock), radius)
    }

    /// The end moved as it stands.
    pub fn shifted(&self, by: &Vector) -> Self {
        let mark = self.mark.as_ref();
        Self {
            center: self.center + by,
            mark: mark.map(|(at, name)| (at + by, name.clone())),
            ..self.clone()
        }
    }

    /// The end as if its tube went on by `gap`, measured square to its rim.
    pub fn extended(&self, gap: Length) -> Self {
        let along = gap.mm() / self.normal().dot(&self.axis);
        Self {
            center: self.center + self.axis.into_inner() * along,
            ..self.clone()
        }
    }

    /// The least and greatest height of the rim over the center, on a tube of `radius`.
    pub fn heights(&self, radius: Length) -> (Length, Length) {
        match &self.rim {
            Rim::Flat(normal) => {
                let reach = radius * slope(normal, &self.axis).norm();
                (-reach, reach)
            }
            Rim::Ragged { edge, .. } => {
                let least = edge.knots().map(|knot| knot.1).reduce(Length::min);
                let most = edge.knots().map(|knot| knot.1).reduce(Length::max);
                (least.unwrap_or(Length::ZERO), most.unwrap_or(Length::ZERO))
            }
        }
    }
}

/// Slope of a plane cut over the tube that it ends: its height at the side e is r·(g·e),
/// and |g| = tan κ.
pub(super) fn slope(normal: &Direction, axis: &Direction) -> Vector {
    let along = normal.dot(axis);
    -(normal.into_inner() - axis.into_inner() * along) / along
}

/// A plane cut of a tube that ends along `axis`, as an edge by clock about `downstream`.
pub(super) fn flat_edge(
    normal: &Direction,
    axis: &Direction,
    downstream: &Direction,
    zero: &Direction,
) -> Edge {
    let slope = slope(normal, axis);
    match Direction::try_new(slope, f64::EPSILON) {
        None => Edge::SQUARE,
        Some(long) => Edge::Cut(Cut {
            angle: Angle::from_radians(slope.norm().atan()),
            clock: clock_between(downstream, zero, &long),
        }),
    }
}
