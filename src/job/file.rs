//! The job file's types: the file format, and the schema made from it.
//!
//! Every field may be absent here; `build` says what is missing. Quantities hold
//! whatever was written, so that one wrong value does not hide the next.

use super::file_values::{Filled, Heading, NotNegative, Positive, Quantity, Text};
use super::measured_file::{GoodToFile, MeasuredFile, MeasuringFile, OutwardFile};
use super::rules;
use super::run_file::RunFile;
use super::scene_file::SceneFile;
use super::shop_file::ShopFile;
use schemars::{JsonSchema, SchemaGenerator};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::collections::BTreeMap;

/// A tube-run job: what to connect, with which tube, in which shop.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(title = "Runwright job", deny_unknown_fields, transform = rules::of_job)]
pub(super) struct JobFile {
    /// Where this schema lives, for editors.
    #[serde(rename = "$schema", skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<String>")]
    pub schema: Option<String>,
    /// What the job is called on paper. Default: the file's name.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub name: Option<Text>,
    /// Unit of every number without one, and of what is printed: in, mm, cm, m or ft.
    #[schemars(required, with = "UnitName")]
    pub units: Option<Text>,
    /// The tube that runs are made of.
    #[schemars(required, with = "TubeFile")]
    pub tube: Option<TubeFile>,
    /// Fixed places to measure from, by name: x, y, z of each.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<BTreeMap<String, [Quantity; 3]>>", extend("maxProperties" = 200))]
    pub pins: Option<BTreeMap<String, Vec<Quantity>>>,
    /// How good the shop's measuring is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MeasuringFile>")]
    pub measuring: Option<MeasuringFile>,
    /// Straight up in the job's frame, for levels. Default: [0, 0, 1].
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Heading>")]
    pub up: Option<Vec<Quantity>>,
    /// Where headings begin, over the ground. Default: [1, 0, 0].
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Heading>")]
    pub ahead: Option<Vec<Quantity>>,
    /// Flanges and tube ends, by name.
    #[schemars(required, with = "BTreeMap<String, PortFile>", extend("minProperties" = 2, "maxProperties" = 2000))]
    pub ports: Option<BTreeMap<String, PortFile>>,
    /// Runs of tube, each from one port to another.
    #[schemars(required, with = "Vec<RunFile>", extend("minItems" = 1, "maxItems" = 1000))]
    pub runs: Option<Vec<RunFile>>,
    /// What the shop can do and what it costs.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ShopFile>")]
    pub shop: Option<ShopFile>,
    /// What is in the way, and the room there is.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<SceneFile>")]
    pub scene: Option<SceneFile>,
    /// Groups of runs, by name, that should come out equally long: the longest of each
    /// sets the length that the others are stretched to.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Vec<Filled>>>")]
    pub equal_length: Option<Vec<Vec<Text>>>,
}

/// Unit names, for the schema.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase")]
#[allow(dead_code, reason = "only its schema is used")]
pub(super) enum UnitName {
    In,
    Mm,
    Cm,
    M,
    Ft,
}

/// Round tube.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct TubeFile {
    /// Outside diameter.
    #[schemars(required, with = "Positive")]
    pub od: Option<Quantity>,
    /// Wall thickness.
    #[schemars(required, with = "Positive")]
    pub wall: Option<Quantity>,
    /// Material as the shop calls it, such as 304. Default: unspecified.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub material: Option<Text>,
    /// Density, g/cm³. Default: that of the material, where its name is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0.1, "maximum" = 25))]
    pub density: Option<Quantity>,
    /// Mean coefficient of thermal expansion, 10⁻⁶/°C. Default: that of the material, where
    /// its name is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 200))]
    pub expansion: Option<Quantity>,
    /// Whether it has a lengthwise weld seam. Default: true.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub seam: Option<Quantity>,
}

/// A flange or tube end.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_port)]
pub(super) struct PortFile {
    /// Center of the face: x, y, z. Needed unless it is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<[Quantity; 3]>")]
    pub center: Option<Vec<Quantity>>,
    /// Direction from the face into free space: x, y, z, of any length but zero; azimuth
    /// and elevation; or level and heading. Needed unless it is measured.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<OutwardFile>")]
    pub outward: Option<OutwardFile>,
    /// How well center and outward are known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<GoodToFile>")]
    pub good_to: Option<GoodToFile>,
    /// What was measured of the port, in place of center and outward.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MeasuredFile>")]
    pub measured: Option<MeasuredFile>,
    /// How far the tube goes into the flange past its face. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub socket: Option<Quantity>,
    /// Least straight tube out of the face before a bend. Default: 1/2 in.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub straight: Option<Quantity>,
    /// Where the center may still go, up to three ways. Default: nowhere.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<SlideFile>>", extend("maxItems" = 3))]
    pub slide: Option<Vec<SlideFile>>,
    /// How far the outward direction may lean, any way round. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = 0, "maximum" = 80))]
    pub cone: Option<Quantity>,
    /// The flange about the port, and room for a wrench on its bolts. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<FlangeFile>")]
    pub flange: Option<FlangeFile>,
}

/// A flange about a port. All runs keep out of the room in front of it, but for the tube
/// that leaves the port straight.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct FlangeFile {
    /// Radius that holds the flange and the wrench on its bolts.
    #[schemars(required, with = "Positive")]
    pub radius: Option<Quantity>,
    /// How far out of the face bolts and wrench need room; the port's tube stays straight
    /// so far.
    #[schemars(required, with = "Positive")]
    pub wrench: Option<Quantity>,
}

/// A way that a port's center may go.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct SlideFile {
    /// Direction: x, y, z, of any length but zero.
    #[schemars(required, with = "Heading")]
    pub along: Option<Vec<Quantity>>,
    /// How far it may go against that direction. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub back: Option<Quantity>,
    /// How far it may go that way. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub ahead: Option<Quantity>,
}

/// The job file's JSON Schema, made from the types.
pub fn schema() -> Value {
    SchemaGenerator::default()
        .into_root_schema_for::<JobFile>()
        .to_value()
}
