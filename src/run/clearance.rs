//! How near two runs come, and how near a run comes to itself.

use super::centerline::LEAST_LEG;
use super::swept::Stretch;
use super::{Arc, Run};
use crate::geometry::{Point, Segment, angle_between};
use crate::scan::{Drum, Surface};
use crate::scene::{Body, Obstacle};
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
        // Turn since the start, at each span.
        let turned: Vec<Angle> = spans
            .windows(2)
            .scan(Angle::ZERO, |turned, pair| {
                *turned += angle_between(&pair[0].segment.vector(), &pair[1].segment.vector());
                Some(*turned)
            })
            .collect();
        let turned = |i: usize| i.checked_sub(1).map_or(Angle::ZERO, |i| turned[i]);
        // Half turns that rounding left a hair short still count.
        let half = Angle::HALF - Angle::from_radians(1e-9);
        let pairs = spans.iter().enumerate().flat_map(|(i, x)| {
            spans[i + 1..]
                .iter()
                .enumerate()
                .filter(move |(k, _)| turned(i + 1 + k) - turned(i) >= half)
                .map(move |(_, y)| (x, y))
        });
        tightest(pairs)
    }
}

/// How near a run comes to breaking an obstacle's rule.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Standoff {
    /// Room beyond the clearance that is asked for; negative where the rule is broken.
    pub distance: Length,
    /// Number of the piece, from 1.
    pub piece: usize,
    /// The place on the centerline.
    pub at: Point,
    /// The nearest place of the run's outside.
    pub on_run: Point,
    /// The nearest place of the obstacle.
    pub on_obstacle: Point,
}

/// What of a run an obstacle's rule is asked of.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Outside {
    /// Thickness of a wrap or heat shield round the tube.
    pub wrap: Length,
    /// Length of centerline, from each port's face, that the obstacle is not asked about.
    pub exempt: Length,
}

impl Run {
    /// Where this run comes nearest to breaking the rule of `obstacle`; `None` if nothing
    /// is left to ask about.
    ///
    /// To a scan, exact: see [`Run::swept`]. Where they cross, minus how deep the surface
    /// lies in the tube. To a solid as [`clearance_between`] measures: never more than the
    /// true distance.
    pub fn clearance_to(&self, obstacle: &Obstacle, outside: Outside) -> Option<Standoff> {
        least(self.standoffs(obstacle, outside, f64::INFINITY))
    }

    /// As [`Run::clearance_to`] but only if there is less room than `enough` beyond the
    /// clearance.
    pub fn tight_clearance_to(
        &self,
        obstacle: &Obstacle,
        outside: Outside,
        enough: Length,
    ) -> Option<Standoff> {
        let within = (obstacle.clearance + enough).max(TOUCHING).mm();
        least(self.standoffs(obstacle, outside, within)).filter(|near| near.distance < enough)
    }

    /// Where each piece comes nearest to breaking the rule of `obstacle`, in order of
    /// flow, but for those that are exempt whole.
    pub fn clearances_to(&self, obstacle: &Obstacle, outside: Outside) -> Vec<Standoff> {
        match &obstacle.body {
            Body::Scan(surface) => {
                let swept = self.swept(outside.wrap, outside.exempt);
                let pieces = swept.chunk_by(|a, b| a.piece == b.piece);
                let of_piece =
                    |stretches: &[Stretch]| to_scan(stretches, surface, obstacle.clearance);
                pieces.filter_map(of_piece).collect()
            }
            Body::Solid(_) => {
                let standoffs = self.solid_standoffs(obstacle, outside);
                let pieces = standoffs.chunk_by(|a, b| a.piece == b.piece);
                let of_piece = |standoffs: &[Standoff]| least(standoffs.iter().copied());
                pieces.filter_map(of_piece).collect()
            }
        }
    }

    /// Where the run comes nearest to `obstacle` along the stretches at both ports that
    /// the obstacle is not asked about; `None` where there is no such stretch.
    ///
    /// Exact but inside a body and to one that must be kept within, where the tube counts
    /// as swept by a ball: see [`Obstacle`]. Where they overlap, no more than that is told:
    /// the distance is minus the clearance, or minus how deep a scan lies in the tube.
    pub fn exempt_clearances_to(
        &self,
        obstacle: &Obstacle,
        outside: Outside,
    ) -> [Option<Standoff>; 2] {
        let start = self.swept_within(outside.wrap, |_| [Length::ZERO, outside.exempt]);
        let end = self.swept_within(outside.wrap, |total| [total - outside.exempt, total]);
        [start, end].map(|stretches| match &obstacle.body {
            Body::Scan(surface) => to_scan(&stretches, surface, obstacle.clearance),
            Body::Solid(_) => least(stretches.iter().map(|stretch| to_solid(stretch, obstacle))),
        })
    }

    /// Candidates for the tightest place; of a scan, only what is `within`, mm, of the
    /// outside, each nearer than the one before.
    fn standoffs(&self, obstacle: &Obstacle, outside: Outside, within: f64) -> Vec<Standoff> {
        match &obstacle.body {
            Body::Solid(_) => self.solid_standoffs(obstacle, outside),
            Body::Scan(surface) => {
                let swept = self.swept(outside.wrap, outside.exempt);
                scan_standoffs(&swept, surface, obstacle.clearance, within)
            }
        }
    }

    fn solid_standoffs(&self, obstacle: &Obstacle, outside: Outside) -> Vec<Standoff> {
        let spans = spans(self);
        let exempt = outside.exempt;
        let total: Length = spans.iter().map(|span| span.segment.length()).sum();
        let mut along = Length::ZERO;
        let standoffs = spans.into_iter().filter_map(|span| {
            let before = along;
            along += span.segment.length();
            let (start, end) = span.beyond(exempt - before, exempt - (total - along))?;
            let radius = (span.radius + outside.wrap).mm();
            let near = obstacle.margin(&start, &end, radius);
            let at = start + (end - start) * near.part;
            let room = near.distance + obstacle.clearance.mm();
            Some(Standoff {
                distance: Length::from_mm(near.distance),
                piece: span.piece,
                at,
                on_run: at - near.away * radius,
                on_obstacle: at - near.away * (radius + room),
            })
        });
        standoffs.collect()
    }
}

/// How near a stretch comes to a solid.
fn to_solid(stretch: &Stretch, obstacle: &Obstacle) -> Standoff {
    let [start, end] = stretch.axis;
    let segment = Segment { start, end };
    let radius = stretch.radius;
    match obstacle.gap(&stretch.body) {
        Some(gap) => Standoff {
            distance: Length::from_mm(gap.distance) - obstacle.clearance,
            piece: stretch.piece,
            at: segment.closest_to(&gap.on_first),
            on_run: gap.on_first,
            on_obstacle: gap.on_second,
        },
        None => {
            let near = obstacle.margin(&start, &end, radius);
            let at = start + (end - start) * near.part;
            Standoff {
                distance: Length::from_mm(near.distance),
                piece: stretch.piece,
                at,
                on_run: at - near.away * radius,
                on_obstacle: at - near.away * (radius + near.distance + obstacle.clearance.mm()),
            }
        }
    }
}

/// Where stretches come nearest to a scan.
fn to_scan(stretches: &[Stretch], surface: &Surface, clearance: Length) -> Option<Standoff> {
    least(scan_standoffs(stretches, surface, clearance, f64::INFINITY))
}

/// Stretches that come nearer to `surface` than any before them, and than `within`.
fn scan_standoffs(
    stretches: &[Stretch],
    surface: &Surface,
    clearance: Length,
    within: f64,
) -> Vec<Standoff> {
    let mut within = within;
    let mut deepest = f64::INFINITY;
    let mut found = Vec::new();
    for stretch in stretches {
        let Some(contact) = surface.contact(&stretch.body, within) else {
            continue;
        };
        within = contact.distance;
        let [start, end] = stretch.axis;
        let (mut distance, mut on_surface, mut on_run) =
            (contact.distance, contact.on_surface, contact.on_body);
        if distance <= 0.0 {
            // They cross: what counts is how near the surface comes to the centerline.
            within = TOUCHING.mm();
            let Some(inner) = surface.contact(&Drum::segment(start, end), f64::INFINITY) else {
                continue;
            };
            distance = (inner.distance - stretch.radius).min(0.0);
            if distance >= deepest {
                continue;
            }
            deepest = distance;
            (on_surface, on_run) = (inner.on_surface, inner.on_surface);
        }
        let segment = Segment { start, end };
        found.push(Standoff {
            distance: Length::from_mm(distance) - clearance,
            piece: stretch.piece,
            at: segment.closest_to(&on_run),
            on_run,
            on_obstacle: on_surface,
        });
    }
    found
}

fn least(standoffs: impl IntoIterator<Item = Standoff>) -> Option<Standoff> {
    standoffs
        .into_iter()
        .min_by(|a, b| a.distance.mm().total_cmp(&b.distance.mm()))
}

/// Surfaces nearer than this touch: looking no farther finds what crosses.
const TOUCHING: Length = Length::from_mm(1e-9);
/// Ends nearer than this, mm, are at one port.
const SAME_PORT: f64 = 0.1;

/// A straight stretch of centerline with the radius it sweeps: a piece, or a chord of a
/// stock bend.
struct Span {
    piece: usize,
    segment: Segment,
    radius: Length,
    /// Where the piece ends at a port.
    ports: [Option<Point>; 2],
}

impl Span {
    /// What is left without the first `from_start` and the last `from_end`, if these are
    /// more than nothing.
    fn beyond(&self, from_start: Length, from_end: Length) -> Option<(Point, Point)> {
        let (start, end) = (self.segment.start, self.segment.end);
        let length = self.segment.length();
        let [from, to] = [
            (from_start / length).max(0.0),
            1.0 - (from_end / length).max(0.0),
        ];
        (from < to).then(|| (start + (end - start) * from, start + (end - start) * to))
    }

    fn shares_port(&self, other: &Self) -> bool {
        let near = |p: Point, q: Point| (q - p).norm() <= SAME_PORT;
        let others = || other.ports.into_iter().flatten();
        let mut ends = self.ports.into_iter().flatten();
        ends.any(|p| others().any(|q| near(p, q)))
    }
}

/// Greatest turn of one chord of a stock bend's arc.
const ARC_STEP: Angle = Angle::from_degrees(6.0);

fn spans(run: &Run) -> Vec<Span> {
    let last = run.pieces().len();
    let mut spans = Vec::new();
    for (i, placed) in run.pieces().iter().enumerate() {
        let joints = [&run.joints()[i], &run.joints()[i + 1]];
        let [start, end] = joints.map(|joint| joint.plane.point);
        let stretches = match &placed.arc {
            Some(arc) => arc_spans(arc, start, end, run.tube().radius()),
            None => {
                let widest = joints[0].cut().max(joints[1].cut());
                vec![(Segment { start, end }, run.tube().radius() / widest.cos())]
            }
        };
        let count = stretches.len();
        spans.extend(
            stretches
                .into_iter()
                .enumerate()
                .map(|(k, (segment, radius))| Span {
                    piece: i + 1,
                    segment,
                    radius,
                    ports: [
                        (i == 0 && k == 0).then_some(start),
                        (i + 1 == last && k + 1 == count).then_some(end),
                    ],
                }),
        );
    }
    spans
}

/// Legs and chords of a stock bend, each with the radius that holds the true tube: wider
/// by the arc's rise over the chord.
fn arc_spans(arc: &Arc, start: Point, end: Point, radius: Length) -> Vec<(Segment, Length)> {
    let turn = arc.turn();
    let steps = (turn / ARC_STEP).ceil().max(1.0);
    let rise = arc.clr * (1.0 - (turn / (2.0 * steps)).cos());
    let chords = (0..=steps as u32).map(|step| arc.at(turn * (f64::from(step) / steps)).0);
    let points: Vec<Point> = std::iter::once(start).chain(chords).chain([end]).collect();
    let last = points.len() - 2;
    let spans = points.windows(2).enumerate().filter_map(|(i, pair)| {
        let segment = Segment {
            start: pair[0],
            end: pair[1],
        };
        let is_leg = i == 0 || i == last;
        // A leg without length has no direction to speak of.
        let there = segment.length() > LEAST_LEG;
        there.then_some((segment, if is_leg { radius } else { radius + rise }))
    });
    spans.collect()
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
