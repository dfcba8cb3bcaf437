//! [`Step`]: building a run piece by piece, cutting first and then tacking up.

use super::numbers::PieceNumbers;
use runwright::run::{JointKind, Run};
use runwright::shop::SawStep;
use runwright::units::Style;

/// What is done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Phase {
    /// A piece is cut off the stick, or a stock bend cut to its legs.
    Cut,
    /// A piece is tacked on to those before it.
    Tack,
}

/// One step of building a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Step {
    /// What is done.
    pub phase: Phase,
    /// Which piece, from 1.
    pub piece: usize,
    /// Of how many.
    pub pieces: usize,
    /// What is to be read from across the bench: name and number.
    pub large: Vec<(&'static str, String)>,
    /// What else helps, a line each.
    pub notes: Vec<String>,
}

/// All steps of a run. `last` is the piece to leave for last and how much longer to cut
/// it, if there is one.
pub fn steps(run: &Run, saw: &[SawStep], style: Style, last: Option<(usize, String)>) -> Vec<Step> {
    let numbers = PieceNumbers::of_run(run, saw, style);
    let cuts = numbers
        .iter()
        .map(|piece| cut(piece, numbers.len(), last.as_ref()));
    let tacks = numbers
        .iter()
        .map(|piece| tack(piece, run, numbers.len(), style, last.as_ref()));
    cuts.chain(tacks).collect()
}

fn cut(piece: &PieceNumbers, pieces: usize, last: Option<&(usize, String)>) -> Step {
    let mut notes = vec![format!(
        "long side {}   short side {}",
        piece.long, piece.short
    )];
    let large = match (&piece.feed, &piece.rotate, &piece.angle) {
        (Some([fraction, exact]), Some(rotate), Some(angle)) => {
            notes.insert(0, format!("feed exactly {exact}, kerf included"));
            if piece.number == 1 {
                notes.push("begin with a square end on the stick".to_owned());
            }
            vec![
                ("FEED", fraction.clone()),
                ("ROTATE", rotate.clone()),
                ("SAW", angle.clone()),
            ]
        }
        _ => {
            notes.push("a stock bend: cut its legs square to this length".to_owned());
            vec![("STOCK BEND", piece.center.clone())]
        }
    };
    if let Some((number, longer)) = last
        && *number == piece.number
    {
        notes.push(format!(
            "this one closes the gap: feed {longer} more, cut it when the gap is built"
        ));
    }
    Step {
        phase: Phase::Cut,
        piece: piece.number,
        pieces,
        large,
        notes,
    }
}

/// What the clock of a joint is.
const CLOCK: &str = "clock: how far this bend is turned from the plane of the bend before, clockwise looking downstream";

fn tack(
    piece: &PieceNumbers,
    run: &Run,
    pieces: usize,
    style: Style,
    last: Option<&(usize, String)>,
) -> Step {
    let joint = run.joints().get(piece.number - 1);
    let mut notes = Vec::new();
    let large = match joint.map(|joint| (joint.kind, joint)) {
        Some((JointKind::Miter, joint)) => {
            notes.push(format!(
                "long side of piece {} on long side of piece {}",
                piece.number - 1,
                piece.number
            ));
            notes.push(format!("both cut at {}", style.angle(joint.cut())));
            notes.push(CLOCK.to_owned());
            vec![
                ("PIECE", format!("{} on {}", piece.number, piece.number - 1)),
                ("BENDS", style.angle(joint.deflection)),
                ("CLOCK", style.clock(joint.clock)),
            ]
        }
        Some((JointKind::Square, joint)) => {
            notes.push("square to square".to_owned());
            notes.push(CLOCK.to_owned());
            vec![
                ("PIECE", format!("{} on {}", piece.number, piece.number - 1)),
                ("CLOCK", style.clock(joint.clock)),
            ]
        }
        _ => {
            notes.push("square end against the face, down the port's axis".to_owned());
            vec![("PIECE", format!("{} on the port", piece.number))]
        }
    };
    if let Some((number, _)) = last
        && *number == piece.number
    {
        notes.push(
            "leave this one for last: tack up the rest from both ports, then cut it to the gap"
                .to_owned(),
        );
    }
    if piece.number == pieces {
        notes.push("then the far port".to_owned());
    }
    Step {
        phase: Phase::Tack,
        piece: piece.number,
        pieces,
        large,
        notes,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::job::read_job;
    use runwright::plan::plan;

    #[test]
    fn every_piece_is_cut_and_then_tacked() {
        for bytes in [
            include_bytes!("../../../examples/stack.json").as_slice(),
            include_bytes!("../../../examples/duct.json"),
        ] {
            let job = read_job(bytes, "job").job.unwrap();
            let plan = plan(&job).unwrap();
            let run = &plan.runs[0];
            let steps = steps(run.run(), &run.saw.steps, job.style, None);
            let count = run.run().pieces().len();
            assert_eq!(steps.len(), 2 * count);
            for (i, step) in steps.iter().enumerate() {
                assert_eq!(step.piece, i % count + 1);
                assert_eq!(step.phase == Phase::Cut, i < count);
                assert!(!step.large.is_empty());
            }
            // As many saw numbers as the saw sheet has rows.
            let sawn = steps
                .iter()
                .filter(|step| step.large[0].0 == "FEED")
                .count();
            assert_eq!(sawn, run.saw.steps.len());
        }
    }
}
