//! [`Longer`]: a piece that is cut longer than planned.

use crate::units::Length;

/// The piece of a run that is left for last is cut longer than planned, so that it can be cut
/// to the gap that is there in the end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Longer {
    /// Which of the runs, from 0.
    pub run: usize,
    /// Its number in the run, from 1.
    pub piece: usize,
    /// By how much, along its axis.
    pub by: Length,
}

impl Longer {
    /// The piece of run `run` that is cut longer, and by how much.
    pub fn in_run(all: &[Self], run: usize) -> Option<(usize, Length)> {
        let found = all.iter().find(|one| one.run == run);
        found.map(|one| (one.piece, one.by))
    }

    /// By how much piece `piece` of run `run` is cut longer; zero for most.
    pub fn of(all: &[Self], run: usize, piece: usize) -> Length {
        let found = all.iter().find(|one| (one.run, one.piece) == (run, piece));
        found.map_or(Length::ZERO, |one| one.by)
    }
}
