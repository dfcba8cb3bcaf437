//! Which pieces to turn end for end, so that neighbors' seams lie as asked.

use super::seams::Seams;
use crate::units::Angle;

/// What turning a piece must bring, rad of a seam's way round: less is rounding.
const WORTH_TURNING: f64 = 1e-6;
/// Seams that are nearer by less than this, rad, are as far apart.
const ALIKE: f64 = 1e-9;

/// Clocks of a piece's seam from its start's and from its end's long side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::shop) struct Ends {
    pub start: Angle,
    pub end: Angle,
}

impl Ends {
    /// The same with the piece turned end for end.
    pub fn turned(self) -> Self {
        Self {
            start: -self.end,
            end: -self.start,
        }
    }
}

/// A piece in a chain of neighbors.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(in crate::shop) struct Link {
    pub ends: Ends,
    pub turnable: bool,
}

impl Link {
    /// As it is, and turned if it may be.
    fn ways(&self) -> impl Iterator<Item = Ends> {
        std::iter::once(self.ends).chain(self.turnable.then(|| self.ends.turned()))
    }
}

/// How far apart two seams that meet at a joint are round it, from 0° to 180°. The long sides
/// of both pieces meet there.
pub(in crate::shop) fn apart(before: Ends, after: Ends) -> Angle {
    let apart = (before.end - after.start).wrapped();
    apart.min(Angle::FULL - apart)
}

/// Which pieces of a chain to turn, and how well that does: less is better.
///
/// Staggered: the least distance of neighbors' seams is as great as it can be. In line: the
/// sum of distances is as small as it can be. Then as few pieces are turned as will do. Both
/// by dynamic programming along the chain, so exactly.
pub(in crate::shop) fn turn(chain: &[Link], seams: Seams) -> (f64, Vec<bool>) {
    match seams {
        Seams::Any => (0.0, vec![false; chain.len()]),
        Seams::InLine => {
            let (sum, turned) = cheapest(chain, |apart| apart, WORTH_TURNING);
            let count = turned.iter().filter(|turned| **turned).count();
            (sum - WORTH_TURNING * count as f64, turned)
        }
        Seams::Staggered => {
            let least = widest(chain);
            let enough = |apart: f64| {
                if apart >= least - ALIKE {
                    0.0
                } else {
                    f64::INFINITY
                }
            };
            (-least, cheapest(chain, enough, 1.0).1)
        }
    }
}

/// The greatest least distance that neighbors' seams can have; half a turn without any.
fn widest(chain: &[Link]) -> f64 {
    let mut best: Vec<(Ends, f64)> = Vec::new();
    for link in chain {
        let next = link.ways().map(|ends| {
            let reached = best
                .iter()
                .map(|(before, least)| apart(*before, ends).radians().min(*least));
            let reached = reached.fold(f64::NEG_INFINITY, f64::max);
            let first = best.is_empty();
            (
                ends,
                if first {
                    Angle::HALF.radians()
                } else {
                    reached
                },
            )
        });
        best = next.collect();
    }
    let all = best.into_iter().map(|(_, least)| least);
    all.reduce(f64::max).unwrap_or(Angle::HALF.radians())
}

/// The chain with the least sum of `price` over its joints and of `turning` over the pieces
/// turned; as it is where that is as cheap.
fn cheapest(chain: &[Link], price: impl Fn(f64) -> f64, turning: f64) -> (f64, Vec<bool>) {
    /// One way of a piece: what the chain up to it costs, and the way before that is taken.
    struct Step {
        ends: Ends,
        cost: f64,
        from: usize,
    }
    let mut steps: Vec<Vec<Step>> = Vec::new();
    for link in chain {
        let before = steps.last();
        let ways = link.ways().enumerate().map(|(way, ends)| {
            let own = if way == 1 { turning } else { 0.0 };
            let reach = before.into_iter().flatten().enumerate();
            let reach = reach.map(|(from, step)| {
                let joint = price(apart(step.ends, ends).radians());
                (step.cost + joint, from)
            });
            let (cost, from) = reach.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0));
            let cost = cost + own;
            Step { ends, cost, from }
        });
        let ways = ways.collect();
        steps.push(ways);
    }
    let last = steps.last().into_iter().flatten().enumerate();
    let last = last.map(|(way, step)| (step.cost, way));
    let Some((cost, mut way)) = last.min_by(|a, b| a.0.total_cmp(&b.0)) else {
        return (0.0, Vec::new());
    };
    let mut turned = Vec::new();
    for step in steps.iter().rev() {
        turned.push(way == 1);
        way = step.get(way).map_or(0, |taken| taken.from);
    }
    turned.reverse();
    (cost, turned)
}
