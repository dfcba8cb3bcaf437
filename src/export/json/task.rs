//! What was asked of a run, in `plan.json`: its tube, limits, allowance and rates.

use super::numbers::{deg, mm};
use super::quote::imperial;
use crate::route::{Rates, StickPrice, Task};
use crate::run::Allowance;
use crate::tube::Tube;
use crate::units::Length;
use serde::Serialize;

#[derive(Serialize)]
pub(in crate::export) struct TubeOut<'a> {
    od_mm: f64,
    wall_mm: f64,
    material: &'a str,
    /// Density, and where it is from; null where it is not known.
    density_g_per_cm3: Option<f64>,
    density_source: Option<&'a str>,
    /// The job's own; null where it gives none.
    own_density_g_per_cm3: Option<f64>,
    own_expansion_per_c: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct LimitsOut<'a> {
    clr_min_mm: f64,
    clr_max_mm: f64,
    usual_cut_deg: f64,
    max_cut_deg: f64,
    min_short_side_mm: f64,
    between_mm: f64,
    /// CLRs that pies may have, if not any in the range.
    clrs_mm: Vec<f64>,
    /// Angles that the saw has stops for, if not any.
    saw_angles_deg: Vec<f64>,
    one_setting: bool,
    most_bends: usize,
    pies: bool,
    stock: Vec<&'a str>,
    wished_length_mm: Option<f64>,
}

#[derive(Serialize)]
pub(super) struct AllowanceOut {
    gap_mm: f64,
    shrinkage_mm: f64,
}

#[derive(Serialize)]
pub(super) struct RatesOut {
    labor_per_hour: f64,
    tube_per_meter: f64,
    /// As written, where tube is counted in feet; null else. So below.
    tube_per_foot: Option<f64>,
    /// The stick whose price that is, where no rate was written; null else.
    tube_stick: Option<StickPriceOut>,
    setup_minutes: f64,
    stop_minutes: f64,
    clock_minutes: f64,
    cut_minutes: f64,
    fit_up_minutes: f64,
    weld_mm_per_minute: f64,
    kerf_mm: f64,
    run_per_meter: f64,
    run_per_foot: Option<f64>,
    flow_loss: f64,
    off_length_per_meter: f64,
    off_length_per_foot: Option<f64>,
}

#[derive(Serialize)]
struct StickPriceOut {
    price: f64,
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
