//! [`Level`]: what a level and a compass say of the job's frame.

use super::{Direction, Vector};

/// Sine of the angle to plumb from which a tube has a top that a level finds: 30°.
const HAS_TOP: f64 = 0.5;

/// Straight up, and heading zero square to it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Straight up, as a level sees it.
    pub up: Direction,
    /// Heading zero, square to `up`.
    pub ahead: Direction,
}

/// A side of a tube that can be found without any mark on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FoundSide {
    /// Its highest.
    Top,
    /// The one that is farthest ahead, of a tube that is nearly plumb.
    Ahead,
}

impl FoundSide {
    /// In one word.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Top => "top",
            Self::Ahead => "ahead",
        }
    }
}

impl Default for Level {
    /// Up is +z, ahead is +x.
    fn default() -> Self {
        Self {
            up: Vector::z_axis(),
            ahead: Vector::x_axis(),
        }
    }
}

impl Level {
    /// The side of a tube along `axis` that is found best, and the direction to it, square to
    /// the axis: the top, or where the tube stands within 30° of plumb the side ahead.
    pub fn side_of(&self, axis: &Direction) -> (FoundSide, Direction) {
        let square = |to: &Direction| to.into_inner() - axis.into_inner() * axis.dot(to);
        let top = square(&self.up);
        if top.norm() >= HAS_TOP {
            (FoundSide::Top, Direction::new_normalize(top))
        } else {
            // Ahead is square to up, so at least cos 30° of it is square to the axis.
            let ahead = Direction::new_normalize(square(&self.ahead));
            (FoundSide::Ahead, ahead)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_tube_has_a_top_and_a_plumb_one_is_seen_from_ahead() {
        let level = Level::default();
        let along = |x: f64, z: f64| Direction::new_normalize(Vector::new(x, 0.0, z));
        let (side, way) = level.side_of(&Vector::y_axis());
        assert_eq!((side, way), (FoundSide::Top, Vector::z_axis()));
        let (side, way) = level.side_of(&-Vector::z_axis());
        assert_eq!((side, way), (FoundSide::Ahead, Vector::x_axis()));
        // 31° and 29° off plumb.
        let lean = |degrees: f64| along(degrees.to_radians().sin(), degrees.to_radians().cos());
        for (degrees, expected) in [(31.0, FoundSide::Top), (29.0, FoundSide::Ahead)] {
            let axis = lean(degrees);
            let (side, way) = level.side_of(&axis);
            assert_eq!(side, expected);
            assert!(way.dot(&axis).abs() < 1e-12);
        }
    }
}
