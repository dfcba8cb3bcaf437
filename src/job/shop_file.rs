//! The file's shop: what it can do, and the stock bends on its shelf.

use super::accuracy::AccuracyFile;
use super::file_values::{Filled, NotNegative, Positive, Quantity, SawAngle, Text};
use super::rates_file::RatesFile;
use super::rules;
use super::stick_file::{LeftoverFile, StickFile};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the weld seams of neighboring pieces lie.
#[derive(JsonSchema)]
#[schemars(rename_all = "snake_case")]
#[allow(dead_code, reason = "only its schema is used")]
pub(super) enum SeamWord {
    Staggered,
    InLine,
    Any,
}

/// The shop.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[serde(default)]
#[schemars(deny_unknown_fields)]
pub(super) struct ShopFile {
    /// Saw angle off square that bends are divided for. Default: 9 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0.5, "exclusiveMaximum" = 45))]
    pub usual_cut: Option<Quantity>,
    /// Greatest saw angle off square. Default: 11.25 deg.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0.5, "exclusiveMaximum" = 45))]
    pub max_cut: Option<Quantity>,
    /// Angles that the saw has stops for; miters are cut at these alone. Default: any
    /// angle.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<SawAngle>>", extend("minItems" = 1, "maxItems" = 12))]
    pub saw_angles: Option<Vec<Quantity>>,
    /// Stock bends that may be used. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<StockFile>>", extend("maxItems" = 20))]
    pub bends: Option<Vec<StockFile>>,
    /// Price of a 90° mandrel bend, to set pies beside it where the shop lists
    /// no bends. Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub mandrel_bend_price: Option<Quantity>,
    /// Straight tube past such a bend's arc at both ends. Default: 4 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub mandrel_bend_leg: Option<Quantity>,
    /// Lengths that tube is bought in. Default: one stick as long as each run takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<StickFile>>", extend("maxItems" = 20))]
    pub sticks: Option<Vec<StickFile>>,
    /// Leftovers on the shelf, each there once: lengths at their shortest sides, or which
    /// tube they are of too. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<LeftoverFile>>", extend("maxItems" = 200))]
    pub shelf: Option<Vec<LeftoverFile>>,
    /// Shortest leftover worth putting back on the shelf. Default: 6 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub least_leftover: Option<Quantity>,
    /// Least short side of any piece. Default: 1/8 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub min_short_side: Option<Quantity>,
    /// Width of metal the saw takes. Default: 1/16 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub kerf: Option<Quantity>,
    /// Root gap left between faces at fit-up, square to the joint, at ports without a socket
    /// too. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub gap: Option<Quantity>,
    /// How much a weld pulls a joint together. Pieces are cut for the gap less this: half
    /// off each of two faces, all off the tube's end at a port. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub shrinkage: Option<Quantity>,
    /// Finest inch fraction to print: 1, 2, 4, 8, 16, 32, 64 or 128. Default: 32.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>", extend("enum" = [null, 1, 2, 4, 8, 16, 32, 64, 128]))]
    pub fraction: Option<Quantity>,
    /// How the weld seams of neighboring pieces should lie: staggered, in_line or any.
    /// All keep off the inside and outside of bends. Default: staggered.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<SeamWord>")]
    pub seams: Option<Text>,
    /// How well it cuts, measures and clocks.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<AccuracyFile>")]
    pub accuracy: Option<AccuracyFile>,
    /// What time and tube cost.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<RatesFile>")]
    pub rates: Option<RatesFile>,
}

/// A stock bend: a standard elbow, or its measures.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_stock_bend)]
pub(super) struct StockFile {
    /// Butt-welding elbow by ASME B16.9: nominal pipe size and pattern, such as
    /// "2 LR 90", "2 1/2 LR 45" or "3 SR 90".
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub b16_9: Option<Text>,
    /// What it is called. Default: the standard elbow's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub name: Option<Text>,
    /// Centerline radius. Needed unless it is a standard elbow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub clr: Option<Quantity>,
    /// Its turn as bought. Needed unless it is a standard elbow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>")]
    pub turn: Option<Quantity>,
    /// Straight tube past the arc at both ends. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub leg: Option<Quantity>,
    /// Outside diameter. Default: that of the run's tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub od: Option<Quantity>,
    /// Price of one. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub price: Option<Quantity>,
    /// How many are on the shelf. Default: as many as needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>", extend("maximum" = 10000))]
    pub count: Option<Quantity>,
}
