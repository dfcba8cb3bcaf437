//! [`Trim`]: a built end cut again, on the plane of a true miter.

use super::built_end::{flat_edge, slope};
use super::{BuiltEnd, Side};
use crate::geometry::{Direction, Plane, angle_between, toward};
use crate::tube::Edge;
use crate::units::{Angle, Length};

/// Sides at which a ragged rim is compared with a new plane.
const SIDES: usize = 360;

/// A built end cut again.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Trim {
    /// Where to cut: its point is on the tube's axis, its normal points out of the tube.
    pub plane: Plane,
    /// Saw angle off square.
    pub cut: Angle,
    /// What comes off at the axis.
    pub off: Length,
    /// Least and most that comes off round the outside.
    pub least: Length,
    /// See `least`.
    pub most: Length,
}

impl Trim {
    /// What comes off when `end` is cut at `plane`, whose point lies on its axis.
    pub(super) fn new(end: &BuiltEnd, plane: Plane, radius: Length) -> Self {
        let back = Length::from_mm(end.axis.dot(&(end.center - plane.point)));
        let (least, most) = spread(end, &plane.normal, radius);
        Self {
            plane,
            cut: angle_between(&end.axis, &plane.normal),
            off: back,
            least: back + least,
            most: back + most,
        }
    }
}

/// How far back from the rim a new cut is, at one side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Back {
    /// Clockwise looking downstream, from the end's mark.
    pub clock: Angle,
    /// From the rim as it is, along the tube.
    pub back: Length,
}

impl Trim {
    /// The cut as an edge of tube, by the same clocks as [`BuiltEnd::edge`].
    pub fn edge(&self, end: &BuiltEnd, side: Side) -> Edge {
        let downstream = side.downstream(&end.axis);
        flat_edge(&self.plane.normal, &end.axis, &downstream, &end.mark_side())
    }

    /// How far back from the rim of `end` the cut is at `count` sides, from its mark on
    /// clockwise looking downstream.
    pub fn back(&self, end: &BuiltEnd, side: Side, radius: Length, count: u32) -> Vec<Back> {
        let zero = end.mark_side();
        let new = slope(&self.plane.normal, &end.axis);
        let downstream = side.downstream(&end.axis);
        let back = |i: u32| {
            let clock = Angle::FULL * (f64::from(i) / f64::from(count));
            let out = toward(&downstream, &zero, clock);
            let new = radius * new.dot(&out);
            Back {
                clock,
                back: self.off + end.height(&out, radius) - new,
            }
        };
        (0..count).map(back).collect()
    }
}

/// How far the rim of `end` stands out over a plane of `normal` through its center, least
/// and most round the outside. On two planes the difference is r·(g − g')·e at the side e.
pub(super) fn spread(end: &BuiltEnd, normal: &Direction, radius: Length) -> (Length, Length) {
    let new = slope(normal, &end.axis);
    match &end.rim {
        super::Rim::Flat(old) => {
            let reach = radius * (slope(old, &end.axis) - new).norm();
            (-reach, reach)
        }
        super::Rim::Ragged { .. } => {
            let heights = end.rim_points(radius, SIDES).into_iter().map(|point| {
                let arm = point - end.center;
                let along = end.axis.dot(&arm);
                let out = arm - end.axis.into_inner() * along;
                Length::from_mm(along - new.dot(&out))
            });
            let fold = |(least, most): (Length, Length), height: Length| {
                (least.min(height), most.max(height))
            };
            let none = (
                Length::from_mm(f64::INFINITY),
                Length::from_mm(-f64::INFINITY),
            );
            heights.fold(none, fold)
        }
    }
}
