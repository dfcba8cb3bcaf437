//! Sticks and the cuts that they are put to.

/// How to read the sheet, step by step.
pub(super) const STEPS: [&str; 1] = [""];
