//! [`Closing`]: what came of closing a gap.

use super::{FileRun, PlannedEnd};
use crate::closure::{
    Against, BuiltEnd, Closure, FitUp, Gap, NoPieces, Reclock, Several, Ways, Widths,
};
use crate::geometry::Vector;
use crate::job::{BuiltEndSurvey, Problem};
use crate::run::{Allowance, Port};
use crate::shop::Accuracy;
use crate::survey::Surveyed;
use crate::tube::{StockBend, Tube};
use crate::units::{Angle, Length, Style};

/// The gap of a run as it was built, and how to close it.
#[derive(Clone, Debug)]
pub struct Closing {
    /// How the shop writes numbers.
    pub style: Style,
    /// The tube.
    pub tube: Tube,
    /// Stock bends that the run may have.
    pub stock: Vec<StockBend>,
    /// What the piece must keep.
    pub fit_up: FitUp,
    /// How well the shop works.
    pub accuracy: Accuracy,
    /// Gap and shrinkage at each joint, the closing piece's own too.
    pub allowance: Allowance,
    /// The run as planned, if there is a plan.
    pub plan: Option<PlannedGap>,
    /// What came of it.
    pub found: Found,
    /// What the user should know before cutting.
    pub warnings: Vec<Problem>,
}

/// The planned run and which of its pieces is the closure.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedGap {
    /// The run.
    pub run: FileRun,
    /// Number of the piece, from 1.
    pub piece: usize,
}

/// What closes the gap.
#[derive(Clone, Debug)]
pub enum Found {
    /// Between two ends in space.
    Ends(Box<BetweenEnds>),
    /// From its widths.
    Widths {
        /// What was measured.
        widths: Widths,
        /// By how much welds behind it will still open it, along the piece; the piece is for
        /// that.
        opens: Length,
        /// The joints of these welds.
        to_weld: Vec<usize>,
        /// The piece.
        gap: Box<Gap>,
        /// What speaks against it.
        against: Vec<Against>,
    },
}

/// A gap between two ends in space.
#[derive(Clone, Debug)]
pub struct BetweenEnds {
    /// The ends, in order of flow.
    pub ends: [MetEnd; 2],
    /// Ways to close it with one piece.
    pub ways: Ways,
    /// Whether there are joints that could be turned.
    pub could_turn: bool,
    /// Joints turned, where one piece does not do and some can be turned.
    pub reclock: Option<Reclock>,
    /// Two pieces or more, where one does not do or where they are asked for.
    pub several: Option<Result<Several, NoPieces>>,
    /// What to do.
    pub advice: Advice,
}

/// What to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Advice {
    /// One piece, the best of the ways.
    OnePiece,
    /// Turn joints, then one piece.
    Reclock,
    /// Several pieces.
    Several,
    /// Nothing that was tried can be welded.
    Nothing,
}

/// An end of the gap.
#[derive(Clone, Debug)]
pub struct MetEnd {
    /// As it stands once what is behind it is welded.
    pub built: BuiltEnd,
    /// Joints between its port and the place where it was measured that were not welded
    /// yet.
    pub to_weld: Vec<usize>,
    /// How far their welds will still move it from where it was measured.
    pub pull: Vector,
    /// The fit of what was measured; `None` for a port that nothing is built from.
    pub survey: Option<(BuiltEndSurvey, Surveyed)>,
    /// Where the plan has it.
    pub planned: Option<PlannedEnd>,
    /// How far it is off that: the center, and the axis.
    pub off: Option<(Vector, Angle)>,
    /// Number of the plan's joint at which the closing piece meets it.
    pub seam: Option<usize>,
    /// Number of the plan's joint at which it was measured: the same, or one nearer to the
    /// port, and the pieces between are put on as planned.
    pub joint: Option<usize>,
    /// The port, if it is one.
    pub port: Option<Port>,
}
impl Closing {
    /// What the piece number `i`, from 0, of several is called: the plan's piece with a
    /// letter, so that all others keep their names.
    pub fn piece_name(&self, i: usize) -> String {
        match &self.plan {
            Some(plan) => format!("{}{}", plan.piece, letter(i)),
            None => (i + 1).to_string(),
        }
    }

    /// What the joint number `i`, from 0, of `pieces` is called: those of the gap as the
    /// plan has them, those between by a letter.
    pub fn joint_name(&self, i: usize, pieces: usize) -> String {
        let Some(plan) = &self.plan else {
            return i.to_string();
        };
        let seam = |side: usize, planned: usize| match &self.found {
            Found::Ends(between) => between.ends[side].seam.unwrap_or(planned),
            Found::Widths { .. } => planned,
        };
        match i {
            0 => seam(0, plan.piece - 1).to_string(),
            _ if i == pieces => seam(1, plan.piece).to_string(),
            _ => format!("{}{}", plan.piece - 1, letter(i - 1)),
        }
    }

    /// Joints behind the gap that were not welded when it was measured, and will pull.
    pub fn to_weld(&self) -> Vec<usize> {
        match &self.found {
            Found::Ends(between) => {
                let ends = between.ends.iter();
                ends.flat_map(|end| end.to_weld.iter().copied()).collect()
            }
            Found::Widths { to_weld, .. } => to_weld.clone(),
        }
    }

    /// By how much welds will still open the gap, from end to end.
    pub fn opens(&self) -> Length {
        match &self.found {
            Found::Ends(between) => {
                let [before, after] = between.ends.each_ref();
                let welded = after.built.center - before.built.center;
                let tacked = welded - (after.pull - before.pull);
                Length::from_mm(welded.norm() - tacked.norm())
            }
            Found::Widths { opens, .. } => *opens,
        }
    }

    /// Whether there is something to cut that can be welded.
    pub const fn is_closed(&self) -> bool {
        match &self.found {
            Found::Ends(between) => !matches!(between.advice, Advice::Nothing),
            Found::Widths { against, .. } => against.is_empty(),
        }
    }

    /// The piece to cut, where one piece does it.
    pub fn closure(&self) -> Option<&Closure> {
        match &self.found {
            Found::Ends(between) => between.closure(),
            Found::Widths { .. } => None,
        }
    }
}

impl BetweenEnds {
    /// The piece to cut, where one piece does it.
    pub fn closure(&self) -> Option<&Closure> {
        match self.advice {
            Advice::OnePiece => self.ways.best(),
            Advice::Reclock => self.reclock.as_ref().map(|reclock| &reclock.closure),
            Advice::Several | Advice::Nothing => None,
        }
    }
}
impl MetEnd {
    /// The end that was measured, as it stands once welded, before it was carried on.
    pub(super) fn measured(&self) -> Option<BuiltEnd> {
        let (_, found) = self.survey.as_ref()?;
        let center = found.center + self.pull;
        Some(BuiltEnd::flat(center, found.outward, found.normal))
    }
}
/// a, b, … z, aa, ab, …
fn letter(i: usize) -> String {
    let last = char::from(b'a' + (i % 26) as u8);
    match i / 26 {
        0 => last.to_string(),
        more => format!("{}{last}", letter(more - 1)),
    }
}
