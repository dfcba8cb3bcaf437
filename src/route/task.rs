//! [`Task`]: one run to be routed, and what makes a route acceptable.

use super::{Constraint, Cost, Limits, Rates, Route};
use crate::run::{Allowance, Clearance, Port, Run, RunError};
use crate::tube::Tube;
use crate::units::{Angle, Length};

/// How far, mm a mm of run, a length may fall short of its limit: rounding of the
/// search, 0.05 µm on a 1 m run…
const SLACK_PER_LENGTH: f64 = 5e-8;
/// …and mm whatever the run.
const LEAST_SLACK: Length = Length::from_mm(1e-5);
/// How far a cut may pass the greatest: what no saw shows.
const CUT_SLACK: Angle = Angle::from_degrees(0.005);

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
    /// A bend's cut, CLR or straight is beyond a limit.
    Limit(Constraint),
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
        self.check_limits(&route)?;
        let least = self.limits.min_short_side - self.slack();
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

    /// How far lengths may fall short of their limits.
    fn slack(&self) -> Length {
        let chord = Length::from_mm((self.end.center - self.start.center).norm());
        LEAST_SLACK.max((chord + self.limits.clr_max) * SLACK_PER_LENGTH)
    }

    /// Checks what the search promises, independently of the search.
    fn check_limits(&self, route: &Route) -> Result<(), Rejection> {
        let (limits, slack) = (&self.limits, self.slack());
        let count = route.bends.len();
        for (i, bend) in route.bends.iter().enumerate() {
            let broken = [
                (bend.cut() > limits.max_cut + CUT_SLACK, Constraint::Turn(i)),
                (bend.clr < limits.clr_min - slack, Constraint::ClrMin(i)),
                (bend.clr > limits.clr_max + slack, Constraint::ClrMax(i)),
            ];
            if let Some((_, constraint)) = broken.into_iter().find(|(broken, _)| *broken) {
                return Err(Rejection::Limit(constraint));
            }
        }
        for (i, straight) in route.straights().into_iter().enumerate() {
            let (least, constraint) = match i {
                0 => (self.start.straight, Constraint::StartStraight),
                i if i == count => (self.end.straight, Constraint::EndStraight),
                i => (limits.min_between, Constraint::Between(i)),
            };
            // Straight tube has no bend to keep off, however short it is.
            if count > 0 && straight < least - slack {
                return Err(Rejection::Limit(constraint));
            }
        }
        Ok(())
    }

    /// The same task from the last port to the first.
    pub fn reversed(&self) -> Self {
        Self {
            start: self.end.clone(),
            end: self.start.clone(),
            ..self.clone()
        }
    }

    /// `candidate`, made for the reversed task, from this task's first port. The ports'
    /// directions are the run's own, which may be a hair off the measured ones.
    pub(super) fn reverse_of(&self, candidate: &Candidate) -> Option<Candidate> {
        let directions = candidate.run.centerline().directions();
        let mut task = self.clone();
        task.start.outward = -*directions.last()?;
        task.end.outward = *directions.first()?;
        task.candidate(candidate.route.reversed()).ok()
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
