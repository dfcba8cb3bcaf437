//! [`CircleFit`]: the circle nearest to points in space.

use super::{FitError, PlaneFit, root_mean_square};
use crate::geometry::{Direction, Point, Vector};
use crate::units::{Angle, Length};
use nalgebra::{Matrix2, Matrix3, Vector2, Vector3};
use std::f64::consts::TAU;

/// Steps of the iteration at most; a rim takes 5, a short arc 30.
const MAX_STEPS: usize = 300;
/// Steps smaller than this, in deviations of the points, end the iteration.
const STEP_END: f64 = 1e-14;
/// Damping to begin with, in parts of the matrix's greatest diagonal element.
const FIRST_DAMPING: f64 = 1e-6;
/// Damping beyond which no step helps any more.
const LAST_DAMPING: f64 = 1e12;
/// Growth of the sum of squares that is rounding, in parts of itself.
const ROUNDING: f64 = 8.0 * f64::EPSILON;
/// Radius, in deviations of the points, beyond which an arc cannot be told from a
/// straight line: its rise is a ten-thousandth of its length.
const STRAIGHTEST: f64 = 1e4;

/// The circle in the points' plane of best fit with the least sum of squared
/// distances, measured square to the circle: the *geometric* fit, not the algebraic
/// one, whose radius comes out wrong on short or uneven arcs.
#[derive(Clone, Debug, PartialEq)]
pub struct CircleFit {
    /// Center.
    pub center: Point,
    /// Square to its plane. Its greatest coordinate is positive, as for [`PlaneFit`];
    /// [`CircleFit::facing`] turns it over.
    pub normal: Direction,
    /// Radius.
    pub radius: Length,
    /// How far each point is outside the circle, measured in its plane; negative
    /// inside.
    pub roundness: Vec<Length>,
    /// How far each point is ahead of the circle's plane.
    pub out_of_plane: Vec<Length>,
    /// Root mean square distance of the points from the circle in space.
    pub rms: Length,
    /// How much of the circle has points: the whole turn less the widest gap. Below a
    /// third of a turn the center is poorly held.
    pub sweep: Angle,
    /// As [`PlaneFit::conditioning`]: how well the points hold the plane.
    pub conditioning: f64,
}

impl CircleFit {
    /// Fits three points or more.
    ///
    /// The plane by [`PlaneFit`]; in it Newton's method with damping from the
    /// algebraic fit of Kåsa (1976), at most 300 steps of time n. Gander, Golub and
    /// Strebel, *Least-squares fitting of circles and ellipses*, BIT 34 (1994).
    ///
    /// Refuses points in one place, on a line or better met by a line than by a
    /// circle, and coordinates that are no numbers.
    pub fn new(points: &[Point]) -> Result<Self, FitError> {
        let (flat, spread) = PlaneFit::with_spread(points)?;
        let [u, v, _] = spread.axes;
        let scale = spread.deviations[0];
        let middle = spread.middle;
        let on_plane = |p: &Point| Vector2::new((p - middle).dot(&u), (p - middle).dot(&v)) / scale;
        let places: Vec<Vector2<f64>> = points.iter().map(on_plane).collect();
        let start = algebraic(&places).ok_or(FitError::Straight)?;
        let circle = geometric(&places, start).ok_or(FitError::Straight)?;
        let apart: Vec<f64> = circle.apart(&places).map(|d| d * scale).collect();
        let off = flat.residuals.iter().zip(&apart);
        Ok(Self {
            center: middle + (u * circle.center.x + v * circle.center.y) * scale,
            normal: flat.plane.normal,
            radius: Length::from_mm(circle.radius * scale),
            rms: root_mean_square(off.map(|(out, round)| out.mm().hypot(*round))),
            roundness: apart.into_iter().map(Length::from_mm).collect(),
            out_of_plane: flat.residuals,
            sweep: circle.sweep(&places),
            conditioning: flat.conditioning,
        })
    }

    /// The same circle seen from `side`: with the normal that leans toward it.
    pub fn facing(mut self, side: &Vector) -> Self {
        if self.normal.dot(side) < 0.0 {
            self.normal = -self.normal;
            for residual in &mut self.out_of_plane {
                *residual = -*residual;
            }
        }
        self
    }
}

/// A circle in its plane.
#[derive(Clone, Copy)]
struct Circle {
    center: Vector2<f64>,
    radius: f64,
}

impl Circle {
    /// How far each place is outside.
    fn apart<'a>(
        &self,
        places: &'a [Vector2<f64>],
    ) -> impl ExactSizeIterator<Item = f64> + use<'a> {
        let Self { center, radius } = *self;
        places.iter().map(move |p| (p - center).norm() - radius)
    }

    /// Sum of squares.
    fn cost(&self, places: &[Vector2<f64>]) -> f64 {
        self.apart(places).map(|d| d * d).sum()
    }

    /// Whole turn less the widest gap between neighbors.
    fn sweep(&self, places: &[Vector2<f64>]) -> Angle {
        let angle = |p: &Vector2<f64>| (p.y - self.center.y).atan2(p.x - self.center.x);
        let mut angles: Vec<f64> = places.iter().map(angle).collect();
        angles.sort_by(f64::total_cmp);
        let round = angles[0] + TAU - angles[angles.len() - 1];
        let gaps = angles.windows(2).map(|pair| pair[1] - pair[0]);
        Angle::from_radians((TAU - gaps.fold(round, f64::max)).max(0.0))
    }

    /// Slope and curvature of half the sum of squares in center and radius.
    fn derivatives(&self, places: &[Vector2<f64>]) -> (Vector3<f64>, Matrix3<f64>) {
        let mut slope = Vector3::zeros();
        let mut curvature = Matrix3::zeros();
        for place in places {
            let arm = place - self.center;
            let length = arm.norm();
            // At the center itself the distance has no slope.
            let toward = arm.try_normalize(f64::MIN_POSITIVE).unwrap_or_default();
            let apart = length - self.radius;
            let row = Vector3::new(-toward.x, -toward.y, -1.0);
            slope += row * apart;
            curvature += row * row.transpose();
            if length > f64::EPSILON {
                let across = Matrix2::identity() - toward * toward.transpose();
                let mut block = curvature.fixed_view_mut::<2, 2>(0, 0);
                block += across * (apart / length);
            }
        }
        (slope, curvature)
    }

    /// One step of damped Newton; `None` where the matrix is not positive.
    fn step(
        &self,
        slope: &Vector3<f64>,
        mut curvature: Matrix3<f64>,
        damping: f64,
    ) -> Option<Self> {
        let damping = damping * curvature.diagonal().amax();
        for i in 0..3 {
            curvature[(i, i)] += damping;
        }
        let step = curvature.cholesky()?.solve(slope);
        let next = Self {
            center: self.center - step.xy(),
            radius: self.radius - step.z,
        };
        (next.radius > 0.0 && next.center.iter().all(|c| c.is_finite())).then_some(next)
    }
}

/// Kåsa's fit: |p|² = 2·c·p + (r² − |c|²) by linear least squares.
fn algebraic(places: &[Vector2<f64>]) -> Option<Circle> {
    let mut matrix = Matrix3::zeros();
    let mut right = Vector3::zeros();
    for place in places {
        let row = Vector3::new(place.x, place.y, 1.0);
        matrix += row * row.transpose();
        right += row * place.norm_squared();
    }
    let found = matrix.cholesky()?.solve(&right);
    let center = found.xy() / 2.0;
    let radius = (found.z + center.norm_squared()).sqrt();
    (radius.is_finite() && radius > 0.0).then_some(Circle { center, radius })
}

/// Least sum of squared distances from `circle` on; `None` if it runs off to a line.
fn geometric(places: &[Vector2<f64>], mut circle: Circle) -> Option<Circle> {
    let mut cost = circle.cost(places);
    let mut damping = FIRST_DAMPING;
    for _ in 0..MAX_STEPS {
        let (slope, curvature) = circle.derivatives(places);
        let mut moved = None;
        while moved.is_none() && damping < LAST_DAMPING {
            moved = circle
                .step(&slope, curvature, damping)
                .map(|next| (next, next.cost(places)))
                .filter(|(_, new)| *new <= cost * (1.0 + ROUNDING));
            damping *= if moved.is_some() { 0.1 } else { 10.0 };
        }
        let Some((next, new)) = moved else { break };
        let step = (next.center - circle.center).norm() + (next.radius - circle.radius).abs();
        (circle, cost) = (next, new);
        if circle.radius > STRAIGHTEST {
            return None;
        }
        if step <= STEP_END * (1.0 + circle.radius) {
            break;
        }
    }
    Some(circle)
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Rotation3;
    use proptest::prelude::*;

    /// Gander, Golub and Strebel, BIT 34 (1994), the example of section 1; the
    /// algebraic fit would be (5.379413, 7.253198), 3.037041.
    const PUBLISHED: [[f64; 2]; 6] = [
        [1.0, 7.0],
        [2.0, 6.0],
        [5.0, 8.0],
        [7.0, 7.0],
        [9.0, 5.0],
        [3.0, 7.0],
    ];

    #[test]
    fn the_published_circle_is_found() {
        let points = PUBLISHED.map(|[x, y]| Point::new(x, y, 3.0));
        let fit = CircleFit::new(&points).expect("a circle");
        assert!((fit.center - Point::new(4.739_782, 2.983_533, 3.0)).amax() < 1e-6);
        assert!((fit.radius.mm() - 4.714_226).abs() < 1e-6);
        assert!(fit.out_of_plane.iter().all(|d| d.mm().abs() < 1e-12));
    }

    #[test]
    fn a_circle_turned_in_space() {
        // The rotation is ⅓[[2, −1, 2], [2, 2, −1], [−1, 2, 2]]: its third column is
        // the normal (scikit-spatial 10 agrees).
        let turn = nalgebra::Matrix3::new(2.0, -1.0, 2.0, 2.0, 2.0, -1.0, -1.0, 2.0, 2.0) / 3.0;
        let turn = Rotation3::from_matrix_unchecked(turn);
        let points: Vec<Point> = (0..12)
            .map(|i| f64::from(i) * TAU / 12.0)
            .map(|t| {
                turn * Point::new(38.1 * t.cos(), 38.1 * t.sin(), 0.0)
                    + Vector::new(10.0, 20.0, 30.0)
            })
            .collect();
        let fit = CircleFit::new(&points).expect("a circle");
        assert!((fit.normal.into_inner() - Vector::new(2.0, -1.0, 2.0) / 3.0).norm() < 1e-14);
        assert!((fit.center - Point::new(10.0, 20.0, 30.0)).norm() < 1e-12);
        assert!((fit.radius.mm() - 38.1).abs() < 1e-12 && fit.rms.mm() < 1e-12);
        assert!((fit.sweep.degrees() - 330.0).abs() < 1e-9);
    }

    #[test]
    fn a_wave_is_no_circle() {
        let points: Vec<Point> = (0..40)
            .map(f64::from)
            .map(|x| Point::new(x, (x * std::f64::consts::PI).cos(), 0.0))
            .collect();
        // Whatever is said, it is said in numbers.
        match CircleFit::new(&points) {
            Err(error) => assert_eq!(error, FitError::Straight),
            Ok(fit) => assert!(fit.radius.is_finite()),
        }
        let line: Vec<Point> = (0..9).map(|i| Point::new(f64::from(i), 0.0, 0.0)).collect();
        assert!(matches!(
            CircleFit::new(&line),
            Err(FitError::Collinear { .. })
        ));
    }

    proptest! {
        #[test]
        fn arcs_are_found(
            sweep in 0.3..6.2_f64, radius in 1.0..500.0_f64, at in prop::array::uniform3(-1e3..1e3_f64),
            turn in prop::array::uniform3(-3.0..3.0_f64), count in 3..40_u32,
        ) {
            let turn = Rotation3::new(Vector::from(turn));
            let points: Vec<Point> = (0..count)
                .map(|i| sweep * f64::from(i) / f64::from(count - 1))
                .map(|t| turn * Point::new(radius * t.cos(), radius * t.sin(), 0.0) + Vector::from(at))
                .collect();
            let fit = CircleFit::new(&points).expect("a circle");
            prop_assert!((fit.center - Point::from(at)).norm() < 1e-8, "{:?}", fit.center);
            prop_assert!((fit.radius.mm() - radius).abs() < 1e-8);
            prop_assert!(fit.normal.cross(&(turn * Vector::z())).norm() < 1e-9);
        }

        #[test]
        fn no_neighbor_is_better(points in prop::collection::vec((-9..9_i8, -9..9_i8), 3..9)) {
            let points: Vec<Point> = points
                .into_iter()
                .map(|(x, y)| Point::new(f64::from(x), f64::from(y), 0.0))
                .collect();
            if let Ok(fit) = CircleFit::new(&points) {
                let cost = |center: Point, radius: f64| -> f64 {
                    points.iter().map(|p| ((p - center).norm() - radius).powi(2)).sum()
                };
                let (center, radius) = (fit.center, fit.radius.mm());
                let least = cost(center, radius);
                for step in [Vector::x(), Vector::y(), -Vector::x(), -Vector::y()] {
                    prop_assert!(least <= cost(center + step * 1e-4, radius) + 1e-9 * least.max(1.0));
                }
                prop_assert!(least <= cost(center, radius * 1.000_01) + 1e-9 * least.max(1.0));
                prop_assert!(least <= cost(center, radius * 0.999_99) + 1e-9 * least.max(1.0));
            }
        }

        #[test]
        fn no_number_breaks_it(points in prop::collection::vec(prop::array::uniform3(any::<f64>()), 0..8)) {
            let points: Vec<Point> = points.into_iter().map(Point::from).collect();
            if let Ok(fit) = CircleFit::new(&points) {
                prop_assert!(fit.rms.is_finite() && fit.radius.is_finite());
                prop_assert!(fit.center.iter().all(|c| c.is_finite()));
            }
        }
    }
}
