//! What helps to mark and hold the tube: `clock-tape.svg`, `cradle.svg` and `cradle.dxf`.

use super::flat::Ink;
use super::paper::Roll;
use super::patterns::{OnPaper, both};
use super::{ExportError, Exporter, OutFile};
use crate::plan::Plan;
use crate::units::Length;

const TAPE: &str = "clock-tape.svg";

/// Writes clock tapes and cradles of a plan.
#[derive(Clone, Copy, Debug, Default)]
pub struct Jigs {
    /// Thickness of the paper that is wrapped round the tube.
    pub paper: Length,
    /// Thickness of the card or sheet that cradles are folded from.
    pub card: Length,
}

impl Exporter for Jigs {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let (mut tapes, mut cradles) = (Roll::new(), Roll::new());
        let on_paper = OnPaper::of(plan);
        for on_paper in on_paper.runs(plan, self.paper) {
            tapes.add_tape(&on_paper);
            cradles.add_cradle(&on_paper, self.card);
        }
        let (tape, page) = tapes.page();
        let mut files = vec![OutFile::new(TAPE, tape.svg(&page, Ink::Paper))];
        files.extend(both("cradle", &cradles.page(), Ink::Paper)?);
        Ok(files)
    }
}
