//! Values changed in a JSON text, all else left byte for byte as it was written.
//!
//! The text must be valid JSON; what is not is left alone and `None` returned.

use runwright::job::{Path, Step};
use serde_json::Value;
use std::ops::Range;

/// `text` with the value at `path` replaced by `json`, or put there; objects on the way
/// that are missing are made, and a list may grow by one at its end.
pub fn set(text: &str, path: &Path, json: &str) -> Option<String> {
    let mut place = Scan::new(text).value()?;
    for (depth, step) in path.steps().iter().enumerate() {
        let members = members(text, &place)?;
        match members.find(step) {
            Some(member) => place = member.value.clone(),
            None => {
                let json = path.steps()[depth + 1..].iter().rev().try_fold(
                    json.to_owned(),
                    |inner, step| match step {
                        Step::Key(key) => Some(format!("{{ {}: {inner} }}", quoted(key))),
                        Step::Index(0) => Some(format!("[{inner}]")),
                        Step::Index(_) => None,
                    },
                )?;
                return members.put_in(text, step, &json);
            }
        }
    }
    Some(replaced(text, place, json))
}

/// `text` without the member at `path`; as it is where there is none.
pub fn remove(text: &str, path: &Path) -> Option<String> {
    let (last, above) = path.steps().split_last()?;
    let mut place = Scan::new(text).value()?;
    for step in above {
        match members(text, &place)?.find(step) {
            Some(member) => place = member.value.clone(),
            None => return Some(text.to_owned()),
        }
    }
    let members = members(text, &place)?;
    let Some(i) = members.position(last) else {
        return Some(text.to_owned());
    };
    let here = &members.list[i];
    let gone = match (
        i.checked_sub(1).and_then(|i| members.list.get(i)),
        members.list.get(i + 1),
    ) {
        (_, Some(next)) => here.start..next.start,
        (Some(before), None) => before.value.end..here.value.end,
        (None, None) => here.start..here.value.end,
    };
    Some(replaced(text, gone, ""))
}

fn replaced(text: &str, range: Range<usize>, by: &str) -> String {
    format!("{}{by}{}", &text[..range.start], &text[range.end..])
}

fn quoted(key: &str) -> String {
    Value::String(key.to_owned()).to_string()
}

/// A member of an object or a list.
struct Member {
    /// Its key, in an object.
    key: Option<String>,
    /// Where its key, or its value in a list, begins.
    start: usize,
    value: Range<usize>,
}

struct Members {
    /// Just inside the bracket that opens.
    inside: usize,
    is_object: bool,
    list: Vec<Member>,
}

impl Members {
    fn position(&self, step: &Step) -> Option<usize> {
        match step {
            Step::Key(key) => self.list.iter().position(|m| m.key.as_ref() == Some(key)),
            Step::Index(i) => (!self.is_object && *i < self.list.len()).then_some(*i),
        }
    }

    fn find(&self, step: &Step) -> Option<&Member> {
        self.list.get(self.position(step)?)
    }

    /// The text with one more member at the end, set apart as the last one is.
    fn put_in(&self, text: &str, step: &Step, json: &str) -> Option<String> {
        let member = match step {
            Step::Key(key) if self.is_object => format!("{}: {json}", quoted(key)),
            Step::Index(i) if !self.is_object && *i == self.list.len() => json.to_owned(),
            _ => return None,
        };
        let Some(last) = self.list.last() else {
            let space = if self.is_object { " " } else { "" };
            return Some(replaced(
                text,
                self.inside..self.inside,
                &format!("{space}{member}{space}"),
            ));
        };
        let before = match self
            .list
            .len()
            .checked_sub(2)
            .and_then(|i| self.list.get(i))
        {
            Some(before) => &text[before.value.end..last.start],
            None => &text[self.inside..last.start],
        };
        let space: String = before.chars().filter(|c| c.is_whitespace()).collect();
        let space = if space.is_empty() { " " } else { &space };
        Some(replaced(
            text,
            last.value.end..last.value.end,
            &format!(",{space}{member}"),
        ))
    }
}

fn members(text: &str, place: &Range<usize>) -> Option<Members> {
    let mut scan = Scan {
        bytes: text.as_bytes(),
        at: place.start,
    };
    let is_object = match scan.next()? {
        b'{' => true,
        b'[' => false,
        _ => return None,
    };
    let mut members = Members {
        inside: scan.at,
        is_object,
        list: Vec::new(),
    };
    loop {
        scan.skip_space();
        match scan.peek()? {
            b'}' | b']' => return Some(members),
            b',' => {
                scan.at += 1;
                continue;
            }
            _ => {}
        }
        let start = scan.at;
        let key = if is_object {
            let range = scan.value()?;
            scan.skip_space();
            (scan.next()? == b':').then_some(())?;
            Some(serde_json::from_str(&text[range]).ok()?)
        } else {
            None
        };
        let value = scan.value()?;
        members.list.push(Member { key, start, value });
    }
}

/// Walks over a JSON text.
struct Scan<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl<'a> Scan<'a> {
    fn new(text: &'a str) -> Self {
        let at = if text.starts_with('\u{feff}') {
            '\u{feff}'.len_utf8()
        } else {
            0
        };
        Self {
            bytes: text.as_bytes(),
            at,
        }
    }

    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn next(&mut self) -> Option<u8> {
        let byte = self.peek()?;
        self.at += 1;
        Some(byte)
    }

    fn skip_space(&mut self) {
        while self.peek().is_some_and(|byte| byte.is_ascii_whitespace()) {
            self.at += 1;
        }
    }

    /// Goes over the next value; its place.
    fn value(&mut self) -> Option<Range<usize>> {
        self.skip_space();
        let start = self.at;
        let mut depth = 0_usize;
        loop {
            match self.peek()? {
                b'"' => self.string()?,
                b'{' | b'[' => {
                    depth += 1;
                    self.at += 1;
                    continue;
                }
                b'}' | b']' => {
                    depth = depth.checked_sub(1)?;
                    self.at += 1;
                }
                b',' | b':' => self.at += 1,
                byte if byte.is_ascii_whitespace() => {
                    self.at += 1;
                    continue;
                }
                _ => self.plain(),
            }
            if depth == 0 {
                return Some(start..self.at);
            }
        }
    }

    fn string(&mut self) -> Option<()> {
        self.at += 1;
        loop {
            match self.next()? {
                b'\\' => self.at += 1,
                b'"' => return Some(()),
                _ => {}
            }
        }
    }

    /// A number or a word.
    fn plain(&mut self) {
        let ends = |byte: u8| byte.is_ascii_whitespace() || b",:]}[{\"".contains(&byte);
        while self.peek().is_some_and(|byte| !ends(byte)) {
            self.at += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn path(keys: &[&str]) -> Path {
        keys.iter()
            .fold(Path::root(), |path, key| match key.parse() {
                Ok(index) => path.index(index),
                Err(_) => path.key(key),
            })
    }

    const JOB: &str = "{\n  \"units\": \"in\", \"x-note\": \"a \\\"}, kept\",\n  \"tube\": { \"od\": 2.50, \"wall\": 0.065 },\n  \"runs\": [\n    { \"name\": \"a\", \"clr\": [3, 4] }\n  ]\n}\n";

    #[test]
    fn a_value_changes_and_nothing_else() {
        let text = set(JOB, &path(&["tube", "od"]), "\"2 1/4\"").unwrap();
        assert_eq!(text, JOB.replace("2.50", "\"2 1/4\""));
        let text = set(JOB, &path(&["runs", "0", "clr", "1"]), "5").unwrap();
        assert_eq!(text, JOB.replace("[3, 4]", "[3, 5]"));
    }

    #[test]
    fn what_is_missing_is_put_in_as_its_neighbors_are() {
        let text = set(JOB, &path(&["tube", "material"]), "\"304\"").unwrap();
        assert_eq!(
            text,
            JOB.replace("0.065 }", "0.065, \"material\": \"304\" }")
        );
        let text = set(JOB, &path(&["shop", "kerf"]), "0.1").unwrap();
        assert!(
            text.ends_with("  ],\n  \"shop\": { \"kerf\": 0.1 }\n}\n"),
            "{text}"
        );
        let text = set(JOB, &path(&["runs", "0", "through", "0", "center"]), "[1]").unwrap();
        assert!(
            text.contains("\"clr\": [3, 4], \"through\": [{ \"center\": [1] }] }"),
            "{text}"
        );
        assert_eq!(set("{}", &path(&["a"]), "1").unwrap(), "{ \"a\": 1 }");
        assert_eq!(set("[]", &path(&["0"]), "1").unwrap(), "[1]");
    }

    #[test]
    fn removing_leaves_good_json() {
        for (from, keys, to) in [
            ("{ \"a\": 1, \"b\": 2 }", ["a"], "{ \"b\": 2 }"),
            ("{ \"a\": 1, \"b\": 2 }", ["b"], "{ \"a\": 1 }"),
            ("{ \"a\": 1 }", ["a"], "{  }"),
            ("{ \"a\": 1 }", ["c"], "{ \"a\": 1 }"),
        ] {
            assert_eq!(remove(from, &path(&keys)).unwrap(), to);
        }
    }

    #[test]
    fn setting_and_removing_are_inverse_for_every_value_of_the_examples() {
        for text in [
            include_str!("../../../examples/bay.json"),
            include_str!("../../../examples/jig.json"),
            include_str!("../../../examples/stack.json"),
        ] {
            let before: Value = serde_json::from_str(text).unwrap();
            every_place(&before, &Path::root(), &mut |path, value| {
                if path.steps().is_empty() {
                    return;
                }
                let changed = set(text, path, "\"new\"").unwrap();
                let back = set(&changed, path, &value.to_string()).unwrap();
                let back: Value = serde_json::from_str(&back).unwrap();
                assert_eq!(back, before, "{path}");
                let less = remove(text, path).unwrap();
                assert!(
                    serde_json::from_str::<Value>(&less).is_ok(),
                    "{path}: {less}"
                );
            });
        }
    }

    fn every_place(value: &Value, path: &Path, visit: &mut dyn FnMut(&Path, &Value)) {
        visit(path, value);
        match value {
            Value::Object(object) => {
                for (key, child) in object {
                    every_place(child, &path.key(key), visit);
                }
            }
            Value::Array(list) => {
                for (i, child) in list.iter().enumerate() {
                    every_place(child, &path.index(i), visit);
                }
            }
            _ => {}
        }
    }

    #[test]
    fn what_is_no_json_is_left_alone() {
        for text in [
            "",
            "{",
            "{ \"a\" }",
            "{ \"a\": ",
            "]",
            "\"",
            "{\"a\":{\"b\":\"\\",
        ] {
            assert_eq!(set(text, &path(&["a", "b"]), "1"), None, "{text}");
            assert!(remove(text, &path(&["a", "b"])).is_none_or(|same| same == text));
        }
    }
}
