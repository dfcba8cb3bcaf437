//! [`Service`]: what a run has to stand, and what is fixed to its ends.

use crate::tube::ROOM;
use crate::units::Temperature;

/// How a run is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Service {
    /// How hot the tube gets; `None` where nobody has said.
    pub hot: Option<Temperature>,
    /// How cold it is when it is fitted.
    pub cold: Temperature,
    /// Whether a slip joint or a flexible part takes up growth.
    pub flex: bool,
    /// Whether both flanges are welded on by this shop.
    pub weld_flanges: bool,
}

impl Default for Service {
    /// Nothing known of heat, fitted at 20 °C, nothing that gives, flanges left to others.
    fn default() -> Self {
        Self {
            hot: None,
            cold: ROOM,
            flex: false,
            weld_flanges: false,
        }
    }
}
