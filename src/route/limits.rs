//! [`Limits`]: what the shop can cut and what the job allows.

use crate::tube::Tube;
use crate::units::{Angle, Length};
use thiserror::Error;

/// Limits of a run's bends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limits {
    /// Least centerline radius of a bend.
    pub clr_min: Length,
    /// Greatest centerline radius; equal to the least where one CLR is asked for.
    pub clr_max: Length,
    /// Saw angle that a bend is divided for: the fewest joints that stay at or
    /// under it.
    pub usual_cut: Angle,
    /// Saw angle that no joint exceeds. Used between the usual angle and this one
    /// only where more joints would leave too short a short side.
    pub max_cut: Angle,
    /// Least short side of any piece: what is left to hold, grind and weld.
    pub min_short_side: Length,
    /// Least straight tube between two bends.
    pub min_between: Length,
}

/// Why limits leave nothing to build with.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum LimitsError {
    /// Least radius not positive, or above the greatest.
    #[error("the CLR range is empty or not positive")]
    Clr,
    /// Cut angles out of order or range.
    #[error(
        "the usual cut must be more than 0° and at most the greatest cut, which must be less than 45°"
    )]
    Cut,
    /// A negative or non-finite length.
    #[error("lengths must be finite and not negative")]
    Length,
}

impl Limits {
    /// Usual cut unless the shop says otherwise.
    pub const USUAL_CUT: Angle = Angle::from_degrees(9.0);
    /// Greatest cut unless the shop says otherwise.
    pub const MAX_CUT: Angle = Angle::from_degrees(11.25);
    /// Least short side unless the shop says otherwise.
    pub const MIN_SHORT_SIDE: Length = Length::from_inches(0.125);
    /// CLR in outside diameters unless the job says otherwise.
    pub const CLR_PER_OD: f64 = 1.5;

    /// Shop defaults for `tube`: CLR 1.5 × OD, cuts of 9° up to 11.25°, a short
    /// side of 1/8 in.
    pub fn for_tube(tube: &Tube) -> Self {
        Self {
            clr_min: tube.od() * Self::CLR_PER_OD,
            clr_max: tube.od() * Self::CLR_PER_OD,
            usual_cut: Self::USUAL_CUT,
            max_cut: Self::MAX_CUT,
            min_short_side: Self::MIN_SHORT_SIDE,
            min_between: Length::ZERO,
        }
    }

    /// Checks that the limits are finite and in order.
    pub fn check(&self) -> Result<(), LimitsError> {
        let finite = self.clr_min.is_finite() && self.clr_max.is_finite();
        if !(finite && self.clr_min > Length::ZERO && self.clr_min <= self.clr_max) {
            return Err(LimitsError::Clr);
        }
        let ordered = self.usual_cut > Angle::ZERO && self.usual_cut <= self.max_cut;
        if !(ordered && self.max_cut < Angle::QUARTER / 2.0) {
            return Err(LimitsError::Cut);
        }
        let lengths = [self.min_short_side, self.min_between];
        if !lengths.iter().all(|l| l.is_finite() && *l >= Length::ZERO) {
            return Err(LimitsError::Length);
        }
        Ok(())
    }

    /// Smallest cut angle, κ, that leaves a pie of CLR `clr` its short side:
    /// 2·(CLR − r)·tan κ = least short side. 90° where no pie can have one.
    pub fn least_pie_cut(&self, clr: Length, radius: Length) -> Angle {
        let inside = clr - radius;
        if inside <= Length::ZERO {
            return Angle::QUARTER;
        }
        Angle::from_radians((self.min_short_side / (inside * 2.0)).atan())
    }

    /// Greatest turn that a bend of `joints` joints may take: the usual cut at
    /// each, or more, up to the greatest cut, where a further joint would leave
    /// pies with too short a short side.
    pub fn greatest_turn(&self, joints: u32, clr: Length, radius: Length) -> Angle {
        let n = f64::from(joints);
        let one_more = self.least_pie_cut(clr, radius) * (2.0 * (n + 1.0));
        let usual = self.usual_cut * (2.0 * n);
        usual.max(one_more.min(self.max_cut * (2.0 * n)))
    }

    /// Least CLR at which a bend of pies keeps its short side at the greatest cut.
    pub fn least_pie_clr(&self, radius: Length) -> Length {
        radius + self.min_short_side / (2.0 * self.max_cut.tan())
    }

    /// Fewest joints that make a bend of `turn`, or `None` if no number does. The usual
    /// cut may be passed by a twentieth of a degree, so that no joint is added for a hair.
    pub fn joints_for(&self, turn: Angle, clr: Length, radius: Length) -> Option<u32> {
        // Rounding of a turn that was solved for; far below any saw's setting.
        let slack = Angle::from_radians(CUT_TOLERANCE);
        // No more joints than this at the usual cut; a turn is at most 180°.
        let most = (turn / (self.usual_cut * 2.0)).ceil() as u32 + 1;
        (1..=most).find(|&joints| {
            let cut = turn / (2.0 * f64::from(joints));
            let pies_hold = joints == 1 || cut + slack >= self.least_pie_cut(clr, radius);
            let usual = (self.usual_cut + USUAL_SLACK).min(self.max_cut);
            let greatest = self
                .greatest_turn(joints, clr, radius)
                .max(usual * (2.0 * f64::from(joints)));
            turn <= greatest + slack && pies_hold
        })
    }
}

/// Greatest turn at one corner. Beyond it the corner runs off to infinity while
/// two corners make the same bend.
pub(super) const MAX_TURN: Angle = Angle::from_degrees(170.0);

/// How far a cut may pass the usual one rather than take another joint: less than a
/// saw's scale shows.
const USUAL_SLACK: Angle = Angle::from_degrees(0.05);

/// Angle, rad, by which a solved turn may pass its limit: 6 millionths of a degree.
pub(super) const CUT_TOLERANCE: f64 = 1e-7;

#[cfg(test)]
mod tests {
    use super::*;

    fn limits() -> (Limits, Length) {
        let tube = Tube::new(Length::from_inches(3.0), Length::from_inches(0.065), "304")
            .expect("a real tube");
        (Limits::for_tube(&tube), tube.radius())
    }

    #[test]
    fn a_tight_quarter_bend_is_five_joints() {
        let (limits, radius) = limits();
        let clr = Length::from_inches(2.0);
        assert_eq!(limits.joints_for(Angle::QUARTER, clr, radius), Some(5));
    }

    #[test]
    fn a_hair_over_a_quarter_adds_no_joint() {
        let (limits, radius) = limits();
        let joints =
            |degrees| limits.joints_for(Angle::from_degrees(degrees), radius * 3.0, radius);
        assert_eq!(joints(90.3), Some(5));
        assert_eq!(joints(90.6), Some(6));
    }

    #[test]
    fn short_sides_raise_the_cut_before_they_fail() {
        let (limits, radius) = limits();
        let clr = Length::from_inches(2.0);
        // 2·(2 − 1.5)·tan κ = 1/8 in at κ = 7.125°: 20° is one joint at 10°, since
        // two at 5° would leave 0.087 in; 25° is none at all.
        let joints = |degrees| limits.joints_for(Angle::from_degrees(degrees), clr, radius);
        assert_eq!(joints(20.0), Some(1));
        assert_eq!(joints(25.0), None);
        assert_eq!(joints(30.0), Some(2));
        assert_eq!(joints(44.0), Some(3));
    }

    #[test]
    fn without_an_inside_edge_only_single_joints_are_left() {
        let (limits, radius) = limits();
        let clr = radius;
        assert_eq!(
            limits.joints_for(Angle::from_degrees(20.0), clr, radius),
            Some(1)
        );
        assert_eq!(limits.joints_for(Angle::QUARTER, clr, radius), None);
    }
}
