//! [`Source`]: one independent error and all that it moves.

use super::cause::Cause;
use super::motion::Motion;
use crate::geometry::{Point, Scatter, Vector};

/// An error of one standard deviation: the motions that it makes together. Almost always
/// one; a saw's setting moves at every joint that is cut by it.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::shop) struct Source {
    pub cause: Cause,
    pub motions: Vec<Motion>,
}

impl Source {
    /// What it alone does at `place`. Motions of one source add up before they are
    /// squared.
    pub fn scatter_at(&self, place: &Point) -> Scatter {
        let mut sum = (Vector::zeros(), Vector::zeros());
        for motion in &self.motions {
            let (shift, turn) = motion.seen_at(place);
            sum = (sum.0 + shift, sum.1 + turn);
        }
        Scatter::of_motion(&sum.0, &sum.1)
    }
}

/// What all of them do at `place`.
pub(in crate::shop) fn scatter_at(sources: &[Source], place: &Point) -> Scatter {
    let each = sources.iter().map(|source| source.scatter_at(place));
    each.fold(Scatter::none(), |sum, one| sum.plus(&one))
}
