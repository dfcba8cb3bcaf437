//! What was asked of a run, in `plan.json`: its tube, limits, allowance and rates.

use super::numbers::{deg, mm};
use super::quote::imperial;
use crate::route::{Rates, StickPrice, Task};
use crate::run::Allowance;
use crate::tube::Tube;
use crate::units::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// Round tube.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Tube", deny_unknown_fields)]
pub(in crate::export) struct TubeOut<'a> {
    /// Outside diameter.
    od_mm: f64,
    /// Wall thickness.
    wall_mm: f64,
    /// Material as the job calls it.
    material: &'a str,
    /// Density; null where it is not known.
    density_g_per_cm3: Option<f64>,
    /// Where the density is from; null where it is not known.
    density_source: Option<&'a str>,
    /// The job's own density; null where it gives none.
    own_density_g_per_cm3: Option<f64>,
    /// The job's own mean coefficient of thermal expansion, 1/°C; null where it gives none.
    own_expansion_per_c: Option<f64>,
}

/// What a route was allowed.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Limits", deny_unknown_fields)]
pub(super) struct LimitsOut<'a> {
    /// Least centerline radius of pie bends.
    clr_min_mm: f64,
    /// Greatest centerline radius of pie bends.
    clr_max_mm: f64,
    /// Saw angle off square that bends are divided for.
    usual_cut_deg: f64,
    /// Greatest saw angle off square.
    max_cut_deg: f64,
    /// Least short side of any piece.
    min_short_side_mm: f64,
    /// Least straight tube between two bends.
    between_mm: f64,
    /// Centerline radii that pies may have; empty for any in the range.
    clrs_mm: Vec<f64>,
    /// Angles that the saw has stops for; empty for any.
    saw_angles_deg: Vec<f64>,
    /// Whether every miter is cut at one angle.
    one_setting: bool,
    /// Most bends.
    most_bends: usize,
    /// Whether bends may be made of pies.
    pies: bool,
    /// Names of stock bends that may be used.
    stock: Vec<&'a str>,
    /// Length that is wished for, face to face; null for none.
    wished_length_mm: Option<f64>,
}

/// What is left at joints.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Allowance", deny_unknown_fields)]
pub(super) struct AllowanceOut {
    /// Root gap between faces at fit-up, square to the joint.
    gap_mm: f64,
    /// How much a weld pulls a joint together.
    shrinkage_mm: f64,
}

/// What work costs, and what routes are ranked by.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "Rates", deny_unknown_fields)]
pub(super) struct RatesOut {
    /// Money for an hour of work.
    labor_per_hour: f64,
    /// Money for a meter of tube.
    tube_per_meter: f64,
    /// The same for a foot, as written, where tube is counted in feet; null else.
    tube_per_foot: Option<f64>,
    /// The stick whose price that is, where no rate was written; null else.
    tube_stick: Option<StickPriceOut>,
    /// Minutes to set the saw to another angle.
    setup_minutes: f64,
    /// Minutes to set the stop for another length.
    stop_minutes: f64,
    /// Minutes to mark and check the clock between two bends.
    clock_minutes: f64,
    /// Minutes for one cut.
    cut_minutes: f64,
    /// Minutes to fit and tack one joint.
    fit_up_minutes: f64,
    /// Weld laid in a minute.
    weld_mm_per_minute: f64,
    /// Width of metal that the saw takes.
    kerf_mm: f64,
    /// What a meter of run is worth in 'rank', beside its tube.
    run_per_meter: f64,
    /// The same for a foot, as written; null where it was not.
    run_per_foot: Option<f64>,
    /// What a loss of one velocity head is worth in 'rank'.
    flow_loss: f64,
    /// What a meter off the wished length is worth in 'rank'.
    off_length_per_meter: f64,
    /// The same for a foot, as written; null where it was not.
    off_length_per_foot: Option<f64>,
}

/// A stick whose price is the rate of tube.
#[derive(Serialize, JsonSchema)]
#[schemars(rename = "StickPrice", deny_unknown_fields)]
struct StickPriceOut {
    /// Money for one.
    price: f64,
    /// Its length.
    length_mm: f64,
    /// Whether others cost less for their length.
    is_dearest: bool,
}

impl From<StickPrice> for StickPriceOut {
    fn from(stick: StickPrice) -> Self {
        Self {
            price: stick.price,
            length_mm: mm(stick.length),
            is_dearest: stick.is_dearest,
        }
    }
}

impl<'a> From<&'a Tube> for TubeOut<'a> {
    fn from(tube: &'a Tube) -> Self {
        Self {
            od_mm: mm(tube.od()),
            wall_mm: mm(tube.wall()),
            material: tube.material(),
            density_g_per_cm3: tube.density(),
            density_source: match tube.own().density {
                Some(_) => Some("the job"),
                None => tube.known().map(|known| known.density_source.text),
            },
            own_density_g_per_cm3: tube.own().density,
            own_expansion_per_c: tube.own().expansion,
        }
    }
}

impl<'a> LimitsOut<'a> {
    pub(super) fn new(task: &'a Task, wish: Option<Length>) -> Self {
        let limits = &task.limits;
        Self {
            clr_min_mm: mm(limits.clr_min),
            clr_max_mm: mm(limits.clr_max),
            usual_cut_deg: deg(limits.usual_cut),
            max_cut_deg: deg(limits.max_cut),
            min_short_side_mm: mm(limits.min_short_side),
            between_mm: mm(limits.min_between),
            clrs_mm: task.clrs.iter().copied().map(mm).collect(),
            saw_angles_deg: task.saw_angles.iter().copied().map(deg).collect(),
            one_setting: task.one_setting,
            most_bends: task.most_bends,
            pies: task.pies,
            stock: task.stock.iter().map(|bend| bend.name.as_str()).collect(),
            wished_length_mm: wish.map(mm),
        }
    }
}

impl From<&Rates> for RatesOut {
    fn from(rates: &Rates) -> Self {
        Self {
            labor_per_hour: rates.labor_per_hour,
            tube_per_meter: rates.tube_rate.metric(),
            tube_per_foot: imperial(rates.tube_rate),
            tube_stick: rates.stick.map(StickPriceOut::from),
            setup_minutes: rates.setup_minutes,
            stop_minutes: rates.stop_minutes,
            clock_minutes: rates.clock_minutes,
            cut_minutes: rates.cut_minutes,
            fit_up_minutes: rates.fit_up_minutes,
            weld_mm_per_minute: mm(rates.weld_per_minute),
            kerf_mm: mm(rates.kerf),
            run_per_meter: rates.run_weight.metric(),
            run_per_foot: imperial(rates.run_weight),
            flow_loss: rates.flow_loss,
            off_length_per_meter: rates.off_length_weight.metric(),
            off_length_per_foot: imperial(rates.off_length_weight),
        }
    }
}

impl From<&Allowance> for AllowanceOut {
    fn from(allowance: &Allowance) -> Self {
        Self {
            gap_mm: mm(allowance.gap),
            shrinkage_mm: mm(allowance.shrinkage),
        }
    }
}
