//! [`Cost`]: what a run costs to make, in the shop's minutes and money.

use super::Limits;
use crate::run::{Joint, Run};
use crate::units::{Angle, Length};

/// Two saw angles closer than this share one set-up: what a saw's scale resolves.
const SAME_SETTING: Angle = Angle::from_degrees(0.05);

/// Price of a meter of tube, in hours of labor, that counts where less is given.
const LEAST_TUBE_PRICE: f64 = 0.01;

/// The shop's rates. Money is in whatever currency the shop counts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rates {
    /// Money for an hour of work.
    pub labor_per_hour: f64,
    /// Money for a meter of tube.
    pub tube_per_meter: f64,
    /// Minutes to set the saw to another angle and prove it.
    pub setup_minutes: f64,
    /// Minutes to mark, clamp, cut and deburr one cut.
    pub cut_minutes: f64,
    /// Minutes to fit, clock and tack one joint.
    pub fit_up_minutes: f64,
    /// Weld laid in a minute, with its share of cleaning and purging.
    pub weld_per_minute: Length,
    /// Width of metal that the saw turns to chips.
    pub kerf: Length,
}

impl Default for Rates {
    /// A small shop's round figures (common practice, no source). Everything that
    /// depends on them is echoed in the plan, to be corrected in the job.
    fn default() -> Self {
        Self {
            labor_per_hour: 75.0,
            tube_per_meter: 40.0,
            setup_minutes: 4.0,
            cut_minutes: 2.0,
            fit_up_minutes: 4.0,
            weld_per_minute: Length::from_mm(50.0),
            kerf: Length::from_inches(1.0 / 16.0),
        }
    }
}

impl Rates {
    /// Least that one more miter joint can cost on a tube of `radius`: a cut, a
    /// fit-up, the weld of a square butt and the kerf, with no new set-up.
    pub fn least_per_joint(&self, radius: Length) -> f64 {
        let weld = (radius * std::f64::consts::TAU) / self.weld_per_minute;
        self.labor(self.cut_minutes + self.fit_up_minutes + weld) + self.tube(self.kerf)
    }

    /// Length of tube that costs as much as one radian of turn, made of joints at
    /// the usual cut: how far a route may go round to save a joint.
    pub fn length_per_radian(&self, limits: &Limits, radius: Length) -> Length {
        let joints = 1.0 / (2.0 * limits.usual_cut.radians());
        // Without a price of tube, length must still count for something.
        let tube_per_meter = self
            .tube_per_meter
            .max(LEAST_TUBE_PRICE * self.labor_per_hour);
        Length::from_mm(1000.0 * self.least_per_joint(radius) * joints / tube_per_meter.max(1e-9))
    }

    /// Money for `minutes` of work.
    pub fn labor(&self, minutes: f64) -> f64 {
        minutes / 60.0 * self.labor_per_hour
    }

    /// Money for `length` of tube.
    pub fn tube(&self, length: Length) -> f64 {
        length.mm() / 1000.0 * self.tube_per_meter
    }
}

/// What one run takes to make.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// Different angles that the saw is set to, square included.
    pub setups: u32,
    /// Saw cuts, both square ends included.
    pub cuts: u32,
    /// Joints to fit up and weld.
    pub joints: u32,
    /// Weld round the outside of all miter joints.
    pub weld: Length,
    /// Stock used, kerf included.
    pub tube: Length,
    /// Shop time.
    pub minutes: f64,
    /// Labor and tube together, in the rates' currency.
    pub money: f64,
}

impl Cost {
    /// Cost of `run`, cut in order from one stick. Flange welds are the same for
    /// every route and are left out.
    pub fn of(run: &Run, rates: &Rates) -> Self {
        let miters: Vec<&Joint> = run.miters().collect();
        let joints = u32::try_from(miters.len()).unwrap_or(u32::MAX);
        let setups = settings(miters.iter().map(|joint| joint.cut()));
        let cuts = joints.saturating_add(2);
        let kerf_at = |cut: Angle| rates.kerf / cut.cos();
        let kerf: Length = miters.iter().map(|joint| kerf_at(joint.cut())).sum();
        let tube = run.cut_length() + kerf + rates.kerf * 2.0;
        let weld = run.weld_length();
        let minutes = rates.setup_minutes * f64::from(setups)
            + rates.cut_minutes * f64::from(cuts)
            + rates.fit_up_minutes * f64::from(joints)
            + weld / rates.weld_per_minute;
        Self {
            setups,
            cuts,
            joints,
            weld,
            tube,
            minutes,
            money: rates.labor(minutes) + rates.tube(tube),
        }
    }
}

/// Number of different saw settings among square and `cuts`.
fn settings(cuts: impl Iterator<Item = Angle>) -> u32 {
    let mut angles: Vec<f64> = cuts.map(Angle::radians).chain([0.0]).collect();
    angles.sort_by(f64::total_cmp);
    let steps = angles
        .windows(2)
        .filter(|pair| pair[1] - pair[0] > SAME_SETTING.radians());
    1 + u32::try_from(steps.count()).unwrap_or(u32::MAX - 1)
}
