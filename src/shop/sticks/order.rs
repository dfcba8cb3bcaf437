//! [`in_order`]: the order of the pieces on one stick.

use super::cutting::Cutting;
use super::faces::Place;

/// Wastes that differ by less, mm, are equal: rounding.
const EQUAL: f64 = 1e-9;

/// A piece as it lies on a stick.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Laid {
    /// Which blank.
    pub blank: usize,
    /// Whether its end in flow comes first.
    pub turned: bool,
}

/// Puts `blanks`, in order of runs and pieces, one after the other so that no order
/// wastes less. Among such orders, each piece is the one that follows the last in its
/// run, if it can be, else the first that can be; and none is turned end for end if it
/// need not be.
pub(super) fn in_order(cutting: &Cutting<'_>, blanks: &[usize]) -> Vec<Laid> {
    let mut trails = cutting.trails();
    let mut left = vec![0; cutting.pairs.len()];
    for &blank in blanks {
        left[pair(cutting, blank)] += 1;
    }
    let mut rest = blanks.to_vec();
    let mut laid: Vec<Laid> = Vec::with_capacity(rest.len());
    let mut at: Place = None;
    let mut budget = trails.waste(&left, at).found;
    while !rest.is_empty() {
        let follows = |blank: usize| {
            let last = laid.last().map(|last| cutting.blanks[last.blank]);
            let next = cutting.blanks[blank];
            last.is_some_and(|last| last.run == next.run && last.piece + 1 == next.piece)
        };
        let mut candidates: Vec<usize> = (0..rest.len()).collect();
        candidates.sort_by_key(|&i| !follows(rest[i]));
        let mut best: Option<(f64, usize, bool)> = None;
        for i in candidates {
            let own = pair(cutting, rest[i]);
            for turned in [false, true] {
                let [from, to] = ends(cutting, rest[i], turned);
                left[own] -= 1;
                let cost = cutting.faces.jump(at, Some(from)) + trails.waste(&left, Some(to)).found;
                left[own] += 1;
                if best.is_none_or(|(least, ..)| cost < least - EQUAL) {
                    best = Some((cost, i, turned));
                }
            }
            if best.is_some_and(|(cost, ..)| cost <= budget + EQUAL) {
                break;
            }
        }
        let Some((cost, i, turned)) = best else {
            break;
        };
        let blank = rest.remove(i);
        let [from, to] = ends(cutting, blank, turned);
        left[pair(cutting, blank)] -= 1;
        budget = cost - cutting.faces.jump(at, Some(from));
        at = Some(to);
        laid.push(Laid { blank, turned });
    }
    laid
}

/// Faces of a blank in the order in which they come.
pub(super) fn ends(cutting: &Cutting<'_>, blank: usize, turned: bool) -> [usize; 2] {
    let [start, end] = cutting.blanks[blank].faces;
    if turned { [end, start] } else { [start, end] }
}

/// Which pair of faces a blank has.
fn pair(cutting: &Cutting<'_>, blank: usize) -> usize {
    let [a, b] = cutting.blanks[blank].faces;
    let pair = [a.min(b), a.max(b)];
    cutting.pairs.binary_search(&pair).unwrap_or(0)
}
