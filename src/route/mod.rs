//! The route solver: which corners, bends and straights lead from one port to
//! the other at the least cost.
//!
//! A route with corners V₁ = p₀ + s·d₀, V₂ … Vₖ₋₁ free, Vₖ = p₁ + t·d₁ meets both
//! ports whatever its numbers, so the search carries no closing constraint. See
//! `solve` for the search as a whole, `layout` for the constraints, `search` for
//! the local optimizer and `cost` for what a route costs.

mod answer;
mod assemble;
mod attempt;
mod bend;
mod bounds;
mod chart;
mod choice;
mod constraint;
mod control;
mod copied;
mod correction;
mod cost;
mod crossing;
mod direct;
mod evaluate;
mod explore;
mod families;
mod field;
mod flow;
mod layout;
mod limits;
mod map;
mod margin;
mod near_scan;
mod nearness;
mod neighbors;
mod pass;
mod probe;
mod reason;
#[allow(clippy::module_inception)]
mod route;
mod scanned;
mod search;
mod seeds;
mod setting;
mod shape;
mod slant;
mod solve;
mod solver;
mod task;
mod term;
mod waiting;
mod ways;

pub use answer::Reason;
pub use bend::{Bend, Make};
pub use chart::Charts;
pub use choice::MAX_BENDS;
pub use constraint::Constraint;
pub use control::{Control, Effort, Progress};
pub use cost::{Cost, Rates, StickPrice};
pub use flow::{FlowLoss, miter_joint, pie_bend, smooth_bend};
pub use limits::{Limits, LimitsError};
pub use pass::Pass;
pub use probe::glance;
pub use reason::{Binding, Narrow, NoRoute, Relaxation};
pub use route::Route;
pub use setting::saw_settings;
pub use solve::{Solution, shortest, solve, solve_with};
pub use solver::Stop;
pub use task::{Candidate, ROOM_SLACK, Rejection, Task};
