//! [`Work`]: what there is to do and to buy for one run, as counts and lengths.

use crate::route::{Bend, Candidate, Rates};
use crate::tube::{Part, StockBend};
use crate::units::Length;

/// What a run takes, apart from any rate.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// Different angles that the saw is set to.
    pub setups: u32,
    /// Lengths that the stop is set to.
    pub stops: u32,
    /// Clocks to mark.
    pub clocks: u32,
    /// Saw cuts.
    pub cuts: u32,
    /// Joints to fit up and weld, flanges not counted.
    pub joints: u32,
    /// Weld round the outside of those joints.
    pub weld: Length,
    /// Straight stock used, kerf included.
    pub tube: Length,
    /// Centerline from face to face, which the bore's volume follows from.
    pub length: Length,
    /// Shortest side of any straight piece; `None` without one.
    pub smallest: Option<Length>,
    /// Stock bends used, by kind.
    pub bought: Vec<Bought>,
}

/// Stock bends of one kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Bought {
    /// What the shop calls it.
    pub name: String,
    /// How many.
    pub count: u32,
    /// Money for one; `None` where nobody has said.
    pub price: Option<f64>,
}

/// Shop time by kind, in minutes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Minutes {
    /// Setting the saw.
    pub setups: f64,
    /// Setting the stop.
    pub stops: f64,
    /// Marking clocks.
    pub clocks: f64,
    /// Cutting.
    pub cuts: f64,
    /// Fitting up.
    pub fit_ups: f64,
    /// Welding.
    pub weld: f64,
}

impl Minutes {
    /// Together.
    pub fn total(&self) -> f64 {
        self.setups + self.stops + self.clocks + self.cuts + self.fit_ups + self.weld
    }
}

impl Work {
    /// What `candidate` takes, whose stock bends are among `stock`.
    pub fn of(candidate: &Candidate, stock: &[StockBend]) -> Self {
        let cost = &candidate.cost;
        let straight = candidate
            .run
            .pieces()
            .iter()
            .filter_map(|placed| placed.piece.straight());
        let used = |item: usize| {
            let bends = candidate.route.bends.iter();
            bends.filter(|bend| bend.stock() == Some(item)).count()
        };
        let bought = stock.iter().enumerate().map(|(item, bend)| Bought {
            name: bend.name.clone(),
            count: u32::try_from(used(item)).unwrap_or(u32::MAX),
            price: Some(bend.price),
        });
        Self {
            setups: cost.setups,
            stops: cost.stops,
            clocks: cost.clocks,
            cuts: cost.cuts,
            joints: cost.joints,
            weld: cost.weld,
            tube: cost.tube,
            length: candidate.run.length(),
            smallest: straight.map(|piece| piece.short_side()).reduce(Length::min),
            bought: bought.filter(|kind| kind.count > 0).collect(),
        }
    }

    /// Shop time at `rates`, as [`Cost`](crate::route::Cost) counts it.
    pub fn minutes(&self, rates: &Rates) -> Minutes {
        Minutes {
            setups: rates.setup_minutes * f64::from(self.setups),
            stops: rates.stop_minutes * f64::from(self.stops),
            clocks: rates.clock_minutes * f64::from(self.clocks),
            cuts: rates.cut_minutes * f64::from(self.cuts),
            fit_ups: rates.fit_up_minutes * f64::from(self.joints),
            weld: self.weld / rates.weld_per_minute,
        }
    }

    /// Number of stock bends.
    pub fn stock_bends(&self) -> u32 {
        self.bought
            .iter()
            .fold(0, |sum, kind| sum.saturating_add(kind.count))
    }

    /// Whether everything that is bought has a price.
    pub fn is_priced(&self) -> bool {
        self.bought.iter().all(|kind| kind.price.is_some())
    }
}

/// Whether `candidate` has miters, and whether it has stock bends.
pub fn made_of(candidate: &Candidate) -> (bool, bool) {
    let bends = &candidate.route.bends;
    let is_stock = |bend: &Bend| bend.stock().is_some();
    (
        bends.iter().any(|bend| !is_stock(bend)),
        bends.iter().any(is_stock),
    )
}

/// Mass in kg of each piece as cut; `None` where the material's density is not known.
pub fn piece_mass_kg(piece: &Part) -> Option<f64> {
    // Also of a bent piece: it holds its section times its centerline (Pappus).
    piece.tube().mass_kg(piece.length())
}
