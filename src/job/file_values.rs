//! What the file's types are made of: quantities, texts, boxes.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{DeserializeOwned, Error};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;
use std::borrow::Cow;

/// A number in the job's units (degrees for angles), or text with its own unit.
/// Holds any JSON value; whether it is a quantity is checked where its kind is known.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(transparent)]
pub(super) struct Quantity(pub Value);

impl JsonSchema for Quantity {
    fn schema_name() -> Cow<'static, str> {
        "Quantity".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A number in the job's units (degrees for angles), or text with its own unit such as \"1 3/8 in\", \"35 mm\" or \"9 deg\".",
            "type": ["number", "string"],
        })
    }
}

/// A text; holds any JSON value until it is checked.
#[derive(Clone, Debug, PartialEq, Deserialize, Serialize)]
#[serde(transparent)]
pub(super) struct Text(pub Value);

/// A box along the axes.
#[derive(Clone, Debug, Default, Deserialize, Serialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub(super) struct BoxFile {
    /// One corner: x, y, z.
    #[schemars(required, with = "[Quantity; 3]")]
    pub min: Option<Vec<Quantity>>,
    /// The corner across.
    #[schemars(required, with = "[Quantity; 3]")]
    pub max: Option<Vec<Quantity>>,
}

/// Reads what may be written in short, or spelled out as an object.
pub(super) fn short_or_object<'de, D, S, O, T>(
    deserializer: D,
    short: impl FnOnce(S) -> T,
    object: impl FnOnce(O) -> T,
) -> Result<T, D::Error>
where
    D: Deserializer<'de>,
    S: DeserializeOwned,
    O: DeserializeOwned,
{
    let value = Value::deserialize(deserializer)?;
    let read = match value.is_object() {
        true => serde_json::from_value(value).map(object),
        false => serde_json::from_value(value).map(short),
    };
    read.map_err(D::Error::custom)
}
