//! [`PlanFiles`]: everything that planning a job writes, in one place for whoever asks:
//! the command line and the viewer.

use super::{
    Drawing, Exporter, Jigs, OutFile, Packet, PacketError, Patterns, PieceStls, Pieces, PlanJson,
    RunStl, Sheet,
};
use crate::job::Problem;
use crate::plan::{Plan, read_plan};
use crate::units::Length;

/// All files of a plan, and what may be chosen about them.
#[derive(Clone, Debug)]
pub struct PlanFiles {
    /// How far a flat in an STL may lie inside the true circle.
    pub chord_tolerance: Length,
    /// Make `run.stl` a full rod instead of a wall with its bore.
    pub solid: bool,
    /// One STL for each piece too.
    pub pieces: bool,
    /// The shop packet, and with it the paper and card that patterns are cut from.
    pub packet: Packet,
    /// Whether `packet.pdf` is written: setting it takes longer than all else together.
    pub with_packet: bool,
}

impl Default for PlanFiles {
    fn default() -> Self {
        Self {
            chord_tolerance: Length::from_mm(0.05),
            solid: false,
            pieces: false,
            packet: Packet::default(),
            with_packet: true,
        }
    }
}

impl PlanFiles {
    /// Every file of `plan`; the same bytes for the same plan.
    pub fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, PacketError> {
        let chord_tolerance = self.chord_tolerance;
        let run_stl = RunStl {
            chord_tolerance,
            solid: self.solid,
        };
        let (paper, card) = (self.packet.paper, self.packet.card);
        let patterns = Patterns { paper, card };
        let jigs = Jigs { paper, card };
        let piece_stls = PieceStls { chord_tolerance };
        let mut exporters: Vec<&dyn Exporter> =
            vec![&Sheet, &Pieces, &patterns, &jigs, &Drawing, &run_stl];
        if self.pieces {
            exporters.push(&piece_stls);
        }
        let mut files = PlanJson.files(plan)?;
        let packet = if self.with_packet {
            Some(self.packet(&files)?)
        } else {
            None
        };
        for exporter in exporters {
            files.extend(exporter.files(plan)?);
        }
        files.extend(packet);
        Ok(files)
    }

    /// The packet of the plan that was just written: whoever makes it again from
    /// `plan.json` gets the same.
    fn packet(&self, written: &[OutFile]) -> Result<OutFile, PacketError> {
        let bytes = written.first().map_or(&[][..], |file| &file.bytes);
        let plan = read_plan(bytes).map_err(|problems| {
            let reasons: Vec<String> = problems.iter().map(Problem::to_string).collect();
            PacketError::NotRead(reasons.join("; "))
        })?;
        self.packet.of(&plan)
    }
}
