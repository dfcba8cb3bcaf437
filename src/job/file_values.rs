//! What the file's types are made of: quantities, texts, boxes.

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{DeserializeOwned, Error};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::{Value, json};
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

/// What a quantity may be, for the schema alone: of text, which has a unit of its own, it
/// says nothing.
macro_rules! bounded {
    ($(#[$doc:meta])* $name:ident, $called:literal, $says:literal, $bounds:tt) => {
        $(#[$doc])*
        pub(super) struct $name;

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                $called.into()
            }

            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                let mut schema = json_schema!($bounds);
                schema.insert("description".to_owned(), $says.into());
                schema.insert("type".to_owned(), vec!["number", "string"].into());
                schema
            }
        }
    };
}

bounded!(
    /// Of a quantity above 0.
    Positive,
    "PositiveQuantity",
    "More than 0: a number in the job's units, or text with its own unit.",
    { "exclusiveMinimum": 0 }
);

bounded!(
    /// Of a quantity of 0 or more.
    NotNegative,
    "QuantityFromZero",
    "0 or more: a number in the job's units, or text with its own unit.",
    { "minimum": 0 }
);

bounded!(
    /// Of an angle that a saw has a stop for.
    SawAngle,
    "SawAngle",
    "Off square, more than 0 and less than 45 degrees: a number, or text with its own unit.",
    { "exclusiveMinimum": 0, "exclusiveMaximum": 45 }
);

/// A text that is not empty, for the schema alone.
pub(super) struct Filled;

impl JsonSchema for Filled {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Filled".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "minLength": 1 })
    }
}

/// Three numbers that point somewhere, for the schema alone.
pub(super) struct Heading;

impl JsonSchema for Heading {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "Heading".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let mut schema = generator.subschema_for::<[f64; 3]>();
        // 'contains' says nothing of what is no list, such as null.
        schema.insert("contains".to_owned(), json!({ "not": { "const": 0 } }));
        schema
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
