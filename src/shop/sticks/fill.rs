//! The most that one stick can hold: a knapsack of several kinds.

/// Nodes of one search, after which the bound is given for the best.
const MOST_NODES: usize = 4_000;

/// A kind of thing to put in.
#[derive(Clone, Copy, Debug)]
pub(super) struct Item {
    pub value: f64,
    pub weight: f64,
    pub count: u32,
}

/// What goes in.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Fill {
    /// How many of each item.
    pub counts: Vec<u32>,
    /// What they are worth.
    pub value: f64,
    /// What no choice is worth more than.
    pub bound: f64,
}

/// The worthiest choice of `items` whose weight is no more than `room`, and a bound that
/// holds for every choice: within `slack` of the best where the search comes to an end.
/// What it looked at is taken off `nodes`, which may be few.
///
/// Branch and bound in order of worth for weight (Martello and Toth, Knapsack Problems,
/// 1990, from memory), deterministic.
pub(super) fn fill(items: &[Item], room: f64, slack: f64, nodes: &mut usize) -> Fill {
    let mut order: Vec<usize> = (0..items.len())
        .filter(|&i| items[i].value > 0.0 && items[i].count > 0 && items[i].weight <= room)
        .collect();
    let density = |i: usize| items[i].value / items[i].weight;
    order.sort_by(|&a, &b| density(b).total_cmp(&density(a)).then(a.cmp(&b)));
    let mut search = Search {
        items,
        order: &order,
        slack,
        counts: vec![0; items.len()],
        best: Fill {
            counts: vec![0; items.len()],
            value: 0.0,
            bound: 0.0,
        },
        nodes: MOST_NODES.min(*nodes),
    };
    let before = search.nodes;
    let root = search.most(0, room);
    search.go(0, room, 0.0);
    *nodes -= before - search.nodes;
    let finished = search.nodes > 0;
    let mut best = search.best;
    best.bound = if finished {
        root.min(best.value + slack)
    } else {
        root
    };
    best
}

struct Search<'a> {
    items: &'a [Item],
    order: &'a [usize],
    slack: f64,
    counts: Vec<u32>,
    best: Fill,
    nodes: usize,
}

impl Search<'_> {
    /// What the items from `depth` on are worth in `room`, if they may be cut up.
    fn most(&self, depth: usize, mut room: f64) -> f64 {
        let mut value = 0.0;
        for &i in &self.order[depth..] {
            let item = self.items[i];
            let all = item.weight * f64::from(item.count);
            if all >= room {
                return value + item.value * (room / item.weight);
            }
            room -= all;
            value += item.value * f64::from(item.count);
        }
        value
    }

    fn go(&mut self, depth: usize, room: f64, value: f64) {
        if value > self.best.value {
            self.best.value = value;
            self.best.counts.clone_from(&self.counts);
        }
        let Some(&i) = self.order.get(depth) else {
            return;
        };
        let item = self.items[i];
        let most = (room / item.weight).floor().max(0.0) as u32;
        for count in (0..=most.min(item.count)).rev() {
            if self.nodes == 0 {
                break;
            }
            self.nodes -= 1;
            let (weight, worth) = (
                item.weight * f64::from(count),
                value + item.value * f64::from(count),
            );
            let left = room - weight;
            if worth + self.most(depth + 1, left) <= self.best.value + self.slack {
                // Fewer of the worthiest never raises the bound.
                break;
            }
            self.counts[i] = count;
            self.go(depth + 1, left, worth);
            self.counts[i] = 0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn nothing_is_worth_more(
            items in prop::collection::vec((0.0..5.0_f64, 0.5..5.0_f64, 0..4_u32), 0..5),
            room in 0.0..20.0_f64,
        ) {
            let items: Vec<Item> = items
                .into_iter()
                .map(|(value, weight, count)| Item { value, weight, count })
                .collect();
            let found = fill(&items, room, 1e-9, &mut 100_000);
            let weight: f64 = items.iter().zip(&found.counts).map(|(i, &n)| i.weight * f64::from(n)).sum();
            prop_assert!(weight <= room + 1e-9);
            let best = every(&items, room);
            prop_assert!((found.value - best).abs() < 1e-6, "{} {}", found.value, best);
            prop_assert!(found.bound >= best - 1e-12);
        }
    }

    fn every(items: &[Item], room: f64) -> f64 {
        let Some((item, rest)) = items.split_first() else {
            return 0.0;
        };
        (0..=item.count)
            .filter(|&n| item.weight * f64::from(n) <= room)
            .map(|n| item.value * f64::from(n) + every(rest, room - item.weight * f64::from(n)))
            .fold(0.0, f64::max)
    }
}
