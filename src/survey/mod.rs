//! Shop measurements turned into ports that can be trusted: readings of tape, square,
//! level and rim points, fitted all at once, with what is left over at each, how well
//! the port is held, which reading is off, and what to measure next. The same of the end
//! of a tube that is built already, whose face may be a miter. And an existing
//! tube that was touched along its length, turned into the polyline that it is made of.
//!
//! ```text
//! reading → guess → stance (unknowns, rows) → adjust → surveyed → left, judge, weak, next
//! trace/: readings → lines, cut_up → shape (unknowns, rows) → adjust → traced
//! ```

mod adjust;
mod face;
mod guess;
mod judge;
mod left;
mod measuring;
mod miter_guess;
mod next;
mod reading;
mod rows;
mod stance;
mod survey_error;
mod surveyed;
mod trace;
mod weak;

pub(crate) use adjust::{Hold, Model, adjust, chance};
pub use face::Face;
pub use judge::Suspicion;
pub use left::{Amount, LeftOver};
pub use measuring::Measuring;
pub use next::{Next, Wanted};
pub use reading::{Observed, Pin, Reading, Readings};
pub use survey_error::SurveyError;
pub use surveyed::{MOST_READINGS, Poor, Surveyed, survey};
pub use trace::{
    Caution, EndShift, Left, MOST_JOINTS, MOST_POINTS, OwnLines, Spot, Suspect, Touched, Trace,
    TraceError, Traced, TracedJoint, TubeEnd, trace,
};
pub use weak::Cause;
