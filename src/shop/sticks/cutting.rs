//! [`Cutting`]: what is to be cut from what, in numbers.

use super::blank::{Blank, Kind};
use super::faces::Faces;
use super::fill::{Fill, Item, fill};
use super::supply::Supply;
use super::trail::Trails;
use std::cell::Cell;

/// How far, mm, a stick may be overfull: rounding, and far below what a saw takes.
pub(super) const FITS: f64 = 1e-3;

/// The pieces of one tube and the sticks that there are.
#[derive(Debug)]
pub(super) struct Cutting<'a> {
    pub blanks: &'a [Blank],
    pub faces: &'a Faces,
    /// Different pairs of faces.
    pub pairs: &'a [[usize; 2]],
    /// Heaviest first.
    pub kinds: &'a [Kind],
    pub supplies: &'a [Supply],
    /// What both ends of a stick take at least, beside the weights of its pieces, mm.
    pub ends: f64,
    /// Nodes that may still be looked at for the most that a stick holds.
    pub nodes: Cell<usize>,
}

impl<'a> Cutting<'a> {
    /// What is left of a stick for its pieces and their halves of cuts: at most, since
    /// wedges between them are not counted. Exact where all faces are alike.
    pub fn room(&self, length: f64) -> f64 {
        length - self.ends + FITS
    }

    /// Whether all faces are alike, so that no stick has a wedge within.
    pub fn is_of_one_face(&self) -> bool {
        matches!(self.pairs, [[a, b]] if a == b)
    }

    /// How many there are of each kind.
    pub fn counts(&self) -> Vec<u32> {
        let count = |kind: &Kind| kind.blanks.len() as u32;
        self.kinds.iter().map(count).collect()
    }

    /// Sum of what `counts` of each kind weigh.
    pub fn weight(&self, counts: &[u32]) -> f64 {
        let kinds = self.kinds.iter().zip(counts);
        kinds.map(|(kind, &n)| kind.weight * f64::from(n)).sum()
    }

    pub fn trails(&self) -> Trails<'a> {
        Trails::new(self.faces, self.pairs)
    }

    /// How many pieces of each pair of faces `counts` of each kind are.
    pub fn by_pair(&self, counts: &[u32]) -> Vec<u32> {
        let mut by_pair = vec![0; self.pairs.len()];
        for (kind, count) in self.kinds.iter().zip(counts) {
            by_pair[kind.pair] += count;
        }
        by_pair
    }

    /// What a stick with these pieces gives up: as found, and at least.
    pub fn taken(&self, trails: &mut Trails<'_>, counts: &[u32]) -> [f64; 2] {
        let waste = trails.waste(&self.by_pair(counts), None);
        let kinds = self.kinds.iter().zip(counts);
        let own: f64 = kinds.map(|(kind, &n)| kind.own * f64::from(n)).sum();
        [own + waste.found, own + waste.least]
    }

    /// The most that a stick can hold, where a piece of each kind is worth `values`.
    pub fn best_fill(&self, values: &[f64], length: f64, slack: f64) -> Fill {
        let items: Vec<Item> = self
            .kinds
            .iter()
            .zip(values)
            .map(|(kind, &value)| Item {
                value,
                weight: kind.weight,
                count: kind.blanks.len() as u32,
            })
            .collect();
        let mut nodes = self.nodes.get();
        let fill = fill(&items, self.room(length), slack, &mut nodes);
        self.nodes.set(nodes);
        fill
    }

    /// Each kind's own weight.
    pub fn weights(&self) -> Vec<f64> {
        self.kinds.iter().map(|kind| kind.weight).collect()
    }
}
