//! The short side of a piece that is cut at two angles and clocked, and its slopes.

use super::layout::Layout;
use super::shape::{Shape, Slopes};
use crate::geometry::Vector;

/// One mitered end of a piece.
struct Slant {
    /// The bend whose joint it is.
    bend: usize,
    /// Whether it is the piece's start.
    upstream: bool,
    /// Where flow comes from, or away from where it goes: the long side's direction,
    /// not yet square to the piece.
    other: Vector,
    /// Where the long side points: the unit of `other`'s part square to the piece.
    side: Vector,
    /// Length of that part.
    square_norm: f64,
    /// Tangent of the cut angle.
    tan: f64,
}

/// How both ends of the piece along leg `leg` are cut; `None` where they are square.
fn slants(layout: &Layout<'_>, shape: &Shape, leg: usize) -> [Option<Slant>; 2] {
    let axis = shape.legs[leg];
    let pies = |bend: &usize| layout.choice().bends[*bend].is_pies();
    let [before, after] = layout.bends_beside(leg).map(|bend| bend.filter(pies));
    let slant = |bend: usize, other: Vector, upstream| {
        let square = other - axis * axis.dot(&other);
        let square_norm = square.norm();
        Slant {
            bend,
            upstream,
            other,
            side: square / square_norm.max(f64::MIN_POSITIVE),
            square_norm,
            tan: shape.cut_tans[bend],
        }
    };
    [
        before.map(|bend| slant(bend, shape.legs[bend], true)),
        after.map(|bend| slant(bend, -shape.legs[bend + 1], false)),
    ]
}

/// Short side of the piece along leg `leg`: a straight and the half pies at its ends,
/// cut at two angles and clocked.
pub(super) fn merged_short(layout: &Layout<'_>, shape: &Shape, straight: f64, leg: usize) -> f64 {
    let mut length = straight;
    let mut slant = Vector::zeros();
    for end in slants(layout, shape, leg).iter().flatten() {
        length += shape.radii[end.bend] * end.tan;
        slant += end.side * end.tan;
    }
    length - layout.tube_radius() * slant.norm()
}

/// Slopes of the half pies at both ends of a merged piece, and of its slant.
pub(super) fn merged_slope(
    layout: &Layout<'_>,
    shape: &Shape,
    leg: usize,
    weight: f64,
    slopes: &mut Slopes,
) {
    let ends = slants(layout, shape, leg);
    let slant: Vector = ends.iter().flatten().map(|end| end.side * end.tan).sum();
    let steepest = slant / slant.norm().max(f64::MIN_POSITIVE);
    let axis = shape.legs[leg];
    let pull = -weight * layout.tube_radius();
    for end in ends.into_iter().flatten() {
        let bend = end.bend;
        slopes.radii[bend] += weight * shape.cut_tans[bend];
        slopes.cut_tans[bend] += weight * shape.radii[bend] + pull * steepest.dot(&end.side);
        // The side is the unit of q = other − axis·(axis·other).
        let along = steepest * (pull * end.tan);
        let on_q =
            (along - end.side * end.side.dot(&along)) / end.square_norm.max(f64::MIN_POSITIVE);
        let on_other = on_q - axis * axis.dot(&on_q);
        slopes.legs[leg] -= on_q * axis.dot(&end.other) + end.other * axis.dot(&on_q);
        if end.upstream {
            slopes.legs[bend] += on_other;
        } else {
            slopes.legs[bend + 1] -= on_other;
        }
    }
}
