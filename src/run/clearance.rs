//! How near two runs come, and how near a run comes to itself.

use super::Run;
use crate::geometry::{Point, Segment};
use crate::units::{Angle, Length};

/// The tightest place between two runs, or within one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clearance {
    /// Distance between outside surfaces; negative where they run into each other.
    pub distance: Length,
    /// Number of the piece, from 1, on the first run.
    pub first_piece: usize,
    /// Number of the piece, from 1, on the second run.
    pub second_piece: usize,
    /// Middle of the shortest line between the two centerlines.
    pub at: Point,
}

/// The tightest place between two runs; `None` if there is nothing to compare.
///
/// Measured between centerlines less both radii, each radius widened to r/cos κ for the
/// corner that a miter sticks out: never more than the true distance. It is less by at
/// most r·(1/cos κ − 1) a run along the tube (0.8 mm on 3 in tube at 11.25°), and by up
/// to r beyond an open end, which counts as round. Face to face: sockets are not
/// counted. Where both runs end at one place, the two pieces that meet there are not
/// compared.
pub fn clearance_between(first: &Run, second: &Run) -> Option<Clearance> {
    let (a, b) = (spans(first), spans(second));
    let pairs = a.iter().flat_map(|x| b.iter().map(move |y| (x, y)));
    tightest(pairs.filter(|(x, y)| !x.shares_port(y)))
}

impl Run {
    /// The tightest place between parts of this run that could touch; `None`
    /// where no two can.
    ///
    /// Two parts of a tube that lie across from each other have at least 180° of
    /// turn between them (a closed curve turns at least 360°, Fenchel's theorem),
    /// so pairs with less are neighbors along the run and are not compared.
    pub fn self_clearance(&self) -> Option<Clearance> {
        let spans = spans(self);
        let turns = |from: usize, to: usize| -> Angle {
            let between = &self.joints()[from..to];
            between.iter().map(|joint| joint.deflection).sum()
        };
        // Half turns that rounding left a hair short still count.
        let half = Angle::HALF - Angle::from_radians(1e-9);
        let pairs = spans.iter().enumerate().flat_map(|(i, x)| {
            spans[i + 1..]
                .iter()
                .filter(move |y| turns(x.piece, y.piece) >= half)
                .map(move |y| (x, y))
        });
        tightest(pairs)
    }
}

/// Ends nearer than this, mm, are at one port.
const SAME_PORT: f64 = 0.1;

/// One piece's stretch of centerline with the radius it sweeps.
struct Span {
    piece: usize,
    segment: Segment,
    radius: Length,
    /// Where the piece ends at a port.
    ports: [Option<Point>; 2],
}

impl Span {
    fn shares_port(&self, other: &Self) -> bool {
        let near = |p: Point, q: Point| (q - p).norm() <= SAME_PORT;
        let others = || other.ports.into_iter().flatten();
        let mut ends = self.ports.into_iter().flatten();
        ends.any(|p| others().any(|q| near(p, q)))
    }
}

fn spans(run: &Run) -> Vec<Span> {
    let radius = run.tube().radius();
    let edges = run.centerline().edges();
    let last = edges.len();
    edges
        .enumerate()
        .map(|(i, segment)| {
            let widest = run.joints()[i].cut().max(run.joints()[i + 1].cut());
            Span {
                piece: i + 1,
                segment,
                radius: radius / widest.cos(),
                ports: [
                    (i == 0).then_some(segment.start),
                    (i + 1 == last).then_some(segment.end),
                ],
            }
        })
        .collect()
}

fn tightest<'a>(pairs: impl Iterator<Item = (&'a Span, &'a Span)>) -> Option<Clearance> {
    pairs
        .map(|(x, y)| {
            let closest = x.segment.closest_points(&y.segment);
            Clearance {
                distance: closest.distance() - x.radius - y.radius,
                first_piece: x.piece,
                second_piece: y.piece,
                at: nalgebra::center(&closest.first, &closest.second),
            }
        })
        .min_by(|a, b| a.distance.mm().total_cmp(&b.distance.mm()))
}
