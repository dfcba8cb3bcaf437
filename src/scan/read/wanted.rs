//! [`Wanted`]: what to read of a file; which of its groups that are.

use super::pattern::fits;
use crate::units::Length;

/// What to read of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// The length of one unit of the file.
    pub unit: Length,
    /// Patterns of the groups to keep, where `*` stands for any characters; all groups
    /// if there are none.
    pub keep: Vec<String>,
    /// Patterns of the groups to drop of those.
    pub drop: Vec<String>,
}

impl Wanted {
    /// All groups of a file in this unit.
    pub const fn all(unit: Length) -> Self {
        Self {
            unit,
            keep: Vec::new(),
            drop: Vec::new(),
        }
    }

    /// Whether a group of this name is kept.
    pub(super) fn keeps(&self, name: &str) -> bool {
        let any = |patterns: &[String]| patterns.iter().any(|pattern| fits(pattern, name));
        (self.keep.is_empty() || any(&self.keep)) && !any(&self.drop)
    }

    /// Patterns that fit none of these names.
    pub(super) fn unused(&self, names: &[(String, usize)]) -> Vec<String> {
        let unused = |pattern: &&String| !names.iter().any(|(name, _)| fits(pattern, name));
        let patterns = self.keep.iter().chain(&self.drop);
        patterns.filter(unused).cloned().collect()
    }
}
