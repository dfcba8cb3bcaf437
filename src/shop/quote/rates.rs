//! [`QuoteRates`]: what a quote counts beside what routes are ranked by.

use crate::tube::Tube;
use crate::units::Length;

/// The shop's rates for a quote. Like [`Rates`](crate::route::Rates), in whatever currency
/// the shop counts; none of them changes which route is the cheapest.
#[derive(Clone, Debug, PartialEq)]
pub struct QuoteRates {
    /// What stands behind an amount, such as USD; empty for nothing.
    pub currency: String,
    /// Money for a kilogram of filler rod.
    pub filler_per_kg: f64,
    /// Cross-section of the filler that a weld takes, as a part of the wall's square,
    /// beside what fills the gap. Zero for welds without filler.
    pub filler_factor: f64,
    /// Diameter of the filler rod.
    pub rod: Length,
    /// Money for a cubic meter of shielding or purge gas.
    pub gas_per_cubic_meter: f64,
    /// Shielding gas that flows while the arc burns.
    pub gas_liters_per_minute: f64,
    /// Part of the weld's minutes that the arc burns.
    pub arc_share: f64,
    /// Whether the bore is purged; `None` for what the material usually calls for.
    pub purge: Option<bool>,
    /// Purge gas that flows through all of the weld's minutes.
    pub purge_liters_per_minute: f64,
    /// How many times the bore's volume goes through before the first weld.
    pub purge_changes: f64,
    /// Minutes for the job as a whole: reading it, fetching tube, sweeping up.
    pub job_minutes: f64,
    /// Percent of labor that is added for rent, power and tools.
    pub overhead_percent: f64,
    /// Percent of all costs that is added for the price.
    pub markup_percent: f64,
}

impl Default for QuoteRates {
    /// A small shop's round figures (common practice, no source). All are echoed, to be
    /// corrected in the job.
    fn default() -> Self {
        Self {
            currency: String::new(),
            filler_per_kg: 30.0,
            filler_factor: 0.75,
            rod: Length::from_inches(1.0 / 16.0),
            gas_per_cubic_meter: 15.0,
            gas_liters_per_minute: 8.0,
            arc_share: 0.5,
            purge: None,
            purge_liters_per_minute: 5.0,
            purge_changes: 6.0,
            job_minutes: 30.0,
            overhead_percent: 0.0,
            markup_percent: 20.0,
        }
    }
}

impl QuoteRates {
    /// Whether the bore of `tube` is purged. A material that is not known is not.
    pub fn is_purged(&self, tube: &Tube) -> bool {
        let usual = || tube.family().is_some_and(|family| family.is_purged());
        self.purge.unwrap_or_else(usual)
    }

    /// Cross-section of the filler in a weld, mm²: a part of the wall's square for the
    /// bead, and the wall times the gap.
    pub fn filler_area_mm2(&self, tube: &Tube, gap: Length) -> f64 {
        if self.filler_factor == 0.0 {
            return 0.0;
        }
        let wall = tube.wall().mm();
        self.filler_factor * wall * wall + wall * gap.mm()
    }

    /// Cross-section of the rod, mm².
    pub fn rod_area_mm2(&self) -> f64 {
        std::f64::consts::FRAC_PI_4 * self.rod.mm() * self.rod.mm()
    }
}
