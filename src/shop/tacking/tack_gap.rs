//! [`TackGap`]: what is left open between two built ends before the closure is cut.

use super::built_face::{BuiltFace, Spot};
use super::origin::Origin;
use super::reach::Reach;
use super::tack_up::Bench;
use crate::geometry::{Direction, Point, Vector, toward, transport};
use crate::run::Placed;
use crate::shop::stack_up::DEVIATIONS;
use crate::units::Length;

/// The gap that a closure goes into, from built end to built end.
#[derive(Clone, Debug, PartialEq)]
pub struct TackGap {
    /// The closure, from 1.
    pub piece: usize,
    /// Center to center, then from rim to rim at the closure's four quarter points.
    pub widths: Vec<GapWidth>,
}

/// One straight line across a gap.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GapWidth {
    /// Where: `Long` is on the closure's own line.
    pub spot: Spot,
    /// On the end upstream while the joints are tacked.
    pub from_at: Point,
    /// On the end downstream.
    pub to_at: Point,
    /// What a tape reads while the joints are tacked and no weld has pulled yet.
    pub distance: Length,
    /// What it reads once all other joints are welded.
    pub welded: Length,
    /// How far it may be off, either way: both chains, and what is not known of both ports.
    pub tolerance: Length,
}

/// A built end, or the port itself where nothing is built from it.
struct End {
    origin: Origin,
    face: Option<BuiltFace>,
    reach: Reach,
    port: Point,
    /// Direction of flow at it.
    axis: Direction,
    /// On the port's outside.
    radius: f64,
}

impl TackGap {
    pub(in crate::shop) fn new(bench: &Bench<'_>, closure: usize) -> Self {
        let placed = &bench.tacking.run.pieces()[closure];
        let before = closure.checked_sub(1);
        let after = Some(closure + 1).filter(|&next| next < bench.tacking.run.pieces().len());
        let ends = [
            End::new(bench, Origin::First, before, placed),
            End::new(bench, Origin::Last, after, placed),
        ];
        let zero = bench.lines.start(closure);
        Self {
            piece: closure + 1,
            widths: Spot::ALL
                .map(|spot| width(bench, &ends, placed, zero, spot))
                .into(),
        }
    }
}

fn width(
    bench: &Bench<'_>,
    ends: &[End; 2],
    placed: &Placed,
    zero: Direction,
    spot: Spot,
) -> GapWidth {
    let at = |end: &End| match spot.clock() {
        None => end.center(),
        Some(clock) => {
            let side = toward(&placed.axis, &zero, clock);
            end.on_rim(&transport(&side, &placed.axis, &end.axis))
        }
    };
    let [from, to] = [at(&ends[0]), at(&ends[1])];
    let [from_at, to_at] = [from + ends[0].unshrunk(), to + ends[1].unshrunk()];
    let welded = (to - from).norm();
    let way = (to - from) / welded.max(f64::MIN_POSITIVE);
    let made = ends[0]
        .reach
        .variance_between(&from, &ends[1].reach, &to, &way);
    let known = [(&ends[0], &from), (&ends[1], &to)]
        .map(|(end, place)| bench.port_variance(end.origin, place, &way));
    GapWidth {
        spot,
        from_at,
        to_at,
        distance: Length::from_mm((to_at - from_at).norm()),
        welded: Length::from_mm(welded),
        tolerance: Length::from_mm(DEVIATIONS * (made + known[0] + known[1]).sqrt()),
    }
}

impl End {
    fn new(bench: &Bench<'_>, origin: Origin, piece: Option<usize>, closure: &Placed) -> Self {
        let run = bench.tacking.run;
        let face = piece.map(|index| bench.face(origin, index));
        Self {
            origin,
            reach: face
                .as_ref()
                .map_or_else(Reach::none, |face| Reach::new(&bench.build, face)),
            port: run.centerline().ends()[origin.index()].0,
            axis: face.map_or(closure.axis, |face| face.axis),
            radius: run.tube().radius().mm(),
            face,
        }
    }

    fn center(&self) -> Point {
        self.face.map_or(self.port, |face| face.center)
    }

    fn on_rim(&self, side: &Direction) -> Point {
        match &self.face {
            Some(face) => face.on_rim(side),
            None => self.port + side.into_inner() * self.radius,
        }
    }

    fn unshrunk(&self) -> Vector {
        self.face.map_or_else(Vector::zeros, |face| face.unshrunk)
    }
}
