//! The order in which bodies are painted so that the nearer hides the farther.
//!
//! Of two convex bodies that do not meet, one is nearer along every line of sight that
//! meets both: were each nearer along one, the segments between within each body would
//! cross. So one line of sight through the middle of where their pictures overlap tells
//! the order of a pair. Where the pairs' orders go in a circle, a body of it is cut in two.

use super::Body;
use super::Spot;
use std::collections::BTreeSet;

/// Pictures that share less than this part of a squared radius do not overlap.
const LEAST_OVERLAP: f64 = 1e-6;
/// Cuts of a picture: these, and as many again as it has bodies. Bodies that run into
/// each other have no right order and would be cut forever.
const MOST_CUTS: usize = 32;
/// Least way between what is before and what is behind a body for it to be cut between,
/// in radii.
const LEAST_WAY: f64 = 0.05;

/// Which is nearer of two bodies, if their pictures overlap.
struct Overlap {
    first_is_nearer: bool,
    spot: Spot,
}

impl Overlap {
    fn of(first: &Body, second: &Body) -> Option<Self> {
        if !first.hull().is_near(second.hull()) {
            return None;
        }
        let (area, spot) = first.hull().clipped_by(second.hull()).middle()?;
        let radius = first.radius.min(second.radius);
        if area < LEAST_OVERLAP * radius * radius {
            return None;
        }
        let [a, b] = [first.depths(&spot)?, second.depths(&spot)?].map(|(low, high)| low + high);
        (a != b).then_some(Self {
            first_is_nearer: a > b,
            spot,
        })
    }
}

/// Bodies and what must be painted before each.
struct Order {
    bodies: Vec<Body>,
    behind: Vec<BTreeSet<usize>>,
    before: Vec<BTreeSet<usize>>,
}

/// The bodies, some of them cut, from back to front.
pub fn back_to_front(bodies: Vec<Body>) -> Vec<Body> {
    let cuts = MOST_CUTS + bodies.len();
    let mut order = Order::new(bodies);
    for _ in 0..cuts {
        match order.painted() {
            Ok(painted) => return order.take(&painted),
            Err(stuck) => {
                if !order.cut(&order.circle(&stuck)) {
                    break;
                }
            }
        }
    }
    loop {
        match order.painted() {
            Ok(painted) => return order.take(&painted),
            Err(stuck) => order.give_way(&order.circle(&stuck)),
        }
    }
}

impl Order {
    fn new(bodies: Vec<Body>) -> Self {
        let count = bodies.len();
        let mut order = Self {
            bodies,
            behind: vec![BTreeSet::new(); count],
            before: vec![BTreeSet::new(); count],
        };
        let left = |i: usize| order.bodies[i].hull().bounds().0.x;
        let mut sweep: Vec<usize> = (0..count).collect();
        sweep.sort_by(|&a, &b| left(a).total_cmp(&left(b)));
        for (at, &i) in sweep.iter().enumerate() {
            let right = order.bodies[i].hull().bounds().1.x;
            for &j in &sweep[at + 1..] {
                if order.bodies[j].hull().bounds().0.x >= right {
                    break;
                }
                order.relate(i, j);
            }
        }
        order
    }

    fn relate(&mut self, i: usize, j: usize) {
        if let Some(overlap) = Overlap::of(&self.bodies[i], &self.bodies[j]) {
            let (near, far) = if overlap.first_is_nearer {
                (i, j)
            } else {
                (j, i)
            };
            self.behind[near].insert(far);
            self.before[far].insert(near);
        }
    }

    /// Indices from back to front, the farthest first where there is a choice; else what
    /// cannot be painted.
    fn painted(&self) -> Result<Vec<usize>, BTreeSet<usize>> {
        let count = self.bodies.len();
        let mut ranked: Vec<usize> = (0..count).collect();
        ranked.sort_by(|&a, &b| self.bodies[a].depth.total_cmp(&self.bodies[b].depth));
        let mut rank = vec![0; count];
        for (place, &i) in ranked.iter().enumerate() {
            rank[i] = place;
        }
        let mut waits: Vec<usize> = self.behind.iter().map(BTreeSet::len).collect();
        let free = (0..count).filter(|&i| waits[i] == 0);
        let mut ready: BTreeSet<usize> = free.map(|i| rank[i]).collect();
        let mut painted = Vec::with_capacity(count);
        while let Some(place) = ready.pop_first() {
            let i = ranked[place];
            painted.push(i);
            for &near in &self.before[i] {
                waits[near] -= 1;
                if waits[near] == 0 {
                    ready.insert(rank[near]);
                }
            }
        }
        if painted.len() == count {
            return Ok(painted);
        }
        Err((0..count).filter(|&i| waits[i] > 0).collect())
    }

    /// Bodies each of which waits for the one after it, the last for the first.
    fn circle(&self, stuck: &BTreeSet<usize>) -> Vec<usize> {
        let mut way: Vec<usize> = Vec::new();
        let mut at = stuck.first().copied();
        while let Some(i) = at {
            if let Some(begin) = way.iter().position(|&j| j == i) {
                return way.split_off(begin);
            }
            way.push(i);
            at = self.behind[i].iter().copied().find(|j| stuck.contains(j));
        }
        way
    }

    /// Cuts the body of a circle whose neighbors in it are farthest apart along it,
    /// between the two.
    fn cut(&mut self, circle: &[usize]) -> bool {
        let count = circle.len();
        let ways = (0..count).filter_map(|at| {
            let i = circle[at];
            let body = &self.bodies[i];
            let beside = [circle[(at + 1) % count], circle[(at + count - 1) % count]];
            let [a, b] = beside.map(|j| body.along(&Overlap::of(body, &self.bodies[j])?.spot));
            let (a, b) = (a?, b?);
            let way = (a - b).abs() / body.radius;
            let halves = body.split(f64::midpoint(a, b))?;
            (way > LEAST_WAY).then_some((way, i, halves))
        });
        let Some((_, i, [first, second])) = ways.max_by(|a, b| a.0.total_cmp(&b.0)) else {
            return false;
        };
        self.forget(i);
        self.bodies[i] = first;
        self.bodies.push(second);
        self.behind.push(BTreeSet::new());
        self.before.push(BTreeSet::new());
        let last = self.bodies.len() - 1;
        for j in 0..last {
            if j != i {
                self.relate(i, j);
            }
            self.relate(last, j);
        }
        true
    }

    /// Lets the farthest body of a circle be painted before what is behind it in it.
    fn give_way(&mut self, circle: &[usize]) {
        let depth = |i: usize| self.bodies[i].depth;
        let farthest =
            (0..circle.len()).min_by(|&a, &b| depth(circle[a]).total_cmp(&depth(circle[b])));
        if let Some(at) = farthest {
            let (near, far) = (circle[at], circle[(at + 1) % circle.len()]);
            self.behind[near].remove(&far);
            self.before[far].remove(&near);
        }
    }

    fn forget(&mut self, i: usize) {
        for far in std::mem::take(&mut self.behind[i]) {
            self.before[far].remove(&i);
        }
        for near in std::mem::take(&mut self.before[i]) {
            self.behind[near].remove(&i);
        }
    }

    fn take(self, painted: &[usize]) -> Vec<Body> {
        let mut bodies: Vec<Option<Body>> = self.bodies.into_iter().map(Some).collect();
        let order = painted.iter();
        order.filter_map(|&i| bodies[i].take()).collect()
    }
}
