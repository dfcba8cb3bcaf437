//! Runs as a shop builds them, from both ports toward the piece that is left for last, and
//! as it then measures their ends.
#![allow(dead_code, reason = "each user takes what it needs")]

use super::bench::{Errors, Frame, build, reversed, reversed_with};
use super::support::Numbers;
use runwright::geometry::{Direction, Point, Vector, across};
use runwright::run::{Allowance, Port, Run};
use runwright::shop::Accuracy;
use std::f64::consts::TAU;

/// A tube's end as it really is.
#[derive(Clone, Copy, Debug)]
pub struct TrueEnd {
    /// Where the axis meets the face.
    pub center: Point,
    /// Out into the gap.
    pub axis: Direction,
    /// Of the face, out of the tube.
    pub normal: Direction,
}

impl TrueEnd {
    fn new(tube: &Frame, face: Vector) -> Self {
        Self {
            center: tube.point,
            axis: Direction::new_normalize(tube.axis()),
            normal: Direction::new_normalize(face),
        }
    }

    /// The outside's end at a clock about the axis, on a tube of `radius` mm.
    pub fn rim(&self, clock: f64, radius: f64) -> Point {
        let out = self.side(clock);
        let height = -radius * self.normal.dot(&out) / self.normal.dot(&self.axis);
        self.center + out * radius + self.axis.into_inner() * height
    }

    /// On the outside, `back` mm behind the face's center.
    pub fn outside(&self, clock: f64, radius: f64, back: f64) -> Point {
        self.center + self.side(clock) * radius - self.axis.into_inner() * back
    }

    fn side(&self, clock: f64) -> Vector {
        let [x, y] = across(&self.axis);
        x.into_inner() * clock.cos() + y.into_inner() * clock.sin()
    }
}

/// Both ends of the gap at `piece` (from 1) of `run`, built from exact ports with errors of
/// `accuracy`; neither is the port itself.
pub fn ends(
    run: &Run,
    ports: [&Port; 2],
    piece: usize,
    accuracy: &Accuracy,
    numbers: &mut Numbers,
) -> [TrueEnd; 2] {
    let back = reversed(run, ports[0], ports[1]);
    let mut end = |run: &Run, count: usize| {
        let settings = vec![0.0; run.joints().len()];
        let errors = Errors::drawn(run, [false; 2], accuracy, &settings, numbers);
        let reached = build(run, Frame::start(run), &errors, count);
        TrueEnd::new(&reached.tube, reached.face)
    };
    [end(run, piece - 1), end(&back, run.pieces().len() - piece)]
}

/// Both ends of the gap at `piece`, built without error from pieces as they are cut, with
/// `gap` mm open at each joint.
pub fn ends_with_gap(
    run: &Run,
    ports: [&Port; 2],
    allowance: Allowance,
    piece: usize,
    gap: f64,
) -> [TrueEnd; 2] {
    let back = reversed_with(run, ports[0], ports[1], allowance);
    let end = |run: &Run, count: usize| {
        let errors = Errors::none(run).with_gap(gap);
        let reached = build(run, Frame::start(run), &errors, count);
        TrueEnd::new(&reached.tube, reached.face)
    };
    [end(run, piece - 1), end(&back, run.pieces().len() - piece)]
}

/// Points round a rim and on the outside behind it, each coordinate off by `sigma`.
pub struct Touched {
    pub rim: Vec<Point>,
    pub outside: Vec<Point>,
}

/// `rim` points round the end and `outside` ones on two rings, 40 and 100 mm back.
pub fn touch(
    end: &TrueEnd,
    radius: f64,
    (rim, outside): (usize, usize),
    sigma: f64,
    numbers: &mut Numbers,
) -> Touched {
    let from = numbers.between(0.0, TAU);
    let mut off = |at: Point| at + Vector::from([(); 3].map(|()| sigma * numbers.normal()));
    let clock = |i: usize, count: usize| from + TAU * i as f64 / count as f64;
    Touched {
        rim: (0..rim)
            .map(|i| off(end.rim(clock(i, rim), radius)))
            .collect(),
        outside: (0..outside)
            .map(|i| {
                let back = if i % 2 == 0 { 40.0 } else { 100.0 };
                // Neighbors on one ring stand a quarter turn apart.
                off(end.outside(clock(i / 2, outside.div_ceil(2)), radius, back))
            })
            .collect(),
    }
}
