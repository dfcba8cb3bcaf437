//! The cheapest run known for each problem.

use std::collections::BTreeMap;

/// Kept beside the generator; `cargo bench --bench planted -- --store` makes it.
const BEST_KNOWN: &str = include_str!("best_known.csv");

/// A row of the file.
#[derive(Clone, Debug, serde::Deserialize, serde::Serialize)]
pub struct Known {
    pub name: String,
    /// Cost of the planted run.
    pub planted: f64,
    /// Cost of the cheapest run known.
    pub best: f64,
    /// What found that one.
    pub by: String,
}

/// All rows, by name.
pub fn known() -> BTreeMap<String, Known> {
    let mut reader = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_reader(BEST_KNOWN.as_bytes());
    let rows = reader.deserialize::<Known>();
    rows.map(|row| row.expect("best_known.csv is well made"))
        .map(|row| (row.name.clone(), row))
        .collect()
}
