//! The lines of one run's quote.

use super::quote::{Item, Line, QuotedRun, Unit};
use super::rates::QuoteRates;
use crate::tube::Material;
use crate::units::{Length, LengthUnit, Per, counted};
use std::f64::consts::PI;

/// Flanges of a run: one at each end.
const FLANGES: f64 = 2.0;
/// Millimeters in a meter.
const MM_PER_METER: f64 = LengthUnit::M.mm();
/// Cubic millimeters in a cubic meter.
const MM3_PER_CUBIC_METER: f64 = 1e9;
/// Liters in a cubic meter.
const LITERS_PER_CUBIC_METER: f64 = 1000.0;
/// Kilograms in a cubic millimeter of water, for densities in g/cm³.
const KG_PER_MM3: f64 = 1e-6;

/// What is counted: material, work, filler and gas. Lines of nothing are left out.
pub(in crate::shop) fn lines(run: &QuotedRun<'_>, rates: &QuoteRates) -> Vec<Line> {
    let mut lines = bought(run, rates);
    lines.extend(labor(run, rates));
    lines.extend(filler(run, rates, Item::Filler, run.work.weld));
    lines.extend(gas(run, rates, Item::ShieldingGas, run.work.weld));
    lines.extend(purge(run, rates));
    lines.retain(|line| line.quantity > 0.0);
    lines
}

/// Both flanges welded on: the same weld for every route, so it ranks none.
pub(in crate::shop) fn apart(run: &QuotedRun<'_>, rates: &QuoteRates) -> Vec<Line> {
    let weld = flange_weld(run);
    let labor = run.rates.labor_per_hour;
    let fit_up = run.rates.fit_up_minutes;
    let time = |item, how, minutes| Line::new(item, how, minutes, Unit::Minutes, labor);
    let mut lines = vec![
        time(
            Item::FlangeFitUps,
            format!("{FLANGES} × {fit_up} min"),
            FLANGES * fit_up,
        ),
        time(
            Item::FlangeWeld,
            weld_how(weld, run, rates),
            weld / run.rates.weld_per_minute,
        ),
    ];
    lines.extend(filler(run, rates, Item::FlangeFiller, weld));
    lines.extend(gas(run, rates, Item::FlangeGas, weld));
    lines.retain(|line| line.quantity > 0.0);
    lines
}

/// Length of weld round both flanges.
fn flange_weld(run: &QuotedRun<'_>) -> Length {
    run.tube.circumference() * FLANGES
}

/// Length of filler rod for all welds that are counted.
pub(in crate::shop) fn rod(run: &QuotedRun<'_>, rates: &QuoteRates) -> Length {
    let flanges = if run.weld_flanges {
        flange_weld(run)
    } else {
        Length::ZERO
    };
    let volume = (run.work.weld + flanges).mm() * rates.filler_area_mm2(run.tube, run.gap);
    Length::from_mm(volume / rates.rod_area_mm2())
}

/// What could not be counted, and why.
pub(in crate::shop) fn notes(run: &QuotedRun<'_>, rates: &QuoteRates) -> Vec<String> {
    let mut notes = Vec::new();
    if run.tube.density().is_none() && rates.filler_factor > 0.0 {
        notes.push(format!(
            "filler rod is not counted: the density of '{}' is not known; known are {}; or write tube.density",
            run.tube.material(),
            Material::known().join(", "),
        ));
    }
    if run.tube.family().is_none() && rates.purge.is_none() {
        notes.push(format!(
            "purge gas is not counted: whether '{}' is purged is not known; write shop.rates.purge",
            run.tube.material(),
        ));
    }
    let unpriced = run.work.bought.iter().filter(|kind| kind.price.is_none());
    notes.extend(unpriced.map(|kind| {
        format!(
            "{} '{}' not counted: no price is given",
            counted(kind.count as usize, "bend"),
            kind.name
        )
    }));
    notes
}

/// Tube by its length, and stock bends.
fn bought(run: &QuotedRun<'_>, rates: &QuoteRates) -> Vec<Line> {
    let tube = Line::rated(
        Item::Tube,
        tube_how(run, rates),
        (run.work.tube + longer(run)).mm() / MM_PER_METER,
        run.rates.tube_rate,
    );
    let bends = run.work.bought.iter().filter_map(|kind| {
        let (name, count) = (kind.name.as_str(), f64::from(kind.count));
        let price = kind.price?;
        Some(Line::new(Item::StockBend, name, count, Unit::Each, price))
    });
    std::iter::once(tube).chain(bends).collect()
}

/// What is sawn longer; nothing where no straight tube is cut.
fn longer(run: &QuotedRun<'_>) -> Length {
    if run.work.tube > Length::ZERO {
        run.longer
    } else {
        Length::ZERO
    }
}

/// What is in the tube beside the pieces, and whose price it is counted at.
fn tube_how(run: &QuotedRun<'_>, rates: &QuoteRates) -> String {
    let longer = longer(run);
    let mut how = if longer > Length::ZERO {
        let longer = rates.style.length(longer);
        format!("kerf and {longer} for the piece left for last included")
    } else {
        "kerf included".to_owned()
    };
    if let Some(stick) = run.rates.stick {
        how.push_str("; ");
        how.push_str(&stick.words(run.rates.tube_rate.per));
    }
    how
}

/// Shop time, by kind.
fn labor(run: &QuotedRun<'_>, quoting: &QuoteRates) -> Vec<Line> {
    let (work, rates) = (run.work, run.rates);
    let minutes = work.minutes(rates);
    let times = |count: u32, each: f64| format!("{count} × {each} min");
    let line =
        |item, how, minutes| Line::new(item, how, minutes, Unit::Minutes, rates.labor_per_hour);
    vec![
        line(
            Item::Setups,
            times(work.setups, rates.setup_minutes),
            minutes.setups,
        ),
        line(
            Item::Stops,
            times(work.stops, rates.stop_minutes),
            minutes.stops,
        ),
        line(
            Item::Clocks,
            times(work.clocks, rates.clock_minutes),
            minutes.clocks,
        ),
        line(
            Item::Cuts,
            times(work.cuts, rates.cut_minutes),
            minutes.cuts,
        ),
        line(
            Item::FitUps,
            times(work.joints, rates.fit_up_minutes),
            minutes.fit_ups,
        ),
        line(Item::Weld, weld_how(work.weld, run, quoting), minutes.weld),
    ]
}

/// `47 3/8 in at 2 in/min`.
fn weld_how(weld: Length, run: &QuotedRun<'_>, rates: &QuoteRates) -> String {
    let style = rates.style;
    let pace = style.pace(run.rates.weld_per_minute);
    format!("{} at {pace}", style.length(weld))
}

/// Filler of a weld; none where the density is not known.
fn filler(run: &QuotedRun<'_>, rates: &QuoteRates, item: Item, weld: Length) -> Option<Line> {
    let area = rates.filler_area_mm2(run.tube, run.gap);
    let kg = weld.mm() * area * run.tube.density()? * KG_PER_MM3;
    let (long, area) = (rates.style.length(weld), rates.style.area(area));
    let how = format!("{long} weld × {area}");
    Some(Line::rated(item, how, kg, rates.filler))
}

/// Shielding gas while the arc burns.
fn gas(run: &QuotedRun<'_>, rates: &QuoteRates, item: Item, weld: Length) -> Option<Line> {
    let arc = weld / run.rates.weld_per_minute * rates.arc_share;
    let flow = rates.gas_flow;
    let how = format!("{arc:.2} min of arc × {flow}");
    let cubic_meters = arc * flow.liters_per_minute() / LITERS_PER_CUBIC_METER;
    Some(Line::rated(item, how, cubic_meters, rates.gas))
}

/// Purge gas: the bore's volume some times over, then a flow while welding.
fn purge(run: &QuotedRun<'_>, rates: &QuoteRates) -> Option<Line> {
    if !rates.is_purged(run.tube) {
        return None;
    }
    let bore = run.tube.bore_radius().mm();
    let volume = PI * bore * bore * run.work.length.mm() / MM3_PER_CUBIC_METER;
    let mut weld = run.work.weld;
    if run.weld_flanges {
        weld += flange_weld(run);
    }
    let minutes = weld / run.rates.weld_per_minute;
    let (changes, flow) = (rates.purge_changes, rates.purge_flow);
    let bore = bore_words(volume, rates.gas.per);
    let how = format!("{changes} × {bore} bore + {minutes:.2} min × {flow}");
    let flowing = minutes * flow.liters_per_minute() / LITERS_PER_CUBIC_METER;
    let cubic_meters = changes * volume + flowing;
    Some(Line::rated(Item::PurgeGas, how, cubic_meters, rates.gas))
}

/// A bore's volume in what its gas is counted in: `1.11 L` or `0.039 ft³`.
fn bore_words(cubic_meters: f64, per: Per) -> String {
    if per.is_imperial() {
        format!("{:.3} ft³", cubic_meters / per.metric())
    } else {
        format!("{:.2} L", cubic_meters * LITERS_PER_CUBIC_METER)
    }
}
