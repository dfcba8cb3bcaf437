//! [`PlanFiles`]: everything that planning a job writes, in one place for whoever asks:
//! the command line and the viewer.

use super::{
    Drawing, ExportError, Exporter, Jigs, OutFile, Patterns, PieceStls, Pieces, PlanJson, RunStl,
    Sheet,
};
use crate::plan::Plan;
use crate::units::Length;

/// All files of a plan, and what may be chosen about them.
#[derive(Clone, Copy, Debug)]
pub struct PlanFiles {
    /// How far a flat in an STL may lie inside the true circle.
    pub chord_tolerance: Length,
    /// Make `run.stl` a full rod instead of a wall with its bore.
    pub solid: bool,
    /// One STL for each piece too.
    pub pieces: bool,
    /// Thickness of the paper that patterns are printed on.
    pub paper: Length,
    /// Thickness of the card or sheet that patterns and cradles are cut from.
    pub card: Length,
}

impl Default for PlanFiles {
    fn default() -> Self {
        Self {
            chord_tolerance: Length::from_mm(0.05),
            solid: false,
            pieces: false,
            paper: Length::from_mm(0.1),
            card: Length::ZERO,
        }
    }
}

impl Exporter for PlanFiles {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let chord_tolerance = self.chord_tolerance;
        let run_stl = RunStl {
            chord_tolerance,
            solid: self.solid,
        };
        let (paper, card) = (self.paper, self.card);
        let patterns = Patterns { paper, card };
        let jigs = Jigs { paper, card };
        let piece_stls = PieceStls { chord_tolerance };
        let mut exporters: Vec<&dyn Exporter> = vec![
            &PlanJson, &Sheet, &Pieces, &patterns, &jigs, &Drawing, &run_stl,
        ];
        if self.pieces {
            exporters.push(&piece_stls);
        }
        let mut files = Vec::new();
        for exporter in exporters {
            files.extend(exporter.files(plan)?);
        }
        Ok(files)
    }
}
