//! Taking another of the ways that were found to make a run.

use super::plan::{Plan, PlannedRun, checked};
use crate::route::Task;

impl Plan {
    /// How many ways there are to make run `run`: the best and its alternatives; 0 where
    /// there is no such run.
    pub fn ways(&self, run: usize) -> usize {
        self.runs
            .get(run)
            .map_or(0, |planned| 1 + planned.solution.alternatives.len())
    }

    /// The plan with way `way` taken for run `run`: 0 is the one that is taken now,
    /// others are its alternatives in order. What is given up takes the place of what is
    /// taken, so that taking the same way again brings it back. Saw sheet, clearances,
    /// stack-up and warnings are those of what is taken. `None` where there is no such
    /// run or way.
    pub fn taking(&self, run: usize, way: usize) -> Option<Self> {
        let mut runs = self.runs.clone();
        let planned = runs.get_mut(run)?;
        let asked = self.job.runs.get(run)?;
        let mut solution = planned.solution.clone();
        if let Some(place) = way.checked_sub(1) {
            let (candidate, reasons) = solution.alternatives.get_mut(place)?;
            std::mem::swap(candidate, &mut solution.best);
            std::mem::swap(reasons, &mut solution.reasons);
        }
        let task = Task {
            wish: planned.wish,
            ..asked.task.clone()
        };
        let others = std::mem::take(&mut planned.others);
        *planned = PlannedRun {
            others,
            ..PlannedRun::new(&self.job, run, &task, solution)
        };
        // Clearances between runs are found anew: forget those to what was there.
        for planned in &mut runs {
            planned.clearance = planned.run().self_clearance().map(|c| c.distance);
        }
        Some(checked(&self.job, runs))
    }
}

#[cfg(test)]
mod tests {
    use crate::job::read_job;
    use crate::plan::plan;
    use crate::shop::SawSheet;

    #[test]
    fn another_way_is_taken_and_given_back() {
        let bytes = include_bytes!("../../examples/bay.json");
        let job = read_job(bytes, "bay").job.expect("a good example");
        let first = plan(&job).expect("a run");
        assert!(first.ways(0) > 1 && first.ways(1) == 0);
        let second = first.taking(0, 1).expect("an alternative");
        let taken = &second.runs[0];
        assert_eq!(
            taken.solution.best,
            first.runs[0].solution.alternatives[0].0
        );
        assert_eq!(taken.saw, SawSheet::new(0, taken.run(), job.kerf()));
        let back = second.taking(0, 1).expect("the first");
        assert_eq!(back.runs[0].solution.best, first.runs[0].solution.best);
        assert_eq!(back.runs[0].standings, first.runs[0].standings);
        assert_eq!(back.warnings, first.warnings);
        assert!(first.taking(0, first.ways(0)).is_none());
        assert!(first.taking(9, 0).is_none());
    }
}
