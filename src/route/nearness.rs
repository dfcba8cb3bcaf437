//! Where what is built comes nearest to obstacles and to itself, and the slopes of that.

use super::choice::ARC_PARTS;
use super::layout::Layout;
use super::shape::{Shape, Slopes, arc_half_step, bend_of_edge, is_arc, widest};
use crate::geometry::{Point, Segment, Vector, angle_between};
use crate::scene::Obstacle;
use crate::units::Angle;

/// Margins above this, in units, need not be exact: no search comes near them.
pub(super) const PLENTY: f64 = 0.02;

/// Edges of what is built, by the number of the vertex they begin at.
type Edges = std::ops::Range<usize>;

/// Where an edge comes nearest to an obstacle.
pub(super) struct NearEdge {
    edge: usize,
    /// In units.
    pub margin: f64,
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

/// Where `edges` come nearest to an obstacle; `None` where a port exempts them all.
pub(super) fn nearest_edge(
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
        let [from, to] = exempt_parts(shape, edge, exempt);
        if from >= to {
            continue;
        }
        let (start, end) = (a + (b - a) * from, a + (b - a) * to);
        let radius = shape.edge_radii[edge] * field.unit + field.task.wrap.mm();
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

/// From which to which part of an edge an obstacle is asked about: not in the first and
/// last `exempt`, mm, of what is built.
pub(super) fn exempt_parts(shape: &Shape, edge: usize, exempt: f64) -> [f64; 2] {
    let last = shape.vertices.len() - 1;
    let length = (shape.vertices[edge + 1].at - shape.vertices[edge].at).norm();
    let [before, after] = [shape.along[edge], shape.along[last] - shape.along[edge + 1]];
    [
        ((exempt - before) / length).max(0.0),
        1.0 - ((exempt - after) / length).max(0.0),
    ]
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
    let (unit, wrap) = (layout.field().unit, layout.field().task.wrap.mm());
    let near = rule.margin(&ball.center, &ball.center, ball.tube * unit + wrap);
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
    pub fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
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

pub(super) fn radius_slope(
    layout: &Layout<'_>,
    shape: &Shape,
    edge: usize,
    weight: f64,
    slopes: &mut Slopes,
) {
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
pub(super) struct NearPair {
    edges: [usize; 2],
    /// Between the centerlines, in units.
    pub distance: f64,
    /// Of both edges together, in units.
    radii: f64,
    parts: [f64; 2],
    /// From the first edge's place to the second's, unit length.
    across: Vector,
}

/// The tightest pair of edges with half a turn between them; nearer ones are neighbors
/// along the run.
pub(super) fn nearest_pair(layout: &Layout<'_>, shape: &Shape) -> Option<NearPair> {
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
        let turn = angle_between(&edges[i - 1].vector(), &edges[i].vector());
        turned[i] = turned[i - 1] + turn.radians();
    }
    let half = Angle::HALF.radians() - 1e-9;
    let wrap = layout.field().units(layout.field().task.wrap);
    let mut nearest: Option<NearPair> = None;
    for i in 0..edges.len() {
        for j in i + 1..edges.len() {
            if turned[j] - turned[i] < half {
                continue;
            }
            let closest = edges[i].closest_points(&edges[j]);
            let radii = shape.edge_radii[i] + shape.edge_radii[j] + 2.0 * wrap;
            let distance = closest.distance().mm() / unit;
            if nearest
                .as_ref()
                .is_none_or(|nearest| distance - radii < nearest.margin())
            {
                let across = closest.second - closest.first;
                nearest = Some(NearPair {
                    edges: [i, j],
                    distance,
                    radii,
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
    /// Room between both tubes, in units.
    pub fn margin(&self) -> f64 {
        self.distance - self.radii
    }

    pub fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        for ((edge, part), sign) in self.edges.into_iter().zip(self.parts).zip([-1.0, 1.0]) {
            let pull = self.across * (sign * weight);
            slopes.vertices[edge] += pull * (1.0 - part);
            slopes.vertices[edge + 1] += pull * part;
            radius_slope(layout, shape, edge, -weight, slopes);
        }
    }
}
