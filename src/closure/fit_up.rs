//! [`FitUp`]: what a closing piece must keep to be welded.

use crate::route::{Limits, Rates};
use crate::tube::Tube;
use crate::units::{Angle, Length};

/// Greatest mismatch of the walls, as a part of the wall.
///
/// ISO 5817, imperfection 507, circumferential welds at cylindrical hollow sections: half
/// of the wall at quality levels B, C and D alike (from memory), up to 2, 3 and 4 mm.
const HIGH_LOW_PER_WALL: f64 = 0.5;
/// Widest gap that a torch bridges well, in walls (common practice, no source).
const GAP_PER_WALL: f64 = 1.0;
/// Least that comes off where an end is cut again: a saw or a disk needs metal on both
/// sides of its kerf to run true (common practice, no source).
const LEAST_SHAVE: Length = Length::from_inches(1.0 / 32.0);

/// What a closing piece must keep to be welded, and what its making costs.
#[derive(Clone, Debug, PartialEq)]
pub struct FitUp {
    /// Root gap that is left at each seam, square to it.
    pub gap: Length,
    /// Widest gap that can be welded.
    pub most_gap: Length,
    /// Greatest mismatch of the walls.
    pub high_low: Length,
    /// Least short side of any piece.
    pub short_side: Length,
    /// Greatest saw angle off square.
    pub most_cut: Angle,
    /// Least that comes off an end that is cut again.
    pub shave: Length,
    /// How much each built end can lose at its short side before a weld or the least
    /// short side of its own piece is reached, where that is known.
    pub spare: [Option<Length>; 2],
    /// Which ends are ports that nothing is built from.
    pub at_port: [bool; 2],
    /// Minutes of work.
    pub rates: Rates,
}

impl FitUp {
    /// Minutes to mark and cut a built end again.
    pub(super) fn again_minutes(&self) -> f64 {
        let rates = &self.rates;
        rates.setup_minutes + rates.clock_minutes + rates.cut_minutes
    }

    /// What a shop usually asks for on `tube`.
    pub fn usual(tube: &Tube, limits: &Limits, rates: Rates, gap: Length) -> Self {
        Self {
            gap,
            most_gap: (tube.wall() * GAP_PER_WALL).max(gap),
            high_low: tube.wall() * HIGH_LOW_PER_WALL,
            short_side: limits.min_short_side,
            most_cut: limits.max_cut,
            shave: LEAST_SHAVE,
            spare: [None; 2],
            at_port: [false; 2],
            rates,
        }
    }
}
