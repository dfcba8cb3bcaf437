//! [`StackUp`]: how far off the end of a run may come out, and what makes it so.

use super::accuracy::Accuracy;
use super::build::Build;
use super::cause::Cause;
use super::closing::Closing;
use super::source::{Source, scatter_at};
use crate::geometry::{Direction, Point, Scatter};
use crate::run::{Port, Run};
use crate::units::Length;

/// Fractions that differ by less are in order of flow: rounding must not order them.
const ALIKE: f64 = 1e-9;

/// The error stack-up of a run: covariances carried along to first order.
///
/// The run is tacked up in order from its first port as that was measured. Every error of
/// [`Accuracy`] is independent and moves all that comes after it, as a rigid body:
///
/// | source | motion downstream |
/// |---|---|
/// | miter cut ε | turn by 2ε about the joint's center, square to both axes |
/// | saw setting ε | the same at every miter cut at that setting, added up before squaring; square cuts may stand at any clock and are left out |
/// | square face ε | lean by ε any way round: variance ε²/2 about each of two axes square to the tube; two faces at a square joint, one at a flange unless the tube goes into a socket there |
/// | length | shift along the piece's axis; for a stock bend along the axis after it, before it where it is built from the last port |
/// | stock bend ε | turn by ε about the center of its arc: the end goes CLR·ε on along the axis after it, and that axis turns by ε |
/// | clock ε | turn by ε about the axis before the turn, one for each miter joint and each stock bend; the first is against the job's frame |
///
/// A turn ω about a place moves what is an arm away by ω × arm. Deviations are one
/// standard deviation: in any one direction two builds in three end within it, and one
/// in twenty is off by more than twice as much. Turns beyond some 10° in all are beyond
/// first order; what welds pull out of line is not counted.
#[derive(Clone, Debug, PartialEq)]
pub struct StackUp {
    /// Center of the far end's face.
    pub place: Point,
    /// Direction of flow there.
    pub axis: Direction,
    /// Motion of the built face from where it is planned, by the making alone.
    pub built: Scatter,
    /// Motion of the built face against the real flange: the making, the first port that
    /// it was all built from, and the last port itself.
    pub gap: Scatter,
    /// What the gap is made of, greatest share first.
    pub shares: Vec<Share>,
    /// Which piece is best left for last, if any is long enough.
    pub closing: Option<Closing>,
    /// Every piece as the one to leave, in order of flow.
    pub could_close: Vec<Closing>,
}

/// One cause and its part of the gap.
#[derive(Clone, Debug, PartialEq)]
pub struct Share {
    /// What is off.
    pub cause: Cause,
    /// Its part of the gap's mean square distance, 0 to 1; all together make 1.
    pub fraction: f64,
}

impl StackUp {
    /// Of `run` between its two ports. A closure must keep a short side of
    /// `least_short_side` whatever is trimmed off.
    pub fn new(
        run: &Run,
        ports: [&Port; 2],
        accuracy: &Accuracy,
        least_short_side: Length,
    ) -> Self {
        let build = Build::new(run, ports, accuracy);
        let [(first, _), (place, outward)] = run.centerline().ends();
        let sources = build.sources();
        let built = scatter_at(&sources, &place);
        let carried = [ports[0].scatter.seen_at(&(place - first)), ports[1].scatter];
        let gap = carried.iter().fold(built, |sum, port| sum.plus(port));
        let ports_causes = ports.map(|port| Cause::Port {
            name: port.name.clone(),
        });
        let of_ports = ports_causes.into_iter().zip(&carried);
        let parts = sources
            .into_iter()
            .map(|source| part(source, &place))
            .chain(of_ports.map(|(cause, scatter)| (cause, square(scatter))));
        let could_close = Closing::all(&build, ports);
        Self {
            place,
            axis: -outward,
            built,
            gap,
            shares: shares(parts),
            closing: Closing::best(&could_close, least_short_side),
            could_close,
        }
    }

    /// The same by kind of cause, as the shop says it, greatest first.
    pub fn kinds(&self) -> Vec<(&'static str, f64)> {
        let mut kinds: Vec<(&'static str, f64)> = Vec::new();
        for share in &self.shares {
            let words = share.cause.kind_words();
            match kinds.iter_mut().find(|kind| kind.0 == words) {
                Some(kind) => kind.1 += share.fraction,
                None => kinds.push((words, share.fraction)),
            }
        }
        kinds.sort_by(|a, b| b.1.total_cmp(&a.1));
        kinds
    }
}

/// A source's mean square distance at `place`, mm².
fn part(source: Source, place: &Point) -> (Cause, f64) {
    let square = square(&source.scatter_at(place));
    (source.cause, square)
}

fn square(scatter: &Scatter) -> f64 {
    scatter.shift().trace()
}

/// Parts of one cause together, as fractions of all, greatest first; in order of flow
/// where equal. Without those that do nothing.
fn shares(parts: impl Iterator<Item = (Cause, f64)>) -> Vec<Share> {
    let mut shares: Vec<Share> = Vec::new();
    for (cause, fraction) in parts.filter(|(_, square)| *square > 0.0) {
        match shares.iter_mut().find(|share| share.cause == cause) {
            Some(share) => share.fraction += fraction,
            None => shares.push(Share { cause, fraction }),
        }
    }
    let total: f64 = shares.iter().map(|share| share.fraction).sum();
    for share in &mut shares {
        share.fraction /= total;
    }
    let step = |share: &Share| (share.fraction / ALIKE).round();
    shares.sort_by(|a, b| step(b).total_cmp(&step(a)));
    shares
}
