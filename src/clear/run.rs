//! A run's tightest places.

use super::place::{Exempt, Place, Rule, sort};
use crate::run::Run;
use rayon::prelude::*;

/// Where each piece comes nearest to each obstacle, the tightest first; see
/// [`Run::clearances_to`] for what is exact.
pub fn places_of_run(run: &Run, rules: &[Rule]) -> Vec<Place> {
    let found = rules.par_iter().enumerate().map(|(i, rule)| {
        let clearance = rule.obstacle.clearance;
        let standoffs = run.clearances_to(&rule.obstacle, rule.outside);
        let places = standoffs.iter();
        places
            .map(|standoff| Place::of_standoff(standoff, i, clearance))
            .collect::<Vec<Place>>()
    });
    let mut places = found.collect::<Vec<_>>().concat();
    sort(&mut places);
    places
}

/// What the ports exempt of each obstacle, in order, and how near the run comes there.
pub fn exempt_of_run(run: &Run, rules: &[Rule]) -> Vec<Exempt> {
    let found = rules.par_iter().enumerate().map(|(i, rule)| {
        let ends = run.exempt_clearances_to(&rule.obstacle, rule.outside);
        let ends = ends.into_iter().enumerate();
        ends.filter_map(|(end, nearest)| {
            Some(Exempt {
                end,
                length: rule.outside.exempt.min(run.length()),
                nearest: Place::of_standoff(&nearest?, i, rule.obstacle.clearance),
            })
        })
        .collect::<Vec<Exempt>>()
    });
    found.collect::<Vec<_>>().concat()
}
