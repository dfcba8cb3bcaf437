//! All families of routes, one after another.

use super::bend::{Bend, Make};
use super::choice::{Choice, CutRule, Making};
use super::direct;
use super::explore::Family;
use super::layout::Guess;
use super::solver::Solver;
use super::{Candidate, Rejection};

/// Ways to share passes out to legs that are looked at.
const MAX_PASS_LEGS: usize = 40;

impl Solver<'_> {
    /// Searches all families, until nothing cheaper is promised or nothing is left to spend.
    pub(super) fn run(&mut self) {
        let task = self.field.task;
        if let Some(straight) = direct::straight(task) {
            self.straight = self.keep_direct(straight);
            if self.straight {
                return;
            }
        }
        for one in direct::one_bend(task) {
            self.keep_direct(one);
        }
        let is_free = self.field.ends.iter().any(|end| !end.is_fixed());
        let fewest = if is_free { 0 } else { 2 };
        let usual = match self.field.chart {
            Some(_) => self.budget.bends_among_scans,
            None => self.budget.bends,
        };
        for base in self.bases() {
            for bends in fewest..=usual.min(task.most_bends) {
                self.explore_all(base, bends);
            }
        }
        for bends in usual + 1..=task.most_bends {
            for base in self.bases() {
                if self.candidates.is_empty() {
                    self.explore_all(base, bends);
                }
            }
        }
    }

    /// Ways to make arcs that families begin with.
    fn bases(&self) -> Vec<Making> {
        let task = self.field.task;
        let radii = if task.pies { self.field.radii.len() } else { 0 };
        let arcs = (0..radii).map(|radius| Making::Arc { radius });
        let stock = (0..task.stock.len()).map(|item| Making::Stock { item, whole: false });
        arcs.chain(stock).collect()
    }

    fn explore_all(&mut self, base: Making, bends: usize) {
        for pass_legs in pass_legs(self.field.task.passes.len(), bends) {
            let on_axes = pass_legs.iter().enumerate();
            if !on_axes
                .into_iter()
                .all(|(pass, &leg)| self.may_pass(pass, leg, bends))
            {
                continue;
            }
            if self.is_done() {
                return;
            }
            self.explore(&Family {
                base,
                bends,
                pass_legs,
            });
        }
    }

    /// Whether a pass can be on a leg: the first and the last leg lie on their ports'
    /// axes, which may miss it.
    fn may_pass(&self, pass: usize, leg: usize, bends: usize) -> bool {
        let end = match leg {
            0 => &self.field.ends[0],
            leg if leg == bends => &self.field.ends[1],
            _ => return true,
        };
        let opening = &self.field.passes[pass];
        let off = (opening.center - end.center).cross(&end.outward).norm();
        // Across a panel at a slant, the place may be farther off than the hole is wide.
        !end.is_fixed() || off <= opening.radius
    }

    fn keep_direct(&mut self, built: Result<Candidate, Rejection>) -> bool {
        let choice = match &built {
            Ok(candidate) => choice_of(candidate),
            Err(_) => Choice::alike(Making::Arc { radius: 0 }, 1, &[]),
        };
        self.keep(&choice, Guess::default(), built.map_err(Some))
    }
}

/// The choice that a direct candidate stands for.
fn choice_of(candidate: &Candidate) -> Choice {
    let making = |bend: &Bend| match bend.make {
        Make::Pies { joints } => Making::Pies {
            radius: 0,
            joints,
            cut: CutRule::Free,
        },
        Make::Stock { item } => Making::Stock { item, whole: false },
    };
    Choice {
        bends: candidate.route.bends.iter().map(making).collect(),
        pass_legs: Vec::new(),
    }
}

/// Ways to share `passes`, in order, out to the legs of `bends` bends.
fn pass_legs(passes: usize, bends: usize) -> Vec<Vec<usize>> {
    let mut ways: Vec<Vec<usize>> = vec![Vec::new()];
    for _ in 0..passes {
        ways = ways
            .into_iter()
            .flat_map(|way| {
                let from = way.last().copied().unwrap_or(0);
                (from..=bends).map(move |leg| [way.as_slice(), &[leg]].concat())
            })
            .take(MAX_PASS_LEGS)
            .collect();
    }
    ways
}
