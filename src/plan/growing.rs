//! A warning where heat moves flanges and nothing gives.

use super::PlannedRun;
use crate::job::{JobRun, Problem};
use crate::shop::GROWTH_LIMIT;
use crate::units::Style;

/// Warns of a run that grows by more than a fit-up takes, without a slip joint or a
/// flexible part.
pub(super) fn grows(
    index: usize,
    planned: &PlannedRun,
    run: &JobRun,
    style: Style,
) -> Option<Problem> {
    let growth = planned.growth(run)?;
    growth.is_too_much().then(|| Problem {
        path: format!("runs[{index}].flex"),
        message: format!(
            "run '{}' would move its far flange by {} from {} to {}, more than {}, with no slip joint or flexible part named",
            planned.name,
            style.decimal(growth.amount()),
            style.temperature(growth.cold),
            style.temperature(growth.hot),
            style.decimal(GROWTH_LIMIT),
        ),
        help: "put in a slip joint, bellows or a sprung flange and write \"flex\": true; what a held run pushes with is not looked into here".to_owned(),
    })
}

/// Warns of a temperature that is given for a material whose growth is not known.
pub(super) fn grows_unknown(index: usize, planned: &PlannedRun, run: &JobRun) -> Option<Problem> {
    let is_asked = run.service.hot.is_some() && planned.growth(run).is_none();
    is_asked.then(|| Problem {
        path: format!("runs[{index}].hot"),
        message: format!(
            "how much '{}' grows by heat is not known",
            planned.run().tube().material()
        ),
        help: format!(
            "known are {}; or write tube.expansion, in 10⁻⁶/°C",
            crate::tube::Material::known().join(", ")
        ),
    })
}
