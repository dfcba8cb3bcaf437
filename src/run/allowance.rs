//! [`Allowance`]: what a weld takes and a fit-up leaves.

use crate::units::{Angle, Length};

/// How much shorter or longer than its edge a piece is cut at each joint.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Allowance {
    /// Gap left open between the faces at fit-up, measured square to the joint.
    pub gap: Length,
    /// How much the weld then pulls the joint together, measured the same way.
    pub shrinkage: Length,
}

impl Allowance {
    /// How far one face is set back from its joint's plane, along the tube's
    /// axis: (gap − shrinkage)/2/cos κ. Negative where the weld pulls more than
    /// the gap leaves.
    pub fn setback(&self, cut: Angle) -> Length {
        (self.gap - self.shrinkage) / 2.0 / cut.cos()
    }
}
