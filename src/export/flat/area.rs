//! [`Area`]: an upright rectangle on a drawing.

use crate::tube::FlatPoint;

/// A rectangle, mm, y upward.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Area {
    /// Least x.
    pub left: f64,
    /// Greatest x.
    pub right: f64,
    /// Least y.
    pub low: f64,
    /// Greatest y.
    pub high: f64,
}

impl Area {
    /// Nothing at all: joined with another it is that other.
    pub const NONE: Self = Self {
        left: f64::INFINITY,
        right: f64::NEG_INFINITY,
        low: f64::INFINITY,
        high: f64::NEG_INFINITY,
    };

    /// From the lower left corner to the size.
    pub const fn of_size([left, low]: FlatPoint, [width, height]: [f64; 2]) -> Self {
        Self {
            left,
            right: left + width,
            low,
            high: low + height,
        }
    }

    /// The least that holds all of `points`.
    pub fn around(points: impl IntoIterator<Item = FlatPoint>) -> Self {
        let points = points.into_iter();
        points.fold(Self::NONE, |area, [x, y]| {
            area.with(&Self::of_size([x, y], [0.0; 2]))
        })
    }

    /// The least that holds both.
    pub const fn with(&self, other: &Self) -> Self {
        Self {
            left: self.left.min(other.left),
            right: self.right.max(other.right),
            low: self.low.min(other.low),
            high: self.high.max(other.high),
        }
    }

    /// Larger by `by` on every side.
    pub const fn grown(&self, by: f64) -> Self {
        Self {
            left: self.left - by,
            right: self.right + by,
            low: self.low - by,
            high: self.high + by,
        }
    }

    /// Moved.
    pub const fn moved(&self, [x, y]: FlatPoint) -> Self {
        Self {
            left: self.left + x,
            right: self.right + x,
            low: self.low + y,
            high: self.high + y,
        }
    }

    /// From side to side; nothing where there is none.
    pub const fn width(&self) -> f64 {
        (self.right - self.left).max(0.0)
    }

    /// From top to bottom; nothing where there is none.
    pub const fn height(&self) -> f64 {
        (self.high - self.low).max(0.0)
    }

    /// Whether all of `other` lies inside or on the border.
    pub const fn holds(&self, other: &Self) -> bool {
        other.left >= self.left
            && other.right <= self.right
            && other.low >= self.low
            && other.high <= self.high
    }

    /// Whether a point lies inside or on the border.
    pub const fn holds_point(&self, [x, y]: FlatPoint) -> bool {
        x >= self.left && x <= self.right && y >= self.low && y <= self.high
    }

    /// Whether more than `clear` of white lies between the two.
    pub const fn is_clear_of(&self, other: &Self, clear: f64) -> bool {
        self.left > other.right + clear
            || self.right < other.left - clear
            || self.low > other.high + clear
            || self.high < other.low - clear
    }
}
