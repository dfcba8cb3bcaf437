//! [`Ways`]: every way to close a gap with one piece, and which to take.

use super::{BuiltEnd, Closure, FitUp, NoPiece};
use crate::tube::Tube;

/// Both ends as they are; either cut again; both cut again.
const TRIMMED: [[bool; 2]; 4] = [[false, false], [false, true], [true, false], [true, true]];

/// Every way to close a gap with one piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Ways {
    /// Which ends are cut again, and what comes of it: as they are first, both last.
    pub list: Vec<Way>,
    /// The one to take, if any can be welded.
    pub best: Option<usize>,
}

/// One way.
#[derive(Clone, Debug, PartialEq)]
pub struct Way {
    /// Which of the ends are cut again.
    pub trimmed: [bool; 2],
    /// The piece.
    pub closure: Result<Closure, NoPiece>,
}

impl Ways {
    /// Of `tube` between two `ends`. Of those that can be welded, the one that takes the
    /// fewest minutes is best; of two that take the same, the one whose walls meet
    /// better.
    /// Only ends that `may_trim` are cut again: a port is not.
    pub fn new(tube: &Tube, ends: [&BuiltEnd; 2], may_trim: [bool; 2], fit_up: &FitUp) -> Self {
        let list: Vec<Way> = TRIMMED
            .into_iter()
            .filter(|trimmed| (0..2).all(|i| may_trim[i] || !trimmed[i]))
            .map(|trimmed| Way {
                trimmed,
                closure: Closure::new(tube, ends, trimmed, fit_up),
            })
            .filter(Way::is_itself)
            .collect();
        let good = list.iter().enumerate().filter_map(|(i, way)| {
            let closure = way
                .closure
                .as_ref()
                .ok()
                .filter(|closure| closure.is_good())?;
            Some((i, closure))
        });
        let best = good.min_by(|(_, a), (_, b)| {
            let worse = |closure: &Closure| (closure.minutes, closure.high_low().mm());
            let (a, b) = (worse(a), worse(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        });
        let best = best.map(|(i, _)| i);
        Self { list, best }
    }

    /// The piece to take.
    pub fn best(&self) -> Option<&Closure> {
        self.list.get(self.best?)?.closure.as_ref().ok()
    }
}

impl Way {
    /// An end that needs no cut is not cut again: then this is another of the ways.
    fn is_itself(&self) -> bool {
        self.closure.as_ref().map_or(true, |closure| {
            let cut = [0, 1].map(|i| closure.trims[i].is_some());
            cut == self.trimmed
        })
    }
}
