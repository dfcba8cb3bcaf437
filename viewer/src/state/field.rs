//! [`Field`]: one value of the job that can be changed, as it is shown and as it is written.

use runwright::job::Path;
use serde_json::{Map, Number, Value};

/// What a field holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A number in the job's unit, or text with a unit or a fraction; angles too.
    Quantity,
    /// Plain text.
    Text,
    /// CLR: one, a range (`3 to 5`) or a list (`3, 4, 5`).
    OneOrMore,
    /// One of some words; empty for the default.
    Choice(&'static [&'static str]),
    /// Yes or no.
    Flag,
}

/// A value of the job that can be changed.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// What people call it.
    pub label: String,
    /// Where it is in the file.
    pub place: Path,
    /// What it holds.
    pub kind: Kind,
    /// What counts while the field is empty.
    pub default: String,
    /// The unit of plain numbers.
    pub unit: &'static str,
}

impl Field {
    /// The field's text for the value that the file has; `None` where it has another
    /// shape than a field can show.
    pub fn show(&self, value: Option<&Value>) -> Option<String> {
        let Some(value) = value.filter(|value| !value.is_null()) else {
            return Some(String::new());
        };
        match (self.kind, value) {
            (Kind::OneOrMore, Value::Array(list)) => {
                let texts: Option<Vec<String>> = list.iter().map(plain).collect();
                Some(texts?.join(", "))
            }
            (Kind::OneOrMore, Value::Object(range)) if range.len() == 2 => {
                let (min, max) = (range.get("min")?, range.get("max")?);
                Some(format!("{} to {}", plain(min)?, plain(max)?))
            }
            (Kind::Flag, Value::Bool(yes)) => Some(if *yes { "yes" } else { "no" }.to_owned()),
            _ => plain(value),
        }
    }

    /// The JSON for a text that was typed; empty where the value is to be taken out.
    pub fn write(&self, text: &str) -> String {
        let text = text.trim();
        if text.is_empty() {
            return String::new();
        }
        match self.kind {
            Kind::Quantity => quantity(text).to_string(),
            Kind::OneOrMore => one_or_more(text).to_string(),
            Kind::Flag => (text == "yes").to_string(),
            Kind::Text | Kind::Choice(_) => Value::String(text.to_owned()).to_string(),
        }
    }
}

fn plain(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    }
}

/// A plain number stays one, so that the job's unit goes for it; all else is text that the
/// library reads.
fn quantity(text: &str) -> Value {
    match serde_json::from_str::<Number>(text) {
        Ok(number) => Value::Number(number),
        Err(_) => match text.parse::<f64>().ok().and_then(Number::from_f64) {
            Some(number) => Value::Number(number),
            None => Value::String(text.to_owned()),
        },
    }
}

fn one_or_more(text: &str) -> Value {
    if let Some((min, max)) = text.split_once(" to ") {
        let mut range = Map::new();
        range.insert("min".to_owned(), quantity(min.trim()));
        range.insert("max".to_owned(), quantity(max.trim()));
        return Value::Object(range);
    }
    if text.contains(',') {
        let parts = text
            .split(',')
            .map(str::trim)
            .filter(|part| !part.is_empty());
        return Value::Array(parts.map(quantity).collect());
    }
    quantity(text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn field(kind: Kind) -> Field {
        Field {
            label: String::new(),
            place: Path::root(),
            kind,
            default: String::new(),
            unit: "in",
        }
    }

    #[test]
    fn shop_fractions_are_kept_as_they_were_typed() {
        let field = field(Kind::Quantity);
        assert_eq!(field.write("1 3/8 in"), "\"1 3/8 in\"");
        assert_eq!(field.write(" 8 1/2 "), "\"8 1/2\"");
        assert_eq!(field.write("2.50"), "2.5");
        assert_eq!(field.write(".5"), "0.5");
        assert_eq!(field.write("-3"), "-3");
        assert_eq!(field.write("nan"), "\"nan\"");
        assert_eq!(field.write("  "), "");
    }

    #[test]
    fn what_is_shown_is_written_back_the_same() {
        for value in [
            json!(3),
            json!("3 3/4"),
            json!({"min": 3, "max": "5 in"}),
            json!([3, "4 in"]),
        ] {
            let field = field(Kind::OneOrMore);
            let text = field.show(Some(&value)).unwrap();
            assert_eq!(
                serde_json::from_str::<Value>(&field.write(&text)).unwrap(),
                value
            );
        }
        let flag = field(Kind::Flag);
        assert_eq!(flag.write(&flag.show(Some(&json!(true))).unwrap()), "true");
        assert_eq!(field(Kind::Quantity).show(Some(&json!([1]))), None);
        assert_eq!(field(Kind::Quantity).show(None).as_deref(), Some(""));
    }
}
