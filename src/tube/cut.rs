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

    /// How fast the extension grows with the clock, mm a radian.
    pub(super) fn slope(&self, radius: Length, clock: Angle) -> f64 {
        -self.reach(radius).mm() * (clock - self.clock).sin()
    }

    /// Whether a saw can be set to it.
    pub(super) fn is_sane(&self) -> bool {
        self.clock.is_finite() && self.angle >= Angle::ZERO && self.angle < Angle::QUARTER
    }

    /// What two cuts add to a tube's length together: the most, and its clock.
    ///
    /// The two cosines add to one of amplitude r·|tan κ₁·e^{iτ₁} + tan κ₂·e^{iτ₂}|.
    pub(super) fn together(start: &Self, end: &Self, radius: Length) -> (Length, Angle) {
        let (a, b) = (start.reach(radius).mm(), end.reach(radius).mm());
        let (sin, cos) = (end.clock - start.clock).sin_cos();
        let (along, across) = (a + b * cos, b * sin);
        let clock = start.clock + Angle::from_radians(across.atan2(along));
        (Length::from_mm(along.hypot(across)), clock.wrapped())
    }
}
