//! [`Errors`]: what a layout's margins to scans are off, as the map has them, and putting
//! them right.

use super::layout::Layout;
use super::scanned::{PLAIN, exact_margin, near_scan};
use super::shape::Shape;
use crate::units::Length;

/// Margins under this hold a search back.
const ACTIVE: Length = Length::from_mm(0.01);

/// What exact margins to scans are off those that a search goes by, in units.
#[derive(Clone, Debug)]
pub(super) struct Errors {
    /// What the exact margin of each part is above that by the map, where it counts.
    exact: Vec<(usize, f64)>,
    /// How much the tightest part is short of its clearance; not negative.
    pub short: f64,
    /// How much more room than it seems there is where the search is held back.
    pub spare: f64,
}

impl Errors {
    /// Measures every part that comes near a scan at `x`.
    pub fn of(layout: &Layout<'_>, x: &[f64]) -> Self {
        let field = layout.field();
        let shape = Shape::new(layout, x);
        let mut errors = Self {
            exact: Vec::new(),
            short: 0.0,
            spare: 0.0,
        };
        let map = field.chart.as_ref().map(|chart| &chart.map);
        let plain = map.map_or(0.0, |map| PLAIN * map.lattice.cell / field.unit);
        for part in layout.scan_parts() {
            let near = near_scan(layout, &shape, part);
            let Some(near) = near.filter(|near| near.margin <= plain) else {
                continue;
            };
            let Some(exact) = exact_margin(layout, &shape, part) else {
                continue;
            };
            let (correction, known) = (exact - near.margin, layout.correction(part.slot));
            errors.short = errors.short.max(-exact);
            if near.margin + known <= field.units(ACTIVE) {
                errors.spare = errors.spare.max(correction - known);
            }
            errors.exact.push((part.slot, correction));
        }
        errors
    }

    /// Has `layout` take exact margins for those by the map, less `reserve` units; with
    /// `never_more` only where they are less.
    pub fn correct(&self, layout: &mut Layout<'_>, reserve: f64, never_more: bool) {
        for &(slot, exact) in &self.exact {
            let correction = exact - reserve;
            if !never_more || correction < layout.correction(slot) {
                layout.set_correction(slot, correction);
            }
        }
    }
}
