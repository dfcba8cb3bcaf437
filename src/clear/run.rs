//! A run's tightest places.

use super::place::{Exempt, Place, Rule, sort};
use crate::run::Run;
use rayon::prelude::*;

/// Where each piece comes nearest to each obstacle, the tightest first; see
/// [`Run::clearances_to`] for what is exact. The room about a port that the run leaves is
/// told only where the run comes back into it.
pub fn places_of_run(run: &Run, rules: &[Rule]) -> Vec<Place> {
    let found = rules.par_iter().enumerate().map(|(i, rule)| {
        let clearance = rule.obstacle.clearance;
        let standoffs = run.clearances_to(&rule.obstacle, rule.outside);
        let places = standoffs.iter();
        places
            .map(|standoff| Place::of_standoff(standoff, i, clearance))
            .filter(|place| !(rule.is_own_room() && place.is_clear()))
            .collect::<Vec<Place>>()
    });
    let mut places = found.collect::<Vec<_>>().concat();
    sort(&mut places);
    places
}

/// What the ports exempt of each obstacle, in order, and how near the run comes there; but
/// for the rooms about these ports, in which their tube stands.
pub fn exempt_of_run(run: &Run, rules: &[Rule]) -> Vec<Exempt> {
    let others = rules.par_iter().enumerate();
    let others = others.filter(|(_, rule)| !rule.is_own_room());
    let found = others.map(|(i, rule)| {
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
