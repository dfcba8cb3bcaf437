//! [`Freedom`]: how far a port may still be moved to suit the run.

use crate::geometry::{Direction, Vector, angle_between};
use crate::units::{Angle, Length};

/// A direction in which a port's center may slide.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slide {
    /// Which way is ahead.
    pub along: Direction,
    /// How far it may go against that direction; not negative.
    pub back: Length,
    /// How far it may go that way; not negative.
    pub ahead: Length,
}

/// What is still open about a port: "somewhere down there, aimed back".
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Freedom {
    /// Where the center may go: any sum of these, up to three that are not in one plane.
    pub slides: Vec<Slide>,
    /// How far the outward direction may lean from the one given, any way round; less
    /// than [`Freedom::WIDEST_CONE`].
    pub cone: Angle,
}

impl Freedom {
    /// Cones beyond this say nothing about a direction any more.
    pub const WIDEST_CONE: Angle = Angle::from_degrees(80.0);

    /// Whether the port is as given and nothing else.
    pub fn is_none(&self) -> bool {
        self.slides.is_empty() && self.cone <= Angle::ZERO
    }

    /// How far, mm, `offset` of the center is beyond what the slides allow; zero within.
    ///
    /// The offset is split along the slides by least squares; what no slide can make
    /// counts as well.
    pub fn overshoot(&self, offset: &Vector) -> f64 {
        if self.slides.is_empty() {
            return offset.norm();
        }
        let columns: Vec<Vector> = self.slides.iter().map(|s| s.along.into_inner()).collect();
        let matrix =
            nalgebra::DMatrix::from_fn(3, columns.len(), |row, column| columns[column][row]);
        let wanted = nalgebra::DVector::from_row_slice(offset.as_slice());
        let Ok(parts) = matrix.clone().svd(true, true).solve(&wanted, DEPENDENT) else {
            return offset.norm();
        };
        let left = (wanted - matrix * &parts).norm();
        let beyond = self.slides.iter().zip(parts.iter()).map(|(slide, &part)| {
            (part - slide.ahead.mm())
                .max(-slide.back.mm() - part)
                .max(0.0)
        });
        beyond.fold(left, f64::max)
    }

    /// How far a direction leans beyond the cone round `given`; zero within.
    pub fn overlean(&self, given: &Direction, direction: &Direction) -> Angle {
        (angle_between(given, direction) - self.cone).max(Angle::ZERO)
    }

    /// Whether the slides point in independent ways, so that each place is reached in
    /// one way only.
    pub fn is_sound(&self) -> bool {
        let along = |i: usize| self.slides.get(i).map(|slide| slide.along.into_inner());
        match (self.slides.len(), along(0), along(1), along(2)) {
            (0 | 1, ..) => true,
            (2, Some(a), Some(b), _) => a.cross(&b).norm() > DEPENDENT,
            (3, Some(a), Some(b), Some(c)) => a.cross(&b).dot(&c).abs() > DEPENDENT,
            _ => false,
        }
    }
}

/// Sine below which slides count as pointing the same way.
const DEPENDENT: f64 = 1e-3;
