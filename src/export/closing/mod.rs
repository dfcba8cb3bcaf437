//! What closes a gap, on paper and in files: `closure.txt` (`sheet` and its sections),
//! `closure.json`, `plan.json` as built, the pattern and the bodies.

mod advice;
mod ends;
mod json;
mod piece;
mod piece_json;
mod plan_json;
mod saw;
mod several;
mod sheet;
mod stls;
mod svg;
mod ways;
mod widths;

pub use advice::advice_text;
pub use ends::against_text;
pub use json::{closing_json, closure_schema};
pub use plan_json::closing_plan_json;
pub use sheet::closing_sheet;
pub use stls::closing_stls;
pub use svg::closing_patterns;
