//! What happens at the bench: the saw sheet, which pieces are alike, how far off the end
//! may come out and which piece to leave for last; what it weighs, how it grows, what to
//! mind, what it costs and what to charge.

mod accuracy;
mod build;
mod cause;
mod cautions;
mod closing;
mod comparison;
mod growth;
mod kind;
mod money;
mod motion;
mod quote;
mod quote_lines;
mod quote_rates;
mod saw;
mod service;
mod source;
mod stack_up;
mod work;

pub use accuracy::Accuracy;
pub use cause::Cause;
pub use cautions::Caution;
pub use closing::Closing;
pub use comparison::{Made, MandrelBend, OtherWay};
pub use growth::{GROWTH_LIMIT, Growth};
pub use kind::{Kind, kinds};
pub use money::Money;
pub use quote::{Item, Line, Quote, QuotedRun, RunQuote, Unit};
pub use quote_rates::QuoteRates;
pub use saw::{SawSheet, SawStep};
pub use service::Service;
pub use stack_up::{Share, StackUp};
pub use work::{Bought, Minutes, Work, made_of, piece_mass_kg};
