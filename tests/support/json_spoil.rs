//! JSON that is wrong on purpose: trees that are cut, bent and swapped, and values that
//! readers stumble over.

use proptest::prelude::*;
use serde_json::{Value, json};

/// Stands in a text for a value that no tree holds: what is between two of them is
/// written as it is.
const RAW: char = '\u{1}';
/// Ends a key that is there already: the tree holds both, the text the same key twice.
const AGAIN: char = '\u{2}';

/// One way to spoil a tree. Places are parts of 65536 of its values, in order.
#[derive(Clone, Debug)]
pub enum Spoil {
    /// A value is another.
    Set(u16, Value),
    /// A value, and its key if it has one, is gone.
    Drop(u16),
    /// Two values change places.
    Swap(u16, u16),
    /// A key stands twice, the second time with another value.
    Double(u16, Value),
    /// A value stands under another key.
    Rename(u16, &'static str),
    /// A list's values are repeated up to so many, or an object's under new names.
    Grow(u16, u16),
    /// A value is wrapped in so many lists.
    Nest(u16, u8),
    /// A number is another number.
    Scale(u16, f64),
}

/// Texts that numbers, names and units are read from.
const TEXTS: [&str; 44] = [
    "",
    " ",
    "NaN",
    "inf",
    "-inf",
    "1/0",
    "0/0",
    "1 1/0 in",
    "1e999 in",
    "1e308 m",
    "-1e308 m",
    "1e-320 in",
    "-1/64 in",
    "1 3/8",
    "1 3/8 furlong",
    "3/8/8 in",
    "2 ft 3 in",
    "2 ft -3 in",
    "2 ft 99 in",
    "9 deg",
    "1e9 deg",
    "90",
    "360 deg",
    "650 C",
    "-500 C",
    "1e9 F",
    "in",
    "mm",
    "m",
    "ft",
    "outlet",
    "exit",
    "stack",
    "pies",
    "any",
    "in_line",
    "99 LR 90",
    "2 LR 90",
    "½ in",
    "1\u{2009}in",
    "\u{202e}ni 1",
    "\u{feff}",
    "\u{1f}",
    "a\u{301}\n\u{7}\u{1b}[31m",
];

/// What no tree of numbers holds, as text.
const TOKENS: [&str; 8] = [
    "1e999",
    "-1e999",
    "1e-999",
    "18446744073709551616",
    "123456789012345678901234567890.5",
    "-0",
    "0.1e1",
    "-9223372036854775809",
];

/// Numbers at the edge of what is meant.
const NUMBERS: [f64; 26] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    0.5,
    2.0,
    3.0,
    9.0,
    45.0,
    89.999_999,
    90.0,
    180.0,
    360.0,
    1e-320,
    1e-308,
    1e-12,
    1e-9,
    1e-6,
    1e3,
    1e5,
    1e6,
    1e9,
    1e15,
    9_007_199_254_740_993.0,
    1e300,
    f64::MAX,
];

/// Keys of the program's files, and others.
const KEYS: [&str; 16] = [
    "",
    "name",
    "center",
    "outward",
    "from",
    "to",
    "clr",
    "measured",
    "rim",
    "tape",
    "copy",
    "cut",
    "runs",
    "format",
    "__proto__",
    "k\u{0}y",
];

fn raw(token: &str) -> Value {
    Value::String(format!("{RAW}{token}{RAW}"))
}

/// Any value that a reader should not be harmed by.
fn junk() -> impl Strategy<Value = Value> {
    let number = prop::sample::select(&NUMBERS[..]);
    let signed = (number, any::<bool>()).prop_map(|(x, minus)| if minus { -x } else { x });
    let place = prop::array::uniform3(signed.clone());
    prop_oneof![
        4 => signed.clone().prop_map(|x| json!(x)),
        4 => prop::sample::select(&TEXTS[..]).prop_map(|text| json!(text)),
        2 => prop::sample::select(&TOKENS[..]).prop_map(raw),
        2 => place.prop_map(|place| json!(place)),
        1 => prop::sample::select(vec![
            json!(null), json!(true), json!(false), json!([]), json!({}), json!([[]]), json!([null]), json!({"": 0}),
            json!({"min": 2, "max": 1}), json!([[0, 0, 0], [0, 0, 0]]), json!(u64::MAX), json!(i64::MIN),
        ]),
        1 => (any::<char>(), 0..3000_usize).prop_map(|(letter, count)| json!(letter.to_string().repeat(count))),
        1 => any::<f64>().prop_map(|x| json!(x)),
    ]
}

/// One way to spoil a tree.
pub fn spoil() -> impl Strategy<Value = Spoil> {
    let at = any::<u16>;
    prop_oneof![
        6 => (at(), junk()).prop_map(|(at, junk)| Spoil::Set(at, junk)),
        3 => at().prop_map(Spoil::Drop),
        2 => (at(), at()).prop_map(|(a, b)| Spoil::Swap(a, b)),
        1 => (at(), junk()).prop_map(|(at, junk)| Spoil::Double(at, junk)),
        1 => (at(), prop::sample::select(&KEYS[..])).prop_map(|(at, key)| Spoil::Rename(at, key)),
        1 => (at(), 0..300_u16).prop_map(|(at, count)| Spoil::Grow(at, count)),
        1 => (at(), any::<u8>()).prop_map(|(at, depth)| Spoil::Nest(at, depth)),
        4 => (at(), -4.0..4.0).prop_map(|(at, by)| Spoil::Scale(at, by)),
    ]
}

/// Where the values of a tree stand, by JSON pointers, in order.
fn places(value: &Value, here: &str, all: &mut Vec<String>) {
    all.push(here.to_owned());
    match value {
        Value::Array(values) => {
            for (i, value) in values.iter().enumerate() {
                places(value, &format!("{here}/{i}"), all);
            }
        }
        Value::Object(object) => {
            for (key, value) in object {
                let key = key.replace('~', "~0").replace('/', "~1");
                places(value, &format!("{here}/{key}"), all);
            }
        }
        _ => {}
    }
}

/// Spoils a tree.
pub fn apply(spoil: &Spoil, root: &mut Value) {
    let mut all = Vec::new();
    places(root, "", &mut all);
    let place = |at: u16| all[usize::from(at) * all.len() / 65_536].as_str();
    match spoil {
        Spoil::Set(at, junk) => set(root, place(*at), junk.clone()),
        Spoil::Drop(at) => drop(taken(root, place(*at))),
        Spoil::Swap(a, b) => {
            let (a, b) = (place(*a), place(*b));
            let values = [a, b].map(|place| root.pointer(place).cloned().unwrap_or_default());
            let [value_a, value_b] = values;
            set(root, a, value_b);
            set(root, b, value_a);
        }
        Spoil::Double(at, junk) => {
            if let Some((Value::Object(object), key)) = parent(root, place(*at)) {
                object.insert(format!("{key}{AGAIN}"), junk.clone());
            }
        }
        Spoil::Rename(at, name) => {
            let place = place(*at);
            let value = taken(root, place);
            if let (Some(value), Some((Value::Object(object), _))) = (value, parent(root, place)) {
                object.insert((*name).to_owned(), value);
            }
        }
        Spoil::Grow(at, count) => match root.pointer_mut(place(*at)) {
            Some(Value::Array(values)) if !values.is_empty() => {
                let own = values.clone();
                let more = own.iter().cycle().take(usize::from(*count));
                values.extend(more.cloned());
            }
            Some(Value::Object(object)) => {
                if let Some(value) = object.values().next().cloned() {
                    for i in 0..*count {
                        object.insert(format!("more {i}"), value.clone());
                    }
                }
            }
            _ => {}
        },
        Spoil::Nest(at, depth) => {
            if let Some(value) = root.pointer_mut(place(*at)) {
                for _ in 0..*depth {
                    *value = Value::Array(vec![value.take()]);
                }
            }
        }
        Spoil::Scale(at, by) => {
            // The first number from there on.
            let from = usize::from(*at) * all.len() / 65_536;
            let number = |place: &&String| root.pointer(place).is_some_and(Value::is_number);
            let Some(place) = all[from..].iter().find(number).cloned() else {
                return;
            };
            let old = root.pointer(&place).and_then(Value::as_f64);
            let whole = by.round();
            // A few percent, or another order of magnitude.
            let factor = if (by - whole).abs() < 0.25 {
                10_f64.powf(whole * 2.0)
            } else {
                1.0 + by / 40.0
            };
            set(root, &place, json!(old.unwrap_or_default() * factor));
        }
    }
}

fn set(root: &mut Value, place: &str, value: Value) {
    if let Some(old) = root.pointer_mut(place) {
        *old = value;
    }
}

/// What holds the value at a place, and its key there.
fn parent<'a>(root: &'a mut Value, place: &str) -> Option<(&'a mut Value, String)> {
    let (above, key) = place.rsplit_once('/')?;
    let key = key.replace("~1", "/").replace("~0", "~");
    Some((root.pointer_mut(above)?, key))
}

fn taken(root: &mut Value, place: &str) -> Option<Value> {
    match parent(root, place)? {
        (Value::Array(values), index) => {
            let index = index.parse().ok().filter(|i| *i < values.len())?;
            Some(values.remove(index))
        }
        (Value::Object(object), key) => object.shift_remove(&key),
        _ => None,
    }
}

/// The tree as text, with what it cannot hold.
pub fn text(value: &Value) -> String {
    let text = value.to_string();
    text.replace("\\u0002\"", "\"")
        .replace("\"\\u0001", "")
        .replace("\\u0001\"", "")
}

/// One way to spoil bytes. Places are parts of 65536 of their number.
#[derive(Clone, Debug)]
pub enum Bite {
    /// A bit is turned over.
    Flip(u16, u8),
    /// The rest is gone.
    Cut(u16),
    /// Bytes come in.
    Insert(u16, Vec<u8>),
    /// Bytes go.
    Remove(u16, u8),
    /// A stretch stands twice.
    Repeat(u16, u16),
}

/// Signs that mean something to a reader.
const SIGNS: [&str; 14] = [
    "{", "}", "[", "]", ",", ":", "\"", "\\", "\\ud800", "\u{feff}", "//", "NaN", "-", "e9",
];

/// One way to spoil bytes.
pub fn bite() -> impl Strategy<Value = Bite> {
    let junk = prop_oneof![
        prop::collection::vec(any::<u8>(), 1..9),
        prop::sample::select(&SIGNS[..]).prop_map(|sign| sign.as_bytes().to_vec()),
    ];
    prop_oneof![
        (any::<u16>(), 0..8_u8).prop_map(|(at, bit)| Bite::Flip(at, bit)),
        any::<u16>().prop_map(Bite::Cut),
        (any::<u16>(), junk).prop_map(|(at, junk)| Bite::Insert(at, junk)),
        any::<(u16, u8)>().prop_map(|(at, count)| Bite::Remove(at, count)),
        any::<(u16, u16)>().prop_map(|(from, to)| Bite::Repeat(from, to)),
    ]
}

/// Spoils bytes.
pub fn bitten(bites: &[Bite], bytes: &mut Vec<u8>) {
    for bite in bites {
        let length = bytes.len();
        let place = |at: u16| usize::from(at) * length / 65_536;
        match bite {
            Bite::Flip(at, bit) => {
                if let Some(byte) = bytes.get_mut(place(*at)) {
                    *byte ^= 1 << bit;
                }
            }
            Bite::Cut(at) => bytes.truncate(place(*at)),
            Bite::Insert(at, junk) => {
                bytes.splice(place(*at)..place(*at), junk.iter().copied());
            }
            Bite::Remove(at, count) => {
                let from = place(*at);
                bytes.drain(from..length.min(from + usize::from(*count)));
            }
            Bite::Repeat(from, to) => {
                let (from, to) = (place(*from.min(to)), place(*from.max(to)));
                let again = bytes[from..to].to_vec();
                bytes.splice(to..to, again);
            }
        }
    }
}
