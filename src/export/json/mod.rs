//! `plan.json`, part by part. Every struct is an object of the file, every field a key.

mod arc;
mod copied;
mod numbers;
mod parts;
mod plan;
mod quote;
mod room;
mod run;
mod scatter;
mod seams;
mod stack_up;
mod sticks;
mod survey;
mod tack_up;
mod task;
mod ways;

pub(in crate::export) use arc::ArcOut;
pub(in crate::export) use numbers::{deg, mm, numbered};
pub(in crate::export) use parts::{JointOut, PieceOut};
pub(in crate::export) use plan::schema_of;
pub use plan::{PlanJson, plan_schema};
pub(in crate::export) use scatter::ScatterOut;
pub(in crate::export) use survey::SurveyOut;
pub(in crate::export) use task::TubeOut;
