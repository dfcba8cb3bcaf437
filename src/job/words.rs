//! Plain words about JSON values and names.

use serde_json::Value;

/// How different a key may be and still be offered as what was meant (0 to 1).
const SIMILAR: f64 = 0.75;

/// A help line that offers the nearest of `known`, or lists them.
pub fn nearest(word: &str, known: &[String]) -> String {
    let word = word.to_lowercase();
    let likeness = |other: &&String| strsim::jaro_winkler(&word, &other.to_lowercase());
    let best = known
        .iter()
        .max_by(|a, b| likeness(a).total_cmp(&likeness(b)))
        .filter(|best| likeness(best) >= SIMILAR);
    match best {
        Some(best) => format!("did you mean '{best}'?"),
        None if known.is_empty() => "there are none here".to_owned(),
        None => format!("known here: {}", known.join(", ")),
    }
}

/// What a value is, in plain words.
pub fn kind(value: &Value) -> String {
    match value {
        Value::Null => "empty (null)".to_owned(),
        Value::Bool(value) => format!("{value}"),
        Value::Number(number) => format!("the number {number}"),
        Value::String(text) if text.chars().count() > 40 => "a long text".to_owned(),
        Value::String(text) => format!("the text {text:?}"),
        Value::Array(values) => format!("a list of {}", values.len()),
        Value::Object(_) => "an object".to_owned(),
    }
}
