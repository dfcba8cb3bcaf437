//! [`Joint`]: where two pieces, or a piece and a flange, meet.

use crate::geometry::{Plane, ellipse_perimeter};
use crate::units::{Angle, Length};

/// What meets at a joint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum JointKind {
    /// A tube end at a port: cut square.
    Flange,
    /// A stock bend and its neighbor, both cut square.
    Square,
    /// Two pieces cut on the plane that bisects their axes.
    Miter,
}

/// One weld of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// What meets here.
    pub kind: JointKind,
    /// The plane both faces lie on; its normal points downstream.
    pub plane: Plane,
    /// Change of direction, δ.
    pub deflection: Angle,
    /// How far the bend plane has turned since the bend before, about the axis of the
    /// piece between; zero at the first. At a square joint, that of the stock bend
    /// that begins here.
    pub clock: Angle,
}

impl Joint {
    /// Saw angle off square, κ = δ/2.
    pub fn cut(&self) -> Angle {
        self.deflection / 2.0
    }

    /// Length of weld round the outside of a tube of `radius`: the perimeter of
    /// the ellipse with semi-axes r/cos κ and r.
    pub fn weld_length(&self, radius: Length) -> Length {
        let major = radius.mm() / self.cut().cos();
        Length::from_mm(ellipse_perimeter(major, radius.mm()))
    }
}
