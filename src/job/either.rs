//! Rates that may be written in a metric unit or in a US customary one, never in both.

use super::file_values::Quantity;
use super::path::Path;
use super::values::Reader;
use crate::units::{Flow, FlowUnit, Per, Rate};

/// What may stand under one of two keys: the value, its key, and its unit.
type Keys<'v, U> = [(&'v Option<Quantity>, &'static str, U); 2];

impl Reader<'_> {
    /// A rate of 0 to `most` under one of two keys, or the usual one.
    pub(super) fn rate(
        &mut self,
        keys: Keys<'_, Per>,
        path: &Path,
        most: f64,
        usual: Rate,
    ) -> Option<Rate> {
        let written = self.either(keys, path, most)?;
        Some(written.map_or(usual, |(amount, per)| Rate::new(amount, per)))
    }

    /// A flow of 0 to `most` under one of two keys, or the usual one.
    pub(super) fn flow(
        &mut self,
        keys: Keys<'_, FlowUnit>,
        path: &Path,
        most: f64,
        usual: Flow,
    ) -> Option<Flow> {
        let written = self.either(keys, path, most)?;
        Some(written.map_or(usual, |(amount, unit)| Flow::new(amount, unit)))
    }

    /// The number under one of two keys and its unit; inner `None` where neither is there.
    fn either<U: Copy>(
        &mut self,
        keys: Keys<'_, U>,
        path: &Path,
        most: f64,
    ) -> Option<Option<(f64, U)>> {
        let [(first, first_key, _), (second, second_key, _)] = keys;
        if first.is_some() && second.is_some() {
            return self.fail(
                &path.key(second_key),
                format!("stands beside {first_key}, which says the same in another unit"),
                format!("keep one of {first_key} and {second_key}"),
            );
        }
        for (value, key, unit) in keys {
            if let Some(value) = value {
                let amount = self.number(value, &path.key(key), 0.0, most)?;
                return Some(Some((amount, unit)));
            }
        }
        Some(None)
    }
}
