//! [`Outline`]: a piece's outside surface, unrolled flat.

use super::Piece;
use crate::units::{Angle, Length};
use std::f64::consts::TAU;

/// A point on the flat pattern in millimeters: x round the tube, y downstream.
pub type FlatPoint = [f64; 2];

/// A cubic Bézier curve on the flat pattern: start, two controls, end.
pub type Curve = [FlatPoint; 4];

/// The unrolled outside of a piece, as a wrap pattern shows it printed side out.
///
/// **Orientation.** With downstream up on the page (y up), clock grows to the
/// right. x = 0 lies at `first_clock`; x runs to the width, one whole turn later.
/// y = 0 is the center of the start cut; y = L the center of the end cut.
///
/// The width is π·(OD + paper): a paper wrapped round the tube is as long as the
/// circle through the middle of its thickness. The edges follow
/// z(t) = −r·tan κ₁·cos(t − τ₁) and z(t) = L + r·tan κ₂·cos(t − τ₂) with the
/// tube's own r, since paper does not stretch along the axis.
#[derive(Clone, Debug)]
pub struct Outline<'a> {
    piece: &'a Piece,
    first_clock: Angle,
    width: Length,
}

impl<'a> Outline<'a> {
    /// Spans of each edge's curve. A cubic through both ends and tangents of a
    /// span h of a cosine of amplitude A is within A·h⁴/384 of it: 2·10⁻⁶·A here.
    const SPANS: usize = 36;

    /// The outline that starts at `first_clock`, for paper of thickness `paper`
    /// (zero for a pattern cut into the tube itself).
    pub fn new(piece: &'a Piece, first_clock: Angle, paper: Length) -> Self {
        let width = (piece.tube().od() + paper) * std::f64::consts::PI;
        Self {
            piece,
            first_clock,
            width,
        }
    }

    /// One turn of the tube, laid flat.
    pub const fn width(&self) -> Length {
        self.width
    }

    /// Where `clock` lies across the pattern, in [0, width).
    pub fn across(&self, clock: Angle) -> Length {
        self.width * ((clock - self.first_clock).wrapped().radians() / TAU)
    }

    /// Height of the start cut at `clock`; negative on its long side.
    pub fn start_at(&self, clock: Angle) -> Length {
        -self.piece.start().extension(self.radius(), clock)
    }

    /// Height of the end cut at `clock`.
    pub fn end_at(&self, clock: Angle) -> Length {
        self.piece.length() + self.piece.end().extension(self.radius(), clock)
    }

    /// The start cut's curve, left to right.
    pub fn start_curve(&self) -> Vec<Curve> {
        let cut = self.piece.start();
        self.curve(0.0, -cut.reach(self.radius()).mm(), cut.clock)
    }

    /// The end cut's curve, left to right.
    pub fn end_curve(&self) -> Vec<Curve> {
        let cut = self.piece.end();
        let length = self.piece.length().mm();
        self.curve(length, cut.reach(self.radius()).mm(), cut.clock)
    }

    /// Lowest and highest y on the pattern.
    pub fn extent(&self) -> (Length, Length) {
        let reach = |cut: super::Cut| cut.reach(self.radius());
        (
            -reach(self.piece.start()),
            self.piece.length() + reach(self.piece.end()),
        )
    }

    fn radius(&self) -> Length {
        self.piece.tube().radius()
    }

    /// `level + amplitude·cos(t − peak)` over one turn, as cubics that match value
    /// and slope at each span's ends.
    fn curve(&self, level: f64, amplitude: f64, peak: Angle) -> Vec<Curve> {
        let width = self.width.mm();
        let knot = |i: usize| {
            let part = i as f64 / Self::SPANS as f64;
            let (sin, cos) = (self.first_clock + Angle::FULL * part - peak).sin_cos();
            let slope = -amplitude * sin * TAU / width;
            (width * part, level + amplitude * cos, slope)
        };
        let third = width / Self::SPANS as f64 / 3.0;
        (0..Self::SPANS)
            .map(|i| {
                let ((x0, y0, m0), (x1, y1, m1)) = (knot(i), knot(i + 1));
                [
                    [x0, y0],
                    [x0 + third, y0 + m0 * third],
                    [x1 - third, y1 - m1 * third],
                    [x1, y1],
                ]
            })
            .collect()
    }
}
