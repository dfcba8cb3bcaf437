//! [`Cutting`]: what is sawn, stick by stick, as the packet's saw sheet has it.

use runwright::plan::{Plan, PlanFile};
use runwright::run::Run;
use runwright::shop::{
    Drops, SawSheet, SawStep, SeamPlan, Stick, StickCut, StickLayout, StickSource,
};
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

/// A run with what its cutting comes from.
pub struct ToCut<'a> {
    /// Which of the runs, from 0.
    pub index: usize,
    /// Its pieces.
    pub run: &'a Run,
    /// What the saw takes.
    pub kerf: Length,
    /// Where its weld seams lie.
    pub seams: Option<&'a SeamPlan>,
    /// How numbers are written.
    pub style: Style,
}

impl Cutting {
    /// Of every run of a plan.
    pub fn of_plan(plan: &Plan) -> Vec<Self> {
        let runs = plan.runs.iter().zip(&plan.job.runs).enumerate();
        runs.map(|(index, (planned, asked))| {
            let to_cut = ToCut {
                index,
                run: planned.run(),
                kerf: asked.task.rates.kerf,
                seams: planned.seams.as_ref(),
                style: plan.job.style,
            };
            to_cut.from(&plan.sticks)
        })
        .collect()
    }

    /// Of every run of a plan's file.
    pub fn of_file(plan: &PlanFile) -> Vec<Self> {
        let layouts = plan.layouts();
        let seams = plan.seam_plans(&layouts);
        let runs = plan.runs.iter().zip(&seams).enumerate();
        runs.map(|(index, (file, seams))| {
            let to_cut = ToCut {
                index,
                run: &file.run,
                kerf: file.quoting.rates.kerf,
                seams: seams.as_ref(),
                style: plan.style,
            };
            to_cut.from(&layouts)
        })
        .collect()
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

impl ToCut<'_> {
    /// From those sticks of its tube that hold a piece of it; in order from one stick where
    /// none are laid out.
    pub fn from(&self, layouts: &[StickLayout]) -> Cutting {
        let own = layouts
            .iter()
            .find(|layout| layout.tube == *self.run.tube());
        let too_long = own.into_iter().flat_map(|layout| &layout.too_long);
        let too_long = too_long.filter(|long| long.run == self.index);
        let too_long = too_long.map(|long| (long.piece.saturating_sub(1), long.needs));
        let too_long = too_long.collect();
        let sticks = match own {
            Some(layout) => {
                let all = layout.sticks.iter().enumerate();
                let own = all.filter(|(_, stick)| stick.pieces().any(|(run, _)| run == self.index));
                own.map(|(number, stick)| self.of_stick(layout, number, stick))
                    .collect()
            }
            None => self.in_order().into_iter().collect(),
        };
        Cutting { sticks, too_long }
    }

    fn of_stick(&self, layout: &StickLayout, number: usize, stick: &Stick) -> CutStick {
        let source = match stick.source {
            StickSource::New { .. } => "new",
            StickSource::Shelf { .. } => "from the shelf",
            StickSource::Missing => "MISSING: buy or find it",
        };
        CutStick {
            title: format!(
                "stick {} of {}: {source}, {}",
                number + 1,
                layout.sticks.len(),
                self.style.length(stick.length)
            ),
            line: self.line(number),
            cuts: stick
                .cuts
                .iter()
                .map(|cut| laid_out(cut, &layout.tube))
                .collect(),
        }
    }

    /// The scribed line against the weld seam: the other way round than the seam against it.
    fn line(&self, stick: usize) -> Option<Angle> {
        let sticks = self.seams?.sticks();
        let own = sticks.iter().find(|(number, _)| *number == stick);
        own.map(|(_, offset)| (-*offset).wrapped())
    }

    fn in_order(&self) -> Option<CutStick> {
        let saw = SawSheet::new(self.run, self.kerf);
        if saw.steps.is_empty() {
            return None;
        }
        let cuts = saw.steps.iter();
        Some(CutStick {
            title: format!("one stick, {} or more", self.style.length(saw.stick())),
            line: self.line(0),
            cuts: cuts
                .map(|step| one_by_one(self.index, step, self.run.tube()))
                .collect(),
        })
    }
}

fn round(mark: Angle, tube: &Tube) -> Length {
    tube.circumference() * (mark.wrapped() / Angle::FULL)
}

fn laid_out(cut: &StickCut, tube: &Tube) -> Cut {
    Cut {
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
        round: round(cut.mark, tube),
        half_turn: cut.is_half_turn(),
        again: cut.again,
    }
}

fn one_by_one(run: usize, step: &SawStep, tube: &Tube) -> Cut {
    Cut {
        off: Off::Piece {
            run,
            piece: step.piece.saturating_sub(1),
            end_first: false,
        },
        feed: step.feed,
        stop: step.stop,
        rotate: step.rotate,
        angle: step.angle,
        mark: step.mark,
        round: round(step.mark, tube),
        half_turn: step.is_half_turn(),
        again: step.again,
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
        let steps = &plan.runs[0].saw.steps;
        assert_eq!(cutting.sticks.len(), 1);
        assert_eq!(cutting.sticks[0].cuts.len(), steps.len());
        for (cut, step) in cutting.sticks[0].cuts.iter().zip(steps) {
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
