//! [`Curve`]: lines and cubics in a picture.

use super::{Gaze, Offset, Ring, Spot};

/// Greatest stretch of an ellipse that one cubic stands for, rad: it is then off by no
/// more than 2.5e-5 of the radius.
const CUBIC: f64 = std::f64::consts::FRAC_PI_3 + 1e-9;
/// A chord must point along the tangent at its ends at least so far, as a cosine, for a
/// cubic to follow; at the cusp of an outline it does not, and a line stands in.
const ALONG: f64 = 0.5;

/// Lines shorter than this, mm of the view, are left out: rounding.
const NO_LINE: f64 = 1e-9;

/// One step of a curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Straight to a spot.
    Line(Spot),
    /// A cubic Bézier by its last three points.
    Cubic([Spot; 3]),
}

/// A start and the steps from there.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Where it begins.
    pub start: Spot,
    /// How it goes on.
    pub steps: Vec<Step>,
}

impl Curve {
    /// With no steps yet.
    pub const fn from(start: Spot) -> Self {
        Self {
            start,
            steps: Vec::new(),
        }
    }

    /// Part of a ring, from one clock to another, rad, either way round.
    pub fn of_ring(ring: &Ring, gaze: &Gaze, radius: f64, from: f64, to: f64) -> Self {
        let mut curve = Self::from(ring.seen(gaze, radius, from).0);
        curve.follow(ring, gaze, radius, from, to);
        curve
    }

    /// Goes on along a ring from clock `from`, where the curve now is.
    pub fn follow(&mut self, ring: &Ring, gaze: &Gaze, radius: f64, from: f64, to: f64) {
        let parts = ((to - from).abs() / CUBIC).ceil().max(1.0);
        let step = (to - from) / parts;
        let handle = 4.0 / 3.0 * (step / 4.0).tan();
        for part in 0..parts as u32 {
            let t = from + step * f64::from(part);
            let [(a, da), (b, db)] = [t, t + step].map(|t| ring.seen(gaze, radius, t));
            self.steps
                .push(Step::Cubic([a + da * handle, b - db * handle, b]));
        }
    }

    /// Goes straight to `end`.
    pub fn line_to(&mut self, end: Spot) {
        if (end - self.end()).norm() <= NO_LINE {
            return;
        }
        self.steps.push(Step::Line(end));
    }

    /// Goes to `end` along a gentle curve that runs along `leaving` where it begins and
    /// along `arriving` where it ends, either way.
    pub fn sweep_to(&mut self, leaving: Offset, end: Spot, arriving: Offset) {
        let start = self.end();
        let chord = end - start;
        let length = chord.norm();
        let handle = |tangent: Offset| {
            let along = tangent.dot(&chord);
            (along.abs() >= ALONG * tangent.norm() * length && length > 0.0)
                .then(|| tangent * (along.signum() * length / 3.0 / tangent.norm()))
        };
        match (handle(leaving), handle(arriving)) {
            (Some(a), Some(b)) => self.steps.push(Step::Cubic([start + a, end - b, end])),
            _ => self.line_to(end),
        }
    }

    /// Where it ends.
    pub fn end(&self) -> Spot {
        match self.steps.last() {
            Some(Step::Line(end) | Step::Cubic([_, _, end])) => *end,
            None => self.start,
        }
    }

    /// Goes on with the steps of a curve that begins where this one ends.
    pub fn join(&mut self, other: &Self) {
        self.steps.extend(&other.steps);
    }

    /// The same curve from its end to its start.
    pub fn reversed(&self) -> Self {
        let mut spots = vec![self.start];
        for step in &self.steps {
            match step {
                Step::Line(end) => spots.push(*end),
                Step::Cubic(three) => spots.push(three[2]),
            }
        }
        let steps = self.steps.iter().enumerate().rev();
        Self {
            start: self.end(),
            steps: steps
                .map(|(i, step)| match step {
                    Step::Line(_) => Step::Line(spots[i]),
                    Step::Cubic([a, b, _]) => Step::Cubic([*b, *a, spots[i]]),
                })
                .collect(),
        }
    }

    /// Spots along it: the start and `parts` a cubic, one a line.
    pub fn flattened(&self, parts: u32) -> Vec<Spot> {
        let mut spots = vec![self.start];
        for step in &self.steps {
            let from = spots[spots.len() - 1].coords;
            match step {
                Step::Line(end) => spots.push(*end),
                Step::Cubic(three) => {
                    let [a, b, c] = three.map(|spot| spot.coords);
                    spots.extend((1..=parts).map(|part| {
                        let t = f64::from(part) / f64::from(parts);
                        let s = 1.0 - t;
                        let sum = from * (s * s * s)
                            + a * (3.0 * s * s * t)
                            + b * (3.0 * s * t * t)
                            + c * (t * t * t);
                        Spot::from(sum)
                    }));
                }
            }
        }
        spots
    }
}
