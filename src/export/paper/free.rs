//! [`Free`]: what is left free on a rectangle.

use super::room::CLEAR;
use crate::export::flat::{Area, Text};

/// A rectangle and what is on it so far.
pub(super) struct Free {
    within: Area,
    taken: Vec<Area>,
}

impl Free {
    /// Nothing but `taken` on it.
    pub(super) fn new(within: Area, taken: &[Area]) -> Self {
        Self {
            within,
            taken: taken.to_vec(),
        }
    }

    /// Keeps texts off `area` from now on.
    pub(super) fn take(&mut self, area: Area) {
        self.taken.push(area);
    }

    /// The first of `texts` that covers nothing; its place is taken.
    pub(super) fn place(&mut self, texts: impl IntoIterator<Item = Text>) -> Option<Text> {
        let free = |text: &Text| {
            let area = text.area();
            self.within.holds(&area.grown(CLEAR))
                && self
                    .taken
                    .iter()
                    .all(|other| area.is_clear_of(other, CLEAR))
        };
        let text = texts.into_iter().find(free)?;
        self.take(text.area());
        Some(text)
    }
}
