//! [`Waiting`]: a choice that is still to be tried.

use super::choice::{Choice, Making};
use super::layout::Guess;
use crate::units::{Angle, Length};

/// A choice to be tried, with a first guess.
pub(super) struct Waiting {
    pub choice: Choice,
    pub guess: Guess,
    /// Bends' turns at the guess.
    pub turns: Vec<Angle>,
}

impl Waiting {
    pub fn with_choices(&self, choices: Vec<Choice>) -> Vec<Self> {
        let with = |choice| Self {
            choice,
            guess: self.guess.clone(),
            turns: self.turns.clone(),
        };
        choices.into_iter().map(with).collect()
    }
}

/// What a family's routes are no shorter than.
pub(super) struct Bound {
    /// Its own shortest arcs.
    pub family: Length,
    pub base: Making,
    /// The straight line between the ports.
    pub chord: Length,
}
