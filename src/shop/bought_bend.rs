//! [`BoughtBend`]: which stock bend a piece of a run is made from.

use crate::route::Bend;
use crate::run::Run;
use crate::tube::{BendCut, StockBend};

/// A piece of a run that is a stock bend, and that bend as it lies on the shelf.
#[derive(Clone, Debug, PartialEq)]
pub struct BoughtBend {
    /// The piece's number in its run, from 1.
    pub piece: usize,
    /// The bend.
    pub stock: StockBend,
}

impl BoughtBend {
    /// Those of `run`, whose route has `bends`, which name bends by their places in `stock`.
    pub fn all(run: &Run, bends: &[Bend], stock: &[StockBend]) -> Vec<Self> {
        let items = bends.iter().filter_map(Bend::stock);
        let bent = run.pieces().iter().enumerate();
        let bent = bent.filter(|(_, placed)| placed.piece.bent().is_some());
        let both = bent.zip(items.map(|item| stock.get(item)));
        both.filter_map(|((i, _), stock)| {
            Some(Self {
                piece: i + 1,
                stock: stock?.clone(),
            })
        })
        .collect()
    }

    /// The bend that piece number `piece` is made from, if it is known.
    pub fn of(all: &[Self], piece: usize) -> Option<&StockBend> {
        let found = all.iter().find(|bend| bend.piece == piece);
        found.map(|bend| &bend.stock)
    }

    /// What is sawn off it to make its piece of `run`.
    pub fn cuts(&self, run: &Run) -> Vec<BendCut> {
        let placed = self.piece.checked_sub(1).and_then(|i| run.pieces().get(i));
        let piece = placed.and_then(|placed| placed.piece.bent());
        piece.map_or(Vec::new(), |piece| self.stock.cuts_to(piece))
    }
}
