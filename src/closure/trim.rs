//! [`Trim`]: a built end cut again, on the plane of a true miter.

use super::BuiltEnd;
use super::built_end::slope;
use crate::geometry::{Direction, Plane, angle_between};
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
