//! [`Seam`]: where a closing piece meets a built end.

use super::{Axis, BuiltEnd};
use crate::geometry::{Direction, Vector, toward};
use crate::units::{Angle, Length};
use std::f64::consts::TAU;

/// Sides at which a seam is looked at for its worst place.
const SIDES: usize = 360;

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
        let steps = at.end.rim_points(at.radius, SIDES);
        let steps: Vec<(Length, Angle)> = steps
            .iter()
            .map(|point| {
                let step = Length::from_mm(at.axis.out(point).norm()) - at.radius;
                (step, at.axis.clock(at.zero, point))
            })
            .collect();
        let worst = steps.iter().copied();
        let worst = worst.max_by(|a, b| a.0.abs().mm().total_cmp(&b.0.abs().mm()));
        let (high_low, clock) = worst.unwrap_or((Length::ZERO, Angle::ZERO));
        let squares: f64 = steps.iter().map(|(step, _)| step.mm().powi(2)).sum();
        Self {
            cut,
            built_cut: crate::geometry::angle_between(&at.built, &at.normal),
            deflection: crate::geometry::angle_between(&at.built, &at.axis.along),
            high_low,
            at: clock,
            rms: Length::from_mm((squares / steps.len().max(1) as f64).sqrt()),
            gap: at.gap,
            gap_good_to: gap_good_to(&at.end.rim_scatter, at),
        }
    }
}

/// The greatest standard deviation, round the rim, of where it is along its normal.
fn gap_good_to(scatter: &crate::geometry::Scatter, at: &At<'_>) -> Length {
    let first = crate::geometry::perpendicular(&at.normal);
    (0..SIDES)
        .map(|i| Angle::from_radians(TAU * i as f64 / SIDES as f64))
        .map(|clock| {
            let out: Vector = toward(&at.normal, &first, clock).into_inner() * at.radius.mm();
            scatter.seen_at(&out).along(&at.normal)
        })
        .fold(Length::ZERO, Length::max)
}
