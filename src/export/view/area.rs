//! [`Area`]: an upright rectangle on a page.

use super::{Offset, Spot};

/// Least and greatest coordinates, mm, y down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Upper left corner.
    pub low: Spot,
    /// Lower right corner.
    pub high: Spot,
}

impl Area {
    /// By the middle and half its sides.
    pub fn about(center: Spot, half_width: f64, half_height: f64) -> Self {
        let half = Offset::new(half_width, half_height);
        Self {
            low: center - half,
            high: center + half,
        }
    }

    /// Round spots; all of the plane's middle for none.
    pub fn round(spots: &[Spot]) -> Self {
        let first = spots.first().copied().unwrap_or_default();
        let (low, high) = spots.iter().fold((first, first), |(low, high), spot| {
            (low.inf(spot), high.sup(spot))
        });
        Self { low, high }
    }

    /// With a margin all round.
    pub fn grown(&self, margin: f64) -> Self {
        let margin = Offset::new(margin, margin);
        Self {
            low: self.low - margin,
            high: self.high + margin,
        }
    }

    /// The least area that holds both.
    pub fn with(&self, other: &Self) -> Self {
        Self {
            low: self.low.inf(&other.low),
            high: self.high.sup(&other.high),
        }
    }

    /// What of it is within another.
    pub fn within(&self, other: &Self) -> Self {
        Self {
            low: self.low.sup(&other.low),
            high: self.high.inf(&other.high),
        }
    }

    /// Whether it holds another.
    pub fn holds(&self, other: &Self) -> bool {
        self.with(other) == *self
    }

    /// Its middle.
    pub fn center(&self) -> Spot {
        nalgebra::center(&self.low, &self.high)
    }

    /// Side to side.
    pub fn width(&self) -> f64 {
        self.high.x - self.low.x
    }

    /// Top to bottom.
    pub fn height(&self) -> f64 {
        self.high.y - self.low.y
    }
}
