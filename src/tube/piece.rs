//! [`Piece`]: straight tube with a plane cut at each end.

use super::{Cut, Facets, Mesh, Sleeve, Tube};
use crate::units::{Angle, Length};
use thiserror::Error;

/// A straight piece of tube, cut at both ends.
///
/// The piece's frame has its axis downstream along +z, the center of the start
/// cut at the origin and clock zero along +x.
///
/// The side at clock t, at radius r, is
/// `ℓ(t) = L + r·tan κ₁·cos(t − τ₁) + r·tan κ₂·cos(t − τ₂)`;
/// the two cosines add to one of amplitude `A = r·|tan κ₁·e^{iτ₁} + tan κ₂·e^{iτ₂}|`,
/// so the long side is L + A and the short side L − A, exactly.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    tube: Tube,
    length: Length,
    start: Cut,
    end: Cut,
}

/// Why a piece cannot be cut from a tube.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum PieceError {
    /// A cut of 90° or more, a negative one, or a number that is not finite.
    #[error("a cut angle must be at least 0° and less than 90°")]
    CutAngle,
    /// The two cuts meet inside the tube: the short side is zero or negative.
    #[error("the two cuts meet inside the tube: the short side is {:.3} mm", .short.mm())]
    Vanishes {
        /// The short side that the cuts would leave.
        short: Length,
    },
}

impl Piece {
    /// From center length and two cuts; refuses a piece without a short side.
    pub fn new(tube: Tube, length: Length, start: Cut, end: Cut) -> Result<Self, PieceError> {
        if !(start.is_sane() && end.is_sane() && length.is_finite()) {
            return Err(PieceError::CutAngle);
        }
        let piece = Self {
            tube,
            length,
            start,
            end,
        };
        let short = piece.short_side();
        if short > Length::ZERO {
            Ok(piece)
        } else {
            Err(PieceError::Vanishes { short })
        }
    }

    /// The stock.
    pub const fn tube(&self) -> &Tube {
        &self.tube
    }

    /// Length along the axis, cut to cut.
    pub const fn length(&self) -> Length {
        self.length
    }

    /// The upstream cut.
    pub const fn start(&self) -> Cut {
        self.start
    }

    /// The downstream cut.
    pub const fn end(&self) -> Cut {
        self.end
    }

    /// Clock from the start's long side to the end's, in [0°, 360°); zero if
    /// either end is square and so has no long side.
    pub fn clock(&self) -> Angle {
        if self.start.angle == Angle::ZERO || self.end.angle == Angle::ZERO {
            Angle::ZERO
        } else {
            (self.end.clock - self.start.clock).wrapped()
        }
    }

    /// Length of the outside surface at `clock`.
    pub fn side(&self, clock: Angle) -> Length {
        let radius = self.tube.radius();
        self.length + self.start.extension(radius, clock) + self.end.extension(radius, clock)
    }

    /// The longest side, L + A.
    pub fn long_side(&self) -> Length {
        self.length + self.amplitude()
    }

    /// The shortest side, L − A: what is left on the inside of a bend.
    pub fn short_side(&self) -> Length {
        self.length - self.amplitude()
    }

    /// A = r·|tan κ₁·e^{iτ₁} + tan κ₂·e^{iτ₂}|.
    fn amplitude(&self) -> Length {
        Cut::together(&self.start, &self.end, self.tube.radius()).0
    }

    /// Area of the unrolled outside surface in mm²: π·OD·L, whatever the cuts.
    pub fn outside_area_mm2(&self) -> f64 {
        self.tube.circumference().mm() * self.length.mm()
    }

    /// Volume of the wall in mm³: π·(OD − wall)·wall·L, whatever the cuts.
    pub fn wall_volume_mm3(&self) -> f64 {
        self.tube.wall_area_mm2() * self.length.mm()
    }

    /// The piece as a closed mesh in its own frame.
    pub fn mesh(&self, facets: Facets) -> Mesh {
        Sleeve::from(self).mesh(facets)
    }
}
