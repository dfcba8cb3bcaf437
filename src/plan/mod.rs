//! A planned job: every run routed, cut and checked against the others.

mod as_built;
mod close;
mod closing;
mod comparison;
mod copied;
mod doubts;
mod facing;
mod failure;
mod growing;
mod met_end;
mod off_the_sticks;
#[allow(clippy::module_inception)]
mod plan;
mod plan_file;
mod plan_file_bends;
mod plan_file_quoting;
mod plan_file_shop;
mod planned_end;
mod quoting;
mod seam_plans;
mod stick_file;
mod way;

pub use as_built::as_built;
pub use close::close;
pub use closing::{Advice, BetweenEnds, Closing, Found, MetEnd, PlannedGap};
pub use facing::may_face_back;
pub use plan::{Plan, PlannedRun, Standing, plan, plan_with};
pub use plan_file::{FORMAT, FileRun, MAX_PLAN_BYTES, PlanFile, read_plan};
pub use planned_end::PlannedEnd;
pub use quoting::{Column, Quoting};
