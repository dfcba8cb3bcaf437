//! [`Trace`]: what was touched of a tube, and between which ends.

use super::end::{EndReading, TubeEnd};
use super::readings::{On, Readings, TouchedPoint};
use super::spot::Spot;
use super::suspects::Fit;
use crate::geometry::Point;
use crate::survey::adjust::Model;
use crate::units::Length;

/// What was touched of a tube, in order of flow.
#[derive(Clone, Debug, PartialEq)]
pub enum Touched {
    /// The middle of each joint.
    Joints(Vec<Point>),
    /// Points on the outside of each piece, between the first end and the last.
    Pieces(Vec<Vec<Point>>),
    /// Points along the centerline.
    Centerline {
        /// In order.
        points: Vec<Point>,
        /// How far one may be from the copy. Default: 1/16 in, or 4 1/2 deviations.
        within: Option<Length>,
    },
}

/// A tube to be traced.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Its ends, as measured.
    pub ends: [TubeEnd; 2],
    /// Radius of its outside.
    pub radius: Length,
    /// What was touched of it.
    pub touched: Touched,
    /// Standard deviation of a touched point along each axis.
    pub accuracy: Length,
}

/// How far a copy may be from a centerline's points unless it is said, and the deviation
/// of points is small: 1/16 in (common practice, no source).
pub(super) const WITHIN: Length = Length::from_inches(1.0 / 16.0);

impl Readings {
    pub(super) fn of(trace: &Trace, joints: usize, on: impl Fn(Spot) -> On) -> Self {
        let points = listed(&trace.touched);
        Self {
            ends: trace.ends.map(EndReading::new),
            points: points
                .into_iter()
                .map(|(spot, at)| TouchedPoint {
                    spot,
                    at,
                    on: on(spot),
                })
                .collect(),
            radius: trace.radius.mm(),
            is_radius_free: false,
            sigma: trace.accuracy.mm().max(f64::MIN_POSITIVE),
            vertices: joints + 2,
            origin: trace.ends[0].center,
        }
    }

    pub(super) fn fit(&self, guess: &[Point]) -> Option<Fit> {
        Fit::new(self, self.pack(guess), vec![true; self.rows()])
    }
}

pub(super) fn listed(touched: &Touched) -> Vec<(Spot, Point)> {
    match touched {
        Touched::Joints(points) => points
            .iter()
            .enumerate()
            .map(|(i, p)| (Spot::Joint(i), *p))
            .collect(),
        Touched::Pieces(pieces) => pieces
            .iter()
            .enumerate()
            .flat_map(|(i, piece)| {
                piece
                    .iter()
                    .enumerate()
                    .map(move |(j, p)| (Spot::Outside(i, j), *p))
            })
            .collect(),
        Touched::Centerline { points, .. } => points
            .iter()
            .enumerate()
            .map(|(i, p)| (Spot::Center(i), *p))
            .collect(),
    }
}
