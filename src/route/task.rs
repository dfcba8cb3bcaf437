//! [`Task`]: one run to be routed, and what makes a route acceptable.

use super::assemble::{Fitting, assemble};
use super::chart::Charts;
use super::cost::Prices;
use super::map::Ground;
use super::{Constraint, Cost, Limits, Pass, Rates, Route};
use crate::run::{Allowance, Clearance, Freedom, Outside, Port, Run, RunError};
use crate::scene::Obstacle;
use crate::tube::{StockBend, Tube};
use crate::units::{Angle, Length};

/// How far, mm a mm of run, a length may fall short of its limit: rounding of the
/// search, 0.05 µm on a 1 m run…
const SLACK_PER_LENGTH: f64 = 5e-8;
/// …and mm whatever the run.
const LEAST_SLACK: Length = Length::from_mm(1e-5);
/// How far a cut may pass the greatest: what no saw shows.
const CUT_SLACK: Angle = Angle::from_degrees(0.005);

/// How far a tube may be nearer than asked to what it keeps clear of: rounding of the
/// search.
pub const ROOM_SLACK: Length = Length::from_mm(1e-3);

/// Angle by which a run may leave a port off its measured axis: a tenth of what any jig
/// or flange is true to. The run still meets both faces' centers exactly.
pub(super) const HAIR_ANGLE: Angle = Angle::from_degrees(0.01);

/// Half a step of the arcs that bends are measured by, where cuts are finer.
const LEAST_STEP: Angle = Angle::from_degrees(3.0);

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
    /// CLRs that pie bends may have; if there are none, any within the limits.
    pub clrs: Vec<Length>,
    /// Angles that the saw has stops for; if there are none, any.
    pub saw_angles: Vec<Angle>,
    /// Whether every miter must be cut at one angle.
    pub one_setting: bool,
    /// Whether bends may be made of pies.
    pub pies: bool,
    /// Stock bends that may be used.
    pub stock: Vec<StockBend>,
    /// What the run keeps out of, or within.
    pub obstacles: Vec<Obstacle>,
    /// Thickness of a wrap or heat shield round the tube: it keeps clear too.
    pub wrap: Length,
    /// What the run goes through, in order of flow.
    pub passes: Vec<Pass>,
    /// Most bends.
    pub most_bends: usize,
    /// A length that is wished for, to match another run's.
    pub wish: Option<Length>,
    /// Gap and shrinkage at each joint.
    pub allowance: Allowance,
    /// What work and tube cost.
    pub rates: Rates,
    /// What is known of the room among scans, shared by this task's clones.
    pub charts: Charts,
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
    /// A limit is broken: a bend's cut, CLR or straight, a port moved too far, an
    /// obstacle or a pass.
    Limit(Constraint),
    /// More of a stock bend is needed than is on the shelf.
    Shelf {
        /// Which of the task's stock bends.
        item: usize,
    },
    /// The tube runs into itself.
    Collides(Clearance),
}

impl Candidate {
    /// The shortest side of any piece of straight tube; none longer than the run, which
    /// is what a run of stock bends alone gives.
    pub fn smallest_short_side(&self) -> Length {
        let straight = self
            .run
            .pieces()
            .iter()
            .filter_map(|placed| placed.piece.straight());
        straight
            .map(|piece| piece.short_side())
            .fold(self.run.length(), Length::min)
    }
}

impl Task {
    /// A run of `tube` from `start` to `end` with what a shop usually does and nothing
    /// in the way.
    pub fn new(tube: Tube, start: Port, end: Port) -> Self {
        Self {
            limits: Limits::for_tube(&tube),
            tube,
            start,
            end,
            clrs: Vec::new(),
            saw_angles: Vec::new(),
            one_setting: false,
            pies: true,
            stock: Vec::new(),
            obstacles: Vec::new(),
            wrap: Length::ZERO,
            passes: Vec::new(),
            most_bends: super::MAX_BENDS,
            wish: None,
            allowance: Allowance::default(),
            rates: Rates::default(),
            charts: Charts::default(),
        }
    }

    /// Builds `route` and checks the result, independently of the search.
    pub fn candidate(&self, route: Route) -> Result<Candidate, Rejection> {
        let fitting = Fitting {
            stock: &self.stock,
            least_piece: self.limits.min_short_side + self.allowance.most_off(self.limits.max_cut),
            sockets: [self.start.socket, self.end.socket],
            radius: self.tube.radius(),
        };
        let assembly = assemble(&route, &fitting).ok_or(Rejection::Unbuildable(None))?;
        let [start, end] = self.ports_of(&route)?;
        let run = Run::new(
            &self.tube,
            &start,
            &end,
            assembly.centerline,
            self.allowance,
        )
        .map_err(|error| Rejection::Unbuildable(Some(error)))?;
        self.check_limits(&route)?;
        self.check_pieces(&run)?;
        self.check_stock(&route)?;
        self.check_room(&run)?;
        let prices = Prices {
            rates: &self.rates,
            stock: &self.stock,
            wish: self.wish,
        };
        let cost = Cost::of(&route, &run, &prices);
        Ok(Candidate { route, run, cost })
    }

    /// The ports as `route` meets them, within their freedom or a hair.
    fn ports_of(&self, route: &Route) -> Result<[Port; 2], Rejection> {
        let directions = route.end_directions().ok_or(Rejection::Unbuildable(None))?;
        let met = [
            (&self.start, route.start, directions[0]),
            (&self.end, route.end, -directions[1]),
        ];
        let mut ports = [self.start.clone(), self.end.clone()];
        for (i, (port, center, outward)) in met.into_iter().enumerate() {
            if port.freedom.overshoot(&(center - port.center)) > self.slack().mm() {
                return Err(Rejection::Limit(Constraint::Slide(i)));
            }
            if port.freedom.overlean(&port.outward, &outward) > HAIR_ANGLE {
                return Err(Rejection::Limit(Constraint::Cone(i)));
            }
            ports[i] = Port {
                center,
                outward,
                freedom: Freedom::default(),
                ..port.clone()
            };
        }
        Ok(ports)
    }

    /// Every piece has its short side, once allowances are taken off.
    fn check_pieces(&self, run: &Run) -> Result<(), Rejection> {
        let least = self.limits.min_short_side - self.slack();
        for (i, placed) in run.pieces().iter().enumerate() {
            let short = placed.piece.short_side();
            if placed.piece.straight().is_some() && short < least {
                return Err(Rejection::ShortSide {
                    piece: i + 1,
                    short,
                });
            }
        }
        Ok(())
    }

    /// No more of a stock bend is used than there is.
    fn check_stock(&self, route: &Route) -> Result<(), Rejection> {
        for (item, stock) in self.stock.iter().enumerate() {
            let used = route
                .bends
                .iter()
                .filter(|bend| bend.stock() == Some(item))
                .count();
            if stock.count.is_some_and(|count| used > count as usize) {
                return Err(Rejection::Shelf { item });
            }
        }
        Ok(())
    }

    /// Obstacles, passes and the run itself.
    fn check_room(&self, run: &Run) -> Result<(), Rejection> {
        for (i, obstacle) in self.obstacles.iter().enumerate() {
            let outside = self.outside(obstacle);
            if run
                .tight_clearance_to(obstacle, outside, -ROOM_SLACK)
                .is_some()
            {
                return Err(Rejection::Limit(Constraint::Obstacle(i)));
            }
        }
        for (i, pass) in self.passes.iter().enumerate() {
            let room = pass.room_along(run.centerline(), self.tube.radius());
            if room < -ROOM_SLACK.mm() {
                return Err(Rejection::Limit(Constraint::Pass(i)));
            }
        }
        match run.self_clearance() {
            Some(clearance) if clearance.distance - self.wrap * 2.0 < -ROOM_SLACK => {
                Err(Rejection::Collides(clearance))
            }
            _ => Ok(()),
        }
    }

    /// Length of centerline, from a port's face, along which `obstacle` is not asked
    /// about: until a ball of the outside's radius and the clearance has left the face. What
    /// the port stands on is not in the way of the tube that leaves it. More where the
    /// obstacle is a room about the port itself.
    pub fn exempt(&self, obstacle: &Obstacle) -> Length {
        let clearance = obstacle.clearance.max(Length::ZERO);
        if obstacle.reach > Length::ZERO {
            return obstacle.reach + self.climb(clearance);
        }
        self.tube.radius() + self.wrap + clearance
    }

    /// Length of centerline, from where a bend may begin, in which any bend has carried the
    /// tube's outside, as it is widened for miters, and `clearance` past the plane square
    /// to its beginning.
    ///
    /// A bend of CLR R, in miters cut at κ at most, has turned by s/C + κ at most where it
    /// is s long, with C = R·tan κ/κ: it then is C·(sin(s/C + κ) − sin κ) past that plane, or
    /// more. The tube itself never comes back behind it within a quarter turn, since R is
    /// not less than its radius.
    fn climb(&self, clearance: Length) -> Length {
        let cut = self.steepest_cut();
        let height = self.tube.radius() / cut.cos() + self.wrap + clearance;
        let curve = self.least_clr() * (cut.tan() / cut.radians());
        let sine = (cut.sin() + height / curve).min(1.0);
        curve * (sine.asin() - cut.radians())
    }

    /// The steepest cut that a miter may have.
    fn steepest_cut(&self) -> Angle {
        let stops = self.saw_angles.iter().copied();
        stops
            .reduce(Angle::max)
            .unwrap_or(self.limits.max_cut)
            .max(LEAST_STEP)
    }

    /// The tightest that any bend may be.
    fn least_clr(&self) -> Length {
        let listed = self.clrs.iter().copied();
        let stock = self.stock.iter().map(|stock| stock.clr);
        listed.chain(stock).fold(self.limits.clr_min, Length::min)
    }

    /// What of the run `obstacle` is asked about.
    pub fn outside(&self, obstacle: &Obstacle) -> Outside {
        Outside {
            wrap: self.wrap,
            exempt: self.exempt(obstacle),
        }
    }

    /// What a map of the scans is made of.
    pub(super) fn ground(&self) -> Ground {
        let ports = [&self.start, &self.end].map(|port| (port.center, port.outward));
        let exempt = self.obstacles.iter().map(|obstacle| self.exempt(obstacle));
        Ground {
            obstacles: self.obstacles.clone(),
            radius: self.tube.radius() + self.wrap,
            ports,
            passes: self.passes.iter().map(|pass| pass.center).collect(),
            exempt: exempt.fold(Length::ZERO, Length::max),
        }
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
        if count > self.most_bends {
            return Err(Rejection::Limit(Constraint::MostBends));
        }
        for (i, bend) in route.bends.iter().enumerate() {
            let is_pies = bend.stock().is_none();
            let broken = [
                (self.is_cut_too_far(bend), Constraint::Turn(i)),
                (
                    is_pies && !self.allows_clr(bend.clr, slack, false),
                    Constraint::ClrMin(i),
                ),
                (
                    is_pies && !self.allows_clr(bend.clr, slack, true),
                    Constraint::ClrMax(i),
                ),
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

    /// Whether a bend turns farther than its stock bend, or is cut steeper than the saw
    /// goes or where it has no stop.
    fn is_cut_too_far(&self, bend: &super::Bend) -> bool {
        if let Some(item) = bend.stock() {
            return self
                .stock
                .get(item)
                .is_none_or(|stock| bend.turn > stock.turn + CUT_SLACK);
        }
        if self.saw_angles.is_empty() {
            return bend.cut() > self.limits.max_cut + CUT_SLACK;
        }
        let is_stop = |angle: &Angle| (bend.cut() - *angle).abs() <= CUT_SLACK;
        !self.saw_angles.iter().any(is_stop)
    }

    /// Whether pies may have this CLR: one of the list, or not below, or not above, the
    /// range.
    fn allows_clr(&self, clr: Length, slack: Length, above: bool) -> bool {
        if !self.clrs.is_empty() {
            return self
                .clrs
                .iter()
                .any(|listed| (clr - *listed).abs() <= slack);
        }
        if above {
            clr <= self.limits.clr_max + slack
        } else {
            clr >= self.limits.clr_min - slack
        }
    }

    /// The same task from the last port to the first.
    pub fn reversed(&self) -> Self {
        Self {
            start: self.end.clone(),
            end: self.start.clone(),
            passes: self.passes.iter().rev().cloned().collect(),
            ..self.clone()
        }
    }

    /// `candidate`, made for the reversed task, from this task's first port.
    pub(super) fn reverse_of(&self, candidate: &Candidate) -> Option<Candidate> {
        self.candidate(candidate.route.reversed()).ok()
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
        let taken = self.allowance.most_off(self.limits.max_cut);
        Limits {
            min_short_side: self.limits.min_short_side + taken,
            ..self.limits
        }
    }
}
