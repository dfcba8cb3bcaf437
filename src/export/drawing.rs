//! `run.svg`: the runs in an isometric view with numbers; `views.svg`: front, top and side
//! view with main sizes.

use super::view::{Look, Shown, isometric, three_views};
use super::{ExportError, Exporter, OutFile};
use crate::plan::Plan;
use crate::units::Length;

/// Sizes of the pictures as they print: what fits on a page of any paper.
const ISOMETRIC: [Length; 2] = [Length::from_mm(180.0), Length::from_mm(130.0)];
const VIEWS: [Length; 2] = [Length::from_mm(180.0), Length::from_mm(230.0)];

/// Writes `run.svg` and `views.svg`.
#[derive(Clone, Copy, Debug, Default)]
pub struct Drawing;

impl Exporter for Drawing {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let tasks = plan.job.runs.iter().map(|run| &run.task);
        let shown: Vec<Shown<'_>> = plan
            .runs
            .iter()
            .zip(tasks)
            .map(|(planned, task)| Shown {
                name: &planned.name,
                run: planned.run(),
                ports: [&task.start.name, &task.end.name],
            })
            .collect();
        let look = |[width, height]: [Length; 2]| Look {
            width,
            height,
            ..Look::new(plan.job.style)
        };
        Ok(vec![
            OutFile::new("run.svg", isometric(&shown, &look(ISOMETRIC)).svg),
            OutFile::new("views.svg", three_views(&shown, &look(VIEWS)).svg),
        ])
    }
}
