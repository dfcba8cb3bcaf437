//! Ends of built tubes that were cut to a miter, and readings of them.
#![allow(dead_code, reason = "each user takes what it needs")]

use super::noise::Noise;
use super::support::Numbers;
use nalgebra::{DMatrix, DVector, Rotation3};
use runwright::geometry::{Direction, Point, Scatter, Vector, across, perpendicular};
use runwright::survey::{Face, Observed, Reading, Readings, SurveyError, Surveyed, survey};
use runwright::units::{Angle, Length};

/// Deviation of each coordinate of a point, mm.
const POINT: f64 = 0.5;
/// Deviation of a radius by caliper, mm.
const CALIPER: f64 = 0.05;
/// Deviation of the saw's setting, degrees.
const SAW: f64 = 0.2;

/// An end as it really is.
#[derive(Clone, Copy, Debug)]
pub struct End {
    pub center: Point,
    pub outward: Direction,
    pub normal: Direction,
    pub radius: f64,
}

impl End {
    pub fn new(center: Point, outward: Direction, radius: f64, cut: f64, clock: f64) -> Self {
        let [first, second] = across(&outward).map(Direction::into_inner);
        let (sin, cos) = clock.to_radians().sin_cos();
        let side = first * cos + second * sin;
        let (sin, cos) = cut.to_radians().sin_cos();
        Self {
            center,
            outward,
            normal: Direction::new_normalize(outward.into_inner() * cos + side * sin),
            radius,
        }
    }

    /// Any end with its cut between two angles, degrees.
    pub fn any(seed: u64, least: f64, most: f64) -> Self {
        let mut numbers = Numbers::new(seed.wrapping_mul(7919) + 11);
        for _ in 0..5 {
            numbers.between(0.0, 1.0);
        }
        let center = Point::from([(); 3].map(|()| numbers.between(-400.0, 400.0)));
        let outward = numbers.direction();
        let (radius, cut) = (numbers.between(19.0, 60.0), numbers.between(least, most));
        Self::new(center, outward, radius, cut, numbers.between(0.0, 360.0))
    }

    pub fn cut(&self) -> Angle {
        runwright::geometry::angle_between(&self.outward, &self.normal)
    }

    fn side(&self, degrees: f64) -> Vector {
        let [first, second] = across(&self.outward).map(Direction::into_inner);
        let (sin, cos) = degrees.to_radians().sin_cos();
        first * cos + second * sin
    }

    /// Where the tube's outside meets the face.
    pub fn rim(&self, degrees: f64) -> Point {
        let spoke = self.side(degrees) * self.radius;
        let along = -self.normal.dot(&spoke) / self.normal.dot(&self.outward);
        self.center + spoke + self.outward.into_inner() * along
    }

    /// On the tube's outside.
    pub fn outside(&self, degrees: f64, back: f64) -> Point {
        self.center + self.side(degrees) * self.radius - self.outward.into_inner() * back
    }
}

/// Readings of an end, each with its noise, or exact.
#[derive(Clone)]
pub struct EndShop {
    pub end: End,
    noise: Noise,
    /// 1, or 0 for none.
    scale: f64,
    pub readings: Readings,
}

impl EndShop {
    pub fn new(end: End, seed: u64) -> Self {
        Self {
            end,
            noise: Noise::new(seed),
            scale: 1.0,
            readings: Readings {
                face: Face::Mitered,
                ..Readings::default()
            },
        }
    }

    pub fn exact(end: End) -> Self {
        Self {
            scale: 0.0,
            ..Self::new(end, 0)
        }
    }

    /// About which way is out, so many degrees off.
    pub fn toward(mut self, off: f64) -> Self {
        let (sin, cos) = off.to_radians().sin_cos();
        let toward = self.end.outward.into_inner() * cos + self.end.side(77.0) * sin;
        self.readings.toward = Some(Direction::new_normalize(toward));
        self
    }

    pub fn add(&mut self, what: Observed) {
        let name = format!("reading {}", self.readings.list.len() + 1);
        self.readings.list.push(Reading { name, what });
    }

    fn touch(&mut self, at: Point) -> Point {
        at + self.noise.three(POINT) * self.scale
    }

    pub fn rim(mut self, count: u32) -> Self {
        for i in 0..count {
            let at = self.touch(self.end.rim(13.0 + 360.0 / f64::from(count) * f64::from(i)));
            let good_to = Length::from_mm(POINT);
            self.add(Observed::OnRim { at, good_to });
        }
        self
    }

    pub fn outside(mut self, count: u32) -> Self {
        for i in 0..count {
            let back = 50.0 + 10.0 * f64::from(i % 6);
            let at = self.touch(self.end.outside(f64::from(i) * 140.0, back));
            let good_to = Length::from_mm(POINT);
            self.add(Observed::OnOutside { at, good_to });
        }
        self
    }

    pub fn diameter(mut self) -> Self {
        let radius = Length::from_mm(self.end.radius + self.noise.of(CALIPER) * self.scale);
        let good_to = Length::from_mm(CALIPER);
        self.add(Observed::RimRadius { radius, good_to });
        self
    }

    pub fn cut(mut self) -> Self {
        let error = Angle::from_degrees(self.noise.of(SAW) * self.scale);
        let (angle, good_to) = (self.end.cut() + error, Angle::from_degrees(SAW));
        self.add(Observed::Cut { angle, good_to });
        self
    }

    /// The axis, good to so many degrees.
    pub fn axis(mut self, good_to: f64) -> Self {
        let sides = across(&self.end.outward);
        let [a, b] = [(); 2].map(|()| self.noise.of(good_to.to_radians()) * self.scale);
        let lean = sides[0].into_inner() * a + sides[1].into_inner() * b;
        let turn = Rotation3::new(self.end.outward.cross(&lean));
        self.add(Observed::Outward {
            direction: turn * self.end.outward,
            across: sides.map(|side| turn * side),
            good_to: [Angle::from_degrees(good_to); 2],
        });
        self
    }

    pub fn rod(mut self, outs: &[f64]) -> Self {
        for out in outs {
            let at = self.touch(self.end.center + self.end.outward.into_inner() * *out);
            let (good_to, out) = (Length::from_mm(POINT), None);
            self.add(Observed::OnRod { at, good_to, out });
        }
        self
    }

    /// A reading's point so far off.
    pub fn off(mut self, reading: usize, by: Vector) -> Self {
        match &mut self.readings.list[reading].what {
            Observed::OnRim { at, .. } | Observed::OnOutside { at, .. } => *at += by,
            _ => panic!("no point"),
        }
        self
    }

    pub fn survey(&self) -> Result<Surveyed, SurveyError> {
        survey(&self.readings)
    }
}

/// Square of how far a place and a direction are off the truth, in the deviations that
/// are stated: chi-square with 5 degrees of freedom if these are true.
pub fn off(found: (Point, Direction), scatter: &Scatter, truth: (Point, Direction)) -> f64 {
    let (shift, lean) = (truth.0 - found.0, found.1.cross(&truth.1));
    let first = perpendicular(&found.1);
    let second = found.1.cross(&first);
    let mut project = DMatrix::zeros(5, 6);
    for i in 0..3 {
        project[(i, i)] = 1.0;
    }
    for (row, side) in [first.into_inner(), second].iter().enumerate() {
        project
            .view_mut((3 + row, 3), (1, 3))
            .copy_from(&side.transpose());
    }
    let error = DVector::from_iterator(6, shift.iter().chain(lean.iter()).copied());
    let (error, covariance) = (
        &project * error,
        &project * scatter.covariance() * project.transpose(),
    );
    let root = covariance.cholesky().expect("positive");
    error.dot(&root.solve(&error))
}
