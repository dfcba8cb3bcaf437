//! A planned job: every run routed, cut and checked against the others.

mod facing;
mod failure;
#[allow(clippy::module_inception)]
mod plan;

pub use plan::{Plan, PlannedRun, Standing, plan, plan_with};
