//! [`Layout`]: a route as numbers that an optimizer may choose, and what holds
//! them back.
//!
//! Variables, in units of [`Layout::unit`]: s and t, how far the first and last
//! corner lie out along their ports' axes; three coordinates for each corner
//! between; and, where the job gives a CLR range, one CLR a bend.

use super::limits::CUT_TOLERANCE;
use super::{Bend, Constraint, Limits, Route};
use crate::geometry::{Direction, Point, Vector, angle_between, perpendicular};
use crate::run::Port;
use crate::units::{Angle, Length};

/// Most corners that a layout may have.
pub(super) const MAX_CORNERS: usize = 5;
/// Most margins that a layout can have: straights, turns, pies, merged pieces
/// and both ends of the CLR range.
pub(super) const MAX_MARGINS: usize = 6 * MAX_CORNERS + 2;

/// Joints at each corner; entries past the last corner are unused.
pub type Joints = [u32; MAX_CORNERS];

/// Greatest turn at one corner. Beyond it the corner runs off to infinity while
/// two corners make the same bend.
const MAX_TURN: Angle = Angle::from_degrees(170.0);

/// A corner that turns less than this, rad, is no bend: 6 millionths of a degree.
const LEAST_TURN: f64 = CUT_TOLERANCE;

/// How bends are made, which decides what a turn costs in length and pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Making {
    /// True arcs, without regard to pieces: what every other way is longer than.
    /// A turn weighs as `per_radian` of length, so that a search for the least sum
    /// finds routes of few joints as well as short ones.
    Arcs {
        /// Length that one radian of turn is worth.
        per_radian: Length,
    },
    /// Pie bends with this many joints at each corner.
    Pies(Joints),
}

/// One family of routes: a number of corners and a way to make their bends.
#[derive(Clone, Debug)]
pub struct Layout<'a> {
    start: &'a Port,
    end: &'a Port,
    limits: &'a Limits,
    radius: Length,
    corners: usize,
    making: Making,
    unit: Length,
    frame: Frame,
}

/// The ports in a frame of their own, in units: the first at the origin and facing
/// +z, the last in the half plane x ≥ 0. The search works here, so that a job moved
/// or turned is searched in the same way.
#[derive(Clone, Copy, Debug)]
struct Frame {
    job_from_frame: nalgebra::Rotation3<f64>,
    end: Vector,
    end_outward: Vector,
}

impl Frame {
    fn new(start: &Port, end: &Port, unit: Length) -> Self {
        let z = start.outward;
        let chord = end.center - start.center;
        let square = |v: Vector| v - z.into_inner() * z.dot(&v);
        // Sideways is where the last port lies, or else where it faces.
        let x = Direction::try_new(square(chord / unit.mm()), LEAST_SIDE)
            .or_else(|| Direction::try_new(square(end.outward.into_inner()), LEAST_SIDE))
            .unwrap_or_else(|| perpendicular(&z));
        let y = z.cross(&x);
        let axes = nalgebra::Matrix3::from_columns(&[x.into_inner(), y, z.into_inner()]);
        let job_from_frame = nalgebra::Rotation3::from_matrix_unchecked(axes);
        Self {
            job_from_frame,
            end: job_from_frame.inverse() * chord / unit.mm(),
            end_outward: job_from_frame.inverse() * end.outward.into_inner(),
        }
    }
}

/// Sideways parts smaller than this, in units, give no direction.
const LEAST_SIDE: f64 = 1e-9;

/// What [`Layout::evaluate`] found.
#[derive(Clone, Copy, Debug)]
pub struct Evaluation {
    /// What the search makes least: the centerline's length in units, or where
    /// turns weigh, the weighted sum divided by 1 + the weight of a radian.
    pub objective: f64,
    /// How far each constraint is from binding, in units; negative is violated.
    pub margins: [f64; MAX_MARGINS],
    /// How many margins there are.
    pub count: usize,
}

impl Evaluation {
    /// The worst margin; positive infinity if there is none.
    pub fn worst(&self) -> f64 {
        let used = &self.margins[..self.count];
        used.iter().copied().fold(f64::INFINITY, f64::min)
    }
}

/// Legs and turns at one choice of variables.
pub(super) struct Shape {
    /// Direction of each leg; first and last are the ports' own axes.
    pub legs: [Vector; MAX_CORNERS + 1],
    pub lengths: [f64; MAX_CORNERS + 1],
    pub turns: [f64; MAX_CORNERS],
    pub radii: [f64; MAX_CORNERS],
    /// Corner to the end of the arc.
    pub take_outs: [f64; MAX_CORNERS],
    /// Tangent of each pie bend's cut angle; zero for arcs.
    pub cut_tans: [f64; MAX_CORNERS],
}

impl<'a> Layout<'a> {
    /// Routes with `corners` corners (2 to 5), made by `making`, for a tube of
    /// `radius`.
    pub fn new(
        start: &'a Port,
        end: &'a Port,
        limits: &'a Limits,
        radius: Length,
        corners: usize,
        making: Making,
    ) -> Self {
        let unit = Length::from_mm((end.center - start.center).norm()) + limits.clr_min;
        Self {
            start,
            end,
            limits,
            radius,
            corners: corners.clamp(2, MAX_CORNERS),
            making,
            unit,
            frame: Frame::new(start, end, unit),
        }
    }

    /// Number of corners.
    pub const fn corners(&self) -> usize {
        self.corners
    }

    /// The length that variables are counted in: what makes them near 1.
    pub const fn unit(&self) -> Length {
        self.unit
    }

    /// Number of variables.
    pub fn variables(&self) -> usize {
        self.corner_variables() + if self.clr_is_free() { self.corners } else { 0 }
    }

    /// How a solved set of variables continues in a layout that makes its bends
    /// another way.
    pub fn with_making(&self, making: Making) -> Self {
        Self {
            making,
            ..self.clone()
        }
    }

    /// The variables for given corners, with every CLR at its least.
    pub fn variables_at(&self, s: Length, t: Length, between: &[Point]) -> Vec<f64> {
        let unit = self.unit();
        let mut x = vec![s / unit, t / unit];
        for point in between {
            let offset = self.frame.job_from_frame.inverse() * (point - self.start.center);
            x.extend(offset.iter().map(|c| c / unit.mm()));
        }
        if self.clr_is_free() {
            x.extend(std::iter::repeat_n(
                self.limits.clr_min / unit,
                self.corners,
            ));
        }
        x
    }

    /// Length and margins at `x`.
    pub fn evaluate(&self, x: &[f64]) -> Evaluation {
        let shape = self.shape(x);
        let mut evaluation = Evaluation {
            objective: 0.0,
            margins: [0.0; MAX_MARGINS],
            count: 0,
        };
        self.visit(&shape, |_, margin| {
            evaluation.margins[evaluation.count] = margin;
            evaluation.count += 1;
        });
        evaluation.objective = self.objective(&shape);
        evaluation
    }

    /// Length of the centerline at `x`, without the weight of turns.
    pub fn length(&self, x: &[f64]) -> Length {
        let plain = match self.making {
            Making::Arcs { .. } => self.with_making(Making::Arcs {
                per_radian: Length::ZERO,
            }),
            Making::Pies(_) => self.clone(),
        };
        self.unit() * plain.objective(&plain.shape(x))
    }

    /// The constraints at `x` with their margins as lengths, in the order of
    /// [`Layout::evaluate`].
    pub fn constraints(&self, x: &[f64]) -> Vec<(Constraint, Length)> {
        let shape = self.shape(x);
        let unit = self.unit();
        let mut constraints = Vec::new();
        self.visit(&shape, |constraint, margin| {
            constraints.push((constraint, unit * margin));
        });
        constraints
    }

    /// The joints that the turns at `x` call for: by the limits at the CLR there or at
    /// the greatest, or else as many as the usual cut takes.
    pub(super) fn joints(&self, x: &[f64]) -> Joints {
        let shape = self.shape(x);
        let mut joints = [1; MAX_CORNERS];
        if self.limits.least_pie_cut(self.limits.clr_max, self.radius) > self.limits.max_cut {
            // No pie keeps its short side: only single joints are left.
            return joints;
        }
        for (i, joints) in joints[..self.corners].iter_mut().enumerate() {
            let turn = Angle::from_radians(shape.turns[i]).min(MAX_TURN);
            let at = |clr| self.limits.joints_for(turn, clr, self.radius);
            let usual = (turn / (self.limits.usual_cut * 2.0)).ceil().max(1.0) as u32;
            let fits = at(self.unit * shape.radii[i]).or_else(|| at(self.limits.clr_max));
            *joints = fits.unwrap_or(usual);
        }
        joints
    }

    /// The route at `x`; `None` where a corner does not turn, or where bends are arcs,
    /// which nobody can cut.
    pub fn route(&self, x: &[f64]) -> Option<Route> {
        let Making::Pies(joints) = self.making else {
            return None;
        };
        let shape = self.shape(x);
        let unit = self.unit();
        let corners = self.corner_points(x);
        let legs = self.leg_directions(&corners)?;
        let bends = (0..self.corners)
            .map(|i| {
                let turn = angle_between(&legs[i], &legs[i + 1]);
                let clr = unit * shape.radii[i];
                (turn.radians() >= LEAST_TURN).then_some(())?;
                Some(Bend {
                    corner: corners[i],
                    incoming: legs[i],
                    outgoing: legs[i + 1],
                    turn,
                    clr,
                    joints: joints[i],
                })
            })
            .collect::<Option<Vec<_>>>()?;
        Some(Route {
            start: self.start.center,
            end: self.end.center,
            bends,
        })
    }

    /// The corners in the job's frame; the first and last exactly on their ports'
    /// axes.
    fn corner_points(&self, x: &[f64]) -> Vec<Point> {
        let unit = self.unit().mm();
        let first = self.start.center + self.start.outward.into_inner() * (x[0] * unit);
        let last = self.end.center + self.end.outward.into_inner() * (x[1] * unit);
        let between = x[2..self.corner_variables()].chunks_exact(3).map(|c| {
            let offset = Vector::new(c[0], c[1], c[2]) * unit;
            self.start.center + self.frame.job_from_frame * offset
        });
        std::iter::once(first)
            .chain(between)
            .chain([last])
            .collect()
    }

    /// Direction of each leg, the first and last along their ports' axes.
    fn leg_directions(&self, corners: &[Point]) -> Option<Vec<Direction>> {
        let mut legs = vec![self.start.outward];
        for pair in corners.windows(2) {
            legs.push(Direction::try_new(pair[1] - pair[0], f64::MIN_POSITIVE)?);
        }
        legs.push(-self.end.outward);
        Some(legs)
    }

    fn corner_variables(&self) -> usize {
        2 + 3 * (self.corners - 2)
    }

    pub(super) fn clr_is_free(&self) -> bool {
        self.limits.clr_max > self.limits.clr_min
    }

    pub(super) fn shape(&self, x: &[f64]) -> Shape {
        let unit = self.unit().mm();
        let (k, d0, d1) = (self.corners, Vector::z(), self.frame.end_outward);
        let mut corners = [Point::origin(); MAX_CORNERS];
        corners[0] = Point::from(d0 * x[0]);
        corners[k - 1] = Point::from(self.frame.end + d1 * x[1]);
        for (i, corner) in corners[1..k - 1].iter_mut().enumerate() {
            *corner = Point::new(x[2 + 3 * i], x[3 + 3 * i], x[4 + 3 * i]);
        }
        let mut legs = [Vector::zeros(); MAX_CORNERS + 1];
        let mut lengths = [0.0; MAX_CORNERS + 1];
        (legs[0], lengths[0]) = (d0, x[0]);
        (legs[k], lengths[k]) = (-d1, x[1]);
        for i in 1..k {
            let leg = corners[i] - corners[i - 1];
            lengths[i] = leg.norm();
            legs[i] = leg / lengths[i].max(f64::MIN_POSITIVE);
        }
        let mut shape = Shape {
            legs,
            lengths,
            turns: [0.0; MAX_CORNERS],
            radii: [self.limits.clr_min.mm() / unit; MAX_CORNERS],
            take_outs: [0.0; MAX_CORNERS],
            cut_tans: [0.0; MAX_CORNERS],
        };
        for i in 0..k {
            let (a, b) = (&legs[i], &legs[i + 1]);
            let (sin, cos) = (a.cross(b).norm(), a.dot(b));
            shape.turns[i] = sin.atan2(cos);
            if self.clr_is_free() {
                shape.radii[i] = x[self.corner_variables() + i];
            }
            shape.take_outs[i] = shape.radii[i] * half_tan(sin, cos, shape.turns[i]);
            if let Making::Pies(joints) = self.making {
                shape.cut_tans[i] = (shape.turns[i] / (2.0 * f64::from(joints[i]))).tan();
            }
        }
        shape
    }

    /// Length of straights and arcs or pies, plus the weight of turns; scaled so
    /// that its slope is near 1 whatever the weight.
    fn objective(&self, shape: &Shape) -> f64 {
        let legs: f64 = shape.lengths[..=self.corners].iter().sum();
        let weight = self.turn_weight();
        let bends: f64 = (0..self.corners)
            .map(|i| {
                let (radius, turn) = (shape.radii[i], shape.turns[i]);
                let bend = match self.making {
                    Making::Arcs { .. } => (radius + weight) * turn,
                    Making::Pies(joints) => radius * 2.0 * f64::from(joints[i]) * shape.cut_tans[i],
                };
                bend - 2.0 * shape.take_outs[i]
            })
            .sum();
        (legs + bends) / (1.0 + weight)
    }

    /// How bends are made.
    pub(super) const fn making(&self) -> Making {
        self.making
    }

    /// What one radian of turn weighs, in units.
    pub(super) fn turn_weight(&self) -> f64 {
        match self.making {
            Making::Arcs { per_radian } => per_radian / self.unit,
            Making::Pies(_) => 0.0,
        }
    }

    /// Units that a radian of turn counts as among the margins: arc length at the
    /// least CLR, so that turns and lengths compare.
    pub(super) fn turn_margin_scale(&self) -> f64 {
        self.limits.clr_min / self.unit
    }

    /// Outside radius of the tube in units.
    pub(super) fn tube_radius(&self) -> f64 {
        self.radius / self.unit
    }

    /// Greatest turn of bend `bend` at a CLR of `radius` units.
    pub(super) fn greatest_turn(&self, bend: usize, radius: f64) -> Angle {
        match self.making {
            Making::Arcs { .. } => MAX_TURN,
            Making::Pies(joints) => {
                let clr = self.unit * radius;
                let greatest = self.limits.greatest_turn(joints[bend], clr, self.radius);
                greatest.min(MAX_TURN)
            }
        }
    }

    /// The bends before and after leg `leg`.
    pub(super) fn bends_beside(&self, leg: usize) -> [Option<usize>; 2] {
        [leg.checked_sub(1), (leg < self.corners).then_some(leg)]
    }

    /// Calls `see` with every constraint and its margin in units.
    fn visit(&self, shape: &Shape, mut see: impl FnMut(Constraint, f64)) {
        let unit = self.unit();
        let straights = self.straights(shape);
        for (leg, straight) in straights[..=self.corners].iter().enumerate() {
            let (constraint, least) = if leg == 0 {
                (Constraint::StartStraight, self.start.straight)
            } else if leg == self.corners {
                (Constraint::EndStraight, self.end.straight)
            } else {
                (Constraint::Between(leg), self.limits.min_between)
            };
            see(constraint, straight - least / unit);
        }
        for bend in 0..self.corners {
            self.visit_bend(shape, bend, &mut see);
        }
        if let Making::Pies(_) = self.making {
            let least = self.limits.min_short_side / unit;
            for leg in 0..=self.corners {
                let short = self.merged_short_side(shape, &straights, leg);
                see(Constraint::ShortSide(leg), short - least);
            }
        }
    }

    fn visit_bend(&self, shape: &Shape, bend: usize, see: &mut impl FnMut(Constraint, f64)) {
        let unit = self.unit();
        let (turn, radius) = (shape.turns[bend], shape.radii[bend]);
        let spare = self.greatest_turn(bend, radius).radians() - turn;
        see(Constraint::Turn(bend), self.turn_margin_scale() * spare);
        if let Making::Pies(joints) = self.making
            && joints[bend] > 1
        {
            let short = 2.0 * (radius - self.tube_radius()) * shape.cut_tans[bend];
            see(
                Constraint::PieShortSide(bend),
                short - self.limits.min_short_side / unit,
            );
        }
        if self.clr_is_free() {
            see(
                Constraint::ClrMin(bend),
                radius - self.limits.clr_min / unit,
            );
            see(
                Constraint::ClrMax(bend),
                self.limits.clr_max / unit - radius,
            );
        }
    }

    fn straights(&self, shape: &Shape) -> [f64; MAX_CORNERS + 1] {
        let mut straights = shape.lengths;
        for bend in 0..self.corners {
            straights[bend] -= shape.take_outs[bend];
            straights[bend + 1] -= shape.take_outs[bend];
        }
        straights
    }

    /// Short side of the piece along leg `leg`: a straight and the half pies at
    /// its ends, cut at two angles and clocked.
    fn merged_short_side(&self, shape: &Shape, straights: &[f64], leg: usize) -> f64 {
        let mut length = straights[leg];
        let mut slant = Vector::zeros();
        for end in self.slants(shape, leg).iter().flatten() {
            length += shape.radii[end.bend] * end.tan;
            slant += end.slant();
        }
        length - self.tube_radius() * slant.norm()
    }

    /// How both ends of the piece along leg `leg` are cut; `None` at a port.
    pub(super) fn slants(&self, shape: &Shape, leg: usize) -> [Option<Slant>; 2] {
        let axis = shape.legs[leg];
        let [before, after] = self.bends_beside(leg);
        let slant = |bend: usize, other: Vector, upstream| {
            let square = other - axis * axis.dot(&other);
            let square_norm = square.norm();
            Slant {
                bend,
                upstream,
                other,
                side: square / square_norm.max(f64::MIN_POSITIVE),
                square_norm,
                tan: shape.cut_tans[bend],
            }
        };
        [
            before.map(|bend| slant(bend, shape.legs[bend], true)),
            after.map(|bend| slant(bend, -shape.legs[bend + 1], false)),
        ]
    }
}

/// One mitered end of a piece.
pub(super) struct Slant {
    /// The bend whose joint it is.
    pub bend: usize,
    /// Whether it is the piece's start.
    pub upstream: bool,
    /// Where flow comes from, or away from where it goes: the long side's direction,
    /// not yet square to the piece.
    pub other: Vector,
    /// Where the long side points: the unit of `other`'s part square to the piece.
    pub side: Vector,
    /// Length of that part.
    pub square_norm: f64,
    /// Tangent of the cut angle.
    pub tan: f64,
}

impl Slant {
    /// How far the end reaches past its center at the long side, a radius being 1.
    pub fn slant(&self) -> Vector {
        self.side * self.tan
    }
}

/// tan(θ/2) of a turn θ with this sine and cosine, continued as a straight line
/// beyond the greatest turn so that an optimizer finds its way back from corners at
/// infinity.
fn half_tan(sin: f64, cos: f64, turn: f64) -> f64 {
    if turn <= MAX_TURN.radians() {
        return sin / (1.0 + cos);
    }
    let (most_sin, most_cos) = (MAX_TURN / 2.0).sin_cos();
    (most_sin + (turn / 2.0 - MAX_TURN.radians() / 2.0) / most_cos) / most_cos
}

/// Slope of [`half_tan`], whose value is `half_tan`, over the turn.
pub(super) fn half_tan_slope(half_tan: f64, turn: f64) -> f64 {
    if turn <= MAX_TURN.radians() {
        return 0.5 * (1.0 + half_tan * half_tan);
    }
    let most_cos = (MAX_TURN / 2.0).cos();
    0.5 / (most_cos * most_cos)
}
