//! Where a stop stands for a cut.

use crate::units::{Angle, Length};

/// From a stop to the saw, along the tube's axis: L + r·tan κ₁ + r·tan κ₂.
///
/// The stop is a flat face square to the tube and at least as wide, on the side where
/// pieces drop off. The foremost point of the face that is cut already touches it:
/// r·tan κ₁ ahead of that face's center, wherever its long side has been turned to. The
/// distance is measured to where the saw enters or leaves the tube at this cut's own
/// long side, on the side of the piece, so that no kerf is in it: r·tan κ₂ behind the
/// cut's center. It is what the piece measures between two flat plates: its long side,
/// where both long sides stand on one line (clock 0), and more than any side where they
/// do not.
pub fn stop_distance(length: Length, radius: Length, cuts: [Angle; 2]) -> Length {
    length + cuts.map(|cut| radius * cut.tan()).into_iter().sum()
}
