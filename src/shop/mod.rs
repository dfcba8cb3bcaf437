//! What happens at the bench.
//!
//! - `saw`: the cuts of a stick; `sticks`: which pieces are cut from which; `kind`: which
//!   are alike.
//! - `bought_bend`: which stock bend a piece is made from.
//! - `seams`: where weld seams come to lie.
//! - `stack_up`: how far off the end may come out, and which piece to leave for last.
//! - `tacking`: in which order the run is tacked up, and what a tape should then read.
//! - `quote`: what it weighs and costs, and what to charge; `growth`, `service`: how it
//!   grows; `cautions`: what to mind.

mod bought_bend;
mod cautions;
mod growth;
mod kind;
mod quote;
mod saw;
mod seams;
mod service;
mod stack_up;
mod sticks;
mod tacking;

pub use bought_bend::BoughtBend;
pub use cautions::Caution;
pub use growth::{GROWTH_LIMIT, Growth};
pub use kind::{Kind, kinds};
pub use quote::{
    Bought, Item, Line, Made, MandrelBend, Minutes, Money, OtherWay, Quote, QuoteRates, QuotedRun,
    RunQuote, Unit, Work, made_of, piece_mass_kg,
};
pub use saw::{
    CutList, Drops, Longer, SawCut, SawSheet, StickChoice, StickToCut, cuts_of_one, stop_distance,
};
pub use seams::{JointSeam, PieceSeam, SeamMargin, SeamPlan, Seams, StickPiece};
pub use service::Service;
pub use stack_up::{Accuracy, Cause, Closing, Share, StackUp, marked_trim};
pub use sticks::{
    LayoutCost, Leftover, Stick, StickLayout, StickSource, StickStock, StockStick, StockTube,
    TooLong, lay_out,
};
pub use tacking::{
    BuiltFace, CENTER_TAPES, Fixed, GapWidth, MOST_TAPES, MatchMark, MatchMarks, Origin, PortMark,
    Spot, TackGap, TackStep, TackUp, Tacking, Tape,
};
