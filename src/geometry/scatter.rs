//! [`Scatter`]: how far a place and a direction may be off, to first order.

use super::{Direction, Vector, perpendicular};
use crate::units::{Angle, Length};
use nalgebra::{Matrix2, Matrix3, Matrix6, SymmetricEigen};

/// Bound on the iterations of a symmetric eigenvalue decomposition of 3 × 3; ten do.
const EIGEN_STEPS: usize = 1000;

/// Covariance of a small motion of something that has a place and stands in space: a
/// port's face, the built end of a run.
///
/// The motion is a shift of the place, mm, and a turn about it, rad, as a rotation
/// vector ω (a direction d goes to d + ω × d), both in the job's frame; the covariance
/// has the shift's rows first. First order: turns of more than some 10° are beyond it.
/// The default is exactly where it should be.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Scatter {
    covariance: Matrix6<f64>,
}

impl Scatter {
    /// Exactly where it should be.
    pub fn none() -> Self {
        Self {
            covariance: Matrix6::zeros(),
        }
    }

    /// From a covariance, shift first; what is not symmetric in it is rounding.
    pub fn new(covariance: Matrix6<f64>) -> Self {
        Self {
            covariance: (covariance + covariance.transpose()) / 2.0,
        }
    }

    /// The same standard deviation `shift` along every axis, and `lean` about every
    /// axis square to `axis`; nothing about `axis` itself, which round tube does not
    /// show.
    pub fn even(shift: Length, lean: Angle, axis: &Direction) -> Self {
        let across = Matrix3::identity() - axis.into_inner() * axis.transpose();
        let mut covariance = Matrix6::zeros();
        covariance
            .fixed_view_mut::<3, 3>(0, 0)
            .copy_from(&(Matrix3::identity() * shift.mm().powi(2)));
        covariance
            .fixed_view_mut::<3, 3>(3, 3)
            .copy_from(&(across * lean.radians().powi(2)));
        Self { covariance }
    }

    /// One source of error: the motion that one standard deviation of it makes.
    pub fn of_motion(shift: &Vector, turn: &Vector) -> Self {
        let mut motion = nalgebra::Vector6::zeros();
        motion.fixed_rows_mut::<3>(0).copy_from(shift);
        motion.fixed_rows_mut::<3>(3).copy_from(turn);
        Self {
            covariance: motion * motion.transpose(),
        }
    }

    /// The covariance: shift first, then turn; mm², mm·rad and rad².
    pub const fn covariance(&self) -> &Matrix6<f64> {
        &self.covariance
    }

    /// Whether nothing is off.
    pub fn is_none(&self) -> bool {
        self.covariance.iter().all(|entry| *entry == 0.0)
    }

    /// Both of two independent scatters of one thing.
    pub fn plus(&self, other: &Self) -> Self {
        Self {
            covariance: self.covariance + other.covariance,
        }
    }

    /// With every deviation `factor` times as large.
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            covariance: self.covariance * (factor * factor),
        }
    }

    /// The same motion as it shows at a place `arm` away that is carried along: shift +
    /// turn × arm.
    pub fn seen_at(&self, arm: &Vector) -> Self {
        let mut carry = Matrix6::identity();
        carry
            .fixed_view_mut::<3, 3>(0, 3)
            .copy_from(&-arm.cross_matrix());
        Self::new(carry * self.covariance * carry.transpose())
    }

    /// Covariance of the shift, mm².
    pub fn shift(&self) -> Matrix3<f64> {
        self.covariance.fixed_view::<3, 3>(0, 0).into_owned()
    }

    /// Covariance of the turn, rad².
    pub fn turn(&self) -> Matrix3<f64> {
        self.covariance.fixed_view::<3, 3>(3, 3).into_owned()
    }

    /// Standard deviations of the place along the axes of their ellipsoid, the greatest
    /// first.
    pub fn ellipsoid(&self) -> [(Length, Direction); 3] {
        let found = SymmetricEigen::try_new(self.shift(), f64::EPSILON, EIGEN_STEPS);
        let Some(found) = found.filter(|found| found.eigenvalues.iter().all(|v| v.is_finite()))
        else {
            return [Vector::x_axis(), Vector::y_axis(), Vector::z_axis()]
                .map(|axis| (self.along(&axis), axis));
        };
        let mut axes = [0, 1, 2].map(|i| {
            let axis = Direction::new_normalize(found.eigenvectors.column(i).into_owned());
            (deviation(found.eigenvalues[i]), forward(axis))
        });
        axes.sort_by(|a, b| b.0.total_cmp(&a.0));
        axes.map(|(deviation, axis)| (Length::from_mm(deviation), axis))
    }

    /// Standard deviation of the place along a direction.
    pub fn along(&self, direction: &Direction) -> Length {
        Length::from_mm(deviation(
            direction.dot(&(self.shift() * direction.into_inner())),
        ))
    }

    /// Root mean square distance of the place from where it should be.
    pub fn distance(&self) -> Length {
        Length::from_mm(deviation(self.shift().trace()))
    }

    /// Standard deviations of a direction carried along, the greatest first, each with
    /// the way that the direction leans.
    pub fn leans(&self, axis: &Direction) -> [(Angle, Direction); 2] {
        let first = perpendicular(axis);
        let second = Direction::new_unchecked(axis.cross(&first));
        // d moves by ω × d: along e by ω·(d × e).
        let rows = [first, second].map(|e| axis.cross(&e));
        let turn = self.turn();
        let entry = |i: usize, j: usize| rows[i].dot(&(turn * rows[j]));
        let matrix = Matrix2::new(entry(0, 0), entry(0, 1), entry(1, 0), entry(1, 1));
        let (half, apart) = (
            matrix.trace() / 2.0,
            (matrix.m11 - matrix.m22).hypot(2.0 * matrix.m12) / 2.0,
        );
        // The greatest deviation stands at half the angle of (m11 − m22, 2·m12).
        let at = (2.0 * matrix.m12).atan2(matrix.m11 - matrix.m22) / 2.0;
        let (sin, cos) = at.sin_cos();
        let toward = |c: f64, s: f64| {
            forward(Direction::new_normalize(
                first.into_inner() * c + second.into_inner() * s,
            ))
        };
        [
            (
                Angle::from_radians(deviation(half + apart)),
                toward(cos, sin),
            ),
            (
                Angle::from_radians(deviation(half - apart)),
                toward(-sin, cos),
            ),
        ]
    }

    /// The greatest of [`Scatter::leans`].
    pub fn lean(&self, axis: &Direction) -> Angle {
        self.leans(axis)[0].0
    }
}

/// Root of a variance; rounding below zero counts as zero.
fn deviation(variance: f64) -> f64 {
    variance.max(0.0).sqrt()
}

/// A line's direction with its greatest coordinate positive, so that the same ellipsoid
/// is always told in the same words.
fn forward(axis: Direction) -> Direction {
    if axis[axis.iamax()] < 0.0 {
        -axis
    } else {
        axis
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;
    use proptest::prelude::*;

    #[test]
    fn an_ellipsoid_is_told_greatest_first() {
        let turn = Rotation3::new(Vector::new(0.3, -0.8, 0.5));
        let sizes = [3.0, 1.0, 0.25];
        let own = Matrix3::from_diagonal(&Vector::from(sizes.map(|s| s * s)));
        let mut covariance = Matrix6::zeros();
        covariance
            .fixed_view_mut::<3, 3>(0, 0)
            .copy_from(&(turn.matrix() * own * turn.matrix().transpose()));
        let scatter = Scatter::new(covariance);
        for (i, (size, axis)) in scatter.ellipsoid().into_iter().enumerate() {
            assert!((size.mm() - sizes[i]).abs() < 1e-12);
            assert!((axis.dot(&turn.matrix().column(i)).abs() - 1.0).abs() < 1e-12);
            assert!((scatter.along(&axis).mm() - sizes[i]).abs() < 1e-12);
        }
        assert!((scatter.distance().mm() - 10.0625_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_turn_shows_as_a_shift_at_the_end_of_an_arm() {
        // 1° about z at the end of 100 mm along x: 1.745 mm along y.
        let one = Angle::from_degrees(1.0);
        let scatter = Scatter::of_motion(&Vector::zeros(), &(Vector::z() * one.radians()));
        let seen = scatter.seen_at(&(Vector::x() * 100.0));
        assert!((seen.along(&Vector::y_axis()).mm() - 100.0 * one.radians()).abs() < 1e-12);
        assert!(seen.along(&Vector::x_axis()).mm() < 1e-12);
        assert!((seen.leans(&Vector::x_axis())[0].1.y - 1.0).abs() < 1e-12);
        assert!((seen.lean(&Vector::x_axis()) / one - 1.0).abs() < 1e-12);
        assert!(seen.lean(&Vector::z_axis()) == Angle::ZERO);
    }

    #[test]
    fn even_is_even() {
        let axis = Direction::new_normalize(Vector::new(1.0, 2.0, -2.0));
        let (shift, lean) = (Length::from_mm(0.5), Angle::from_degrees(0.3));
        let scatter = Scatter::even(shift, lean, &axis);
        for (size, _) in scatter.ellipsoid() {
            assert!((size.mm() - 0.5).abs() < 1e-12);
        }
        for (angle, toward) in scatter.leans(&axis) {
            assert!((angle / lean - 1.0).abs() < 1e-12);
            assert!(toward.dot(&axis).abs() < 1e-12);
        }
    }

    proptest! {
        #[test]
        fn carrying_there_and_back_changes_nothing(
            entries in prop::collection::vec(-1.0..1.0_f64, 36), arm in prop::array::uniform3(-100.0..100.0_f64),
        ) {
            let root = Matrix6::from_column_slice(&entries);
            let scatter = Scatter::new(root * root.transpose());
            let arm = Vector::from(arm);
            let back = scatter.seen_at(&arm).seen_at(&-arm);
            let size = arm.norm_squared().max(1.0);
            prop_assert!((back.covariance() - scatter.covariance()).amax() < 1e-12 * size);
        }

        #[test]
        fn no_number_breaks_it(entries in prop::collection::vec(any::<f64>(), 36)) {
            let scatter = Scatter::new(Matrix6::from_column_slice(&entries));
            let _ = (scatter.ellipsoid(), scatter.leans(&Vector::x_axis()));
        }
    }
}
