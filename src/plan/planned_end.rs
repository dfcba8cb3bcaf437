//! [`PlannedEnd`]: where a built end should stand.

use crate::closure::Side;
use crate::geometry::{Direction, Point};
use crate::run::{Allowance, JointKind, Run};
use crate::units::Angle;

/// The end of what is built, as the plan has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlannedEnd {
    /// Where its axis meets its face.
    pub center: Point,
    /// Of the tube, out into the gap.
    pub axis: Direction,
    /// Of the face, out of the tube.
    pub normal: Direction,
    /// Its saw angle.
    pub cut: Angle,
}

/// The end at `joint` of `run` of what is built from the first port, for the side before
/// the gap, or from the last. `None` where there is none: at the port itself.
///
/// A face stands behind its joint's plane by half of the gap less the shrinkage.
pub(super) fn planned_end(
    run: &Run,
    joint: usize,
    side: Side,
    allowance: Allowance,
) -> Option<PlannedEnd> {
    let at = run.joints().get(joint)?;
    if at.kind == JointKind::Flange {
        return None;
    }
    let (axis, normal) = match side {
        Side::Before => (run.pieces()[joint - 1].end_axis(), at.plane.normal),
        Side::After => (-run.pieces()[joint].axis, -at.plane.normal),
    };
    let setback = allowance.setback(at.cut());
    Some(PlannedEnd {
        center: at.plane.point - axis.into_inner() * setback.mm(),
        axis,
        normal,
        cut: at.cut(),
    })
}
