//! What happens at the bench: the saw sheet, which sticks to cut, where weld seams come to
//! lie, which pieces are alike, how far off the end may come out and which piece to leave
//! for last, in which order the run is tacked up and what a tape should then read; what it
//! weighs, how it grows, what to mind, what it costs and what to charge.

mod accuracy;
mod build;
mod built_face;
mod cause;
mod cautions;
mod closing;
mod comparison;
mod growth;
mod kind;
mod lines;
mod marks;
mod money;
mod motion;
mod origin;
mod quote;
mod quote_lines;
mod quote_rates;
mod reach;
mod saw;
mod seam_sides;
mod seams;
mod service;
mod sight;
mod source;
mod stack_up;
mod stick_piece;
mod sticks;
mod tack_gap;
mod tack_up;
mod tape;
mod work;

pub use accuracy::Accuracy;
pub use built_face::{BuiltFace, Spot};
pub use cause::Cause;
pub use cautions::Caution;
pub use closing::Closing;
pub use comparison::{Made, MandrelBend, OtherWay};
pub use growth::{GROWTH_LIMIT, Growth};
pub use kind::{Kind, kinds};
pub use marks::{MatchMark, MatchMarks};
pub use money::Money;
pub use origin::Origin;
pub use quote::{Item, Line, Quote, QuotedRun, RunQuote, Unit};
pub use quote_rates::QuoteRates;
pub use saw::{SawSheet, SawStep, stop_distance};
pub use seams::{JointSeam, PieceSeam, SeamMargin, SeamPlan, Seams};
pub use service::Service;
pub use stack_up::{Share, StackUp};
pub use stick_piece::StickPiece;
pub use sticks::{
    Drops, LayoutCost, Leftover, Stick, StickCut, StickLayout, StickSource, StickStock, StockStick,
    StockTube, TooLong, lay_out,
};
pub use tack_gap::{GapWidth, TackGap};
pub use tack_up::{TackStep, TackUp, Tacking};
pub use tape::{CENTER_TAPES, Fixed, MOST_TAPES, Tape};
pub use work::{Bought, Minutes, Work, made_of, piece_mass_kg};
