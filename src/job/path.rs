//! [`Path`]: a place in a JSON document.

use std::fmt;

/// Keys and indices from the document's root.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Path {
    steps: Vec<Step>,
}

/// One step down.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// Into an object.
    Key(String),
    /// Into a list.
    Index(usize),
}

impl Path {
    /// The document itself.
    pub fn root() -> Self {
        Self::default()
    }

    /// The value under `key`.
    pub fn key(&self, key: &str) -> Self {
        self.step(Step::Key(key.to_owned()))
    }

    /// The `index`th value.
    pub fn index(&self, index: usize) -> Self {
        self.step(Step::Index(index))
    }

    /// One step further down.
    pub fn step(&self, step: Step) -> Self {
        let mut steps = self.steps.clone();
        steps.push(step);
        Self { steps }
    }

    /// The steps from the root.
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The number of the last step, if it leads into a list.
    pub fn last_index(&self) -> Option<usize> {
        match self.steps.last() {
            Some(Step::Index(index)) => Some(*index),
            _ => None,
        }
    }

    /// Whether `self` is `other` or lies above it.
    pub fn holds(&self, other: &Self) -> bool {
        other.steps.starts_with(&self.steps)
    }
}

impl fmt::Display for Path {
    /// `runs[0].name`; keys that are no plain words are quoted.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.steps.iter().enumerate() {
            match step {
                Step::Index(index) => write!(f, "[{index}]")?,
                Step::Key(key) if is_plain(key) => {
                    write!(f, "{}{key}", if i == 0 { "" } else { "." })?;
                }
                Step::Key(key) => write!(f, "[{key:?}]")?,
            }
        }
        Ok(())
    }
}

fn is_plain(key: &str) -> bool {
    let word = |c: char| c.is_alphanumeric() || c == '_' || c == '-';
    !key.is_empty() && key.chars().all(word)
}
