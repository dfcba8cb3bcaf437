//! [`Seam`]: where a closing piece meets a built end.

use super::{Axis, BuiltEnd};
use crate::geometry::{Direction, Scatter, Vector, angle_between, perpendicular, toward};
use crate::units::{Angle, Length};
use std::f64::consts::TAU;

/// Sides at which a seam is looked at for its worst place.
const SIDES: usize = 360;
/// Steps by thirds from one side to its neighbors: to a thousandth of a degree.
const THIRDS: usize = 18;

/// How the walls meet round one seam.
#[derive(Clone, Debug, PartialEq)]
pub struct Seam {
    /// The closing piece's saw angle here.
    pub cut: Angle,
    /// The built end's, about its own axis.
    pub built_cut: Angle,
    /// Change of direction from tube to tube.
    pub deflection: Angle,
    /// The greatest step from wall to wall: how far the built outside stands out of the
    /// closing piece's, square to its axis; negative where it stands back.
    pub high_low: Length,
    /// Its clock on the closing piece.
    pub at: Angle,
    /// Root mean square of the step round the seam.
    pub rms: Length,
    /// Gap that is left, square to the seam.
    pub gap: Length,
    /// How much the gap may differ from that at its worst side, because the built rim is
    /// only known so well: one standard deviation.
    pub gap_good_to: Length,
}

/// What is asked of a seam.
pub(super) struct At<'a> {
    pub end: &'a BuiltEnd,
    /// The end's axis and its rim's normal, both downstream.
    pub built: Direction,
    pub normal: Direction,
    pub axis: &'a Axis,
    pub zero: &'a Direction,
    pub radius: Length,
    pub gap: Length,
}

impl At<'_> {
    /// How far the built outside stands out at a clock of the built end's own.
    fn step(&self, clock: Angle) -> Length {
        let point = self.end.rim_at(clock, self.radius);
        Length::from_mm(self.axis.out(&point).norm()) - self.radius
    }

    /// The clock at which the step is greatest, within one side of `near`: by thirds.
    fn worst_near(&self, near: Angle) -> Angle {
        let side = Angle::from_radians(TAU / SIDES as f64);
        let (mut low, mut high) = (near - side, near + side);
        for _ in 0..THIRDS {
            let third = (high - low) / 3.0;
            let (a, b) = (low + third, high - third);
            if self.step(a).abs() < self.step(b).abs() {
                low = a;
            } else {
                high = b;
            }
        }
        (low + high) / 2.0
    }
}

impl Seam {
    /// Of a true miter: both tubes are cut on the plane that bisects their axes.
    pub(super) fn mitered(at: &At<'_>, cut: Angle, deflection: Angle) -> Self {
        Self {
            cut,
            built_cut: cut,
            deflection,
            high_low: Length::ZERO,
            at: Angle::ZERO,
            rms: Length::ZERO,
            gap: at.gap,
            gap_good_to: gap_good_to(&at.end.axis_scatter, at),
        }
    }

    /// Of a piece about `at.axis` that is cut to the end's rim as it is.
    pub(super) fn as_built(at: &At<'_>, cut: Angle) -> Self {
        let turn = |i: usize| Angle::from_radians(TAU * i as f64 / SIDES as f64);
        let steps: Vec<f64> = (0..SIDES).map(|i| at.step(turn(i)).mm()).collect();
        let squares: f64 = steps.iter().map(|step| step * step).sum();
        let worst = (0..SIDES).max_by(|&a, &b| steps[a].abs().total_cmp(&steps[b].abs()));
        let worst = at.worst_near(turn(worst.unwrap_or(0)));
        let high_low = at.step(worst);
        let clock = at.axis.clock(at.zero, &at.end.rim_at(worst, at.radius));
        Self {
            cut,
            built_cut: angle_between(&at.built, &at.normal),
            deflection: angle_between(&at.built, &at.axis.along),
            high_low,
            at: clock,
            rms: Length::from_mm((squares / SIDES as f64).sqrt()),
            gap: at.gap,
            gap_good_to: gap_good_to(&at.end.rim_scatter, at),
        }
    }
}

/// The greatest standard deviation, round the rim, of where it is along its normal.
fn gap_good_to(scatter: &Scatter, at: &At<'_>) -> Length {
    let first = perpendicular(&at.normal);
    (0..SIDES)
        .map(|i| Angle::from_radians(TAU * i as f64 / SIDES as f64))
        .map(|clock| {
            let out: Vector = toward(&at.normal, &first, clock).into_inner() * at.radius.mm();
            scatter.seen_at(&out).along(&at.normal)
        })
        .fold(Length::ZERO, Length::max)
}
