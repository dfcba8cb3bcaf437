//! Runwright plans runs of miter-cut round tube between two measured ports: the
//! route, every piece's cuts and clocks, and the patterns to cut them by.
//!
//! Data walks from left to right; each module knows only those to its left:
//!
//! ```text
//! units → geometry → survey → tube, scan → scene → run → route → shop → closure → job → plan → clear → export → cli
//! ```
//!
//! Start at [`plan::plan`] for the whole job, [`route::solve`] for the search,
//! [`closure::Ways`] for the last piece,
//! [`run::Run`] for what is built, [`tube::Piece`] for one piece's exact shape.

#![warn(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

pub mod clear;
pub mod cli;
pub mod closure;
pub mod export;
pub mod geometry;
pub mod job;
pub mod plan;
pub mod route;
pub mod run;
pub mod scan;
pub mod scene;
pub mod shop;
pub mod survey;
pub mod tube;
pub mod units;
