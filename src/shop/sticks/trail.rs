//! [`Trails`]: the least waste between the pieces of one stick.

use super::faces::{Faces, Place};
use std::collections::BTreeMap;

/// Most states of the exact search for a trail among faces that do not hang together.
const MOST_STATES: usize = 20_000;

/// Pieces of one stick are the edges of a graph whose vertices are their faces; a stick
/// is a trail through all edges, from the stick's own end to its other end. Each piece
/// may be turned end for end, and where the trail leaves a face for another it pays
/// [`Faces::jump`].
///
/// Where the edges hang together, the least to pay is exact in closed form: all faces at
/// which an odd number of ends meet must be joined in pairs, and the stick's own ends to
/// one of them each, or both to the face nearest to square. Places lie on a line by
/// r·tan κ with the stick's ends at 0, so joining neighbors in that order crosses every
/// gap as seldom as parity allows. Where they do not hang together, a search over all orders is exact while it is small; else a trail found piece by
/// piece is an upper bound, and the closed form a lower one.
///
/// Two like edges more or less change nothing, so what was worked out once is kept by
/// the counts reduced so.
#[derive(Debug)]
pub(super) struct Trails<'a> {
    faces: &'a Faces,
    /// Different pairs of faces.
    pairs: &'a [[usize; 2]],
    known: BTreeMap<(Vec<u8>, Place), Waste>,
}

/// What a trail pays beside the pieces' own halves, mm.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Waste {
    /// What a trail that exists pays.
    pub found: f64,
    /// What no trail pays less than; the same where the least is known.
    pub least: f64,
}

impl<'a> Trails<'a> {
    pub const fn new(faces: &'a Faces, pairs: &'a [[usize; 2]]) -> Self {
        Self {
            faces,
            pairs,
            known: BTreeMap::new(),
        }
    }

    /// From `start` through as many pieces of each pair of faces as `counts` say, to a
    /// stick's end.
    pub fn waste(&mut self, counts: &[u32], start: Place) -> Waste {
        let reduced: Vec<u8> = counts
            .iter()
            .zip(self.pairs)
            .map(|(&count, pair)| match (count, pair[0] == pair[1]) {
                (0, _) => 0,
                (_, true) => 1,
                (count, false) => 2 - (count % 2) as u8,
            })
            .collect();
        if let Some(waste) = self.known.get(&(reduced.clone(), start)) {
            return *waste;
        }
        let waste = self.work_out(&reduced, start);
        self.known.insert((reduced, start), waste);
        waste
    }

    fn work_out(&self, counts: &[u8], start: Place) -> Waste {
        let least = self.joined(counts, start);
        if self.hangs_together(counts, start) {
            return Waste {
                found: least,
                least,
            };
        }
        let states = counts
            .iter()
            .map(|&count| usize::from(count) + 1)
            .try_fold(self.faces.len(), usize::checked_mul);
        if states.is_some_and(|states| states <= MOST_STATES) {
            let found = self.least_from(&mut BTreeMap::new(), counts.to_vec(), start);
            return Waste {
                found,
                least: found,
            };
        }
        Waste {
            found: self.piece_by_piece(counts.to_vec(), start),
            least,
        }
    }

    /// The closed form, whether or not the edges hang together.
    fn joined(&self, counts: &[u8], start: Place) -> f64 {
        let mut odd = vec![false; self.faces.len()];
        let mut first: Place = None;
        for (pair, &count) in self.pairs.iter().zip(counts) {
            for &face in pair {
                odd[face] ^= count % 2 == 1;
                if count > 0 {
                    first = Some(first.map_or(face, |first| first.min(face)));
                }
            }
        }
        if let Some(start) = start {
            odd[start] ^= true;
        }
        let odd: Vec<usize> = (0..odd.len()).filter(|&face| odd[face]).collect();
        // Faces are in order of r·tan κ. The stick's ends come before all of them.
        let ends: usize = if start.is_none() { 2 } else { 1 };
        let halves: f64 = odd.iter().map(|&face| self.faces.half(Some(face))).sum();
        let reach = |face: &usize| self.faces.reach(Some(*face));
        let pairs = |faces: &[usize]| -> f64 {
            let pairs = faces.chunks_exact(2);
            pairs.map(|pair| reach(&pair[1]) - reach(&pair[0])).sum()
        };
        let by_nearest = ends as f64 * self.faces.jump(None, first) + halves + pairs(&odd);
        if odd.len() < ends {
            return by_nearest;
        }
        let (near, far) = odd.split_at(ends);
        let by_odd = halves + near.iter().map(reach).sum::<f64>() + pairs(far);
        if start.is_none() {
            by_nearest.min(by_odd)
        } else {
            by_odd
        }
    }

    /// Whether every edge can be reached from any other, and from `start`.
    fn hangs_together(&self, counts: &[u8], start: Place) -> bool {
        let edges: Vec<[usize; 2]> = self
            .pairs
            .iter()
            .zip(counts)
            .filter(|(_, count)| **count > 0)
            .map(|(pair, _)| *pair)
            .collect();
        let Some(first) = start.or_else(|| edges.first().map(|edge| edge[0])) else {
            return true;
        };
        let mut reached = vec![false; self.faces.len()];
        reached[first] = true;
        loop {
            let mut grown = false;
            for &[a, b] in &edges {
                if reached[a] != reached[b] {
                    (reached[a], reached[b]) = (true, true);
                    grown = true;
                }
            }
            if !grown {
                break;
            }
        }
        edges.iter().all(|&[a, _]| reached[a])
    }

    fn least_from(
        &self,
        known: &mut BTreeMap<(Vec<u8>, Place), f64>,
        counts: Vec<u8>,
        at: Place,
    ) -> f64 {
        if counts.iter().all(|&count| count == 0) {
            return self.faces.jump(at, None);
        }
        if let Some(&cost) = known.get(&(counts.clone(), at)) {
            return cost;
        }
        let mut least = f64::INFINITY;
        for (i, &[a, b]) in self.pairs.iter().enumerate() {
            if counts[i] == 0 {
                continue;
            }
            let mut rest = counts.clone();
            rest[i] -= 1;
            for [from, to] in [[a, b], [b, a]] {
                let cost = self.faces.jump(at, Some(from))
                    + self.least_from(known, rest.clone(), Some(to));
                least = least.min(cost);
            }
        }
        known.insert((counts, at), least);
        least
    }

    /// A trail that always goes on with the nearest face.
    fn piece_by_piece(&self, mut counts: Vec<u8>, start: Place) -> f64 {
        let (mut at, mut cost) = (start, 0.0);
        loop {
            let next = (0..counts.len())
                .filter(|&i| counts[i] > 0)
                .flat_map(|i| {
                    let [a, b] = self.pairs[i];
                    [(i, a, b), (i, b, a)]
                })
                .map(|(i, from, to)| (self.faces.jump(at, Some(from)), i, to))
                .min_by(|a, b| a.0.total_cmp(&b.0));
            let Some((jump, i, to)) = next else {
                return cost + self.faces.jump(at, None);
            };
            counts[i] -= 1;
            (at, cost) = (Some(to), cost + jump);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{Angle, Length};
    use proptest::prelude::*;

    fn faces() -> Faces {
        let cuts = [4.0, 9.0, 15.0].map(Angle::from_degrees);
        Faces::new(&cuts, Length::from_mm(30.0), Length::from_mm(2.0)).0
    }

    proptest! {
        /// Against a walk through all orders and both ways round of every piece.
        #[test]
        fn no_order_pays_less(
            edges in prop::collection::vec((0..4_usize, 0..4_usize), 1..6),
            start in prop::option::of(0..4_usize),
        ) {
            let faces = faces();
            let mut pairs: Vec<[usize; 2]> = edges.iter().map(|&(a, b)| [a.min(b), a.max(b)]).collect();
            let all = pairs.clone();
            pairs.sort_unstable();
            pairs.dedup();
            let counts: Vec<u32> = pairs
                .iter()
                .map(|pair| all.iter().filter(|edge| *edge == pair).count() as u32)
                .collect();
            let waste = Trails::new(&faces, &pairs).waste(&counts, start);
            let least = every_order(&faces, &all, start);
            prop_assert!((waste.found - least).abs() < 1e-9, "{} {}", waste.found, least);
            prop_assert!((waste.least - least).abs() < 1e-9);
        }
    }

    fn every_order(faces: &Faces, edges: &[[usize; 2]], at: Place) -> f64 {
        if edges.is_empty() {
            return faces.jump(at, None);
        }
        let mut least = f64::INFINITY;
        for (i, &[a, b]) in edges.iter().enumerate() {
            let mut rest = edges.to_vec();
            rest.remove(i);
            for [from, to] in [[a, b], [b, a]] {
                let cost = faces.jump(at, Some(from)) + every_order(faces, &rest, Some(to));
                least = least.min(cost);
            }
        }
        least
    }
}
