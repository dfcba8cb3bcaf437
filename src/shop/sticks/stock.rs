//! [`StickStock`]: the tube that a shop buys and has.

use crate::route::StickPrice;
use crate::tube::Tube;
use crate::units::Length;

/// Difference in diameter or wall, mm, below which stock is of a tube: what a caliper
/// reads.
const SAME: f64 = 0.02;

/// Sticks that the shop buys, leftovers on its shelf, and which leftovers it keeps.
#[derive(Clone, Debug, PartialEq)]
pub struct StickStock {
    /// Lengths to buy. With none, every run is cut from one stick as long as it takes,
    /// and nothing is laid out.
    pub sticks: Vec<StockStick>,
    /// Leftovers, each there once.
    pub shelf: Vec<Leftover>,
    /// Shortest leftover that is worth putting back.
    pub least_leftover: Length,
}

/// A length that tube is bought in.
#[derive(Clone, Debug, PartialEq)]
pub struct StockStick {
    /// Its length.
    pub length: Length,
    /// What one is bought for. All sticks of a tube have a price, or length counts.
    pub price: Option<f64>,
    /// How many there are, if not as many as it takes.
    pub count: Option<u32>,
    /// The tubes that it is.
    pub of: StockTube,
}

/// What an earlier job left of a stick.
#[derive(Clone, Debug, PartialEq)]
pub struct Leftover {
    /// Its length, taken at its shortest side.
    pub length: Length,
    /// The tubes that it is; if there are several, the job's first.
    pub of: StockTube,
}

/// Which tubes a stick may be of; what is not said may be anything.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StockTube {
    /// Outside diameter.
    pub od: Option<Length>,
    /// Wall thickness.
    pub wall: Option<Length>,
    /// Material, as the job names it.
    pub material: Option<String>,
}

impl StickStock {
    /// Shortest leftover that is worth keeping, if the job does not say (common
    /// practice, no source): two or three pies of common tube.
    pub const LEAST_LEFTOVER: Length = Length::from_inches(6.0);

    /// The stick for `tube` that costs most for its length, where sticks have prices. Which
    /// ones are cut is known only when routes have been ranked; at the dearest, tube is
    /// never quoted for less than it is bought for, leftovers apart.
    pub fn dearest(&self, tube: &Tube) -> Option<StickPrice> {
        let there = |stick: &&StockStick| stick.count != Some(0) && stick.is_for(tube);
        let priced = self.sticks.iter().filter(there).filter_map(|stick| {
            Some(StickPrice {
                price: stick.price?,
                length: stick.length,
                is_dearest: false,
            })
        });
        let for_length = |stick: &StickPrice| stick.price / stick.length.mm();
        let by_price = |a: &StickPrice, b: &StickPrice| for_length(a).total_cmp(&for_length(b));
        let dearest = priced.clone().max_by(by_price)?;
        let least = priced.min_by(by_price)?;
        Some(StickPrice {
            is_dearest: for_length(&least) < for_length(&dearest),
            ..dearest
        })
    }
}

impl Default for StickStock {
    fn default() -> Self {
        Self {
            sticks: Vec::new(),
            shelf: Vec::new(),
            least_leftover: Self::LEAST_LEFTOVER,
        }
    }
}

impl StockStick {
    /// Whether `tube` may be cut from it.
    pub fn is_for(&self, tube: &Tube) -> bool {
        let price = self.price.unwrap_or(0.0);
        is_length(self.length) && price.is_finite() && price >= 0.0 && self.of.fits(tube)
    }
}

impl Leftover {
    /// Whether `tube` may be cut from it.
    pub fn is_for(&self, tube: &Tube) -> bool {
        is_length(self.length) && self.of.fits(tube)
    }
}

fn is_length(length: Length) -> bool {
    length.is_finite() && length > Length::ZERO
}

impl StockTube {
    /// Whether `tube` may be cut from it.
    pub fn fits(&self, tube: &Tube) -> bool {
        let near = |own: Option<Length>, other: Length| {
            own.is_none_or(|own| (own - other).abs().mm() <= SAME)
        };
        let same = |own: &str| own == tube.material();
        near(self.od, tube.od())
            && near(self.wall, tube.wall())
            && self.material.as_deref().is_none_or(same)
    }
}
