//! [`Outline`]: a sleeve's outside surface, unrolled flat.

use super::{Edge, Sleeve};
use crate::units::{Angle, Length};
use std::f64::consts::TAU;

/// A point on the flat pattern in millimeters: x round the tube, y downstream.
pub type FlatPoint = [f64; 2];

/// A cubic Bézier curve on the flat pattern: start, two controls, end.
pub type Curve = [FlatPoint; 4];

/// The unrolled outside of a sleeve, as a wrap pattern shows it printed side out.
///
/// **Orientation.** With downstream up on the page (y up), clock grows to the
/// right. x = 0 lies at `first_clock`; x runs to the width, one whole turn later.
/// y = 0 is the center of the start; y = L the center of the end.
///
/// The width is π·(OD + paper): a paper wrapped round the tube is as long as the
/// circle through the middle of its thickness. The edges have the heights that they
/// have on the tube itself, since paper does not stretch along the axis: for plane
/// cuts z(t) = −r·tan κ₁·cos(t − τ₁) and z(t) = L + r·tan κ₂·cos(t − τ₂) with the
/// tube's own r.
#[derive(Clone, Debug)]
pub struct Outline {
    sleeve: Sleeve,
    first_clock: Angle,
    width: Length,
}

impl Outline {
    /// Spans of a plane cut's curve. A cubic through both ends and tangents of a
    /// span h of a cosine of amplitude A is within A·h⁴/384 of it: 2·10⁻⁶·A here.
    const SPANS: usize = 36;

    /// Nearer to the pattern's side edge than this part of a turn, a scribed point
    /// begins no span of its own: under a nanometer on any tube.
    const SLIVER: f64 = 1e-10;

    /// The outline that starts at `first_clock`, for paper of thickness `paper`
    /// (zero for a pattern cut into the tube itself). A piece is a sleeve too.
    pub fn new(sleeve: impl Into<Sleeve>, first_clock: Angle, paper: Length) -> Self {
        let sleeve = sleeve.into();
        let width = (sleeve.tube().od() + paper) * std::f64::consts::PI;
        Self {
            sleeve,
            first_clock,
            width,
        }
    }

    /// What is unrolled.
    pub const fn sleeve(&self) -> &Sleeve {
        &self.sleeve
    }

    /// One turn of the tube, laid flat.
    pub const fn width(&self) -> Length {
        self.width
    }

    /// Where `clock` lies across the pattern, in [0, width).
    pub fn across(&self, clock: Angle) -> Length {
        self.width * self.part(clock)
    }

    /// The clock at `across` the pattern: what [`Self::across`] undoes.
    pub fn clock_at(&self, across: Length) -> Angle {
        self.first_clock + Angle::FULL * (across / self.width)
    }

    /// Height of the start at `clock`; negative on its long side.
    pub fn start_at(&self, clock: Angle) -> Length {
        self.sleeve.start_at(clock)
    }

    /// Height of the end at `clock`.
    pub fn end_at(&self, clock: Angle) -> Length {
        self.sleeve.end_at(clock)
    }

    /// The start's curve, left to right.
    pub fn start_curve(&self) -> Vec<Curve> {
        self.start_curve_of(Length::ZERO, self.sleeve.start())
    }

    /// The end's curve, left to right.
    pub fn end_curve(&self) -> Vec<Curve> {
        self.end_curve_of(self.sleeve.length(), self.sleeve.end())
    }

    /// The curve, left to right, of a start whose center is at height `level`.
    pub fn start_curve_of(&self, level: Length, edge: &Edge) -> Vec<Curve> {
        self.curve(level, -1.0, edge)
    }

    /// The curve, left to right, of an end whose center is at height `level`.
    pub fn end_curve_of(&self, level: Length, edge: &Edge) -> Vec<Curve> {
        self.curve(level, 1.0, edge)
    }

    /// Lowest and highest y on the pattern.
    pub fn extent(&self) -> (Length, Length) {
        let radius = self.sleeve.tube().radius();
        let reach = |edge: &Edge| edge.range(radius).1;
        (
            -reach(self.sleeve.start()),
            self.sleeve.length() + reach(self.sleeve.end()),
        )
    }

    /// Where `clock` lies, as a part of the turn from the first clock.
    fn part(&self, clock: Angle) -> f64 {
        (clock - self.first_clock).wrapped().radians() / TAU
    }

    /// Heights `level + sense·extension` over one turn, as cubics that match value and
    /// slope at each span's ends.
    fn curve(&self, level: Length, sense: f64, edge: &Edge) -> Vec<Curve> {
        let (width, radius) = (self.width.mm(), self.sleeve.tube().radius());
        let knot = |&part: &f64| {
            let clock = self.first_clock + Angle::FULL * part;
            let height = level + sense * edge.extension(radius, clock);
            let slope = sense * edge.slope(radius, clock) * TAU / width;
            (width * part, height.mm(), slope)
        };
        let knots: Vec<(f64, f64, f64)> = self.parts(edge).iter().map(knot).collect();
        let span = |pair: &[(f64, f64, f64)]| {
            let ((x0, y0, m0), (x1, y1, m1)) = (pair[0], pair[1]);
            let third = (x1 - x0) / 3.0;
            [
                [x0, y0],
                [x0 + third, y0 + m0 * third],
                [x1 - third, y1 - m1 * third],
                [x1, y1],
            ]
        };
        knots.windows(2).map(span).collect()
    }

    /// Where an edge's spans begin and end, as parts of the turn.
    fn parts(&self, edge: &Edge) -> Vec<f64> {
        if let Edge::Cut(_) = edge {
            let even = |i| i as f64 / Self::SPANS as f64;
            return (0..=Self::SPANS).map(even).collect();
        }
        // The two halves of the span that the pattern's side edge goes through are
        // cubics of their own with the same values and slopes.
        let inside = |part: &f64| *part > Self::SLIVER && *part < 1.0 - Self::SLIVER;
        let clocks = edge.knots().into_iter().map(|clock| self.part(clock));
        let mut parts: Vec<f64> = clocks.filter(inside).chain([0.0, 1.0]).collect();
        parts.sort_by(f64::total_cmp);
        parts
    }
}
