//! The file's runs.

use super::file::TubeFile;
use super::file_values::{Filled, Heading, NotNegative, Positive, Quantity, Text, short_or_object};
use super::rules;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;
use std::borrow::Cow;

/// One run of tube.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_run)]
pub(super) struct RunFile {
    /// The run's name, unlike any other's.
    #[schemars(required, with = "Filled")]
    pub name: Option<Text>,
    /// Name of the port where flow enters.
    #[schemars(required, with = "Filled")]
    pub from: Option<Text>,
    /// Name of the port where flow leaves.
    #[schemars(required, with = "Filled")]
    pub to: Option<Text>,
    /// Centerline radius of pie bends, or the least and greatest that will do, or a list
    /// of those that will. Default: 1.5 times the outside diameter.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<ClrFile>")]
    pub clr: Option<ClrFile>,
    /// Least straight tube between two bends. Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub between: Option<Quantity>,
    /// What bends are made of: pies, stock or either. Default: either.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<MadeOf>")]
    pub made_of: Option<Text>,
    /// Whether every miter is to be cut at one angle. Default: false.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub one_setting: Option<Quantity>,
    /// Most bends, 0 to 5. Default: 5.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>", extend("maximum" = 5))]
    pub max_bends: Option<Quantity>,
    /// Greatest radius that the outside of a bend may swing through. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub max_swing: Option<Quantity>,
    /// Holes and brackets to go through, in order of flow.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<PassFile>>", extend("maxItems" = 5))]
    pub through: Option<Vec<PassFile>>,
    /// Length that is wished for, face to face. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub length: Option<Quantity>,
    /// Thickness of a wrap or heat shield round the tube, which keeps clear too.
    /// Default: 0.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<NotNegative>")]
    pub wrap: Option<Quantity>,
    /// Tube of this run, if unlike the job's.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<TubeFile>")]
    pub tube: Option<TubeFile>,
    /// An existing tube that the run is a copy of: it is not searched for. Default: none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<CopyFile>")]
    pub copy: Option<CopyFile>,
    /// How hot the tube gets, such as "650 C" or "1200 F"; a number alone is in °F beside
    /// inches and feet, else in °C. Default: not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -459.67, "maximum" = 6332))]
    pub hot: Option<Quantity>,
    /// How cold it is when it is fitted. Default: 20 °C.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Quantity>", extend("minimum" = -459.67, "maximum" = 6332))]
    pub cold: Option<Quantity>,
    /// Whether a slip joint or a flexible part takes up growth by heat. Default: false.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub flex: Option<Quantity>,
    /// Whether the quote counts fitting and welding both flanges. Default: false; they are
    /// shown apart.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<bool>")]
    pub weld_flanges: Option<Quantity>,
}

/// An existing miter-cut tube, touched in order of flow between the run's ports: one of
/// joints, pieces and centerline.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields, transform = rules::of_copy)]
pub(super) struct CopyFile {
    /// The middle of each joint: x, y, z.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>", extend("minItems" = 1))]
    pub joints: Option<Vec<Vec<Quantity>>>,
    /// Points on the outside of each piece, from port to port: 4 or more a piece, round
    /// it and along it; the first and last piece may have fewer, or none.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<Vec<[Quantity; 3]>>>", extend("minItems" = 1))]
    pub pieces: Option<Vec<Vec<Vec<Quantity>>>>,
    /// Points along the centerline, 3 or more a piece; where the joints are is found.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Vec<[Quantity; 3]>>", extend("minItems" = 1))]
    pub centerline: Option<Vec<Vec<Quantity>>>,
    /// How far a point of the centerline may be from the copy. Default: 1/16 in, or 4.5
    /// times the accuracy if that is more.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub within: Option<Quantity>,
    /// Standard deviation of a point along each axis. Default: what 'measuring' says of a
    /// point.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub accuracy: Option<Quantity>,
}

/// What bends are made of.
#[derive(JsonSchema)]
#[schemars(rename_all = "lowercase")]
#[allow(dead_code, reason = "only its schema is used")]
pub(super) enum MadeOf {
    Pies,
    Stock,
    Either,
}

/// One CLR, a list, or a range.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub(super) enum ClrFile {
    One(Quantity),
    List(Vec<Quantity>),
    Range(ClrRange),
}

/// The least and greatest CLR that will do.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct ClrRange {
    /// Least centerline radius.
    #[schemars(required, with = "Positive")]
    pub min: Option<Quantity>,
    /// Greatest centerline radius.
    #[schemars(required, with = "Positive")]
    pub max: Option<Quantity>,
}

impl<'de> Deserialize<'de> for ClrFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let short = |value| match value {
            Value::Array(values) => Self::List(values.into_iter().map(Quantity).collect()),
            value => Self::One(Quantity(value)),
        };
        short_or_object(deserializer, short, Self::Range)
    }
}

impl JsonSchema for ClrFile {
    fn schema_name() -> Cow<'static, str> {
        "Clr".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<Positive>();
        let mut list = generator.subschema_for::<Vec<Positive>>();
        list.insert("minItems".to_owned(), 1.into());
        list.insert("maxItems".to_owned(), 12.into());
        let range = generator.subschema_for::<ClrRange>();
        json_schema!({ "anyOf": [one, list, range] })
    }
}

/// A hole in a panel, or a bracket, that a run goes through on a straight.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct PassFile {
    /// Its name.
    #[schemars(required, with = "Filled")]
    pub name: Option<Text>,
    /// Middle: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub center: Option<Vec<Quantity>>,
    /// Square to the panel that a hole is in, either way. Default: a bracket, which
    /// turns with the tube.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Heading>")]
    pub direction: Option<Vec<Quantity>>,
    /// Radius of the hole, which the whole tube goes through; or how far the centerline
    /// may be off a bracket's middle.
    #[schemars(required, with = "Positive")]
    pub radius: Option<Quantity>,
}
