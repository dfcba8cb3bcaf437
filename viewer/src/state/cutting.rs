//! [`Cutting`]: what is sawn, stick by stick, as the packet's saw sheet has it.

use runwright::plan::{Plan, PlanFile};
use runwright::shop::{CutList, Drops, SawCut, SeamPlan, StickChoice, StickSource, StickToCut};
use runwright::tube::Tube;
use runwright::units::{Angle, Length, Style};

/// What drops off at a cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Off {
    /// The stick's own end.
    End,
    /// Waste between two faces of different angles.
    Waste,
    /// A piece; both numbers from 0.
    Piece {
        /// Of which run.
        run: usize,
        /// Which one.
        piece: usize,
        /// Whether its end comes off first, against the flow.
        end_first: bool,
    },
}

/// One cut.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// What drops off.
    pub off: Off,
    /// How far to push the stick, kerf included.
    pub feed: Length,
    /// From a stop to the saw.
    pub stop: Length,
    /// How far to turn the stick before.
    pub rotate: Angle,
    /// The saw, off square.
    pub angle: Angle,
    /// The dropped piece's long side, clockwise from the scribed line.
    pub mark: Angle,
    /// The same with a tape round the tube.
    pub round: Length,
    /// Nothing but half a turn before this cut.
    pub half_turn: bool,
    /// Saw and stop stay as they were.
    pub again: bool,
}

/// A stick and its cuts in order.
#[derive(Clone, Debug, PartialEq)]
pub struct CutStick {
    /// What it is.
    pub title: String,
    /// Where to scribe its line, clockwise from the weld seam; `None` in seamless tube.
    pub line: Option<Angle>,
    /// From its free end.
    pub cuts: Vec<Cut>,
}

/// All that is sawn for one run, and for others that share its sticks.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cutting {
    /// Sticks in order.
    pub sticks: Vec<CutStick>,
    /// Pieces of the run, from 0, that no stick is long enough for, and how long one must be.
    pub too_long: Vec<(usize, Length)>,
}

impl Cutting {
    /// Of every run of a plan.
    pub fn of_plan(plan: &Plan) -> Vec<Self> {
        let seams: Vec<Option<&SeamPlan>> =
            plan.runs.iter().map(|run| run.seams.as_ref()).collect();
        Self::all(&plan.cut_list(), &seams, plan.job.style)
    }

    /// Of every run of a plan's file.
    pub fn of_file(plan: &PlanFile) -> Vec<Self> {
        let layouts = plan.layouts();
        let seams = plan.seam_plans(&layouts);
        let seams: Vec<Option<&SeamPlan>> = seams.iter().map(Option::as_ref).collect();
        Self::all(&plan.cut_list(&layouts), &seams, plan.style)
    }

    /// For each run, those sticks that a piece of it is cut from.
    pub fn all(list: &CutList<'_>, seams: &[Option<&SeamPlan>], style: Style) -> Vec<Self> {
        let of_run = |(run, seams): (usize, &Option<&SeamPlan>)| {
            let own = list.sticks.iter().filter(|stick| stick.cuts_run(run));
            let too_long = list.too_long.iter().filter(|long| long.run == run);
            let too_long = too_long.map(|long| (long.piece.saturating_sub(1), long.needs));
            Self {
                sticks: own
                    .map(|stick| CutStick::new(stick, *seams, style))
                    .collect(),
                too_long: too_long.collect(),
            }
        };
        seams.iter().enumerate().map(of_run).collect()
    }

    /// The cut at which a piece drops off.
    pub fn of_piece(&self, run: usize, piece: usize) -> Option<&Cut> {
        let mut all = self.sticks.iter().flat_map(|stick| &stick.cuts);
        all.find(
            |cut| matches!(cut.off, Off::Piece { run: r, piece: p, .. } if (r, p) == (run, piece)),
        )
    }

    /// Whether there is nothing to saw.
    pub const fn is_empty(&self) -> bool {
        self.sticks.is_empty()
    }
}

impl CutStick {
    fn new(stick: &StickToCut<'_>, seams: Option<&SeamPlan>, style: Style) -> Self {
        let (title, number) = match stick.choice {
            StickChoice::Layout {
                layout,
                number,
                stick,
            } => {
                let source = match stick.source {
                    StickSource::New { .. } => "new",
                    StickSource::Shelf { .. } => "from the shelf",
                    StickSource::Missing => "MISSING: buy or find it",
                };
                let title = format!(
                    "stick {} of {}: {source}, {}",
                    number + 1,
                    layout.sticks.len(),
                    style.length(stick.length)
                );
                (title, number)
            }
            StickChoice::Run { .. } => (
                format!("one stick, {} or more", style.length(stick.taken())),
                0,
            ),
        };
        Self {
            title,
            line: seams.and_then(|seams| line(seams, number)),
            cuts: stick
                .cuts
                .iter()
                .map(|cut| Cut::new(cut, stick.tube))
                .collect(),
        }
    }
}

/// The scribed line against the weld seam: the other way round than the seam against it.
fn line(seams: &SeamPlan, stick: usize) -> Option<Angle> {
    let sticks = seams.sticks();
    let own = sticks.iter().find(|(number, _)| *number == stick);
    own.map(|(_, offset)| (-*offset).wrapped())
}

impl Cut {
    fn new(cut: &SawCut, tube: &Tube) -> Self {
        Self {
            off: match cut.drops {
                Drops::End => Off::End,
                Drops::Wedge => Off::Waste,
                Drops::Piece { run, piece, turned } => Off::Piece {
                    run,
                    piece: piece.saturating_sub(1),
                    end_first: turned,
                },
            },
            feed: cut.feed,
            stop: cut.stop,
            rotate: cut.rotate,
            angle: cut.angle,
            mark: cut.mark,
            round: cut.round(tube.circumference()),
            half_turn: cut.is_half_turn(),
            again: cut.again,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::export::{Exporter, PlanJson};
    use runwright::job::read_job;
    use runwright::plan::{plan, read_plan};

    const STACK: &str = include_str!("../../../examples/stack.json");

    fn with_sticks(length: &str) -> String {
        let sticks = format!("\"shop\": {{ \"sticks\": [ {{ \"length\": \"{length}\" }} ] }}, ");
        STACK.replacen("\"ports\"", &(sticks + "\"ports\""), 1)
    }

    fn planned(text: &str) -> Plan {
        plan(&read_job(text.as_bytes(), "job").job.unwrap()).unwrap()
    }

    #[test]
    fn without_sticks_it_is_the_saw_sheet() {
        let plan = planned(STACK);
        let cutting = &Cutting::of_plan(&plan)[0];
        let list = plan.cut_list();
        let steps = &list.sticks[0].cuts;
        assert_eq!(cutting.sticks.len(), 1);
        assert_eq!(cutting.sticks[0].cuts.len(), steps.len());
        for (cut, step) in cutting.sticks[0].cuts.iter().zip(steps.iter()) {
            assert_eq!((cut.feed, cut.stop), (step.feed, step.stop));
            assert_eq!((cut.rotate, cut.angle), (step.rotate, step.angle));
        }
    }

    #[test]
    fn with_sticks_it_goes_stick_by_stick_and_the_file_says_the_same() {
        let plan = planned(&with_sticks("10 in"));
        let cutting = &Cutting::of_plan(&plan)[0];
        assert!(cutting.sticks.len() > 1, "10 in sticks: more than one");
        for piece in 0..plan.runs[0].run().pieces().len() {
            assert!(cutting.of_piece(0, piece).is_some(), "piece {piece}");
        }
        let layout: usize = plan.sticks[0].sticks.iter().map(|s| s.cuts.len()).sum();
        let here: usize = cutting.sticks.iter().map(|s| s.cuts.len()).sum();
        assert_eq!(layout, here);
        let file = read_plan(&PlanJson.files(&plan).unwrap()[0].bytes).unwrap();
        let again = &Cutting::of_file(&file)[0];
        for (a, b) in cutting.sticks.iter().zip(&again.sticks) {
            assert_eq!((&a.title, a.cuts.len()), (&b.title, b.cuts.len()));
        }
    }

    #[test]
    fn a_piece_longer_than_any_stick_is_named() {
        let plan = planned(&with_sticks("5 in"));
        let cutting = &Cutting::of_plan(&plan)[0];
        assert_eq!(cutting.too_long.len(), 1);
        let (piece, needs) = cutting.too_long[0];
        assert!(piece == 3 && needs > Length::from_inches(7.0));
        assert!(cutting.of_piece(0, piece).is_none());
    }
}
