//! [`FitError`]: why points hold no fit.

use thiserror::Error;

/// Why points hold no fit.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum FitError {
    /// Fewer points than it takes.
    #[error("{given} points are too few: it takes {needed}")]
    TooFew {
        /// Points given, those of weight zero not counted.
        given: usize,
        /// Least number.
        needed: usize,
    },
    /// Lists that should go together are of different lengths.
    #[error("{from} points cannot be paired with {to}")]
    Unpaired {
        /// Points of the first list.
        from: usize,
        /// Points or weights of the second.
        to: usize,
    },
    /// A coordinate is not a number, or absurdly large.
    #[error("point {number} has a coordinate that is no number within ±1e12 mm")]
    NotFinite {
        /// Which point, counted from 1.
        number: usize,
    },
    /// A weight is negative or not a number within reason.
    #[error("weight {number} is not a number from 0 to 1e12")]
    Weight {
        /// Which weight, counted from 1.
        number: usize,
    },
    /// All points are one.
    #[error("the points are all in one place")]
    Coincident,
    /// The points lie on a line, which leaves the turn about it free.
    #[error("the points lie on a line ({width_mm:.3} mm wide), so the turn about it is free")]
    Collinear {
        /// Their standard deviation across the line, mm.
        width_mm: f64,
    },
    /// A circle is no better than a straight line.
    #[error("the points lie on no circle: a straight line fits them as well")]
    Straight,
    /// Pairs that contradict each other so that several rotations fit alike, as where
    /// one list is the other's mirror image.
    #[error("the pairs contradict each other: several rotations fit them equally badly")]
    Ambiguous,
}
