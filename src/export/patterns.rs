//! Wrap patterns at true size, one for each kind of piece: `patterns.svg` and
//! `patterns.dxf` for paper, `card.svg` and `card.dxf` to cut out of card or sheet.

use super::flat::{Area, Drawing, Ink};
use super::paper::{Made, Roll, RunOnPaper};
use super::{ExportError, Exporter, OutFile, file_stems};
use crate::plan::{Plan, PlannedRun};
use crate::shop::{Longer, SawCut};
use crate::units::{Angle, Length};

/// Writes the patterns of a plan.
#[derive(Clone, Copy, Debug, Default)]
pub struct Patterns {
    /// Thickness of the paper that is wrapped round the tube.
    pub paper: Length,
    /// Thickness of the card or sheet that is rolled round it; zero where the pattern
    /// goes on the tube itself.
    pub card: Length,
}

impl Exporter for Patterns {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let paper = page(plan, Made::Paper(self.paper));
        let card = page(plan, Made::Card(self.card));
        let mut files = both("patterns", &paper, Ink::Paper)?;
        files.extend(both("card", &card, Ink::Colors)?);
        Ok(files)
    }
}

fn page(plan: &Plan, made: Made) -> (Drawing, Area) {
    let mut roll = Roll::new();
    let on_paper = OnPaper::of(plan);
    for on_paper in on_paper.runs(plan, Length::ZERO) {
        roll.add_patterns(&on_paper, made);
    }
    roll.page()
}

/// What is drawn on paper of a plan's runs beside the runs themselves, one each a run.
pub(super) struct OnPaper {
    stems: Vec<String>,
    seams: Vec<Vec<Option<Angle>>>,
    cuts: Vec<Vec<SawCut>>,
    longer: Vec<Longer>,
}

impl OnPaper {
    pub(super) fn of(plan: &Plan) -> Self {
        let list = plan.cut_list();
        Self {
            stems: file_stems(plan),
            seams: seams(plan),
            cuts: (0..plan.runs.len()).map(|run| list.cuts_of(run)).collect(),
            longer: plan.longer(),
        }
    }

    /// The plan's runs, as what draws them takes them.
    pub(super) fn runs<'a>(&'a self, plan: &'a Plan, paper: Length) -> Vec<RunOnPaper<'a>> {
        let own = self.stems.iter().zip(&self.seams).zip(&self.cuts);
        let runs = plan.runs.iter().zip(own).enumerate();
        let on_paper = runs.map(|(number, (planned, ((stem, seams), cuts)))| RunOnPaper {
            run: planned.run(),
            name: &planned.name,
            stem,
            style: plan.job.style,
            paper,
            cuts,
            longer: Longer::in_run(&self.longer, number),
            seams,
        });
        on_paper.collect()
    }
}

/// Where the weld seam lies in every piece of every run.
fn seams(plan: &Plan) -> Vec<Vec<Option<Angle>>> {
    let of = |planned: &PlannedRun| {
        let pieces = planned.run().pieces().len();
        let seams = planned.seams.as_ref();
        seams.map_or(Vec::new(), |seams| seams.clocks(pieces))
    };
    plan.runs.iter().map(of).collect()
}

/// One drawing as SVG and as DXF.
pub(super) fn both(
    name: &str,
    (drawing, page): &(Drawing, Area),
    ink: Ink,
) -> Result<Vec<OutFile>, ExportError> {
    let dxf = format!("{name}.dxf");
    let bytes = drawing
        .dxf()
        .map_err(|error| ExportError::new(&dxf, error))?;
    Ok(vec![
        OutFile::new(format!("{name}.svg"), drawing.svg(page, ink)),
        OutFile::new(dxf, bytes),
    ])
}
