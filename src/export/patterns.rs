//! Wrap patterns at true size, one for each kind of piece: `patterns.svg` and
//! `patterns.dxf` for paper, `card.svg` and `card.dxf` to cut out of card or sheet.

use super::flat::{Area, Drawing, Ink};
use super::paper::{Made, Roll, RunOnPaper, wraps};
use super::{ExportError, Exporter, OutFile, file_stems};
use crate::plan::{Plan, PlannedRun};
use crate::shop::StickLayout;
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
    let (stems, seams) = (file_stems(plan), seams(plan));
    for on_paper in runs_on_paper(plan, &stems, &seams, Length::ZERO) {
        roll.add_wraps(&wraps(&on_paper, made));
    }
    roll.page()
}

/// The plan's runs, as what draws them takes them.
pub(super) fn runs_on_paper<'a>(
    plan: &'a Plan,
    stems: &'a [String],
    seams: &'a [Vec<Option<Angle>>],
    paper: Length,
) -> Vec<RunOnPaper<'a>> {
    let runs = plan.runs.iter().zip(stems).zip(seams);
    let on_paper = runs.map(|((planned, stem), seams)| RunOnPaper {
        run: planned.run(),
        name: &planned.name,
        stem,
        style: plan.job.style,
        paper,
        in_order: StickLayout::of(&plan.sticks, planned.run().tube()).is_none(),
        seams,
    });
    on_paper.collect()
}

/// Where the weld seam lies in every piece of every run.
pub(super) fn seams(plan: &Plan) -> Vec<Vec<Option<Angle>>> {
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
