//! [`lengthen`]: of the layouts on given sticks, one that leaves a long remnant.

use super::cutting::{Cutting, FITS};
use super::pack::{Packed, Packer};
use super::solve::{Filled, Solved};
use super::supply::LEVELS;

/// Remnants that differ by less, mm, are equally long: what a tape shows at best.
const EQUAL: f64 = 0.1;
/// Nodes of one packing.
const NODES_EACH: usize = 10_000;
/// Packings that are tried in all.
const MOST_TRIES: usize = 30;

/// Packs again with one stick shortened by what is to be left of it, halving between
/// what was found and what cannot be.
pub(super) fn lengthen(
    cutting: &Cutting<'_>,
    mut sticks: Vec<Filled>,
    least: [f64; LEVELS],
    nodes: &mut usize,
) -> Solved {
    let mut best = longest(cutting, &sticks);
    let mut bound = best;
    let mut tries = MOST_TRIES;
    for last in lasts(cutting, &sticks) {
        let mut others: Vec<usize> = sticks.iter().map(|stick| stick.supply).collect();
        if let Some(at) = others.iter().position(|&supply| supply == last) {
            others.remove(at);
        }
        let length = |supply: usize| cutting.supplies[supply].length;
        others.sort_by(|&a, &b| length(a).total_cmp(&length(b)).then(a.cmp(&b)));
        let lengths: Vec<f64> = others.iter().map(|&supply| length(supply)).collect();
        let mut known = most_left(cutting, &lengths, length(last));
        let mut high = known;
        let mut at = high;
        while high - best > EQUAL && tries > 0 && *nodes > 0 {
            tries -= 1;
            let mut own = NODES_EACH.min(*nodes);
            *nodes -= own;
            let mut all = lengths.clone();
            all.push(length(last) - at);
            match Packer::new(cutting, all).pack(&mut own) {
                Packed::Yes(filled) => {
                    let supplies = others.iter().copied().chain([last]);
                    let filled = supplies.zip(filled);
                    sticks = filled
                        .map(|(supply, counts)| Filled { supply, counts })
                        .collect();
                    best = longest(cutting, &sticks).max(best);
                }
                Packed::No => (known, high) = (known.min(at), at),
                Packed::Unknown => high = at,
            }
            *nodes += own;
            at = (best + high) / 2.0;
        }
        bound = bound.max(known);
    }
    Solved {
        sticks,
        least,
        longest: bound,
    }
}

/// The longest remnant.
fn longest(cutting: &Cutting<'_>, sticks: &[Filled]) -> f64 {
    let mut trails = cutting.trails();
    let left = sticks.iter().map(|stick| {
        let [taken, _] = cutting.taken(&mut trails, &stick.counts);
        cutting.supplies[stick.supply].length - taken
    });
    left.fold(0.0, f64::max)
}

/// Supplies of the sticks, each once, longest first.
fn lasts(cutting: &Cutting<'_>, sticks: &[Filled]) -> Vec<usize> {
    let mut supplies: Vec<usize> = sticks.iter().map(|stick| stick.supply).collect();
    let length = |supply: usize| cutting.supplies[supply].length;
    supplies.sort_by(|&a, &b| length(b).total_cmp(&length(a)).then(a.cmp(&b)));
    supplies.dedup();
    supplies
}

/// The most that can be left of the last stick, if the others hold as much as they can
/// and it holds at least one piece.
fn most_left(cutting: &Cutting<'_>, others: &[f64], last: f64) -> f64 {
    let weights = cutting.weights();
    let most: f64 = others
        .iter()
        .map(|&length| cutting.best_fill(&weights, length, FITS).bound)
        .sum();
    let lightest = weights.iter().copied().fold(f64::INFINITY, f64::min);
    let held = (cutting.weight(&cutting.counts()) - most).max(lightest);
    (cutting.room(last) - held).max(0.0)
}
