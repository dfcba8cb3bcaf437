//! [`lengthen`]: of the layouts on given sticks, one that leaves a long remnant.

use super::cutting::{Cutting, FITS};
use super::solve::{Attempt, Filled, Solved, attempt};
use super::supply::{LEVELS, Supply};
use std::cell::Cell;

/// Remnants that differ by less, mm, are equally long: what a tape shows at best.
const EQUAL: f64 = 0.1;
/// Nodes of one packing.
const NODES_EACH: usize = 8_000;
/// Packings that are tried with each stick as the one that is shortened, and in all.
const TRIES_EACH: usize = 16;
const MOST_TRIES: usize = 48;

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
    let taken = sticks.iter().map(|stick| stick.supply).collect::<Vec<_>>();
    for last in lasts(cutting, &sticks) {
        let mut known = most_left(cutting, &taken, last);
        let mut high = known;
        let mut at = high;
        let mut own = TRIES_EACH.min(tries);
        while high - best > EQUAL && own > 0 && *nodes > 0 {
            (own, tries) = (own - 1, tries - 1);
            match shortened(cutting, &taken, last, at, nodes) {
                Attempt::Packed(filled) => {
                    sticks = filled;
                    best = longest(cutting, &sticks).max(best);
                }
                Attempt::Refused(_) => (known, high) = (known.min(at), at),
                Attempt::GivenUp => high = at,
            }
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

/// Packs the sticks of the supplies `taken`, one of them, of the supply `last`, less by
/// what is to be left of it.
fn shortened(
    cutting: &Cutting<'_>,
    taken: &[usize],
    last: usize,
    left: f64,
    nodes: &mut usize,
) -> Attempt {
    let mut supplies = cutting.supplies.to_vec();
    let mut choice = vec![0; supplies.len()];
    for &supply in taken {
        choice[supply] += 1;
    }
    choice[last] -= 1;
    choice.push(1);
    supplies.push(Supply {
        length: supplies[last].length - left,
        ..supplies[last].clone()
    });
    let cut = Cutting {
        supplies: &supplies,
        nodes: Cell::new(cutting.nodes.get()),
        ..*cutting
    };
    let attempt = attempt(&cut, &choice, NODES_EACH, nodes);
    cutting.nodes.set(cut.nodes.get());
    let Attempt::Packed(mut sticks) = attempt else {
        return attempt;
    };
    for stick in &mut sticks {
        if stick.supply + 1 == supplies.len() {
            stick.supply = last;
        }
    }
    Attempt::Packed(sticks)
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

/// The most that can be left of a stick of the supply `last`, if all others that are
/// taken hold as much as they can and it holds at least one piece.
fn most_left(cutting: &Cutting<'_>, taken: &[usize], last: usize) -> f64 {
    let weights = cutting.weights();
    let length = |supply: usize| cutting.supplies[supply].length;
    let most = |&supply: &usize| cutting.best_fill(&weights, length(supply), FITS).bound;
    let others = taken.iter().map(most).sum::<f64>() - most(&last);
    let lightest = weights.iter().copied().fold(f64::INFINITY, f64::min);
    let held = (cutting.weight(&cutting.counts()) - others).max(lightest);
    (cutting.room(length(last)) - held).max(0.0)
}
