//! [`Control`]: how long to search, and who may stop it.

use std::sync::atomic::{AtomicBool, Ordering};

/// How hard to look.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Effort {
    /// A few searches: about what another way to make a run would take.
    Glance,
    /// A third of the usual searches: a first look.
    Quick,
    /// What a shop waits for without noticing.
    #[default]
    Normal,
    /// Many more first guesses, and up to five bends where fewer will do.
    Thorough,
    /// Until it is hard to think of anything else: the yardstick that the others are
    /// measured by.
    Exhaustive,
}

/// How far a search has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Local searches made.
    pub searches: u32,
    /// Local searches after which it ends at the latest.
    pub most: u32,
    /// Cost of the best route so far; infinite while there is none.
    pub best: f64,
}

/// How long to search, and who may stop it. The same task, effort and seed give the
/// same answer, on however many cores.
#[derive(Clone, Copy)]
pub struct Control<'a> {
    /// How hard to look.
    pub effort: Effort,
    /// Where the scattered first guesses come from.
    pub seed: u64,
    /// Set to end the search with the best so far.
    pub stop: Option<&'a AtomicBool>,
    /// Told now and then how far it is.
    pub watch: Option<&'a (dyn Fn(Progress) + Sync)>,
    /// Whether to look into what would help where there is no route.
    pub explain: bool,
}

impl Default for Control<'_> {
    /// The usual effort, and nobody to stop or watch it.
    fn default() -> Self {
        Self {
            effort: Effort::default(),
            seed: 0,
            stop: None,
            watch: None,
            explain: true,
        }
    }
}

impl Control<'_> {
    /// Whether somebody wants the search to end.
    pub fn is_stopped(&self) -> bool {
        self.stop.is_some_and(|stop| stop.load(Ordering::Relaxed))
    }

    pub(super) fn tell(&self, progress: Progress) {
        if let Some(watch) = self.watch {
            watch(progress);
        }
    }

    pub(super) const fn budget(&self) -> Budget {
        match self.effort {
            Effort::Glance => Budget::GLANCE,
            Effort::Quick => Budget::QUICK,
            Effort::Normal => Budget::NORMAL,
            Effort::Thorough => Budget::THOROUGH,
            Effort::Exhaustive => Budget::EXHAUSTIVE,
        }
    }
}

/// What an effort is worth in searches and first guesses.
#[derive(Clone, Copy, Debug)]
pub(super) struct Budget {
    /// Local searches after which the best so far is given…
    pub searches: u32,
    /// …or looking for a first route is given up…
    pub fruitless: u32,
    /// …or for whether there is one at all.
    pub probes: u32,
    /// First guesses refined for the best arcs of two bends, which have at most four
    /// minima (each end may turn either way)…
    pub two_seeds: usize,
    /// …and of three or more, whose middle corners may go anywhere.
    pub more_seeds: usize,
    /// Scattered first guesses that are looked at, where there is something to go round.
    pub scatter: usize,
    /// First guesses of its own for a choice whose given guess fails, beside those while
    /// there is no route yet.
    pub own_seeds: usize,
    /// Bends that are tried however good fewer are…
    pub bends: usize,
    /// …and among scans.
    pub bends_among_scans: usize,
    /// Choices of making looked at for one number of bends.
    pub choices: usize,
    /// Failures at one number of joints, without a success, after which others with as
    /// many are not tried.
    pub level_failures: u32,
    /// Part of the best known cost that a choice must promise to undercut.
    pub promise: f64,
    /// Times the best known cost that a choice may come to for its neighbors to be tried.
    pub worth_more: f64,
}

impl Budget {
    /// First guesses for the exact shortest arcs of two bends, and of more.
    pub const EXACT_SEEDS: (usize, usize) = (4, 6);
    const NORMAL: Self = Self {
        searches: 3000,
        fruitless: 1200,
        probes: 120,
        two_seeds: 4,
        more_seeds: 6,
        scatter: 800,
        own_seeds: 1,
        level_failures: 6,
        bends: 3,
        bends_among_scans: 4,
        choices: 400,
        promise: 0.9995,
        worth_more: 1.02,
    };
    const QUICK: Self = Self {
        searches: 600,
        fruitless: 400,
        probes: 60,
        two_seeds: 3,
        more_seeds: 3,
        scatter: 300,
        choices: 100,
        ..Self::NORMAL
    };
    const GLANCE: Self = Self {
        searches: 30,
        two_seeds: 2,
        more_seeds: 2,
        scatter: 100,
        bends: 2,
        choices: 12,
        ..Self::QUICK
    };
    const THOROUGH: Self = Self {
        searches: 20_000,
        fruitless: 10_000,
        two_seeds: 12,
        more_seeds: 24,
        scatter: 4000,
        own_seeds: 4,
        level_failures: 40,
        worth_more: 1.1,
        bends: 5,
        bends_among_scans: 5,
        choices: 1500,
        ..Self::NORMAL
    };
    const EXHAUSTIVE: Self = Self {
        searches: 400_000,
        fruitless: 400_000,
        two_seeds: 40,
        more_seeds: 100,
        scatter: 30_000,
        own_seeds: 12,
        level_failures: 10_000,
        bends: 4,
        choices: 6000,
        // Bounds charge a saw setting for each bend; settings may be shared.
        promise: 1.05,
        worth_more: 1.2,
        ..Self::NORMAL
    };
}
