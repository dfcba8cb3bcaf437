//! What a choice must cost at least, so that hopeless ones need no search.

use super::choice::{Choice, CutRule, Making};
use super::field::Field;
use crate::geometry::angle_between;
use crate::units::{Angle, Length};
use std::collections::BTreeSet;

/// A lower bound on the miter joints of a route with `bends` bends.
///
/// Its total turn is at least ∠(d₀, e) + ∠(e, −d₁) for the chord direction e: the
/// directions along a route are a path on the sphere whose convex hull holds e, and the
/// shortest such path runs through e itself. Nothing is known where a port may lean.
pub(super) fn least_joints(field: &Field<'_>, bends: usize) -> u32 {
    let bends = u32::try_from(bends).unwrap_or(u32::MAX);
    let task = field.task;
    if !(task.start.freedom.is_none() && task.end.freedom.is_none()) {
        return bends;
    }
    let chord = task.end.center - task.start.center;
    let turn = angle_between(&task.start.outward, &chord)
        + angle_between(&chord, &-task.end.outward.into_inner());
    // One joint alone may take the greatest cut; more take less each.
    let limits = &field.limits;
    let greatest = match task.saw_angles.iter().copied().reduce(Angle::max) {
        Some(cut) => cut * 2.0,
        None => limits.greatest_turn(1, limits.clr_min, task.tube.radius()),
    };
    // Rounding of exact multiples.
    let slack = 1e-6;
    ((turn / greatest - slack).ceil().max(0.0) as u32).max(bends)
}

/// What a route with these `bends` that is no shorter than `length` must be expected to
/// cost.
///
/// A lower bound, but for one thing: every bend whose cut is free is charged a saw
/// setting of its own. Such bends may come out alike and cost less; that is taken where
/// it is met.
pub(super) fn least_cost(field: &Field<'_>, choice: &Choice, length: Length) -> f64 {
    let rates = &field.task.rates;
    let radius = field.task.tube.radius();
    let stock = choice.bends.iter().filter_map(|making| match making {
        Making::Stock { item, .. } => Some(field.task.stock[*item].price),
        Making::Arc { .. } | Making::Pies { .. } => None,
    });
    let (bought, price) = stock.fold((0_u32, 0.0), |(count, sum), price| (count + 1, sum + price));
    let joints = choice.joints();
    // A stock bend has two ends; one of each may be a port's or its neighbor's.
    let welds = joints + bought.saturating_sub(1);
    let square_cuts = if bought == 0 { 2.0 } else { 0.0 };
    // Stock bends' legs may reach; all pies may be alike.
    let has_pies = choice.bends.iter().any(|making| making.joints() > 1);
    let straights = (choice.bends.len() + 1).saturating_sub(2 * bought as usize);
    let stops = straights + usize::from(has_pies);
    let clocks = u32::from(choice.bends.len() > 1 && !field.is_flat());
    let minutes = rates.setup_minutes * f64::from(1 + settings(choice))
        + rates.stop_minutes * stops as f64
        + rates.clock_minutes * f64::from(clocks)
        + rates.cut_minutes * (f64::from(joints) + square_cuts)
        + rates.fit_up_minutes * f64::from(welds)
        + (radius * std::f64::consts::TAU) / rates.weld_per_minute * f64::from(welds);
    // Each miter takes a whole gap off the tube, along its axis; so does each port, and of a
    // stock bend's two joints the tube's halves.
    let gaps =
        field.task.allowance.gap * f64::from(joints + bought + 2) / field.task.limits.max_cut.cos();
    let bent: Length = choice
        .bends
        .iter()
        .map(|making| longest_stock(field, *making))
        .sum();
    let tube = (length - bent + rates.kerf * f64::from(joints + 1) - gaps).max(Length::ZERO);
    rates.labor(minutes)
        + rates.tube(tube)
        + price
        + rates.run_weight.metric() * length.mm() / 1000.0
}

/// Tube that a stock bend may save at most.
fn longest_stock(field: &Field<'_>, making: Making) -> Length {
    match making {
        Making::Stock { item, .. } => {
            let stock = &field.task.stock[item];
            stock.clr * stock.turn.radians() + stock.leg * 2.0
        }
        Making::Arc { .. } | Making::Pies { .. } => Length::ZERO,
    }
}

/// Saw settings beside square that a choice calls for.
fn settings(choice: &Choice) -> u32 {
    let mut shared = false;
    let mut listed = BTreeSet::new();
    let mut free = 0;
    for making in &choice.bends {
        if let Making::Pies { cut, .. } = making {
            match cut {
                CutRule::Free => free += 1,
                CutRule::Listed(angle) => {
                    listed.insert(*angle);
                }
                CutRule::Shared => shared = true,
            }
        }
    }
    free + u32::from(shared) + u32::try_from(listed.len()).unwrap_or(0)
}
