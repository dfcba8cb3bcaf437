//! [`PlaneFit`]: the plane nearest to points.

use super::spread::Spread;
use super::{FitError, root_mean_square};
use crate::geometry::{Direction, Plane, Point, Vector};
use crate::units::Length;

/// The plane with the least sum of squared distances to points.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaneFit {
    /// Through the points' mean. The normal's greatest coordinate is positive (the
    /// first of equal ones), so that the same points give the same side.
    pub plane: Plane,
    /// Each point's distance, positive ahead of the plane.
    pub residuals: Vec<Length>,
    /// √(Σ residual²/n).
    pub rms: Length,
    /// Greatest residual less the least: between two parallel planes this far apart
    /// all points lie.
    pub flatness: Length,
    /// How far from a line the points are: standard deviation across it in parts of
    /// that along it, above 0 up to 1. Where it is small, the tilt about the line is
    /// poorly held.
    pub conditioning: f64,
}

impl PlaneFit {
    /// Fits three points or more: the normal is the last right singular vector of
    /// the centered points (orthogonal least squares).
    ///
    /// Refuses points in one place or on a line, and coordinates that are no numbers.
    pub fn new(points: &[Point]) -> Result<Self, FitError> {
        Self::with_spread(points).map(|(fit, _)| fit)
    }

    /// The fit and the axes that it comes from.
    pub(super) fn with_spread(points: &[Point]) -> Result<(Self, Spread), FitError> {
        super::spread::check(points)?;
        if points.len() < 3 {
            let given = points.len();
            return Err(FitError::TooFew { given, needed: 3 });
        }
        let spread = Spread::of(points, &vec![1.0; points.len()])?.beside_a_line()?;
        let plane = Plane {
            point: spread.middle,
            normal: one_side(spread.axes[2]),
        };
        let residuals: Vec<f64> = points.iter().map(|p| plane.distance(p)).collect();
        let most = residuals.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let least = residuals.iter().copied().fold(f64::INFINITY, f64::min);
        let fit = Self {
            plane,
            rms: root_mean_square(residuals.iter().copied()),
            residuals: residuals.into_iter().map(Length::from_mm).collect(),
            flatness: Length::from_mm(most - least),
            conditioning: spread.conditioning(),
        };
        Ok((fit, spread))
    }
}

/// Of a direction and its opposite the one whose greatest coordinate is positive.
fn one_side(normal: Vector) -> Direction {
    let normal = Direction::new_normalize(normal);
    if normal[normal.map(f64::abs).imax()] < 0.0 {
        -normal
    } else {
        normal
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn three_points_are_met() {
        let points = [[0.0, 0.0, 5.0], [10.0, 0.0, 5.0], [0.0, 10.0, 5.0]].map(Point::from);
        let fit = PlaneFit::new(&points).expect("a plane");
        assert!((fit.plane.normal.into_inner() - Vector::z()).norm() < 1e-15);
        assert!(fit.flatness.mm() < 1e-14 && fit.rms.mm() < 1e-14);
    }

    #[test]
    fn a_warped_square_is_halfway() {
        let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
        let mut side = -1.0;
        let points = square.map(|[x, y]| {
            side = -side;
            Point::new(x, y, 0.1 * side)
        });
        let fit = PlaneFit::new(&points).expect("a plane");
        assert!((fit.flatness.mm() - 0.2).abs() < 1e-12 && (fit.rms.mm() - 0.1).abs() < 1e-12);
    }

    #[test]
    fn lines_and_nonsense_are_refused() {
        let line: Vec<Point> = (0..5).map(|i| Point::new(f64::from(i), 1e3, 7.0)).collect();
        assert!(matches!(
            PlaneFit::new(&line),
            Err(FitError::Collinear { .. })
        ));
        assert_eq!(PlaneFit::new(&[line[0]; 4]), Err(FitError::Coincident));
        assert_eq!(
            PlaneFit::new(&line[..2]),
            Err(FitError::TooFew {
                given: 2,
                needed: 3
            })
        );
        let odd = [line[0], Point::new(f64::NAN, 0.0, 0.0), line[1]];
        assert_eq!(PlaneFit::new(&odd), Err(FitError::NotFinite { number: 2 }));
    }

    proptest! {
        #[test]
        fn no_number_breaks_it(points in prop::collection::vec(prop::array::uniform3(any::<f64>()), 0..8)) {
            let points: Vec<Point> = points.into_iter().map(Point::from).collect();
            if let Ok(fit) = PlaneFit::new(&points) {
                prop_assert!(fit.rms.is_finite() && fit.flatness.is_finite());
                prop_assert!(fit.plane.normal.iter().all(|c| c.is_finite()));
            }
        }
    }
}
