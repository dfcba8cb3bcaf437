//! The job file's rates: what time and material cost.

use super::file_values::{Filled, Positive, Quantity, Text};
use super::rules;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What time and tube cost, in the shop's own currency.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields, transform = rules::of_rates)]
pub(super) struct RatesFile {
    /// Money for an hour of work. Default: 75.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub labor_per_hour: Option<Quantity>,
    /// Money for a meter of tube. Default: what the dearest stick for it costs for its length,
    /// where sticks have prices; else 40, in jobs in inches or feet 12 for a foot.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub tube_per_meter: Option<Quantity>,
    /// Money for a foot of tube, in place of `tube_per_meter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub tube_per_foot: Option<Quantity>,
    /// Minutes to set the saw to another angle. Default: 4.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub setup_minutes: Option<Quantity>,
    /// Minutes to set the stop for another length of piece. Default: 2.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub stop_minutes: Option<Quantity>,
    /// Minutes to mark and check the clock between two bends. Default: 2.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub clock_minutes: Option<Quantity>,
    /// Minutes for one cut. Default: 2.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub cut_minutes: Option<Quantity>,
    /// Minutes to fit and tack one joint. Default: 4.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub fit_up_minutes: Option<Quantity>,
    /// Weld laid in a minute. Default: 50 mm, in jobs in inches or feet 2 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub weld_per_minute: Option<Quantity>,
    /// What a meter of run is worth, beside its tube, when routes are ranked. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub run_per_meter: Option<Quantity>,
    /// The same for a foot, in place of `run_per_meter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub run_per_foot: Option<Quantity>,
    /// What a flow loss of one velocity head is worth when routes are ranked. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub flow_loss: Option<Quantity>,
    /// What a meter off the length that is wished for is worth when routes are ranked.
    /// Default: 1000, in jobs in inches or feet 300 for a foot.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub off_length_per_meter: Option<Quantity>,
    /// The same for a foot, in place of `off_length_per_meter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub off_length_per_foot: Option<Quantity>,
    /// What stands behind an amount of money, such as USD. Default: nothing.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>", extend("maxLength" = 8))]
    pub currency: Option<Text>,
    /// Money for a kilogram of filler rod. Default: 30, in jobs in inches or feet 14 for a
    /// pound.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub filler_per_kg: Option<Quantity>,
    /// Money for a pound of filler rod, in place of `filler_per_kg`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub filler_per_lb: Option<Quantity>,
    /// Cross-section of a weld's filler over the wall's square, beside what fills the gap; 0
    /// for welds without filler. Default: 0.75.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 100))]
    pub filler_factor: Option<Quantity>,
    /// Diameter of the filler rod. Default: 1/16 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub rod: Option<Quantity>,
    /// Money for a cubic meter of gas. Default: 15, in jobs in inches or feet 0.40 for a cubic
    /// foot.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub gas_per_cubic_meter: Option<Quantity>,
    /// Money for a cubic foot of gas, in place of `gas_per_cubic_meter`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub gas_per_cubic_foot: Option<Quantity>,
    /// Shielding gas, liters a minute of arc. Default: 8, in jobs in inches or feet 15 cubic
    /// feet an hour.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 10000))]
    pub gas_liters_per_minute: Option<Quantity>,
    /// Shielding gas, cubic feet an hour of arc, in place of `gas_liters_per_minute`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 10000))]
    pub gas_cubic_feet_per_hour: Option<Quantity>,
    /// Part of the weld's minutes that the arc burns, 0 to 1. Default: 0.5.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1))]
    pub arc_share: Option<Quantity>,
    /// Whether the bore is purged. Default: true for stainless, nickel and titanium, false
    /// for others.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub purge: Option<Quantity>,
    /// Purge gas, liters a minute of welding. Default: 5, in jobs in inches or feet 10 cubic
    /// feet an hour.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 10000))]
    pub purge_liters_per_minute: Option<Quantity>,
    /// Purge gas, cubic feet an hour of welding, in place of `purge_liters_per_minute`.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 10000))]
    pub purge_cubic_feet_per_hour: Option<Quantity>,
    /// Times that purge gas fills the bore before the first weld. Default: 6.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1000))]
    pub purge_changes: Option<Quantity>,
    /// Minutes for the job as a whole. Default: 30.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub job_minutes: Option<Quantity>,
    /// Percent of labor for rent, power and tools. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 10000))]
    pub overhead_percent: Option<Quantity>,
    /// Percent of all costs that the price adds. Default: 20.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 10000))]
    pub markup_percent: Option<Quantity>,
}

impl RatesFile {
    /// Whether it says what tube costs.
    pub(super) fn is_tube_priced(&self) -> bool {
        self.tube_per_meter.is_some() || self.tube_per_foot.is_some()
    }
}
