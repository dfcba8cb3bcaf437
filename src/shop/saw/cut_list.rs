//! [`CutList`]: every stick that comes to the saw.

use super::cut::{Drops, SawCut};
use super::longer::Longer;
use super::sheet::SawSheet;
use crate::run::Run;
use crate::shop::{Stick, StickLayout, TooLong};
use crate::tube::Tube;
use crate::units::Length;
use std::borrow::Cow;

/// All sticks of some runs: those of the layouts of their tubes, and for each run whose tube
/// is in no layout one stick as long as it takes.
#[derive(Clone, Debug)]
pub struct CutList<'a> {
    /// Layouts first, in order, then runs.
    pub sticks: Vec<StickToCut<'a>>,
    /// Pieces that no stick of their layout is long enough for.
    pub too_long: Vec<TooLong>,
}

/// A stick and its cuts.
#[derive(Clone, Debug)]
pub struct StickToCut<'a> {
    /// What it is cut for.
    pub choice: StickChoice<'a>,
    /// Its tube.
    pub tube: &'a Tube,
    /// Cuts in order, from its free end.
    pub cuts: Cow<'a, [SawCut]>,
}

/// What a stick is cut for.
#[derive(Clone, Copy, Debug)]
pub enum StickChoice<'a> {
    /// Pieces of several runs, or some of one, as laid out.
    Layout {
        /// The layout.
        layout: &'a StickLayout,
        /// The stick's place in it, from 0.
        number: usize,
        /// The stick.
        stick: &'a Stick,
    },
    /// One whole run in order of flow.
    Run {
        /// Which, from 0.
        run: usize,
    },
}

impl StickToCut<'_> {
    /// Whether a piece of run number `run` is cut from it.
    pub fn cuts_run(&self, run: usize) -> bool {
        let of = |cut: &SawCut| matches!(cut.drops, Drops::Piece { run: of, .. } if of == run);
        self.cuts.iter().any(of)
    }

    /// What its cuts take of it, from its free end to the last.
    pub fn taken(&self) -> Length {
        self.cuts.iter().map(|cut| cut.feed).sum()
    }
}

impl<'a> CutList<'a> {
    /// The list for `runs` on a saw that takes `kerf`, with some pieces `longer` than
    /// planned, as they are in `layouts` too. These know runs by their places.
    pub fn new(
        runs: &[&'a Run],
        kerf: Length,
        layouts: &'a [StickLayout],
        longer: &[Longer],
    ) -> Self {
        let mut sticks: Vec<_> = layouts.iter().flat_map(laid_out).collect();
        sticks.extend(runs.iter().enumerate().filter_map(|(number, &run)| {
            let own = StickLayout::of(layouts, run.tube()).is_none();
            own.then(|| in_order(number, run, kerf, longer))
        }));
        sticks.retain(|stick| !stick.cuts.is_empty());
        let too_long = layouts.iter().flat_map(|layout| &layout.too_long);
        Self {
            sticks,
            too_long: too_long.copied().collect(),
        }
    }
}

impl CutList<'_> {
    /// The cuts at which pieces of run number `run` drop off, stick by stick.
    pub fn cuts_of(&self, run: usize) -> Vec<SawCut> {
        let cuts = self.sticks.iter().flat_map(|stick| stick.cuts.iter());
        let of = |cut: &&SawCut| matches!(cut.drops, Drops::Piece { run: of, .. } if of == run);
        cuts.filter(of).copied().collect()
    }
}

fn laid_out(layout: &StickLayout) -> impl Iterator<Item = StickToCut<'_>> {
    let sticks = layout.sticks.iter().enumerate();
    sticks.map(move |(number, stick)| StickToCut {
        choice: StickChoice::Layout {
            layout,
            number,
            stick,
        },
        tube: &layout.tube,
        cuts: Cow::Borrowed(&stick.cuts),
    })
}

fn in_order<'a>(number: usize, run: &'a Run, kerf: Length, longer: &[Longer]) -> StickToCut<'a> {
    StickToCut {
        choice: StickChoice::Run { run: number },
        tube: run.tube(),
        cuts: Cow::Owned(SawSheet::with(number, run, kerf, longer).cuts),
    }
}
