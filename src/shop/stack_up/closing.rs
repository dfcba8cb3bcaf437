//! [`Closing`]: which piece to leave for last, and how much longer to leave it.

use super::build::Build;
use super::source::scatter_at;
use crate::geometry::{Scatter, Vector};
use crate::run::{Joint, JointKind, Placed, Port};
use crate::units::{Angle, Length, LengthUnit};

/// Standard deviations that the trim is enough for: some three builds in a thousand are
/// off by more.
pub(in crate::shop) const DEVIATIONS: f64 = 3.0;

/// What trims are rounded up to: what is marked at a glance.
const TRIM_STEPS: [Length; 2] = [Length::from_mm(1.0), Length::from_inches(1.0 / 16.0)];
/// Part of a step by which a trim may pass it and still be taken as that step: rounding.
const ROUNDING: f64 = 1e-6;

/// A trim as it is marked on a tube: up to the next 1/16 in or 1 mm.
pub fn marked_trim(trim: Length, unit: LengthUnit) -> Length {
    let step = TRIM_STEPS[usize::from(unit.is_imperial())];
    step * (trim / step - ROUNDING).ceil().max(0.0)
}

/// The piece to leave for last: it is cut when all else is tacked up from both ports.
///
/// The two built ends then stand off each other by the sum of all errors but those of the
/// closure itself and of its two joints. Before it, clocks turn about the axis before
/// each bend, beyond it about the axis after, because there the last port is what is
/// built on. Both ends stay as they are cut. The closure runs straight from the center of
/// one to that of the other, and its own ends are cut to meet their planes. So it takes
/// any misfit along its axis with its length, and one square to its axis by standing
/// askew: sideways/edge off its plan at either end, as seen from the tube that it meets
/// there.
///
/// **Which piece:** the straight one whose worse end stands least askew, root mean square,
/// because that is what a fabricator has to force or to weld shut; among those whose short
/// side, less the trim, is as long as the job asks for.
///
/// **Trim**, beyond the planned long side: 3 standard deviations of the misfit along the
/// axis, and for each end the 3-fold slant r·λ/cos²κ, where λ is how askew the closure
/// stands to the cut it meets (root mean square, any way round) and κ that cut's planned
/// angle: the slope of r·tan κ. All of these are added up as if they came together, which is
/// about twice what 99 of 100 builds need. That a setting of the saw is off at the
/// closure's own joints and elsewhere alike is left out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Closing {
    /// Number of the piece, from 1.
    pub piece: usize,
    /// Standard deviation of the misfit along its axis.
    pub along: Length,
    /// Root mean square of the misfit square to its axis, at its start and at its end:
    /// the other end's center, seen from the tube before and from the tube after.
    pub sideways: [Length; 2],
    /// How askew it stands to the tube before and to the tube after, root mean square.
    pub askew: [Angle; 2],
    /// How much longer than listed to leave it.
    pub trim: Length,
    /// The same if both ports were exactly known: what the making alone asks for.
    pub trim_by_making: Length,
    /// What its short side keeps if all of the trim's length is missing in the end.
    pub left: Length,
}

impl Closing {
    /// Every straight piece of a run as the one to leave, in order of flow; none where
    /// there is no rest to tack up.
    pub(in crate::shop) fn all(build: &Build<'_>, ports: [&Port; 2]) -> Vec<Self> {
        let pieces = build.run.pieces();
        if pieces.len() < 2 {
            return Vec::new();
        }
        let of = |(index, placed): (usize, &Placed)| {
            let short_side = placed.piece.straight()?.short_side();
            let closing = Self::of(&build.leaving(index), index, placed, ports);
            let left = short_side - closing.trim;
            Some(Self { left, ..closing })
        };
        pieces.iter().enumerate().filter_map(of).collect()
    }

    /// The best of `all`, if any is long enough.
    pub(in crate::shop) fn best(all: &[Self], least_short_side: Length) -> Option<Self> {
        let long_enough = all.iter().filter(|one| one.left >= least_short_side);
        long_enough
            .min_by(|a, b| a.worse().radians().total_cmp(&b.worse().radians()))
            .copied()
    }

    /// How askew its worse end stands.
    pub fn worse(&self) -> Angle {
        self.askew[0].max(self.askew[1])
    }

    fn of(build: &Build<'_>, index: usize, placed: &Placed, ports: [&Port; 2]) -> Self {
        let joints = build.run.joints();
        let ends = [&joints[index], &joints[index + 1]];
        let making = scatter_at(&build.sources(), &ends[0].plane.point);
        let [(first, _), (last, _)] = build.run.centerline().ends();
        let known = |port: &Port, place| port.scatter.seen_at(&(ends[0].plane.point - place));
        let all = making
            .plus(&known(ports[0], first))
            .plus(&known(ports[1], last));
        let misfit = Misfit::new(&all, placed);
        Self {
            piece: index + 1,
            along: misfit.along,
            sideways: misfit.sideways,
            askew: misfit.askew(placed),
            trim: trim(build, ends, placed, &misfit),
            trim_by_making: trim(build, ends, placed, &Misfit::new(&making, placed)),
            left: Length::ZERO,
        }
    }
}

/// How two built ends stand to each other at a closure.
struct Misfit {
    along: Length,
    sideways: [Length; 2],
}

impl Misfit {
    /// From the scatter of one end against the other at the closure's start. The tube
    /// before it sees it carried to the closure's end, the tube after it as it is.
    fn new(at_start: &Scatter, placed: &Placed) -> Self {
        let arm: Vector = placed.axis.into_inner() * placed.edge.mm();
        let along = at_start.along(&placed.axis);
        let sideways = [at_start.seen_at(&arm), *at_start].map(|scatter| {
            let square = scatter.distance().mm().powi(2) - along.mm().powi(2);
            Length::from_mm(square.max(0.0).sqrt())
        });
        Self { along, sideways }
    }

    /// A closure from center to center stands askew by sideways/edge.
    fn askew(&self, placed: &Placed) -> [Angle; 2] {
        self.sideways
            .map(|sideways| Angle::from_radians(sideways / placed.edge))
    }
}

fn trim(build: &Build<'_>, ends: [&Joint; 2], placed: &Placed, misfit: &Misfit) -> Length {
    let radius = build.run.tube().radius();
    let slants = ends.into_iter().zip(misfit.askew(placed));
    let slants = slants.map(|(joint, askew)| {
        let askew = askew.radians().hypot(face(build, joint).radians());
        radius * (askew / joint.cut().cos().powi(2))
    });
    (misfit.along + slants.sum()) * DEVIATIONS
}

/// How much the cut that the closure meets is off itself, root mean square: its saw
/// angle, and its clock, which leans a miter's plane by sin κ of it. A port's face is as
/// the port is.
fn face(build: &Build<'_>, joint: &Joint) -> Angle {
    let accuracy = build.accuracy;
    let off = match joint.kind {
        JointKind::Flange => 0.0,
        JointKind::Square => accuracy.cut.radians(),
        JointKind::Miter => {
            let saw = accuracy.cut.radians().hypot(accuracy.setting.radians());
            saw.hypot(accuracy.clock.radians() * joint.cut().sin())
        }
    };
    Angle::from_radians(off)
}
