//! [`RigidFit`]: the motion that carries points to where they should be.

use super::FitError;
use super::spread::{self, Spread};
use crate::geometry::{Direction, Point, Vector, least_turn};
use crate::units::{Angle, Length};
use nalgebra::{Matrix3, MatrixXx3, Rotation3};

/// How much better the best rotation must be than the next, in parts of the pairs'
/// common spread, to count as the only one.
const DISTINCT: f64 = 1e-9;
/// Greatest turn, rad, that is put right as rounding of a decomposition.
const LAST_DIGITS: f64 = 1e-6;

/// The rotation and shift, p → turn·p + shift, with the least weighted sum of squared
/// distances Σ w·|turn·from + shift − to|². No scaling and no mirroring.
#[derive(Clone, Debug, PartialEq)]
pub struct RigidFit {
    /// Rotation about the origin, first.
    pub turn: Rotation3<f64>,
    /// Shift, mm, after it.
    pub shift: Vector,
    /// How far each point comes to lie from its partner.
    pub residuals: Vec<Length>,
    /// √(Σ w·residual²/Σ w).
    pub rms: Length,
    /// How far from a line the points are: standard deviation across it in parts of
    /// that along it, 0 to 1. Where it is small, the turn about the line is poorly
    /// held.
    pub conditioning: f64,
    /// Standard error of the turn about that line: s/√(Σ d²), with d the points'
    /// distances from the line and s² = Σ residual²/(3n − 6), as if all pairs were
    /// equally good. Half a turn where the line leaves it free.
    pub turn_error: Angle,
}

impl RigidFit {
    /// Fits three pairs or more that are not on a line; `weights`, if given, one a
    /// pair, none negative.
    ///
    /// By singular value decomposition of Σ w·(from − mean)·(to − mean)ᵀ with a guard
    /// against mirroring: Arun, Huang and Blostein, IEEE PAMI 9 (1987); Umeyama, IEEE
    /// PAMI 13 (1991).
    pub fn new(from: &[Point], to: &[Point], weights: Option<&[f64]>) -> Result<Self, FitError> {
        let pairs = Pairs::new(from, to, weights, 3)?;
        let spread = pairs.from_spread.clone().beside_a_line()?;
        pairs.to_spread.clone().beside_a_line()?;
        let turn = pairs.best_turn()?;
        let mut fit = pairs.fit(turn, &spread);
        fit.turn_error = roll_error(&fit, &spread);
        Ok(fit)
    }

    /// Fits two pairs or more as if they were on a line: of the motions that lay the
    /// one line on the other, the one that turns least.
    pub fn along_line(
        from: &[Point],
        to: &[Point],
        weights: Option<&[f64]>,
    ) -> Result<Self, FitError> {
        let pairs = Pairs::new(from, to, weights, 2)?;
        let Covariance { left, right, .. } = pairs.decompose()?;
        let [from, to] = [left[0], right[0]].map(Direction::new_normalize);
        Ok(pairs.fit(least_turn(&from, &to), &pairs.from_spread))
    }
}

/// Singular vectors, both sets right-handed, and values of pairs' covariance.
struct Covariance {
    left: [Vector; 3],
    right: [Vector; 3],
    values: [f64; 3],
}

/// Pairs that were checked.
struct Pairs<'a> {
    from: &'a [Point],
    to: &'a [Point],
    weights: Vec<f64>,
    from_spread: Spread,
    to_spread: Spread,
}

impl<'a> Pairs<'a> {
    fn new(
        from: &'a [Point],
        to: &'a [Point],
        weights: Option<&[f64]>,
        needed: usize,
    ) -> Result<Self, FitError> {
        let weights = weights.map_or_else(|| vec![1.0; from.len()], <[f64]>::to_vec);
        for others in [to.len(), weights.len()] {
            if others != from.len() {
                let from = from.len();
                return Err(FitError::Unpaired { from, to: others });
            }
        }
        spread::check(from)?;
        spread::check(to)?;
        spread::check_weights(&weights)?;
        let given = weights.iter().filter(|w| **w > 0.0).count();
        if given < needed {
            return Err(FitError::TooFew { given, needed });
        }
        Ok(Self {
            from_spread: Spread::of(from, &weights)?,
            to_spread: Spread::of(to, &weights)?,
            from,
            to,
            weights,
        })
    }

    /// The pairs' covariance.
    fn decompose(&self) -> Result<Covariance, FitError> {
        let mut sum = Matrix3::zeros();
        // In units of both spreads and of the weights, so that nothing over- or
        // underflows.
        let (scale, total) = self.scale();
        for ((from, to), weight) in self.from.iter().zip(self.to).zip(&self.weights) {
            let (a, b) = (from - self.from_spread.middle, to - self.to_spread.middle);
            sum += a * b.transpose() * (weight / total * scale);
        }
        let rows = |m: &Matrix3<f64>| MatrixXx3::from_fn(3, |i, j| m[(i, j)]);
        let (values, right) = spread::decompose(rows(&sum)).ok_or(FitError::Ambiguous)?;
        if values[0] <= DISTINCT {
            return Err(FitError::Ambiguous);
        }
        let (left, right) = matched(&sum, right);
        Ok(Covariance {
            left,
            right,
            values,
        })
    }

    /// The rotation of least squares.
    fn best_turn(&self) -> Result<Rotation3<f64>, FitError> {
        let Covariance {
            left,
            right,
            values,
        } = self.decompose()?;
        // Both sets of axes are right-handed, so that the product is no mirror; the
        // third pair then gains or costs its singular value.
        let gain = if self.mirrors(&left[2], &right[2]) {
            -values[2]
        } else {
            values[2]
        };
        if values[1] + gain <= DISTINCT * values[0] {
            return Err(FitError::Ambiguous);
        }
        let turn = Matrix3::from_columns(&right) * Matrix3::from_columns(&left).transpose();
        Ok(self.polished(Rotation3::from_matrix_unchecked(turn)))
    }

    /// A turn that is the best but for the last digits, with these: singular vectors keep
    /// only so many where two values are alike.
    ///
    /// One step of Newton's: with a the turned and b the wanted points about their means,
    /// (Σ w·(a·b)·1 − Σ w·(abᵀ + baᵀ)/2)·ω = Σ w·a × b.
    fn polished(&self, turn: Rotation3<f64>) -> Rotation3<f64> {
        let (scale, total) = self.scale();
        let mut torque = Vector::zeros();
        let mut stiffness = Matrix3::zeros();
        for ((from, to), weight) in self.from.iter().zip(self.to).zip(&self.weights) {
            let a = turn * (from - self.from_spread.middle);
            let (b, w) = (to - self.to_spread.middle, weight / total * scale);
            torque += a.cross(&b) * w;
            let both = a * b.transpose();
            stiffness += (Matrix3::identity() * a.dot(&b) - (both + both.transpose()) / 2.0) * w;
        }
        match stiffness.lu().solve(&torque) {
            Some(step) if step.norm() < LAST_DIGITS => Rotation3::new(step) * turn,
            _ => turn,
        }
    }

    /// What makes covariances of the pairs numbers near one, and the sum of all weights.
    fn scale(&self) -> (f64, f64) {
        let scale = 1.0 / self.from_spread.deviations[0] / self.to_spread.deviations[0];
        (scale, self.weights.iter().sum())
    }

    /// Whether two third axes run against each other.
    fn mirrors(&self, from: &Vector, to: &Vector) -> bool {
        let pairs = self.from.iter().zip(self.to).zip(&self.weights);
        let sum: f64 = pairs
            .map(|((a, b), w)| {
                let along = (a - self.from_spread.middle).dot(from);
                w * along * (b - self.to_spread.middle).dot(to)
            })
            .sum();
        sum < 0.0
    }

    /// The shift that goes with a turn, and what is left over.
    fn fit(&self, turn: Rotation3<f64>, spread: &Spread) -> RigidFit {
        let shift = self.to_spread.middle - turn * self.from_spread.middle;
        let pairs = self.from.iter().zip(self.to);
        let residuals: Vec<f64> = pairs.map(|(a, b)| (turn * a + shift - b).norm()).collect();
        let total: f64 = self.weights.iter().sum();
        let squares = residuals
            .iter()
            .zip(&self.weights)
            .map(|(r, w)| w / total * r * r);
        RigidFit {
            turn,
            shift,
            rms: Length::from_mm(squares.sum::<f64>().sqrt()),
            residuals: residuals.into_iter().map(Length::from_mm).collect(),
            conditioning: spread.conditioning(),
            turn_error: Angle::from_degrees(180.0),
        }
    }
}

/// Left singular vectors to go with the right ones, both sets right-handed.
fn matched(sum: &Matrix3<f64>, right: [Vector; 3]) -> ([Vector; 3], [Vector; 3]) {
    let first = (sum * right[0]).normalize();
    let across = sum * right[1];
    // Square to the first whatever the rounding; any direction will do where the
    // pairs are on a line.
    let across = across - first * first.dot(&across);
    let second = across.try_normalize(f64::MIN_POSITIVE).unwrap_or_else(|| {
        crate::geometry::perpendicular(&Direction::new_unchecked(first)).into_inner()
    });
    (
        [first, second, first.cross(&second)],
        [right[0], right[1], right[0].cross(&right[1])],
    )
}

/// As [`RigidFit::turn_error`] says, at most half a turn.
fn roll_error(fit: &RigidFit, spread: &Spread) -> Angle {
    let count = fit.residuals.len() as f64;
    let squares: f64 = fit.residuals.iter().map(|r| r.mm() * r.mm()).sum();
    let [_, width, height] = spread.deviations;
    let arms = width.hypot(height) * count.sqrt();
    let error = (squares / (3.0 * count - 6.0)).sqrt() / arms;
    Angle::from_radians(error.min(std::f64::consts::PI))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn place() -> impl Strategy<Value = Point> {
        prop::array::uniform3(-1e3..1e3_f64).prop_map(Point::from)
    }

    #[test]
    fn the_reference_motion_is_recovered() {
        // scipy 1.17.1, Rotation.align_vectors, finds the same.
        let turn = Matrix3::new(2.0, -1.0, 2.0, 2.0, 2.0, -1.0, -1.0, 2.0, 2.0) / 3.0;
        let shift = Vector::new(10.0, 20.0, 30.0);
        let from = [
            [0.0, 0.0, 0.0],
            [100.0, 0.0, 0.0],
            [0.0, 50.0, 0.0],
            [9.0, 9.0, 70.0],
        ]
        .map(Point::from);
        let to = from.map(|p| Point::from(turn * p.coords + shift));
        // Three points are a plane, four a body.
        for count in [3, 4] {
            let fit = RigidFit::new(&from[..count], &to[..count], None).expect("a fit");
            assert!((fit.turn.matrix() - turn).amax() < 1e-14);
            assert!((fit.shift - shift).amax() < 1e-12);
            assert!(fit.rms.mm() < 1e-12 && fit.turn_error.radians() < 1e-12);
        }
    }

    /// Once: points came to lie 3.6e-9 mm off, since these spread nearly alike in two
    /// directions.
    #[test]
    fn spreads_that_are_alike_keep_their_digits() {
        let from = [
            [641.913665713939, 326.2944495284305, 252.51350372054853],
            [-344.95647336237016, 447.02046813196375, -389.28942795518583],
            [-810.0869132281631, 125.54734141266802, 864.8281041797043],
            [-111.29753649776936, 588.7026303392558, -235.0478401812376],
            [626.5761878560386, 167.0012856013617, 539.6059775553585],
            [127.5743071767211, -224.92980241319944, 330.6539300786609],
            [-12.213960154604756, 49.368823253507855, 786.6312453253131],
        ]
        .map(Point::from);
        let turn = Rotation3::new(Vector::new(-1.655193534790212, 2.020406630194021, 0.0));
        let to = from.map(|p| turn * p);
        let fit = RigidFit::new(&from, &to, None).expect("a fit");
        assert!(fit.rms.mm() < 1e-11, "{}", fit.rms.mm());
    }

    #[test]
    fn a_mirror_image_is_turned_not_mirrored() {
        let from = [
            [0.0, 0.0, 0.0],
            [100.0, 0.0, 0.0],
            [0.0, 50.0, 0.0],
            [0.0, 0.0, 20.0],
        ]
        .map(Point::from);
        let to = from.map(|p| Point::new(p.x, p.y, -p.z));
        let fit = RigidFit::new(&from, &to, None).expect("a fit");
        assert!((fit.turn.matrix().determinant() - 1.0).abs() < 1e-12);
        assert!(fit.rms.mm() > 1.0);
        let cube = [
            Point::new(1.0, 0.0, 0.0),
            Point::new(0.0, 1.0, 0.0),
            Point::new(0.0, 0.0, 1.0),
            Point::new(-1.0, 0.0, 0.0),
            Point::new(0.0, -1.0, 0.0),
            Point::new(0.0, 0.0, -1.0),
        ];
        let inside_out = cube.map(|p| Point::from(-p.coords));
        assert_eq!(
            RigidFit::new(&cube, &inside_out, None),
            Err(FitError::Ambiguous)
        );
    }

    #[test]
    fn lines_leave_a_turn_free() {
        let from: Vec<Point> = (0..4)
            .map(|i| Point::new(f64::from(i) * 10.0, 0.0, 5.0))
            .collect();
        let to: Vec<Point> = (0..4)
            .map(|i| Point::new(1.0, f64::from(i) * 10.0, 0.0))
            .collect();
        assert!(matches!(
            RigidFit::new(&from, &to, None),
            Err(FitError::Collinear { .. })
        ));
        let fit = RigidFit::along_line(&from, &to, None).expect("a line");
        assert!(fit.rms.mm() < 1e-12);
        assert!((fit.turn.angle().to_degrees() - 90.0).abs() < 1e-9);
    }

    #[test]
    fn a_weight_of_zero_leaves_a_pair_out() {
        let from = [
            [0.0, 0.0, 0.0],
            [9.0, 0.0, 0.0],
            [0.0, 5.0, 0.0],
            [0.0, 0.0, 7.0],
        ]
        .map(Point::from);
        let mut to = from;
        to[3].z += 4.0;
        let fit = RigidFit::new(&from, &to, Some(&[1.0, 2.0, 1.0, 0.0])).expect("a fit");
        assert!(fit.rms.mm() < 1e-12 && (fit.residuals[3].mm() - 4.0).abs() < 1e-12);
        let few = RigidFit::new(&from, &to, Some(&[1.0, 0.0, 1.0, 0.0]));
        assert_eq!(
            few,
            Err(FitError::TooFew {
                given: 2,
                needed: 3
            })
        );
        assert!(matches!(
            RigidFit::new(&from, &to[..3], None),
            Err(FitError::Unpaired { .. })
        ));
        let weights = [1.0, f64::NAN, 1.0, 1.0];
        assert_eq!(
            RigidFit::new(&from, &to, Some(&weights)),
            Err(FitError::Weight { number: 2 })
        );
    }

    proptest! {
        #[test]
        fn motions_are_recovered(
            from in prop::collection::vec(place(), 3..9), turn in prop::array::uniform3(-3.0..3.0_f64),
            shift in place(),
        ) {
            let turn = Rotation3::new(Vector::from(turn));
            let to: Vec<Point> = from.iter().map(|p| turn * p + shift.coords).collect();
            if let Ok(fit) = RigidFit::new(&from, &to, None) {
                prop_assume!(fit.conditioning > 0.05);
                prop_assert!((fit.turn.matrix() - turn.matrix()).amax() < 1e-11);
                prop_assert!((fit.shift - shift.coords).amax() < 1e-9);
            }
        }

        #[test]
        fn no_neighbor_is_better(
            pairs in prop::collection::vec((place(), place()), 3..9), axis in place(),
        ) {
            let (from, to): (Vec<Point>, Vec<Point>) = pairs.into_iter().unzip();
            prop_assume!(axis.coords.norm() > 1.0);
            if let Ok(fit) = RigidFit::new(&from, &to, None) {
                let nudge = Rotation3::new(axis.coords.normalize() * 1e-3);
                // With each turn its own best shift.
                let mean = |points: &[Point]| points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64;
                let turn = nudge * fit.turn;
                let shift = mean(&to) - turn * mean(&from);
                let squares: f64 = from.iter().zip(&to).map(|(a, b)| (turn * a + shift - b).norm_squared()).sum();
                let rms = (squares / from.len() as f64).sqrt();
                prop_assert!(fit.rms.mm() <= rms + 1e-9);
            }
        }

        #[test]
        fn no_number_breaks_it(pairs in prop::collection::vec(prop::array::uniform6(any::<f64>()), 0..6)) {
            let at = |i: usize| pairs.iter().map(|p| Point::new(p[i], p[i + 1], p[i + 2])).collect::<Vec<_>>();
            for fit in [RigidFit::new(&at(0), &at(3), None), RigidFit::along_line(&at(0), &at(3), None)].into_iter().flatten() {
                prop_assert!(fit.rms.is_finite() && fit.shift.iter().all(|c| c.is_finite()));
                prop_assert!(fit.turn.matrix().iter().all(|c| c.is_finite()));
            }
        }
    }
}
