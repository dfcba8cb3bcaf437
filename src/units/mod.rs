//! Lengths, angles and temperatures: stored in millimeters, radians and degrees Celsius,
//! read and printed as a shop writes them.
//!
//! This room knows nothing of geometry. Every other room passes scalars as
//! [`Length`] and [`Angle`]; points and vectors are plain millimeters.

mod angle;
mod fraction;
mod length;
mod parse;
mod rate;
mod style;
mod temperature;

pub use angle::Angle;
pub use fraction::Denominator;
pub use length::{Length, LengthUnit};
pub use parse::{QuantityError, parse_angle, parse_length, parse_temperature};
pub use rate::{Flow, FlowUnit, Per, Rate};
pub use style::{Style, counted, direction_text, line_text, way_text};
pub use temperature::{Temperature, TemperatureUnit};
