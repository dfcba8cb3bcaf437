//! [`Cut`]: one end of a piece.

use crate::units::{Angle, Length};

/// A plane cut through a tube.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cut {
    /// Saw angle off square, κ, in [0°, 90°). Zero is a square cut.
    pub angle: Angle,
    /// Clock of the piece's long side at this end, in the piece's own frame,
    /// right-handed about the downstream axis at *both* ends.
    pub clock: Angle,
}

impl Cut {
    /// A square cut.
    pub const SQUARE: Self = Self {
        angle: Angle::ZERO,
        clock: Angle::ZERO,
    };

    /// How much longer the piece is at `clock` than at its center, at `radius`
    /// from the axis: r·tan κ·cos(clock − long side). Negative on the short side.
    pub fn extension(&self, radius: Length, clock: Angle) -> Length {
        self.reach(radius) * (clock - self.clock).cos()
    }

    /// The extension at the long side: r·tan κ.
    pub fn reach(&self, radius: Length) -> Length {
        radius * self.angle.tan()
    }
}
