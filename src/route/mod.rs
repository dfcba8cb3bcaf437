//! The route solver: which corners, bends and straights lead from one port to
//! the other at the least cost.
//!
//! A route with corners V₁ = p₀ + s·d₀, V₂ … Vₖ₋₁ free, Vₖ = p₁ + t·d₁ meets both
//! ports whatever its numbers, so the search carries no closing constraint. See
//! `solve` for the search as a whole, `layout` for the constraints, `search` for
//! the local optimizer and `cost` for what a route costs.

mod bend;
mod constraint;
mod cost;
mod gradient;
mod layout;
mod limits;
mod reason;
#[allow(clippy::module_inception)]
mod route;
mod search;
mod seeds;
mod solve;
mod task;

pub use bend::Bend;
pub use constraint::Constraint;
pub use cost::{Cost, Rates};
pub use layout::{Evaluation, Joints, Layout, Making};
pub use limits::{Limits, LimitsError};
pub use reason::{Binding, NoRoute, Relaxation};
pub use route::Route;
pub use search::{EXACT, Found, ROUGH, minimize};
pub use solve::{Solution, Stop, cheapest, shortest, solve};
pub use task::{Candidate, Rejection, Task};
