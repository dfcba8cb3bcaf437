//! [`Term`]: one thing that holds a layout back, its margin and the margin's slopes.
//!
//! A layout lists its terms once; values and slopes are both driven by that list, each
//! kind in one place.

use super::Constraint;
use super::choice::MAX_BENDS;
use super::layout::Layout;
use super::pass::LEAST_COS;
use super::shape::{
    ARC_PARTS, Shape, Slopes, arc_half_step, bend_of_edge, is_arc, vertex_count, widest,
};
use crate::geometry::{Point, Segment, Vector};
use crate::scene::Obstacle;
use crate::units::Angle;

/// Bends, straights and ends count from 0 in order of flow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Term {
    /// At least this much straight tube on a leg.
    Straight { leg: usize, least: f64 },
    /// A turn that the bend's joints can take at its CLR.
    Turn { bend: usize },
    /// At most this turn, rad.
    TurnAtMost { bend: usize, most: f64 },
    /// Exactly this turn, rad.
    TurnIs { bend: usize, turn: f64 },
    /// A turn of this many shared cuts, exactly.
    TurnShared { bend: usize, cuts: f64 },
    /// The least short side on a bend's pies.
    PieShort { bend: usize, least: f64 },
    /// The least short side on the piece that a straight is part of.
    ShortSide { leg: usize, least: f64 },
    /// The least CLR.
    ClrLeast { bend: usize, least: f64 },
    /// The greatest CLR.
    ClrMost { bend: usize, most: f64 },
    /// A port no farther back, or ahead, along a slide.
    Slide {
        end: usize,
        slide: usize,
        ahead: bool,
    },
    /// A port's direction within its cone.
    Cone { end: usize },
    /// One bend or none: both ports' axes meet, along one axis of the frame.
    Closed { axis: usize },
    /// No bend: the ports face each other.
    Facing { axis: usize },
    /// A leg's straight part clear of an obstacle.
    LegClear { leg: usize, obstacle: usize },
    /// A bend clear of an obstacle.
    BendClear { bend: usize, obstacle: usize },
    /// The run clear of itself.
    SelfClear,
    /// A leg through a pass, by its room.
    PassRoom { leg: usize, pass: usize },
    /// A pass on its leg's straight, after the bend before.
    PassAfter { leg: usize, pass: usize },
    /// A pass on its leg's straight, before the bend after.
    PassBefore { leg: usize, pass: usize },
}

/// Margin of a term that has nothing to say, in units.
const NO_MATTER: f64 = 1.0;
/// Margins above this, in units, need not be exact: no search comes near them.
const PLENTY: f64 = 0.02;
/// Distance off a pass's middle, in units, below which the slope is smoothed.
const SMOOTH: f64 = 1e-6;
/// Step of the difference by which the greatest turn's slope over the CLR is taken,
/// as a part of the CLR. It is piecewise smooth; ∛ε is best for a central difference.
const CLR_STEP: f64 = 6e-6;

impl Term {
    /// Whether the margin must be zero rather than not negative.
    pub const fn is_equality(&self) -> bool {
        matches!(
            self,
            Self::TurnIs { .. }
                | Self::TurnShared { .. }
                | Self::Closed { .. }
                | Self::Facing { .. }
        )
    }

    /// What the user would call it.
    pub fn constraint(&self, bends: usize) -> Constraint {
        match *self {
            Self::Straight { leg: 0, .. } => Constraint::StartStraight,
            Self::Straight { leg, .. } if leg == bends => Constraint::EndStraight,
            Self::Straight { leg, .. } => Constraint::Between(leg),
            Self::Turn { bend } | Self::TurnAtMost { bend, .. } => Constraint::Turn(bend),
            Self::TurnIs { bend, .. } => Constraint::TurnIs(bend),
            Self::TurnShared { bend, .. } => Constraint::SharedCut(bend),
            Self::PieShort { bend, .. } => Constraint::PieShortSide(bend),
            Self::ShortSide { leg, .. } => Constraint::ShortSide(leg),
            Self::ClrLeast { bend, .. } => Constraint::ClrMin(bend),
            Self::ClrMost { bend, .. } => Constraint::ClrMax(bend),
            Self::Slide { end, .. } => Constraint::Slide(end),
            Self::Cone { end } => Constraint::Cone(end),
            Self::Closed { .. } | Self::Facing { .. } => Constraint::InLine,
            Self::LegClear { obstacle, .. } | Self::BendClear { obstacle, .. } => {
                Constraint::Obstacle(obstacle)
            }
            Self::SelfClear => Constraint::SelfClear,
            Self::PassRoom { pass, .. }
            | Self::PassAfter { pass, .. }
            | Self::PassBefore { pass, .. } => Constraint::Pass(pass),
        }
    }

    /// The margin in units: positive where there is room, negative where it is violated.
    pub fn margin(
        &self,
        layout: &Layout<'_>,
        shape: &Shape,
        straights: &[f64; MAX_BENDS + 1],
    ) -> f64 {
        match *self {
            Self::Straight { leg, least } => straights[leg] - least,
            Self::Turn { bend } => {
                layout.turn_scale()
                    * (greatest_turn(layout, bend, shape.radii[bend]) - shape.turns[bend])
            }
            Self::TurnAtMost { bend, most } => layout.turn_scale() * (most - shape.turns[bend]),
            Self::TurnIs { bend, turn } => layout.turn_scale() * (turn - shape.turns[bend]),
            Self::TurnShared { bend, cuts } => {
                layout.turn_scale() * (cuts * shape.cut - shape.turns[bend])
            }
            Self::PieShort { bend, least } => {
                2.0 * (shape.radii[bend] - layout.tube_radius()) * shape.cut_tans[bend] - least
            }
            Self::ShortSide { leg, least } => {
                merged_short(layout, shape, straights[leg], leg) - least
            }
            Self::ClrLeast { bend, least } => shape.radii[bend] - least,
            Self::ClrMost { bend, most } => most - shape.radii[bend],
            Self::Slide { end, slide, ahead } => {
                let track = layout.field().ends[end].slides[slide];
                let part = slid(layout, shape, end, slide);
                if ahead {
                    track.ahead - part
                } else {
                    track.back + part
                }
            }
            Self::Cone { end } => {
                let port = &layout.field().ends[end];
                let lean = leaning(layout, shape, end);
                // In squares, which are smooth at the cone's axis.
                (port.lean * port.lean - lean.norm_squared()) / (2.0 * port.lean)
            }
            Self::Closed { axis } => gap(layout, shape)[axis],
            Self::Facing { axis } => (shape.outward[0] + shape.outward[1])[axis],
            Self::LegClear { leg, obstacle } => {
                nearest_edge(layout, shape, leg_edges(layout, leg), obstacle)
                    .map_or(NO_MATTER, |near| near.margin)
            }
            Self::BendClear { bend, obstacle } => {
                nearest_edge(layout, shape, bend_edges(layout, bend), obstacle)
                    .map_or(NO_MATTER, |near| near.margin)
            }
            Self::SelfClear => nearest_pair(layout, shape).map_or(NO_MATTER, |pair| pair.margin),
            Self::PassRoom { leg, pass } => Crossing::new(layout, shape, leg, pass).room,
            Self::PassAfter { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).along
                    - leg.checked_sub(1).map_or(0.0, |bend| shape.take_outs[bend])
            }
            Self::PassBefore { leg, pass } => {
                let taken = if leg < layout.bends() {
                    shape.take_outs[leg]
                } else {
                    0.0
                };
                shape.lengths[leg] - taken - Crossing::new(layout, shape, leg, pass).along
            }
        }
    }

    /// Adds `weight` times the margin's slopes.
    pub fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        match *self {
            Self::Straight { leg, .. } => straight_slope(layout, leg, weight, slopes),
            Self::Turn { bend } => {
                let weight = weight * layout.turn_scale();
                slopes.turns[bend] -= weight;
                if layout.places().radii[bend].is_some() {
                    slopes.radii[bend] +=
                        weight * greatest_turn_slope(layout, bend, shape.radii[bend]);
                }
            }
            Self::TurnAtMost { bend, .. } | Self::TurnIs { bend, .. } => {
                slopes.turns[bend] -= weight * layout.turn_scale();
            }
            Self::TurnShared { bend, cuts } => {
                slopes.turns[bend] -= weight * layout.turn_scale();
                slopes.cut += weight * layout.turn_scale() * cuts;
            }
            Self::PieShort { bend, .. } => {
                slopes.radii[bend] += 2.0 * weight * shape.cut_tans[bend];
                slopes.cut_tans[bend] += 2.0 * weight * (shape.radii[bend] - layout.tube_radius());
            }
            Self::ShortSide { leg, .. } => {
                straight_slope(layout, leg, weight, slopes);
                merged_slope(layout, shape, leg, weight, slopes);
            }
            Self::ClrLeast { bend, .. } => slopes.radii[bend] += weight,
            Self::ClrMost { bend, .. } => slopes.radii[bend] -= weight,
            Self::Slide { end, slide, ahead } => {
                let direct = if ahead { -weight } else { weight };
                slopes.centers[end] += slid_slope(layout, end, slide) * direct;
            }
            Self::Cone { end } => cone_slope(layout, shape, end, weight, slopes),
            Self::Closed { axis } => gap_slope(layout, shape, axis, weight, slopes),
            Self::Facing { axis } => {
                slopes.outward[0][axis] += weight;
                slopes.outward[1][axis] += weight;
            }
            Self::LegClear { leg, obstacle } => {
                if let Some(near) = nearest_edge(layout, shape, leg_edges(layout, leg), obstacle) {
                    near.add_slopes(layout, shape, weight, slopes);
                }
            }
            Self::BendClear { bend, obstacle } => {
                if let Some(near) = nearest_edge(layout, shape, bend_edges(layout, bend), obstacle)
                {
                    near.add_slopes(layout, shape, weight, slopes);
                }
            }
            Self::SelfClear => {
                if let Some(pair) = nearest_pair(layout, shape) {
                    pair.add_slopes(layout, shape, weight, slopes);
                }
            }
            Self::PassRoom { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).room_slope(layout, shape, weight, slopes);
            }
            Self::PassAfter { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).along_slope(layout, shape, weight, slopes);
                if let Some(bend) = leg.checked_sub(1) {
                    slopes.take_outs[bend] -= weight;
                }
            }
            Self::PassBefore { leg, pass } => {
                Crossing::new(layout, shape, leg, pass).along_slope(layout, shape, -weight, slopes);
                slopes.lengths[leg] += weight;
                if leg < layout.bends() {
                    slopes.take_outs[leg] -= weight;
                }
            }
        }
    }
}

/// The bends before and after a leg.
fn bends_beside(layout: &Layout<'_>, leg: usize) -> [Option<usize>; 2] {
    [leg.checked_sub(1), (leg < layout.bends()).then_some(leg)]
}

fn straight_slope(layout: &Layout<'_>, leg: usize, weight: f64, slopes: &mut Slopes) {
    slopes.lengths[leg] += weight;
    for bend in bends_beside(layout, leg).into_iter().flatten() {
        slopes.take_outs[bend] -= weight;
    }
}

/// Greatest turn, rad, of a bend at a CLR of `radius` units.
fn greatest_turn(layout: &Layout<'_>, bend: usize, radius: f64) -> f64 {
    layout
        .field()
        .greatest_turn(layout.choice().bends[bend].joints(), radius)
}

/// Slope of the greatest turn over the CLR, rad a unit.
fn greatest_turn_slope(layout: &Layout<'_>, bend: usize, radius: f64) -> f64 {
    let step = radius * CLR_STEP;
    (greatest_turn(layout, bend, radius + step) - greatest_turn(layout, bend, radius - step))
        / (2.0 * step)
}

/// One mitered end of a piece.
struct Slant {
    /// The bend whose joint it is.
    bend: usize,
    /// Whether it is the piece's start.
    upstream: bool,
    /// Where flow comes from, or away from where it goes: the long side's direction,
    /// not yet square to the piece.
    other: Vector,
    /// Where the long side points: the unit of `other`'s part square to the piece.
    side: Vector,
    /// Length of that part.
    square_norm: f64,
    /// Tangent of the cut angle.
    tan: f64,
}

/// How both ends of the piece along leg `leg` are cut; `None` where they are square.
fn slants(layout: &Layout<'_>, shape: &Shape, leg: usize) -> [Option<Slant>; 2] {
    let axis = shape.legs[leg];
    let pies = |bend: &usize| layout.choice().bends[*bend].is_pies();
    let [before, after] = bends_beside(layout, leg).map(|bend| bend.filter(pies));
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

/// Short side of the piece along leg `leg`: a straight and the half pies at its ends,
/// cut at two angles and clocked.
fn merged_short(layout: &Layout<'_>, shape: &Shape, straight: f64, leg: usize) -> f64 {
    let mut length = straight;
    let mut slant = Vector::zeros();
    for end in slants(layout, shape, leg).iter().flatten() {
        length += shape.radii[end.bend] * end.tan;
        slant += end.side * end.tan;
    }
    length - layout.tube_radius() * slant.norm()
}

/// Slopes of the half pies at both ends of a merged piece, and of its slant.
fn merged_slope(layout: &Layout<'_>, shape: &Shape, leg: usize, weight: f64, slopes: &mut Slopes) {
    let ends = slants(layout, shape, leg);
    let slant: Vector = ends.iter().flatten().map(|end| end.side * end.tan).sum();
    let steepest = slant / slant.norm().max(f64::MIN_POSITIVE);
    let axis = shape.legs[leg];
    let pull = -weight * layout.tube_radius();
    for end in ends.into_iter().flatten() {
        let bend = end.bend;
        slopes.radii[bend] += weight * shape.cut_tans[bend];
        slopes.cut_tans[bend] += weight * shape.radii[bend] + pull * steepest.dot(&end.side);
        // The side is the unit of q = other − axis·(axis·other).
        let along = steepest * (pull * end.tan);
        let on_q =
            (along - end.side * end.side.dot(&along)) / end.square_norm.max(f64::MIN_POSITIVE);
        let on_other = on_q - axis * axis.dot(&on_q);
        slopes.legs[leg] -= on_q * axis.dot(&end.other) + end.other * axis.dot(&on_q);
        if end.upstream {
            slopes.legs[bend] += on_other;
        } else {
            slopes.legs[bend + 1] -= on_other;
        }
    }
}

/// How far a port has slid along one of its slides.
fn slid(layout: &Layout<'_>, shape: &Shape, end: usize, slide: usize) -> f64 {
    let offset = shape.centers[end] - layout.field().ends[end].center;
    slid_slope(layout, end, slide).dot(&offset)
}

/// The direction whose product with a port's offset is its part along one slide: the
/// dual of the slides.
fn slid_slope(layout: &Layout<'_>, end: usize, slide: usize) -> Vector {
    let slides = &layout.field().ends[end].slides;
    let along = |i: usize| slides[i % slides.len()].along;
    let this = along(slide);
    let dual = match slides.len() {
        1 => this,
        2 => {
            let other = along(slide + 1);
            this - other * other.dot(&this)
        }
        _ => along(slide + 1).cross(&along(slide + 2)),
    };
    dual / dual.dot(&this)
}

/// How far, as tangents along the end's two directions across, a port's direction leans.
fn leaning(layout: &Layout<'_>, shape: &Shape, end: usize) -> nalgebra::Vector2<f64> {
    let port = &layout.field().ends[end];
    let outward = shape.outward[end];
    let along = outward.dot(&port.outward);
    nalgebra::Vector2::new(outward.dot(&port.across[0]), outward.dot(&port.across[1])) / along
}

fn cone_slope(layout: &Layout<'_>, shape: &Shape, end: usize, weight: f64, slopes: &mut Slopes) {
    let port = &layout.field().ends[end];
    let along = shape.outward[end].dot(&port.outward);
    let lean = leaning(layout, shape, end);
    let pull = lean * (-weight / port.lean);
    for (across, pull) in port.across.iter().zip(pull.iter()) {
        slopes.outward[end] += across * (pull / along);
    }
    slopes.outward[end] -= port.outward * (pull.dot(&lean) / along);
}

/// From where the last port would have the run end to where it ends.
fn gap(layout: &Layout<'_>, shape: &Shape) -> Vector {
    let reached = shape.centers[0] + shape.outward[0] * shape.lengths[0];
    if layout.bends() == 0 {
        return reached - shape.centers[1];
    }
    reached - shape.centers[1] - shape.outward[1] * shape.lengths[1]
}

fn gap_slope(layout: &Layout<'_>, shape: &Shape, axis: usize, weight: f64, slopes: &mut Slopes) {
    slopes.centers[0][axis] += weight;
    slopes.centers[1][axis] -= weight;
    slopes.outward[0][axis] += weight * shape.lengths[0];
    slopes.lengths[0] += weight * shape.outward[0][axis];
    if layout.bends() > 0 {
        slopes.outward[1][axis] -= weight * shape.lengths[1];
        slopes.lengths[1] -= weight * shape.outward[1][axis];
    }
}

/// Edges of what is built, by the number of the vertex they begin at.
type Edges = std::ops::Range<usize>;

/// First vertex of each bend, and of the last port.
fn first_vertex(layout: &Layout<'_>, bend: usize) -> usize {
    1 + layout.choice().bends[..bend]
        .iter()
        .map(|making| vertex_count(*making))
        .sum::<usize>()
}

/// The edge along a leg: from the last vertex before it to the first after.
fn leg_edges(layout: &Layout<'_>, leg: usize) -> Edges {
    let to = first_vertex(layout, leg);
    to - 1..to
}

/// The edges within a bend.
fn bend_edges(layout: &Layout<'_>, bend: usize) -> Edges {
    first_vertex(layout, bend)..first_vertex(layout, bend + 1) - 1
}

/// Where an edge comes nearest to an obstacle.
struct NearEdge {
    edge: usize,
    /// In units.
    margin: f64,
    /// Part of the way along the edge.
    part: f64,
    /// Gradient of the margin over the place, in the job's frame.
    away: Vector,
    /// Whether the place is where a port's exempt stretch ends.
    held: Option<Held>,
}

/// The port whose exempt stretch ends at a place.
#[derive(Clone, Copy)]
enum Held {
    FromStart,
    FromEnd,
}

fn nearest_edge(
    layout: &Layout<'_>,
    shape: &Shape,
    edges: Edges,
    obstacle: usize,
) -> Option<NearEdge> {
    let field = layout.field();
    let rule = &field.task.obstacles[obstacle];
    if let Some(far) = plainly_far(layout, shape, &edges, rule) {
        return Some(far);
    }
    let exempt = field.task.exempt(rule).mm();
    let mut nearest: Option<NearEdge> = None;
    for edge in edges {
        let (a, b) = (shape.vertices[edge].at, shape.vertices[edge + 1].at);
        let length = (b - a).norm();
        // Parts of the edge within the stretch that a port exempts.
        let from = if edge == 0 { exempt / length } else { 0.0 };
        let to = if edge + 2 == shape.vertices.len() {
            1.0 - exempt / length
        } else {
            1.0
        };
        if from >= to {
            continue;
        }
        let (start, end) = (a + (b - a) * from, a + (b - a) * to);
        let radius = shape.edge_radii[edge] * field.unit;
        let near = rule.margin_at_least(&start, &end, radius, PLENTY * field.unit);
        let margin = near.distance / field.unit;
        if nearest
            .as_ref()
            .is_none_or(|nearest| margin < nearest.margin)
        {
            nearest = Some(NearEdge {
                edge,
                margin,
                part: from + (to - from) * near.part,
                away: near.away,
                held: match near.part {
                    0.0 if from > 0.0 => Some(Held::FromStart),
                    1.0 if to < 1.0 => Some(Held::FromEnd),
                    _ => None,
                },
            });
        }
    }
    nearest
}

/// A lower bound of the margin of a bend that is plainly far from an obstacle: one look
/// instead of one an edge.
fn plainly_far(
    layout: &Layout<'_>,
    shape: &Shape,
    edges: &Edges,
    rule: &Obstacle,
) -> Option<NearEdge> {
    let bend = bend_of_edge(shape, edges.start).filter(|_| edges.len() > 1)?;
    let ball = shape.balls[bend].as_ref()?;
    let unit = layout.field().unit;
    let near = rule.margin(&ball.center, &ball.center, ball.tube * unit);
    let margin = (near.distance - ball.reach) / unit;
    (margin > PLENTY).then_some(NearEdge {
        edge: edges.start,
        margin,
        part: 0.0,
        away: near.away,
        held: None,
    })
}

impl NearEdge {
    fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        let pull = self.away * weight;
        let [mut at_start, mut at_end] = [pull * (1.0 - self.part), pull * self.part];
        // The end of an exempt stretch keeps its distance from the port as the edge grows.
        let edge = shape.vertices[self.edge + 1].at - shape.vertices[self.edge].at;
        let stretch = edge * (edge.dot(&pull) / edge.norm_squared());
        match self.held {
            Some(Held::FromStart) => {
                at_start += stretch * self.part;
                at_end -= stretch * self.part;
            }
            Some(Held::FromEnd) => {
                at_start -= stretch * (1.0 - self.part);
                at_end += stretch * (1.0 - self.part);
            }
            None => {}
        }
        slopes.vertices[self.edge] += at_start;
        slopes.vertices[self.edge + 1] += at_end;
        radius_slope(layout, shape, self.edge, -weight, slopes);
    }
}

fn radius_slope(layout: &Layout<'_>, shape: &Shape, edge: usize, weight: f64, slopes: &mut Slopes) {
    match bend_of_edge(shape, edge) {
        Some(bend) if is_arc(layout, bend) => {
            let half = arc_half_step(shape, bend);
            slopes.radii[bend] += weight * (1.0 / half.cos() - 1.0);
            let by_half = shape.radii[bend] * half.tan() / half.cos();
            slopes.turns[bend] += weight * by_half / (2.0 * f64::from(ARC_PARTS));
        }
        _ => {
            if let Some(bend) = widest(shape, edge) {
                let tan = shape.cut_tans[bend];
                slopes.cut_tans[bend] += weight * layout.tube_radius() * tan / tan.hypot(1.0);
            }
        }
    }
}

/// Two edges across from each other.
struct NearPair {
    edges: [usize; 2],
    /// In units.
    margin: f64,
    parts: [f64; 2],
    /// From the first edge's place to the second's, unit length.
    across: Vector,
}

/// The tightest pair of edges with half a turn between them; nearer ones are neighbors
/// along the run.
fn nearest_pair(layout: &Layout<'_>, shape: &Shape) -> Option<NearPair> {
    let unit = layout.field().unit;
    let edges: Vec<Segment> = shape
        .vertices
        .windows(2)
        .map(|pair| Segment {
            start: pair[0].at,
            end: pair[1].at,
        })
        .collect();
    let mut turned = vec![0.0; edges.len()];
    for i in 1..edges.len() {
        let turn = crate::geometry::angle_between(&edges[i - 1].vector(), &edges[i].vector());
        turned[i] = turned[i - 1] + turn.radians();
    }
    let half = Angle::HALF.radians() - 1e-9;
    let mut nearest: Option<NearPair> = None;
    for i in 0..edges.len() {
        for j in i + 1..edges.len() {
            if turned[j] - turned[i] < half {
                continue;
            }
            let closest = edges[i].closest_points(&edges[j]);
            let radii = shape.edge_radii[i] + shape.edge_radii[j];
            let margin = closest.distance().mm() / unit - radii;
            if nearest
                .as_ref()
                .is_none_or(|nearest| margin < nearest.margin)
            {
                let across = closest.second - closest.first;
                nearest = Some(NearPair {
                    edges: [i, j],
                    margin,
                    parts: [
                        part_along(&edges[i], closest.first),
                        part_along(&edges[j], closest.second),
                    ],
                    across: across / across.norm().max(f64::MIN_POSITIVE),
                });
            }
        }
    }
    nearest
}

fn part_along(edge: &Segment, point: Point) -> f64 {
    let vector = edge.vector();
    (point - edge.start).dot(&vector) / vector.norm_squared().max(f64::MIN_POSITIVE)
}

impl NearPair {
    fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        for ((edge, part), sign) in self.edges.into_iter().zip(self.parts).zip([-1.0, 1.0]) {
            let pull = self.across * (sign * weight);
            slopes.vertices[edge] += pull * (1.0 - part);
            slopes.vertices[edge + 1] += pull * part;
            radius_slope(layout, shape, edge, -weight, slopes);
        }
    }
}

/// Where a leg crosses a pass.
struct Crossing {
    leg: usize,
    pass: usize,
    /// From the leg's beginning.
    along: f64,
    /// From the pass's middle to the crossing.
    off: Vector,
    /// Room round the tube.
    room: f64,
    /// Cosine of the angle off square, held away from zero; 1 at a bracket.
    cos: f64,
}

impl Crossing {
    fn new(layout: &Layout<'_>, shape: &Shape, leg: usize, pass: usize) -> Self {
        let opening = layout.field().passes[pass];
        let (from, axis) = (leg_start(shape, leg), shape.legs[leg]);
        let to = opening.center - from;
        let (along, cos, needs) = match opening.direction {
            None => (to.dot(&axis), 1.0, 0.0),
            Some(direction) => {
                let cos = axis.dot(&direction);
                let cos = if cos.abs() < LEAST_COS {
                    LEAST_COS.copysign(cos)
                } else {
                    cos
                };
                (
                    to.dot(&direction) / cos,
                    cos,
                    layout.tube_radius() / cos.abs(),
                )
            }
        };
        let off = from + axis * along - opening.center;
        // A hair more than the true distance, never less.
        let distance = off.norm().hypot(SMOOTH);
        Self {
            leg,
            pass,
            along,
            off,
            room: opening.radius - distance - needs,
            cos,
        }
    }

    /// off = P + e·a − C, with a = (C − P)·n/(e·n) at a hole and (C − P)·e at a bracket.
    fn room_slope(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        let axis = shape.legs[self.leg];
        let pull = self.off * (-weight / self.off.norm().hypot(SMOOTH));
        add_leg_start(self.leg, pull, slopes);
        slopes.legs[self.leg] += pull * self.along;
        self.along_slope(layout, shape, pull.dot(&axis), slopes);
        if let Some(direction) = layout.field().passes[self.pass].direction
            && axis.dot(&direction).abs() >= LEAST_COS
        {
            // Needs r/|cos|.
            let by_cos = layout.tube_radius() / (self.cos * self.cos) * self.cos.signum();
            slopes.legs[self.leg] += direction * (weight * by_cos);
        }
    }

    fn along_slope(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        let opening = layout.field().passes[self.pass];
        let axis = shape.legs[self.leg];
        match opening.direction {
            None => {
                add_leg_start(self.leg, axis * -weight, slopes);
                let to = opening.center - leg_start(shape, self.leg);
                slopes.legs[self.leg] += to * weight;
            }
            Some(direction) => {
                add_leg_start(self.leg, direction * (-weight / self.cos), slopes);
                if axis.dot(&direction).abs() >= LEAST_COS {
                    slopes.legs[self.leg] -= direction * (weight * self.along / self.cos);
                }
            }
        }
    }
}

fn leg_start(shape: &Shape, leg: usize) -> Vector {
    match leg.checked_sub(1) {
        None => shape.centers[0],
        Some(bend) => shape.corners[bend],
    }
}

fn add_leg_start(leg: usize, pull: Vector, slopes: &mut Slopes) {
    match leg.checked_sub(1) {
        None => slopes.centers[0] += pull,
        Some(bend) => slopes.corners[bend] += pull,
    }
}

#[cfg(test)]
mod tests {
    use super::super::choice::{Choice, CutRule, Making};
    use super::super::field::Field;
    use super::super::layout::{Aim, Layout, Worth};
    use super::super::{Pass, Task};
    use super::Obstacle;
    use super::{PLENTY, Shape, Term};
    use crate::geometry::{Direction, Plane, Point, Vector};
    use crate::run::{Freedom, Port, Slide};
    use crate::scene::{Side, Solid};
    use crate::tube::{StockBend, Tube};
    use crate::units::{Angle, Length};
    use proptest::prelude::*;

    /// Step of the central difference that slopes are checked against, in units.
    const STEP: f64 = 1e-6;

    fn direction(x: f64, y: f64, z: f64) -> Direction {
        Direction::new_normalize(Vector::new(x, y, z))
    }

    /// A task that calls for every kind of term.
    fn task(clr_max: f64, is_free: bool) -> Task {
        let tube = Tube::new(Length::from_mm(60.0), Length::from_mm(1.5), "304").unwrap();
        let mut start = Port::new("a", Point::new(10.0, -20.0, 30.0), direction(0.1, 0.2, 1.0));
        let mut end = Port::new(
            "b",
            Point::new(300.0, 150.0, 250.0),
            direction(-1.0, 0.3, 0.2),
        );
        if is_free {
            let slide = |x, y, z| Slide {
                along: direction(x, y, z),
                back: Length::from_mm(30.0),
                ahead: Length::from_mm(50.0),
            };
            end.freedom = Freedom {
                slides: vec![slide(1.0, 0.2, 0.0), slide(0.0, 1.0, 0.3)],
                cone: Angle::from_degrees(20.0),
            };
            start.freedom.cone = Angle::from_degrees(10.0);
        }
        let mut task = Task::new(tube, start, end);
        task.limits.clr_min = Length::from_mm(60.0);
        task.limits.clr_max = Length::from_mm(clr_max);
        task.saw_angles = vec![Angle::from_degrees(7.5)];
        task.stock = vec![StockBend {
            name: "90".to_owned(),
            od: Length::from_mm(60.0),
            clr: Length::from_mm(90.0),
            turn: Angle::QUARTER,
            leg: Length::from_mm(50.0),
            price: 10.0,
            count: None,
        }];
        let obstacle = |solid, side| Obstacle {
            name: "thing".to_owned(),
            solid,
            side,
            clearance: Length::from_mm(5.0),
        };
        let ball = Solid::Capsule {
            from: Point::new(120.0, 60.0, 200.0),
            to: Point::new(160.0, 90.0, 180.0),
            radius: Length::from_mm(20.0),
        };
        let ground = Solid::HalfSpace(Plane {
            point: Point::new(0.0, 0.0, -100.0),
            normal: direction(0.1, 0.0, 1.0),
        });
        let bay = Solid::between(
            Point::new(-200.0, -200.0, -200.0),
            Point::new(500.0, 400.0, 500.0),
        );
        task.obstacles = vec![
            obstacle(ball, Side::KeepOut),
            obstacle(ground, Side::KeepOut),
            obstacle(bay, Side::KeepIn),
        ];
        task.passes = vec![
            Pass {
                name: "hole".to_owned(),
                center: Point::new(100.0, 50.0, 200.0),
                direction: Some(direction(1.0, 0.4, 0.2)),
                radius: Length::from_mm(60.0),
            },
            Pass {
                name: "bracket".to_owned(),
                center: Point::new(200.0, 100.0, 220.0),
                direction: None,
                radius: Length::from_mm(5.0),
            },
        ];
        task
    }

    fn check(
        task: &Task,
        bends: Vec<Making>,
        aim: Aim,
        x: &[f64],
        weights: &[f64],
    ) -> Result<(), TestCaseError> {
        let field = Field::new(task);
        let legs = bends.len();
        let choice = Choice {
            pass_legs: vec![legs / 2, legs - 1],
            bends,
        };
        let layout = Layout::new(&field, choice, aim).clear_of_itself();
        let mut x = x[..layout.places().count].to_vec();
        for (slot, radius) in layout
            .places()
            .radii
            .iter()
            .flatten()
            .zip([0.2, 0.25, 0.3, 0.22, 0.28])
        {
            x[*slot] = radius;
        }
        for end in 0..2 {
            for slot in &mut x[layout.places().ends[end]..][..field.ends[end].variables()] {
                *slot *= 0.1;
            }
        }
        let shape = Shape::new(&layout, &x);
        let is_plain = shape.lengths[1..legs].iter().all(|length| *length > 0.05)
            && shape.turns[..legs]
                .iter()
                .all(|turn| (0.05..2.7).contains(turn));
        prop_assume!(is_plain);
        let terms = layout.terms().len();
        for (i, weight) in weights.iter().cycle().take(terms).enumerate() {
            // One term at a time: a wrong slope is not hidden by the others.
            let mut weights = vec![0.0; terms];
            weights[i] = *weight;
            let value = |x: &[f64]| {
                let evaluation = layout.evaluate(x);
                evaluation.objective + evaluation.margins[i] * weight
            };
            let is_bound = layout.evaluate(&x).margins[i] >= 0.9 * PLENTY
                && matches!(
                    layout.terms()[i],
                    Term::LegClear { .. } | Term::BendClear { .. }
                );
            if is_bound {
                // Only a lower bound is known of room in plenty.
                continue;
            }
            let slopes = layout.gradient(&Shape::new(&layout, &x), weights.iter().copied());
            for (k, slope) in slopes.iter().enumerate() {
                let difference = |step: f64| {
                    let (mut ahead, mut behind) = (x.clone(), x.clone());
                    ahead[k] += step;
                    behind[k] -= step;
                    (value(&ahead) - value(&behind)) / (2.0 * step)
                };
                let (near, far) = (difference(STEP), difference(STEP * 8.0));
                // At a kink (another edge nearest) differences disagree with each other.
                let is_smooth = (near - far).abs() < 1e-3 * (1.0 + near.abs());
                prop_assert!(
                    !is_smooth || (slope - near).abs() < 2e-3 * (1.0 + slope.abs()),
                    "{:?} by variable {k}: {slope} and {near}",
                    layout.terms()[i]
                );
            }
        }
        Ok(())
    }

    fn making() -> impl Strategy<Value = Making> {
        let pies = |cut| {
            (1_u32..6).prop_map(move |joints| Making::Pies {
                radius: 0,
                joints,
                cut,
            })
        };
        prop_oneof![
            Just(Making::Arc { radius: 0 }),
            pies(CutRule::Free),
            pies(CutRule::Shared),
            pies(CutRule::Listed(0)),
            any::<bool>().prop_map(|whole| Making::Stock { item: 0, whole }),
        ]
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn slopes_are_those_of_the_values(
            bends in prop::collection::vec(making(), 1..=5),
            range in any::<bool>(),
            is_free in any::<bool>(),
            wishes in any::<bool>(),
            mut x in prop::collection::vec(-0.8..1.2_f64, 40),
            reach in prop::array::uniform2(0.2..1.5_f64),
            weights in prop::collection::vec(0.2..1.0_f64, 7),
        ) {
            x[..2].copy_from_slice(&reach);
            let mut task = task(if range { 200.0 } else { 60.0 }, is_free);
            // Only a range as a whole has CLRs to choose; it comes last.
            if range {
                task.clrs.clear();
            }
            let last = Field::new(&task).radii.len() - 1;
            let with_last = |making: Making| match making {
                Making::Arc { .. } => Making::Arc { radius: last },
                Making::Pies { joints, cut, .. } => Making::Pies { radius: last, joints, cut },
                stock @ Making::Stock { .. } => stock,
            };
            let making = Worth { weld: 0.2, joint: 0.1, stock: 0.7 };
            let aim = Aim { per_radian: 0.3, wish: wishes.then_some((1.5, 4.0)), making };
            check(&task, bends.into_iter().map(with_last).collect(), aim, &x, &weights)?;
        }
    }
}
