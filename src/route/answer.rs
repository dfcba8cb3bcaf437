//! Which candidates are worth showing, and why one would take each.

use super::{Candidate, Make};
use crate::units::Length;

/// Alternatives that are shown beside the best.
const MAX_ALTERNATIVES: usize = 5;
/// Cost, in parts of the best, beyond which nobody takes an alternative.
const DEAREST: f64 = 2.5;

/// What one would take a route for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// It costs least.
    Cheapest,
    /// All miters at one setting of the saw.
    OneSetting,
    /// Fewest welds.
    FewestWelds,
    /// Least time.
    Quickest,
    /// Shortest centerline.
    Shortest,
    /// Least flow loss.
    LeastLoss,
    /// No miters at all.
    NoMiters,
    /// No stock bends to buy.
    TubeOnly,
    /// The longest short side: easiest to hold.
    LongestShortSide,
}

impl Reason {
    /// A few words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Cheapest => "costs least",
            Self::OneSetting => "one saw setting for every miter",
            Self::FewestWelds => "fewest welds",
            Self::Quickest => "least shop time",
            Self::Shortest => "shortest",
            Self::LeastLoss => "least flow loss",
            Self::NoMiters => "no miter cuts",
            Self::TubeOnly => "no stock bends to buy",
            Self::LongestShortSide => "easiest pieces to hold",
        }
    }
}

/// The best of `found` and others that are really different, cheapest first, with what
/// speaks for each among them.
pub(super) fn choose(mut found: Vec<Candidate>, od: Length) -> Vec<(Candidate, Vec<Reason>)> {
    found.sort_by(|a, b| a.cost.rank.total_cmp(&b.cost.rank));
    let Some(dearest) = found.first().map(|best| best.cost.rank * DEAREST) else {
        return Vec::new();
    };
    let mut chosen: Vec<Candidate> = Vec::new();
    for candidate in found {
        let is_new = chosen.iter().all(|other| is_different(&candidate, other, od));
        if is_new && chosen.len() <= MAX_ALTERNATIVES && candidate.cost.rank <= dearest {
            chosen.push(candidate);
        }
    }
    let reasons: Vec<Vec<Reason>> = (0..chosen.len()).map(|i| reasons(&chosen, i)).collect();
    chosen.into_iter().zip(reasons).collect()
}

/// Whether a fabricator would call two runs different: made another way, with another
/// number of bends or of saw settings, or going another way round.
fn is_different(a: &Candidate, b: &Candidate, od: Length) -> bool {
    let key = |candidate: &Candidate| {
        let route = &candidate.route;
        let stock: Vec<Option<usize>> = {
            let mut items: Vec<_> = route.bends.iter().map(|bend| bend.stock()).collect();
            items.sort_unstable();
            items
        };
        (route.bends.len(), candidate.cost.setups, stock)
    };
    key(a) != key(b) || !a.route.is_near(&b.route, od)
}

fn reasons(chosen: &[Candidate], i: usize) -> Vec<Reason> {
    let this = &chosen[i];
    let is_least = |value: &dyn Fn(&Candidate) -> f64| {
        let mine = value(this);
        let others = chosen.iter().enumerate().filter(|(j, _)| *j != i);
        chosen.len() > 1 && others.map(|(_, other)| value(other)).all(|other| mine < other - 1e-9)
    };
    let stock = |candidate: &Candidate| candidate.route.bends.iter().any(|bend| bend.stock().is_some());
    let miters = |candidate: &Candidate| {
        candidate.route.bends.iter().any(|bend| matches!(bend.make, Make::Pies { .. }))
    };
    let checks = [
        (i == 0, Reason::Cheapest),
        (this.cost.setups == 2 && this.route.bends.len() > 1 && miters(this), Reason::OneSetting),
        (is_least(&|c| f64::from(c.cost.joints)), Reason::FewestWelds),
        (is_least(&|c| c.cost.minutes), Reason::Quickest),
        (is_least(&|c| c.run.length().mm()), Reason::Shortest),
        (is_least(&|c| c.cost.flow.k), Reason::LeastLoss),
        (!miters(this) && stock(this) && chosen.iter().any(miters), Reason::NoMiters),
        (!stock(this) && chosen.iter().any(stock), Reason::TubeOnly),
        (is_least(&|c| -c.smallest_short_side().mm()), Reason::LongestShortSide),
    ];
    checks.into_iter().filter(|(holds, _)| *holds).map(|(_, reason)| reason).collect()
}
