//! [`relax`]: what pieces and the ends of sticks take at least, as sums.

use super::blank::Kind;
use super::faces::Faces;

/// Least part of its own length that a piece keeps.
const LEAST_PART: f64 = 0.1;

/// Sets the kinds' weights, and tells what both ends of a stick take beside them, such
/// that no stick takes less than ends and weights together.
///
/// The least to pay at an end is the jump to a square face; but each square face ends one
/// stick only. So, where they are fewer than the ends of the sticks that it takes at least
/// (`longest` is the longest of all), both ends are charged the jump to the least mitered
/// face, and each square face gives its piece the difference back. Wedges between faces
/// are left out of account.
pub(super) fn relax(kinds: &mut [Kind], pairs: &[[usize; 2]], faces: &Faces, longest: f64) -> f64 {
    let all = pairs.iter().flatten();
    let jump = |face: &usize| faces.jump(None, Some(*face));
    let least = all.clone().map(jump).fold(f64::INFINITY, f64::min);
    let mitered = all.filter(|face| **face > 0).map(jump);
    let mitered = mitered.fold(f64::INFINITY, f64::min);
    if !least.is_finite() {
        return 0.0;
    }
    let back = mitered - faces.jump(None, Some(0));
    let square = |kind: &Kind| pairs[kind.pair].iter().filter(|face| **face == 0).count() as f64;
    let lighter = |kind: &Kind| kind.own - back * square(kind);
    let total: f64 = kinds.iter().map(|k| k.own * k.blanks.len() as f64).sum();
    let squares: f64 = kinds
        .iter()
        .map(|k| square(k) * k.blanks.len() as f64)
        .sum();
    let few = squares < 2.0 * (total / longest).ceil();
    let kept = |kind: &Kind| lighter(kind) > kind.own * LEAST_PART;
    if !mitered.is_finite() || !few || !kinds.iter().all(kept) {
        return 2.0 * least;
    }
    for kind in kinds {
        kind.weight = lighter(kind);
    }
    2.0 * mitered
}
