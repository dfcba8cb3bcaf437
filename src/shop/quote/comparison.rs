//! [`OtherWay`]: the same ports joined by bends of another kind, to set beside the plan.

use super::work::Work;
use crate::units::Length;

/// What bends are made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Made {
    /// Pies alone.
    Pies,
    /// Bends that the shop lists, alone.
    StockBends,
    /// Mandrel bends that the shop does not list: taken to be 90° ones, to be cut down
    /// where less is needed.
    MandrelBends {
        /// Their centerline radius.
        clr: Length,
        /// Straight tube past the arc at both ends.
        leg: Length,
    },
}

impl Made {
    /// A stable name for files.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pies => "pies",
            Self::StockBends => "stock-bends",
            Self::MandrelBends { .. } => "mandrel-bends-assumed",
        }
    }

    /// Words for paper.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Pies => "pies alone",
            Self::StockBends => "stock bends alone",
            Self::MandrelBends { .. } => "mandrel bends (assumed)",
        }
    }
}

/// A run made in another way than planned.
#[derive(Clone, Debug, PartialEq)]
pub struct OtherWay {
    /// What its bends are made of.
    pub made: Made,
    /// What it takes; `None` where no such run was found.
    pub work: Option<Work>,
}

/// A mandrel bend as it is bought, where the shop lists no bends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MandrelBend {
    /// Straight tube past the arc at both ends.
    pub leg: Length,
    /// Money for one; `None` where nobody has said.
    pub price: Option<f64>,
}

impl Default for MandrelBend {
    /// 4 in legs (common practice, no source), and no price.
    fn default() -> Self {
        Self {
            leg: Length::from_inches(4.0),
            price: None,
        }
    }
}
