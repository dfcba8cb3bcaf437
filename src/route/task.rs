//! [`Task`]: one run to be routed, and what makes a route acceptable.

use super::{Cost, Limits, Rates, Route};
use crate::run::{Allowance, Clearance, Port, Run, RunError};
use crate::tube::Tube;
use crate::units::Length;

/// How far, in mm, a solved piece may fall short of its least short side:
/// rounding of the search, a thousandth of what anyone can measure.
const SHORT_SIDE_TOLERANCE: f64 = 1e-5;

/// Difference, as a part of the chord, that tells two ports apart when they are put
/// in order.
const SAME_SIDE: f64 = 1e-9;

/// Everything that routing one run needs to know.
#[derive(Clone, Debug, PartialEq)]
pub struct Task {
    /// The stock.
    pub tube: Tube,
    /// Where the run begins.
    pub start: Port,
    /// Where the run ends.
    pub end: Port,
    /// What the shop can cut.
    pub limits: Limits,
    /// Gap and shrinkage at each joint.
    pub allowance: Allowance,
    /// What work and tube cost.
    pub rates: Rates,
}

/// A route that can be built, as it is built, with what it costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Straights and bends.
    pub route: Route,
    /// Pieces and joints.
    pub run: Run,
    /// Minutes and money.
    pub cost: Cost,
}

/// Why a route that keeps every limit cannot be built after all.
#[derive(Clone, Debug, PartialEq)]
pub enum Rejection {
    /// Joints fall on one point, or pieces cannot be cut.
    Unbuildable(Option<RunError>),
    /// A piece's short side is too short once allowances are taken off.
    ShortSide {
        /// Number of the piece from 1.
        piece: usize,
        /// Its short side.
        short: Length,
    },
    /// The tube runs into itself.
    Collides(Clearance),
}

impl Task {
    /// Builds `route` and checks the result.
    pub fn candidate(&self, route: Route) -> Result<Candidate, Rejection> {
        let centerline = route.centerline().ok_or(Rejection::Unbuildable(None))?;
        let run = Run::new(
            &self.tube,
            &self.start,
            &self.end,
            centerline,
            self.allowance,
        )
        .map_err(|error| Rejection::Unbuildable(Some(error)))?;
        let least = self.limits.min_short_side - Length::from_mm(SHORT_SIDE_TOLERANCE);
        for (i, placed) in run.pieces().iter().enumerate() {
            let short = placed.piece.short_side();
            if short < least {
                return Err(Rejection::ShortSide {
                    piece: i + 1,
                    short,
                });
            }
        }
        if let Some(clearance) = run.self_clearance()
            && clearance.distance < Length::ZERO
        {
            return Err(Rejection::Collides(clearance));
        }
        let cost = Cost::of(&run, &self.rates);
        Ok(Candidate { route, run, cost })
    }

    /// The same task from the last port to the first.
    pub fn reversed(&self) -> Self {
        Self {
            start: self.end.clone(),
            end: self.start.clone(),
            ..self.clone()
        }
    }

    /// Whether the last port comes first in an order that is made from the ports
    /// alone: the one that the other lies farther to the side of, then the one with
    /// more straight. Searching in this order gives a run and its reverse the same
    /// route.
    pub(super) fn is_turned(&self) -> bool {
        let chord = self.end.center - self.start.center;
        let ahead = |port: &Port, toward: f64| port.outward.dot(&chord) * toward;
        let (here, there) = (ahead(&self.start, 1.0), ahead(&self.end, -1.0));
        let slack = SAME_SIDE * chord.norm();
        if (here - there).abs() > slack {
            return there < here;
        }
        self.end.straight > self.start.straight
    }

    /// The limits that the search works to: the short side grown by what the
    /// allowances will take off both ends.
    pub(super) fn search_limits(&self) -> Limits {
        let taken = self.allowance.setback(self.limits.max_cut) * 2.0;
        Limits {
            min_short_side: self.limits.min_short_side + taken.max(Length::ZERO),
            ..self.limits
        }
    }
}
