//! The quote: quantities (`work`), what they cost the shop (`rates`), lines that add up
//! (`lines`, `quote`), and the same ports joined by bends of the other kind (`comparison`).

mod comparison;
mod lines;
mod money;
#[allow(clippy::module_inception)]
mod quote;
mod rates;
mod work;

pub use comparison::{Made, MandrelBend, OtherWay};
pub use money::Money;
pub use quote::{Item, Line, Quote, QuotedRun, RunQuote, Unit};
pub use rates::QuoteRates;
pub use work::{Bought, Minutes, Work, made_of, piece_mass_kg};
