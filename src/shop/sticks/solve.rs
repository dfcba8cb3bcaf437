//! [`solve`]: which pieces are cut from which sticks.

use super::choose::Chooser;
use super::cutting::{Cutting, FITS};
use super::fill::{Item, fill};
use super::pack::{Packed, Packer};
use super::patterns::by_patterns;
use super::remnant::lengthen;
use super::supply::LEVELS;
use super::worth::{Asked, Worth, ask};
use std::collections::BTreeSet;

/// Choices of sticks that are looked into.
const MOST_ROUNDS: usize = 80;
/// Nodes of all packings of one tube together.
const MOST_NODES: usize = 400_000;
/// Nodes of one packing before patterns are listed, and after.
const NODES_BEFORE: usize = 4_000;
const NODES_AFTER: usize = 60_000;
/// Part by which the sticks must be worth more than the pieces, after one choice was given
/// up, after two, and so on: tight choices are hard to pack and hard to refuse.
const SPARE: [f64; 4] = [0.004, 0.015, 0.05, 0.12];
/// Nodes of a search for what goes into one stick, where all must be quick.
const HASTY_NODES: usize = 500;
/// Part of a leftover that must be filled before a layout made in haste touches it.
const WORTH_TOUCHING: f64 = 0.5;

/// What is cut from a stick of one of the supplies.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Filled {
    pub supply: usize,
    /// How many of each kind.
    pub counts: Vec<u32>,
}

/// A layout in numbers.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Solved {
    pub sticks: Vec<Filled>,
    /// What every layout costs at least, level by level.
    pub least: [f64; LEVELS],
    /// What the longest remnant of any layout on these sticks is at most, mm.
    pub longest: f64,
}

/// Chooses sticks and packs them, in turn (a decomposition after Benders, Numerische
/// Mathematik 4, 1962, from memory): the cheapest choice that is not known to hold too
/// little is asked whether even fractions of patterns would go in, then packed. What is
/// learned from a refusal holds for many other choices. The first choice that can be
/// packed is the best there is, unless a cheaper one was given up without an answer: then
/// what that one costs is the bound.
///
/// `None` where a piece goes into no supply that there is enough of.
pub(super) fn solve(cutting: &Cutting<'_>) -> Option<Solved> {
    let mut chooser = Chooser::new(cutting.supplies);
    chooser.ask(Worth::new(cutting, &cutting.weights(), FITS));
    let mut nodes = MOST_NODES;
    let mut least = [0.0; LEVELS];
    let mut given_up = false;
    let mut spares = SPARE.into_iter();
    let mut seen: BTreeSet<Vec<u32>> = BTreeSet::new();
    for _ in 0..MOST_ROUNDS {
        let Some(choice) = chooser.next() else {
            break;
        };
        if !given_up {
            least = choice.least;
        }
        let is_new = seen.insert(choice.counts.clone());
        match attempt(cutting, &choice.counts, NODES_AFTER, &mut nodes) {
            Attempt::Packed(sticks) => {
                return Some(lengthen(cutting, sticks, least, &mut nodes));
            }
            Attempt::Refused(Some(worth)) if is_new => chooser.ask(worth),
            Attempt::Refused(_) => chooser.leave_out(&choice.counts),
            Attempt::GivenUp => {
                chooser.leave_out(&choice.counts);
                let Some(spare) = spares.next() else {
                    break;
                };
                given_up = true;
                let mut worth = Worth::new(cutting, &cutting.weights(), FITS);
                worth.pieces *= 1.0 + spare;
                chooser.ask(worth);
            }
        }
    }
    let sticks = in_haste(cutting)?;
    Some(lengthen(cutting, sticks, least, &mut nodes))
}

/// What came of a choice of sticks.
pub(super) enum Attempt {
    /// What goes into each stick that is needed.
    Packed(Vec<Filled>),
    /// It does not hold all pieces, and by a worth neither do many others.
    Refused(Option<Worth>),
    /// Neither packed nor refused within the work allowed.
    GivenUp,
}

/// Asks whether a choice may hold all pieces, then packs it: by a short search, by its
/// patterns, by a longer search of up to `most` nodes.
pub(super) fn attempt(
    cutting: &Cutting<'_>,
    choice: &[u32],
    most: usize,
    nodes: &mut usize,
) -> Attempt {
    let priced = match ask(cutting, choice) {
        Asked::Refused(worth) => return Attempt::Refused(Some(worth)),
        Asked::Held(priced) => priced,
    };
    let supplies = one_each(cutting, choice);
    let mut search = |most: usize| {
        let mut own = most.min(*nodes);
        *nodes -= own;
        let lengths = supplies.iter().map(|&s| cutting.supplies[s].length);
        let packed = Packer::new(cutting, lengths.collect()).pack(&mut own);
        *nodes += own;
        packed
    };
    let mut packed = search(NODES_BEFORE.min(most));
    if packed == Packed::Unknown {
        packed = by_patterns(cutting, choice, &supplies, priced);
    }
    if packed == Packed::Unknown {
        packed = search(most);
    }
    match packed {
        Packed::Yes(filled) => {
            let sticks = supplies.into_iter().zip(filled);
            let sticks = sticks.filter(|(_, counts)| counts.iter().any(|&count| count > 0));
            let sticks = sticks.map(|(supply, counts)| Filled { supply, counts });
            Attempt::Packed(sticks.collect())
        }
        Packed::No => Attempt::Refused(None),
        Packed::Unknown => Attempt::GivenUp,
    }
}

/// The supply of each stick of a choice, shortest first.
fn one_each(cutting: &Cutting<'_>, choice: &[u32]) -> Vec<usize> {
    let mut all: Vec<usize> = choice
        .iter()
        .enumerate()
        .flat_map(|(supply, &count)| std::iter::repeat_n(supply, count as usize))
        .collect();
    let length = |supply: usize| cutting.supplies[supply].length;
    all.sort_by(|&a, &b| length(a).total_cmp(&length(b)).then(a.cmp(&b)));
    all
}

/// Stick by stick, each of the supply that gives most piece for its cost, and filled as
/// far as it goes: for more than can be searched.
fn in_haste(cutting: &Cutting<'_>) -> Option<Vec<Filled>> {
    let mut left = cutting.counts();
    let mut limits: Vec<u32> = cutting.supplies.iter().map(|s| s.limit).collect();
    let mut sticks = Vec::new();
    while left.iter().any(|&count| count > 0) {
        let supplies = (0..limits.len()).filter(|&supply| limits[supply] > 0);
        let best = supplies
            .filter_map(|supply| {
                let length = cutting.supplies[supply].length;
                let counts = fitting(cutting, &left, length)?;
                let weight = cutting.weight(&counts);
                let [missing, money, touched, _] = cutting.supplies[supply].costs;
                let slight = touched > 0.0 && weight < length * WORTH_TOUCHING;
                let per = |cost: f64| cost / weight;
                Some((missing > 0.0, slight, per(money), -weight, supply, counts))
            })
            .min_by(|a, b| {
                (a.0.cmp(&b.0))
                    .then(a.1.cmp(&b.1))
                    .then(a.2.total_cmp(&b.2))
                    .then(a.3.total_cmp(&b.3))
                    .then(a.4.cmp(&b.4))
            });
        let (.., supply, counts) = best?;
        limits[supply] -= 1;
        for (left, count) in left.iter_mut().zip(&counts) {
            *left -= count;
        }
        sticks.push(Filled { supply, counts });
    }
    Some(sticks)
}

/// About the most of what is `left` that goes into a stick, if anything does.
fn fitting(cutting: &Cutting<'_>, left: &[u32], length: f64) -> Option<Vec<u32>> {
    let items: Vec<Item> = cutting
        .kinds
        .iter()
        .zip(left)
        .map(|(kind, &count)| Item {
            value: kind.weight,
            weight: kind.weight,
            count,
        })
        .collect();
    let mut nodes = HASTY_NODES;
    let mut counts = fill(&items, cutting.room(length), FITS, &mut nodes).counts;
    let mut trails = cutting.trails();
    // Wedges may want more room: the lightest go.
    while cutting.taken(&mut trails, &counts)[0] > length + FITS {
        let last = counts.iter().rposition(|&count| count > 0)?;
        counts[last] -= 1;
    }
    counts.iter().any(|&count| count > 0).then_some(counts)
}
