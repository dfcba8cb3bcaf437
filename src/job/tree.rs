//! Strict JSON: bytes to a tree, with repeated keys reported.

use super::Problem;
use super::file_kind::foreign;
use super::path::{Path, Step};
use crate::units::{LengthUnit, parse_length};
use serde::de::{DeserializeSeed, Deserializer, Error, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Number, Value};
use std::cell::{Cell, RefCell};
use std::fmt;

/// Most values in a file: a plan of a job's thousand runs. One takes up to 72 bytes, so
/// that two million take some 300 MB while the list that holds them grows.
const MOST_VALUES: usize = 2_000_000;

/// Reads one JSON document of up to `MOST_VALUES` values. Repeated keys keep their first
/// value and are reported.
pub fn parse(bytes: &[u8]) -> Result<(Value, Vec<Problem>), Problem> {
    parse_up_to(bytes, MOST_VALUES)
}

/// [`parse`] for a document of up to `most` values, lists and objects counted too.
pub(super) fn parse_up_to(bytes: &[u8], most: usize) -> Result<(Value, Vec<Problem>), Problem> {
    if let Some(what) = foreign(bytes) {
        return Err(Problem::of_file(
            format!("is {what}, not JSON"),
            "give the file of a job, of a plan or of what was built; a job names its scans under scene.scans",
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        Problem::of_file(
            format!("is not UTF-8 text: byte {} is wrong", error.valid_up_to()),
            "save the file as UTF-8 (plain text)",
        )
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    if text.trim().is_empty() {
        return Err(Problem::of_file(
            "is empty",
            "write a first job with: runwright new FILE",
        ));
    }
    let noted = Noted {
        repeated: RefCell::default(),
        left: Cell::new(most),
        too_many: Cell::new(false),
    };
    let node = Node {
        trail: None,
        noted: &noted,
    };
    let mut deserializer = serde_json::Deserializer::from_str(text);
    node.deserialize(&mut deserializer)
        .and_then(|value| deserializer.end().map(|()| value))
        .map(|value| (value, noted.repeated.take()))
        .map_err(|error| {
            if !noted.too_many.get() {
                return syntax_problem(&error, text);
            }
            let message = format!("holds more than {most} values: too many");
            Problem::of_file(message, "is this the right file?")
        })
}

fn syntax_problem(error: &serde_json::Error, text: &str) -> Problem {
    let (line, column) = (error.line(), error.column());
    let full = error.to_string();
    let what = full.split(" at line ").next().unwrap_or(&full);
    let bare = bare_quantity(text, line, column);
    let help = if let Some(bare) = bare {
        &format!("put fractions and units in double quotes: \"{bare}\"")
    } else if what.contains("recursion limit") {
        "no file of this program is nested this deep; is this the right file?"
    } else if what.contains("number out of range") {
        "numbers must be finite"
    } else {
        "fix the JSON there: strings in double quotes, no NaN or Infinity, no trailing commas, no comments"
    };
    Problem::of_file(
        format!("is not valid JSON: {what} at line {line}, column {column}"),
        help,
    )
}

/// A length that stands at a place without its quotes, such as `14 3/16`.
fn bare_quantity(text: &str, line: usize, column: usize) -> Option<&str> {
    let line = text.lines().nth(line.checked_sub(1)?)?;
    // The column counts bytes, from 1, up to what was not expected.
    let at = column.saturating_sub(1).min(line.len());
    let (before, after) = (line.get(..at)?, line.get(at..)?);
    let begins = before.rfind(['[', '{', ',', ':']).map_or(0, |at| at + 1);
    let ends = at + after.find([',', ']', '}']).unwrap_or(after.len());
    let value = line.get(begins..ends)?.trim();
    let is_quantity = parse_length(value, LengthUnit::Mm).is_ok() && value.parse::<f64>().is_err();
    // The inch's own sign would end the text.
    (is_quantity && !value.contains('"')).then_some(value)
}

/// Longest key, in bytes: so that paths, which name them, stay short.
const LONGEST_KEY: usize = 1000;
/// Most repeated keys that are reported.
const MOST_REPEATED: usize = 200;

/// The way to a value, step by step: a path is made of it only where one is told.
struct Trail<'a> {
    before: Option<&'a Trail<'a>>,
    step: Step,
}

impl Trail<'_> {
    fn path(&self) -> Path {
        let before = self.before.map_or_else(Path::root, Trail::path);
        before.step(self.step.clone())
    }
}

/// What is noted on the way.
struct Noted {
    /// Keys that stand twice.
    repeated: RefCell<Vec<Problem>>,
    /// How many values more may come.
    left: Cell<usize>,
    /// Whether more came.
    too_many: Cell<bool>,
}

/// A value still to be read, and where it stands.
#[derive(Clone, Copy)]
struct Node<'a> {
    /// The way here from the root; `None` at the root.
    trail: Option<&'a Trail<'a>>,
    noted: &'a Noted,
}

impl<'de> DeserializeSeed<'de> for Node<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        let Some(left) = self.noted.left.get().checked_sub(1) else {
            self.noted.too_many.set(true);
            return Err(D::Error::custom("too many values"));
        };
        self.noted.left.set(left);
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Node<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E: Error>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_bool<E: Error>(self, value: bool) -> Result<Value, E> {
        Ok(Value::Bool(value))
    }

    fn visit_i64<E: Error>(self, value: i64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_u64<E: Error>(self, value: u64) -> Result<Value, E> {
        Ok(Value::Number(value.into()))
    }

    fn visit_f64<E: Error>(self, value: f64) -> Result<Value, E> {
        Number::from_f64(value)
            .map(Value::Number)
            .ok_or_else(|| E::custom("number out of range"))
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(Value::String(value.to_owned()))
    }

    fn visit_string<E: Error>(self, value: String) -> Result<Value, E> {
        Ok(Value::String(value))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Value, A::Error> {
        let mut values = Vec::new();
        loop {
            let trail = Trail {
                before: self.trail,
                step: Step::Index(values.len()),
            };
            let node = Node {
                trail: Some(&trail),
                ..self
            };
            match list.next_element_seed(node)? {
                Some(value) => values.push(value),
                None => return Ok(Value::Array(values)),
            }
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Value, A::Error> {
        let mut object = Map::new();
        while let Some(key) = map.next_key::<String>()? {
            if key.len() > LONGEST_KEY {
                return Err(A::Error::custom("a key is too long"));
            }
            let trail = Trail {
                before: self.trail,
                step: Step::Key(key),
            };
            let value = map.next_value_seed(Node {
                trail: Some(&trail),
                ..self
            })?;
            let Step::Key(key) = &trail.step else {
                continue;
            };
            if !object.contains_key(key) {
                object.insert(key.clone(), value);
            } else if self.noted.repeated.borrow().len() < MOST_REPEATED {
                self.noted.repeated.borrow_mut().push(Problem::at(
                    &trail.path(),
                    "this name is given twice",
                    "keep one of them, or rename one",
                ));
            }
        }
        Ok(Value::Object(object))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_of_any_length_cost_no_more_than_their_bytes() {
        // Once: the path, key and all, was copied for every value below it.
        let long = format!("{{\"{}\": 1}}", "k".repeat(LONGEST_KEY + 1));
        assert!(parse(long.as_bytes()).is_err());
        let deep = format!("{{\"{}\":", "k".repeat(LONGEST_KEY)).repeat(100);
        let text = deep + &format!("[{}0]", "0,".repeat(1_000_000)) + &"}".repeat(100);
        let begun = std::time::Instant::now();
        assert!(parse(text.as_bytes()).is_ok());
        assert!(begun.elapsed().as_secs() < 20);
    }

    #[test]
    fn more_values_than_any_file_has_are_refused() {
        // Once: eight megabytes of empty runs took 3.8 GB.
        let text = |count: usize| format!("[{}0]", "0,".repeat(count - 2));
        assert!(parse_up_to(text(1000).as_bytes(), 1000).is_ok());
        let problem = parse_up_to(text(1001).as_bytes(), 1000).unwrap_err();
        assert_eq!(problem.message, "holds more than 1000 values: too many");
        // A mistake before that is told as what it is.
        let problem = parse_up_to(b"[0, 1, ?]", 1000).unwrap_err();
        assert!(problem.message.starts_with("is not valid JSON"));
    }

    #[test]
    fn repeated_keys_are_told_up_to_a_number() {
        let text = format!("{{{}\"a\": 0}}", "\"a\": 0,".repeat(5 * MOST_REPEATED));
        let (_, repeated) = parse(text.as_bytes()).unwrap();
        assert_eq!(repeated.len(), MOST_REPEATED);
        assert_eq!(repeated[0].path, "a");
    }
}
