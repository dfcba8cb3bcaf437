//! What the schemas say of keys together: one of several, some only beside others.
//!
//! A key with null is a key that is not there, for the program and so for these. No rule
//! stands directly under `anyOf`: `schema.rs` takes that for the types that a value may have.

use schemars::Schema;
use serde_json::{Map, Value, json};

/// Absolute zero, the least temperature in a job that counts in °C.
const COLDEST_CELSIUS: f64 = -273.15;

/// Hottest that a tube may be in a job that counts in °C.
const HOTTEST_CELSIUS: f64 = 3500.0;

/// Units beside which a temperature without a unit is in °C.
const METRIC: [&str; 3] = ["mm", "cm", "m"];

/// Keys that say the same in two units.
const SAME: [[&str; 2]; 7] = [
    ["tube_per_meter", "tube_per_foot"],
    ["run_per_meter", "run_per_foot"],
    ["off_length_per_meter", "off_length_per_foot"],
    ["filler_per_kg", "filler_per_lb"],
    ["gas_per_cubic_meter", "gas_per_cubic_foot"],
    ["gas_liters_per_minute", "gas_cubic_feet_per_hour"],
    ["purge_liters_per_minute", "purge_cubic_feet_per_hour"],
];

/// That all of `keys` are there.
fn with(keys: &[&str]) -> Value {
    let there = keys
        .iter()
        .map(|key| ((*key).to_owned(), json!({ "not": { "type": "null" } })));
    json!({ "required": keys, "properties": there.collect::<Map<_, _>>() })
}

/// That none of `keys` is there.
fn without(keys: &[&str]) -> Value {
    let absent = keys
        .iter()
        .map(|key| ((*key).to_owned(), json!({ "type": "null" })));
    json!({ "properties": absent.collect::<Map<_, _>>() })
}

fn add(schema: &mut Schema, keyword: &str, rule: Value) {
    schema.insert(keyword.to_owned(), rule);
}

/// One of `keys`, and one alone.
fn one_of(schema: &mut Schema, keys: &[&str]) {
    let ways: Vec<Value> = keys.iter().map(|key| with(&[key])).collect();
    add(schema, "oneOf", ways.into());
}

/// One of `keys` at least.
fn any_of(schema: &mut Schema, keys: &[&str]) {
    let ways: Vec<Value> = keys.iter().map(|key| with(&[key])).collect();
    add(schema, "allOf", json!([{ "anyOf": ways }]));
}

/// A number alone is in °C beside metric units: then it begins at absolute zero.
pub(super) fn of_job(schema: &mut Schema) {
    let bounds = json!({ "minimum": COLDEST_CELSIUS, "maximum": HOTTEST_CELSIUS });
    let run = json!({ "properties": { "hot": bounds, "cold": bounds } });
    let is_metric = json!({
        "required": ["units"],
        "properties": { "units": { "enum": METRIC } },
    });
    add(schema, "if", is_metric);
    let then = json!({ "properties": { "runs": { "items": run } } });
    add(schema, "then", then);
}

/// Center and outward, or what was measured in their place.
pub(super) fn of_port(schema: &mut Schema) {
    let given = json!({ "allOf": [with(&["center", "outward"]), without(&["measured"])] });
    let stated = ["center", "outward", "good_to"];
    let measured = json!({ "allOf": [with(&["measured"]), without(&stated)] });
    add(schema, "oneOf", json!([given, measured]));
}

/// Two angles that go together, and no others.
pub(super) fn of_angles(schema: &mut Schema) {
    let (round, level) = (["azimuth", "elevation"], ["level", "heading"]);
    let way = |here: &[&str], gone: &[&str]| json!({ "allOf": [with(here), without(gone)] });
    add(
        schema,
        "oneOf",
        json!([way(&round, &level), way(&level, &round)]),
    );
}

/// What the tape reads to.
pub(super) fn of_tape(schema: &mut Schema) {
    any_of(schema, &["center", "tip"]);
}

/// Bodies of one shape.
pub(super) fn of_body(schema: &mut Schema) {
    one_of(schema, &["box", "plane", "cylinder"]);
}

/// What a zone holds.
pub(super) fn of_zone(schema: &mut Schema) {
    any_of(schema, &["groups", "box"]);
}

/// What was touched of a tube that is copied.
pub(super) fn of_copy(schema: &mut Schema) {
    one_of(schema, &["joints", "pieces", "centerline"]);
}

/// How cold a tube is says something only beside how hot it gets.
pub(super) fn of_run(schema: &mut Schema) {
    add(schema, "if", with(&["cold"]));
    add(schema, "then", with(&["hot"]));
}

/// A standard elbow, of which CLR and turn are known, or a bend by its measures.
pub(super) fn of_stock_bend(schema: &mut Schema) {
    let measures = json!({ "properties": {
        "clr": { "exclusiveMinimum": 0 },
        "turn": { "exclusiveMinimum": 0, "exclusiveMaximum": 180 },
    } });
    let own = with(&["name", "clr", "turn"]);
    let own = json!({ "allOf": [without(&["b16_9"]), own, measures] });
    add(schema, "oneOf", json!([with(&["b16_9"]), own]));
}

/// Rates in one unit or in the other.
pub(super) fn of_rates(schema: &mut Schema) {
    let rules: Vec<Value> = SAME
        .iter()
        .map(|pair| json!({ "not": with(pair) }))
        .collect();
    add(schema, "allOf", rules.into());
}

/// Two ends or one, or the gap between them.
pub(super) fn of_built(schema: &mut Schema) {
    let ends = json!({ "anyOf": [with(&["before"]), with(&["after"])] });
    let ends = json!({ "allOf": [ends, without(&["gap"])] });
    let gap = json!({ "allOf": [with(&["gap"]), without(&["before", "after"])] });
    add(schema, "oneOf", json!([ends, gap]));
}

/// Widths at even stations, or at stations of the user's own.
pub(super) fn of_gap(schema: &mut Schema) {
    one_of(schema, &["widths", "stations"]);
}
