//! The file's sticks: lengths that the shop buys, and leftovers on its shelf.

use super::file_values::{Filled, Positive, Quantity, Text, short_or_object};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize};
use std::borrow::Cow;

/// A length that tube is bought in.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct StickFile {
    /// Its length.
    #[schemars(required, with = "Positive")]
    pub length: Option<Quantity>,
    /// Price of one; on all sticks or on none. Default: the least length of new
    /// sticks is looked for, not the least money.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<f64>", extend("minimum" = 0, "maximum" = 1e9))]
    pub price: Option<Quantity>,
    /// How many there are. Default: as many as it takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<u32>", extend("maximum" = 10000))]
    pub count: Option<Quantity>,
    /// Outside diameter of the runs that it is for. Default: any.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub od: Option<Quantity>,
    /// Wall of the runs that it is for. Default: any.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub wall: Option<Quantity>,
    /// Material of the runs that it is for. Default: any.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub material: Option<Text>,
}

/// A leftover: its length alone, or of which tube it is too.
#[derive(Clone, Debug, Serialize)]
#[serde(untagged)]
pub(super) enum LeftoverFile {
    Length(Quantity),
    Of(Box<LeftoverOf>),
}

/// A leftover and of which tube it is.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct LeftoverOf {
    /// Its length at its shortest side.
    #[schemars(required, with = "Positive")]
    pub length: Option<Quantity>,
    /// Its outside diameter. Default: that of the first run's tube that the rest fits.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub od: Option<Quantity>,
    /// Its wall. Default: that of the first run's tube that the rest fits.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Positive>")]
    pub wall: Option<Quantity>,
    /// Its material. Default: that of the first run's tube that the rest fits.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(with = "Option<Filled>")]
    pub material: Option<Text>,
}

impl<'de> Deserialize<'de> for LeftoverFile {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        short_or_object(deserializer, Self::Length, |of| Self::Of(Box::new(of)))
    }
}

impl JsonSchema for LeftoverFile {
    fn schema_name() -> Cow<'static, str> {
        "Leftover".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let length = generator.subschema_for::<Positive>();
        let of = generator.subschema_for::<LeftoverOf>();
        json_schema!({ "anyOf": [length, of] })
    }
}
