//! What the file's types are made of: quantities, texts, boxes.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Serialize};
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
