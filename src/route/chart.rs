//! [`Chart`]: what a search knows of the room among scans, and [`Charts`], which keep it
//! for the next.

use super::map::{Ground, Map};
use super::ways::{Way, ways};
use crate::scan::{Lattice, Surface, distances};
use crate::scene::{Body, Obstacle};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Charts that are kept for tasks that differ in what they ask alone.
const MOST_CHARTS: usize = 16;
/// Scans on lattices that are kept: those of a few charts with many scans each.
const MOST_DISTANCES: usize = 400;

/// The room among scans, and ways through it.
#[derive(Debug)]
pub(super) struct Chart {
    pub map: Map,
    pub ways: Vec<Way>,
}

/// Charts and distances that tasks share which differ in what they ask alone. A task's
/// clones share them; a new task begins with none.
#[derive(Clone, Default)]
pub struct Charts(Arc<Mutex<Kept>>);

#[derive(Default)]
struct Kept {
    /// That of the task as it was asked: what is asked of a port moved a little can be
    /// looked up there too.
    first: Option<Lattice>,
    distances: Vec<(Arc<Surface>, Lattice, Arc<Vec<f32>>)>,
    charts: Vec<(Ground, Arc<Chart>)>,
}

impl Charts {
    /// The chart of `ground`, made once; `None` where nothing is scanned.
    pub(super) fn of(&self, ground: Ground) -> Option<Arc<Chart>> {
        let is_scan = |obstacle: &Obstacle| matches!(obstacle.body, Body::Scan(_));
        if !ground.obstacles.iter().any(is_scan) {
            return None;
        }
        let find = |kept: &Kept| {
            let found = kept.charts.iter().find(|(known, _)| *known == ground);
            found.map(|(_, chart)| chart.clone())
        };
        if let Some(chart) = find(&self.kept()) {
            return Some(chart);
        }
        // Not held while it is made: probes run side by side.
        let lattice = self.lattice(&ground);
        let known = ground.obstacles.iter();
        let known: Vec<_> = known
            .map(|obstacle| self.distances(obstacle, &lattice))
            .collect();
        let map = Map::new(&ground, lattice, &known);
        let ways = ways(&map, &ground.ports, ground.radius.mm());
        let chart = Arc::new(Chart { map, ways });
        let mut kept = self.kept();
        if let Some(chart) = find(&kept) {
            return Some(chart);
        }
        if kept.charts.len() >= MOST_CHARTS {
            kept.charts.remove(0);
        }
        kept.charts.push((ground, chart.clone()));
        Some(chart)
    }

    /// The first lattice, where it will do; else one of the ground's own.
    fn lattice(&self, ground: &Ground) -> Lattice {
        let mut kept = self.kept();
        match &kept.first {
            Some(first) if ground.is_within(first) => first.clone(),
            Some(_) => ground.region(),
            None => kept.first.insert(ground.region()).clone(),
        }
    }

    /// Distances of a lattice's points from a scan; `None` for a solid.
    fn distances(&self, obstacle: &Obstacle, lattice: &Lattice) -> Option<Arc<Vec<f32>>> {
        let Body::Scan(surface) = &obstacle.body else {
            return None;
        };
        let find = |kept: &Kept| {
            let found = kept
                .distances
                .iter()
                .find(|(known, at, _)| Arc::ptr_eq(known, surface) && at == lattice);
            found.map(|(_, _, distances)| distances.clone())
        };
        if let Some(distances) = find(&self.kept()) {
            return Some(distances);
        }
        let far = lattice.cell * lattice.count.iter().sum::<usize>() as f64;
        let made = Arc::new(distances(surface, lattice, far));
        let mut kept = self.kept();
        if let Some(distances) = find(&kept) {
            return Some(distances);
        }
        if kept.distances.len() >= MOST_DISTANCES {
            kept.distances.remove(0);
        }
        kept.distances
            .push((surface.clone(), lattice.clone(), made.clone()));
        Some(made)
    }

    fn kept(&self) -> MutexGuard<'_, Kept> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl std::fmt::Debug for Charts {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Charts")
    }
}

impl PartialEq for Charts {
    /// What is kept says nothing of what is asked.
    fn eq(&self, _: &Self) -> bool {
        true
    }
}
