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
    /// None of these, but it goes another way: where the others are in somebody's way.
    AnotherWay,
    /// It is what an existing tube is.
    Copied,
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
            Self::AnotherWay => "another way round",
            Self::Copied => "copied from an existing tube",
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
        let is_new = chosen
            .iter()
            .all(|other| is_different(&candidate, other, od));
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
    let stock = |candidate: &Candidate| {
        let mut items: Vec<_> = candidate
            .route
            .bends
            .iter()
            .map(|bend| bend.stock())
            .collect();
        items.retain(Option::is_some);
        items.sort_unstable();
        items
    };
    a.cost.setups != b.cost.setups
        || stock(a) != stock(b)
        || distinct_bends(a) != distinct_bends(b)
        || apart(a, b) > od
}

/// Bends that look like one of their own: with straight tube before them, or in another
/// plane than the bend before.
fn distinct_bends(candidate: &Candidate) -> usize {
    let route = &candidate.route;
    let straights = route.straights();
    let runs_on = |i: usize| {
        let (before, here) = (&route.bends[i - 1], &route.bends[i]);
        let normal = before.incoming.cross(&before.outgoing);
        let out = normal.dot(&here.outgoing).abs() / normal.norm().max(f64::MIN_POSITIVE);
        straights[i] < LEAST_STRAIGHT
            && out < SAME_PLANE
            && before.stock().is_none()
            && here.stock().is_none()
    };
    route.bends.len() - (1..route.bends.len()).filter(|&i| runs_on(i)).count()
}

/// Straights shorter than this between two bends do not show.
const LEAST_STRAIGHT: Length = Length::from_mm(2.0);
/// Sine of the angle to a bend's plane that does not show.
const SAME_PLANE: f64 = 0.01;
/// Places along two centerlines that are compared.
const PLACES: u32 = 24;

/// Greatest distance between places equally far along two centerlines.
fn apart(a: &Candidate, b: &Candidate) -> Length {
    let (a, b) = (a.run.centerline(), b.run.centerline());
    let distances = (1..PLACES).map(|i| {
        let part = f64::from(i) / f64::from(PLACES);
        (a.at(part) - b.at(part)).norm()
    });
    Length::from_mm(distances.fold(0.0, f64::max))
}

fn reasons(chosen: &[Candidate], i: usize) -> Vec<Reason> {
    let this = &chosen[i];
    let is_least = |value: &dyn Fn(&Candidate) -> f64| {
        let mine = value(this);
        let others = chosen.iter().enumerate().filter(|(j, _)| *j != i);
        chosen.len() > 1
            && others
                .map(|(_, other)| value(other))
                .all(|other| mine < other - 1e-9)
    };
    let stock = |candidate: &Candidate| {
        candidate
            .route
            .bends
            .iter()
            .any(|bend| bend.stock().is_some())
    };
    let miters = |candidate: &Candidate| {
        candidate
            .route
            .bends
            .iter()
            .any(|bend| matches!(bend.make, Make::Pies { .. }))
    };
    let checks = [
        (i == 0, Reason::Cheapest),
        (
            this.cost.setups == 2 && this.route.bends.len() > 1 && miters(this),
            Reason::OneSetting,
        ),
        (is_least(&|c| f64::from(c.cost.joints)), Reason::FewestWelds),
        (is_least(&|c| c.cost.minutes), Reason::Quickest),
        (is_least(&|c| c.run.length().mm()), Reason::Shortest),
        (is_least(&|c| c.cost.flow.k), Reason::LeastLoss),
        (
            !miters(this) && stock(this) && chosen.iter().any(miters),
            Reason::NoMiters,
        ),
        (!stock(this) && chosen.iter().any(stock), Reason::TubeOnly),
        (
            is_least(&|c| -c.smallest_short_side().mm()),
            Reason::LongestShortSide,
        ),
    ];
    let mut reasons: Vec<Reason> = checks
        .into_iter()
        .filter(|(holds, _)| *holds)
        .map(|(_, reason)| reason)
        .collect();
    if reasons.is_empty() {
        reasons.push(Reason::AnotherWay);
    }
    reasons
}
