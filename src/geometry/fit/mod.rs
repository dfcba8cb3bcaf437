//! Shapes and motions that measured points fit best, by least squares.
//!
//! Every fit comes with what is left over for each point, so that a wrong one can be
//! named, and with a measure of how firmly the points hold it.

mod circle;
mod error;
mod plane;
mod rigid;
mod spread;

pub use circle::CircleFit;
pub use error::FitError;
pub use plane::PlaneFit;
pub use rigid::RigidFit;
pub use spread::Spread;

use crate::units::Length;

/// √(Σ d²/n) of distances in mm; zero of none.
fn root_mean_square(distances: impl ExactSizeIterator<Item = f64>) -> Length {
    let count = distances.len().max(1) as f64;
    Length::from_mm((distances.map(|d| d * d).sum::<f64>() / count).sqrt())
}
