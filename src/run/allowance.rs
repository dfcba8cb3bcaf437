//! [`Allowance`]: what a weld takes and a fit-up leaves.

use super::{Joint, JointKind, Run};
use crate::geometry::Vector;
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
    /// What is left of the gap once the joint is welded, square to it. Negative where the
    /// weld pulls more than the gap leaves.
    pub fn root(&self) -> Length {
        self.gap - self.shrinkage
    }

    /// How far one of two faces is set back from the plane of their joint, along the tube's
    /// axis: (gap − shrinkage)/2/cos κ. The two pieces share what the joint takes.
    pub fn setback(&self, cut: Angle) -> Length {
        self.root() / 2.0 / cut.cos()
    }

    /// How far past the plane of `joint` a piece's face stands, along the tube's axis;
    /// negative behind it.
    ///
    /// At a port nobody cuts the flange back, so the tube alone gives the whole gap and
    /// takes the whole pull: gap − shrinkage. In a `socket` it passes the face by the
    /// socket's depth, and there is no gap.
    pub fn past(&self, joint: &Joint, socket: Length) -> Length {
        match joint.kind {
            JointKind::Flange if socket > Length::ZERO => socket,
            JointKind::Flange => -self.root(),
            JointKind::Miter | JointKind::Square => -self.setback(joint.cut()),
        }
    }

    /// The most that a piece loses at both of its ends, at cuts up to `most`: one end may
    /// stand at a port.
    pub fn most_off(&self, most: Angle) -> Length {
        (self.root() + self.setback(most)).max(Length::ZERO)
    }

    /// How far the welds of some `joints` of `run` pull what comes after them toward what
    /// comes before, downstream positive: the shrinkage of each, square to it. In a socket
    /// the weld pulls nothing together.
    pub fn pull(
        &self,
        run: &Run,
        sockets: [Length; 2],
        joints: impl Iterator<Item = usize>,
    ) -> Vector {
        let last = run.joints().len() - 1;
        let in_socket =
            |joint: usize, at: usize, i: usize| joint == at && sockets[i] > Length::ZERO;
        let normals = joints
            .filter(|&joint| !in_socket(joint, 0, 0) && !in_socket(joint, last, 1))
            .filter_map(|joint| Some(run.joints().get(joint)?.plane.normal.into_inner()));
        normals.sum::<Vector>() * self.shrinkage.mm()
    }
}
