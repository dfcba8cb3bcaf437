//! [`scarce`]: a stick that leaves less than its cuts may be off by.

use crate::shop::{Accuracy, Stick};
use crate::units::Style;

/// What to do first with a stick that may come out too short; nothing where there is enough
/// to spare.
pub(super) fn scarce(stick: &Stick, accuracy: &Accuracy, style: Style) -> Option<String> {
    let reserve = stick.reserve(accuracy);
    (stick.remnant < reserve).then(|| {
        format!(
            "measure it before the first cut: it leaves {}, and its cuts may use up {} more",
            style.decimal(stick.remnant),
            style.length(reserve),
        )
    })
}
