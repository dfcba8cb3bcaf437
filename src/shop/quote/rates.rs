//! [`QuoteRates`]: what a quote counts beside what routes are ranked by.

use crate::tube::Tube;
use crate::units::{Flow, FlowUnit, Length, LengthUnit, Per, Rate, Style};

/// The shop's rates for a quote. Like [`Rates`](crate::route::Rates), in whatever currency
/// the shop counts; none of them changes which route is the cheapest.
#[derive(Clone, Debug, PartialEq)]
pub struct QuoteRates {
    /// What stands behind an amount, such as USD; empty for nothing.
    pub currency: String,
    /// How lengths are written in a line's words.
    pub style: Style,
    /// Money for filler rod by its mass.
    pub filler: Rate,
    /// Cross-section of the filler that a weld takes, as a part of the wall's square,
    /// beside what fills the gap. Zero for welds without filler.
    pub filler_factor: f64,
    /// Diameter of the filler rod.
    pub rod: Length,
    /// Money for shielding or purge gas by its volume.
    pub gas: Rate,
    /// Shielding gas that flows while the arc burns.
    pub gas_flow: Flow,
    /// Part of the weld's minutes that the arc burns.
    pub arc_share: f64,
    /// Whether the bore is purged; `None` for what the material usually calls for.
    pub purge: Option<bool>,
    /// Purge gas that flows through all of the weld's minutes.
    pub purge_flow: Flow,
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
    /// [`QuoteRates::usual`] in metric units.
    fn default() -> Self {
        Self::usual(Style::new(LengthUnit::Mm))
    }
}

impl QuoteRates {
    /// A small shop's round figures (common practice, no source), in the units that go with
    /// `style`; those in feet and pounds are near the others. All are echoed, to be corrected
    /// in the job.
    pub fn usual(style: Style) -> Self {
        let is_imperial = style.unit.is_imperial();
        let rate = |[metric, other]: [(f64, Per); 2]| {
            let (amount, per) = if is_imperial { other } else { metric };
            Rate::new(amount, per)
        };
        let flow = |liters_per_minute: f64, cubic_feet_per_hour: f64| match is_imperial {
            false => Flow::new(liters_per_minute, FlowUnit::LitersPerMinute),
            true => Flow::new(cubic_feet_per_hour, FlowUnit::CubicFeetPerHour),
        };
        Self {
            currency: String::new(),
            style,
            filler: rate([(30.0, Per::Kilogram), (14.0, Per::Pound)]),
            filler_factor: 0.75,
            rod: Length::from_inches(1.0 / 16.0),
            gas: rate([(15.0, Per::CubicMeter), (0.4, Per::CubicFoot)]),
            gas_flow: flow(8.0, 15.0),
            arc_share: 0.5,
            purge: None,
            purge_flow: flow(5.0, 10.0),
            purge_changes: 6.0,
            job_minutes: 30.0,
            overhead_percent: 0.0,
            markup_percent: 20.0,
        }
    }

    /// The currency as it stands behind an amount: ` USD`, or nothing.
    pub fn behind_amount(&self) -> String {
        match self.currency.as_str() {
            "" => String::new(),
            sign => format!(" {sign}"),
        }
    }

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
