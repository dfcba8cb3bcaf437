//! What goes to the bench on paper: wrap patterns, the clock tape and the cradle, each
//! from a run alone.

mod base;
mod blocks;
mod cradle;
mod ends;
mod free;
mod heading;
mod layout;
mod names;
mod pieces;
mod roll;
mod room;
mod tape;
#[cfg(test)]
mod tests;
mod wrap;

pub(in crate::export) use pieces::Made;
pub(in crate::export) use roll::Roll;
pub(in crate::export) use wrap::{Faces, Inner, Mark, MarkAt, Wrap};

use super::flat::{Area, Block, PaperSize, Sheet, pages};
use crate::run::Run;
use crate::shop::SawCut;
use crate::units::{Angle, Length, Style};
use blocks::{Split, wrap_blocks};
use cradle::{cradle, cradle_words};
use pieces::{square_words, wraps};
use tape::{tape, tape_words};

/// A run that is drawn on paper.
#[derive(Clone, Copy, Debug)]
pub struct RunOnPaper<'a> {
    /// The run.
    pub run: &'a Run,
    /// Its name, as it is written.
    pub name: &'a str,
    /// Its name as a part of ids and file names, another for each run.
    pub stem: &'a str,
    /// How numbers are written.
    pub style: Style,
    /// Thickness of the paper.
    pub paper: Length,
    /// The cuts at which its pieces drop off, whichever sticks they come from: their marks
    /// go on the clock tape.
    pub cuts: &'a [SawCut],
    /// The piece that is left for last, from 1, and what it is sawn longer.
    pub longer: Option<(usize, Length)>,
    /// Where the tube's own seam goes, piece by piece in order of flow, by the piece's
    /// own clock; none for those that are not there.
    pub seams: &'a [Option<Angle>],
}

/// Wrap patterns at true size for each kind of straight piece with a miter, on as few pages
/// as one after the other takes. What is larger than a page is in tiles, or its shaped ends
/// alone where that takes less of them.
pub fn pattern_sheets(on_paper: &RunOnPaper<'_>, page: PaperSize) -> Vec<Sheet> {
    let wraps = wraps(on_paper, Made::Paper(on_paper.paper));
    let blocks = wraps.iter().flat_map(|wrap| wrap_blocks(wrap, page));
    let title = format!("{}: wrap patterns", on_paper.name);
    pages(&blocks.collect::<Vec<_>>(), page, &title)
}

/// A strip to wrap round the tube, with degrees and the clocks that the run is cut at.
pub fn clock_tape_sheets(on_paper: &RunOnPaper<'_>, page: PaperSize) -> Vec<Sheet> {
    let [title, facts] = tape_words(on_paper);
    let draw = |keep_off: &[Area]| (tape(on_paper, keep_off), Vec::new());
    let blocks = split(&title, &facts, draw, page);
    pages(&blocks, page, &format!("{}: clock tape", on_paper.name))
}

/// A sheet of `thickness` to fold up, that holds the tube on a chop saw.
pub fn cradle_sheets(on_paper: &RunOnPaper<'_>, thickness: Length, page: PaperSize) -> Vec<Sheet> {
    let [title, facts] = cradle_words(on_paper, thickness);
    let draw = |keep_off: &[Area]| (cradle(on_paper, thickness, keep_off), Vec::new());
    let blocks = split(&title, &facts, draw, page);
    pages(&blocks, page, &format!("{}: cradle", on_paper.name))
}

fn split<F>(title: &str, facts: &str, draw: F, page: PaperSize) -> Vec<Block>
where
    F: Fn(&[Area]) -> (super::flat::Drawing, Vec<String>),
{
    Split { title, facts, draw }.blocks(page)
}

impl Roll {
    /// Adds the patterns of a run, and which of its pieces need none.
    pub(in crate::export) fn add_patterns(&mut self, on_paper: &RunOnPaper<'_>, made: Made) {
        self.add_wraps(&wraps(on_paper, made));
        if let Some([title, facts]) = square_words(on_paper) {
            self.add_words(&title, &[&facts]);
        }
    }

    /// Adds the clock tape.
    pub(in crate::export) fn add_tape(&mut self, on_paper: &RunOnPaper<'_>) {
        let [title, facts] = tape_words(on_paper);
        self.add(&title, &[&facts], &tape(on_paper, &[]));
    }

    /// Adds the cradle.
    pub(in crate::export) fn add_cradle(&mut self, on_paper: &RunOnPaper<'_>, sheet: Length) {
        let [title, facts] = cradle_words(on_paper, sheet);
        self.add(&title, &[&facts], &cradle(on_paper, sheet, &[]));
    }
}
