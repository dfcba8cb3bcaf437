//! A planned job: every run routed, cut and checked against the others.

mod copied;
mod facing;
mod failure;
#[allow(clippy::module_inception)]
mod plan;
mod plan_file;

pub use plan::{Plan, PlannedRun, Standing, plan, plan_with};
pub use plan_file::{FORMAT, FileRun, MAX_PLAN_BYTES, PlanFile, read_plan};
