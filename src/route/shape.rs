//! [`Shape`]: a layout at one choice of variables, and how its parts change with them.
//!
//! Forward: variables → ports and corners → legs, turns, radii → take-outs, cuts and the
//! vertices that are built. [`Slopes`] go the same way back, by reverse accumulation:
//! one pass costs about as much as two evaluations, whatever the number of variables.

use super::choice::{ARC_PARTS, MAX_BENDS, Making};
use super::layout::Layout;
use super::limits::MAX_TURN;
use super::near_scan::NearScan;
use crate::geometry::{Point, Vector};
use std::cell::OnceCell;

/// Sine of a turn below which an arc's points are taken on its legs.
const LEAST_SINE: f64 = 1e-7;

/// Ports, legs and turns at one choice of variables, in the field's frame and units.
#[derive(Default)]
pub(super) struct Shape {
    pub centers: [Vector; 2],
    pub outward: [Vector; 2],
    pub corners: [Vector; MAX_BENDS],
    /// Direction of each leg; first and last are the ports' own axes.
    pub legs: [Vector; MAX_BENDS + 1],
    pub lengths: [f64; MAX_BENDS + 1],
    pub turns: [f64; MAX_BENDS],
    pub radii: [f64; MAX_BENDS],
    /// Corner to the end of the arc.
    pub take_outs: [f64; MAX_BENDS],
    /// Tangent of each pie bend's cut angle; zero for arcs.
    pub cut_tans: [f64; MAX_BENDS],
    /// The cut angle that bends share, rad.
    pub cut: f64,
    /// What is built, from face to face; empty unless something in the room asks.
    pub vertices: Vec<Vertex>,
    /// How far, mm, each vertex lies along what is built.
    pub along: Vec<f64>,
    /// Radius round each edge that holds the true tube.
    pub edge_radii: Vec<f64>,
    /// A ball round each bend's vertices.
    pub balls: [Option<Ball>; MAX_BENDS],
    /// Where its parts come nearest to scans, once that was asked.
    pub near_scans: OnceCell<Vec<Option<NearScan>>>,
}

/// A ball that holds the centerline of a bend as it is built.
pub(super) struct Ball {
    /// In the job's frame.
    pub center: Point,
    /// Its radius, mm.
    pub reach: f64,
    /// Greatest radius round an edge within it, in units.
    pub tube: f64,
}

/// A vertex of what is built.
pub(super) struct Vertex {
    /// Where it stands, in the job's frame and mm.
    pub at: Point,
    /// The bend it belongs to; `None` at a port.
    pub bend: Option<usize>,
    /// Where it stands from the bend's corner: parts of the incoming and the outgoing
    /// direction, in units of the CLR…
    parts: [f64; 2],
    /// …and how these grow with the turn.
    parts_by_turn: [f64; 2],
}

/// How the sum that is followed changes with each part of a shape.
#[derive(Default)]
pub(super) struct Slopes {
    pub centers: [Vector; 2],
    pub outward: [Vector; 2],
    pub corners: [Vector; MAX_BENDS],
    pub legs: [Vector; MAX_BENDS + 1],
    pub lengths: [f64; MAX_BENDS + 1],
    pub turns: [f64; MAX_BENDS],
    pub radii: [f64; MAX_BENDS],
    pub take_outs: [f64; MAX_BENDS],
    pub cut_tans: [f64; MAX_BENDS],
    pub cut: f64,
    /// Over each vertex's place, counted in units and turned into the job's frame.
    pub vertices: Vec<Vector>,
}

impl Shape {
    pub fn new(layout: &Layout<'_>, x: &[f64]) -> Self {
        let (k, field) = (layout.bends(), layout.field());
        let mut shape = Self {
            cut: layout.places().cut.map_or(0.0, |i| x[i]),
            ..Self::default()
        };
        for end in 0..2 {
            let from = &x[layout.places().ends[end]..];
            let port = &field.ends[end];
            shape.centers[end] = port.center;
            for (track, part) in port.slides.iter().zip(from) {
                shape.centers[end] += track.along * *part;
            }
            shape.outward[end] = port.outward;
            if port.lean > 0.0 {
                let lean = &from[port.slides.len()..];
                let leaning = port.outward + port.across[0] * lean[0] + port.across[1] * lean[1];
                shape.outward[end] = leaning / leaning.norm();
            }
        }
        shape.set_legs(k, x);
        for (i, making) in layout.choice().bends.iter().enumerate() {
            shape.set_bend(layout, i, *making, x);
        }
        if layout.has_room() {
            shape.set_vertices(layout);
            let edges = 0..shape.vertices.len() - 1;
            shape.edge_radii = edges
                .map(|edge| edge_radius(layout, &shape, edge))
                .collect();
            shape.set_balls(layout);
        }
        shape
    }

    fn set_legs(&mut self, k: usize, x: &[f64]) {
        let [d0, d1] = self.outward;
        if k > 0 {
            self.corners[0] = self.centers[0] + d0 * x[0];
        }
        if k > 1 {
            self.corners[k - 1] = self.centers[1] + d1 * x[1];
        }
        for i in 1..k.saturating_sub(1) {
            self.corners[i] = Vector::new(x[3 * i - 1], x[3 * i], x[3 * i + 1]);
        }
        (self.legs[k], self.lengths[k]) = (-d1, x[1]);
        (self.legs[0], self.lengths[0]) = (d0, x[0]);
        for i in 1..k {
            let leg = self.corners[i] - self.corners[i - 1];
            self.lengths[i] = leg.norm();
            self.legs[i] = leg / self.lengths[i].max(f64::MIN_POSITIVE);
        }
    }

    fn set_bend(&mut self, layout: &Layout<'_>, i: usize, making: Making, x: &[f64]) {
        let (a, b) = (&self.legs[i], &self.legs[i + 1]);
        let (sin, cos) = (a.cross(b).norm(), a.dot(b));
        self.turns[i] = sin.atan2(cos);
        self.radii[i] = match layout.places().radii[i] {
            Some(place) => x[place],
            None => layout.radius(i),
        };
        self.take_outs[i] = self.radii[i] * half_tan(sin, cos, self.turns[i]);
        if let Making::Pies { joints, .. } = making {
            self.cut_tans[i] = (self.turns[i] / (2.0 * f64::from(joints))).tan();
        }
    }

    /// Straight stretches of each leg, arc end to arc start.
    pub fn straights(&self, bends: usize) -> [f64; MAX_BENDS + 1] {
        let mut straights = self.lengths;
        for bend in 0..bends {
            straights[bend] -= self.take_outs[bend];
            straights[bend + 1] -= self.take_outs[bend];
        }
        straights
    }

    fn set_vertices(&mut self, layout: &Layout<'_>) {
        let port = |at: Vector| Vertex {
            at: layout.field().in_job(&at),
            bend: None,
            parts: [0.0; 2],
            parts_by_turn: [0.0; 2],
        };
        self.vertices.push(port(self.centers[0]));
        for (bend, making) in layout.choice().bends.iter().enumerate() {
            let joints = making.vertices() as u32;
            let (a, b) = (self.legs[bend], self.legs[bend + 1]);
            for joint in 0..joints {
                let (parts, parts_by_turn) = vertex_parts(self.turns[bend], joint, joints);
                let off = (a * parts[0] + b * parts[1]) * self.radii[bend];
                self.vertices.push(Vertex {
                    at: layout.field().in_job(&(self.corners[bend] + off)),
                    bend: Some(bend),
                    parts,
                    parts_by_turn,
                });
            }
        }
        self.vertices.push(port(self.centers[1]));
        self.along.push(0.0);
        let mut along = 0.0;
        for pair in self.vertices.windows(2) {
            along += (pair[1].at - pair[0].at).norm();
            self.along.push(along);
        }
    }
}

impl Shape {
    fn set_balls(&mut self, layout: &Layout<'_>) {
        let mut first = 1;
        for (bend, making) in layout.choice().bends.iter().enumerate() {
            let last = first + making.vertices() - 1;
            let center = self.vertices[(first + last) / 2].at;
            let off = self.vertices[first..=last]
                .iter()
                .map(|vertex| (vertex.at - center).norm());
            self.balls[bend] = Some(Ball {
                center,
                reach: off.fold(0.0, f64::max),
                tube: self.edge_radii[first..last]
                    .iter()
                    .copied()
                    .fold(0.0, f64::max),
            });
            first = last + 1;
        }
    }
}

/// Where joint `joint` of `joints` stands on a bend of `turn`, from its corner: parts of
/// the incoming and the outgoing direction in units of the CLR, and their slopes over the
/// turn.
///
/// The arc's point at turn φ is c − a·tan(θ/2) + [a·(cos(θ−φ) − cos θ) + b·(1 − cos φ)]/sin θ;
/// a joint lies tan κ farther along the tangent [a·sin(θ−φ) + b·sin φ]/sin θ, with
/// κ = θ/2n and φ = 2jκ.
fn vertex_parts(turn: f64, joint: u32, joints: u32) -> ([f64; 2], [f64; 2]) {
    let theta = turn.min(MAX_TURN.radians());
    let (sin, cos) = theta.sin_cos();
    if sin < LEAST_SINE {
        return ([0.0; 2], [0.0; 2]);
    }
    let part = f64::from(joint) / f64::from(joints);
    let phi = theta * part;
    let half = 0.5 / f64::from(joints);
    let tan = (theta * half).tan();
    let tan_slope = half * (1.0 + tan * tan);
    let (sin_phi, cos_phi) = phi.sin_cos();
    let (sin_rest, cos_rest) = (theta - phi).sin_cos();
    let half_tan = sin / (1.0 + cos);
    // Numerators over sin θ, and their slopes over θ.
    let a = cos_rest - cos + tan * sin_rest;
    let b = 1.0 - cos_phi + tan * sin_phi;
    let rest = 1.0 - part;
    let a_slope = -sin_rest * rest + sin + tan_slope * sin_rest + tan * cos_rest * rest;
    let b_slope = sin_phi * part + tan_slope * sin_phi + tan * cos_phi * part;
    let over = |value: f64, slope: f64| (slope - value * cos / sin) / sin;
    let parts = [a / sin - half_tan, b / sin];
    let slopes = [
        over(a, a_slope) - 0.5 * (1.0 + half_tan * half_tan),
        over(b, b_slope),
    ];
    (parts, slopes)
}

/// The bend that an edge lies within; `None` along a leg.
pub(super) fn bend_of_edge(shape: &Shape, edge: usize) -> Option<usize> {
    let [a, b] = [shape.vertices[edge].bend, shape.vertices[edge + 1].bend];
    if a == b { a } else { None }
}

/// The bend, of those that an edge touches, whose miter reaches out farthest.
pub(super) fn widest(shape: &Shape, edge: usize) -> Option<usize> {
    let bends = [shape.vertices[edge].bend, shape.vertices[edge + 1].bend];
    let tan = |bend: &usize| shape.cut_tans[*bend];
    bends
        .into_iter()
        .flatten()
        .max_by(|a, b| tan(a).total_cmp(&tan(b)))
}

/// Half the turn of one of the straight stretches that stand for an arc.
pub(super) fn arc_half_step(shape: &Shape, bend: usize) -> f64 {
    shape.turns[bend] / (2.0 * f64::from(ARC_PARTS))
}

/// Whether a bend is a true arc.
pub(super) fn is_arc(layout: &Layout<'_>, bend: usize) -> bool {
    !layout.choice().bends[bend].is_pies()
}

/// Radius, in units, round an edge that holds the true tube: r/cos κ where it is
/// mitered, and round the straight stretches of an arc wider by what they stick out.
fn edge_radius(layout: &Layout<'_>, shape: &Shape, edge: usize) -> f64 {
    let radius = layout.tube_radius();
    match bend_of_edge(shape, edge) {
        Some(bend) if is_arc(layout, bend) => {
            radius + shape.radii[bend] * (1.0 / arc_half_step(shape, bend).cos() - 1.0)
        }
        _ => {
            let tan = widest(shape, edge).map_or(0.0, |bend| shape.cut_tans[bend]);
            radius * tan.hypot(1.0)
        }
    }
}

impl Slopes {
    pub fn for_shape(shape: &Shape) -> Self {
        Self {
            vertices: vec![Vector::zeros(); shape.vertices.len()],
            ..Self::default()
        }
    }

    /// Slopes over the variables, from those over everything else.
    pub fn over_variables(mut self, layout: &Layout<'_>, shape: &Shape) -> Vec<f64> {
        self.follow_vertices(layout, shape);
        self.follow_turns(layout, shape);
        self.follow_legs(layout, shape);
        let (k, places) = (layout.bends(), layout.places());
        let mut slopes = vec![0.0; places.count];
        slopes[0] += self.lengths[0];
        if k > 0 {
            slopes[1] += self.lengths[k];
            slopes[0] += self.corners[0].dot(&shape.outward[0]);
            self.centers[0] += self.corners[0];
            self.outward[0] += self.corners[0] * shape.lengths[0];
        }
        if k > 1 {
            slopes[1] += self.corners[k - 1].dot(&shape.outward[1]);
            self.centers[1] += self.corners[k - 1];
            self.outward[1] += self.corners[k - 1] * shape.lengths[k];
        }
        for i in 1..k.saturating_sub(1) {
            for axis in 0..3 {
                slopes[3 * i - 1 + axis] = self.corners[i][axis];
            }
        }
        for (bend, place) in places.radii.iter().enumerate() {
            if let Some(place) = *place {
                slopes[place] += self.radii[bend];
            }
        }
        if let Some(place) = places.cut {
            slopes[place] += self.cut;
        }
        for end in 0..2 {
            self.over_end(layout, shape, end, &mut slopes);
        }
        slopes
    }

    fn over_end(&self, layout: &Layout<'_>, shape: &Shape, end: usize, slopes: &mut [f64]) {
        let port = &layout.field().ends[end];
        let from = layout.places().ends[end];
        for (i, track) in port.slides.iter().enumerate() {
            slopes[from + i] += self.centers[end].dot(&track.along);
        }
        if port.lean > 0.0 {
            let outward = shape.outward[end];
            // |n| of n = d₀ + v·e, since n·d₀ = 1 and n/|n| = d.
            let norm = 1.0 / outward.dot(&port.outward);
            for (i, across) in port.across.iter().enumerate() {
                let turned = (across - outward * outward.dot(across)) / norm;
                slopes[from + port.slides.len() + i] += self.outward[end].dot(&turned);
            }
        }
    }

    fn follow_vertices(&mut self, layout: &Layout<'_>, shape: &Shape) {
        let last = shape.vertices.len().saturating_sub(1);
        let frame_from_job = layout.field().job_from_frame.inverse();
        for (i, vertex) in shape.vertices.iter().enumerate() {
            let slope = frame_from_job * self.vertices[i];
            let Some(bend) = vertex.bend else {
                self.centers[usize::from(i == last)] += slope;
                continue;
            };
            let (a, b) = (shape.legs[bend], shape.legs[bend + 1]);
            let radius = shape.radii[bend];
            self.corners[bend] += slope;
            self.legs[bend] += slope * (vertex.parts[0] * radius);
            self.legs[bend + 1] += slope * (vertex.parts[1] * radius);
            self.radii[bend] += slope.dot(&(a * vertex.parts[0] + b * vertex.parts[1]));
            let by_turn = a * vertex.parts_by_turn[0] + b * vertex.parts_by_turn[1];
            self.turns[bend] += slope.dot(&by_turn) * radius;
        }
    }

    /// From take-outs and cuts to turns and radii, and from turns to legs.
    fn follow_turns(&mut self, layout: &Layout<'_>, shape: &Shape) {
        for (i, making) in layout.choice().bends.iter().enumerate() {
            let turn = shape.turns[i];
            let half_tan = shape.take_outs[i] / shape.radii[i];
            self.radii[i] += self.take_outs[i] * half_tan;
            self.turns[i] += self.take_outs[i] * shape.radii[i] * half_tan_slope(half_tan, turn);
            if let Making::Pies { joints, .. } = making {
                let tan = shape.cut_tans[i];
                self.turns[i] += self.cut_tans[i] * (1.0 + tan * tan) / (2.0 * f64::from(*joints));
            }
            // A turn grows fastest as one leg swings straight away from the other.
            let (a, b) = (shape.legs[i], shape.legs[i + 1]);
            let away = |from: Vector, other: Vector| {
                let square = other - from * from.dot(&other);
                square * (-1.0 / square.norm().max(f64::MIN_POSITIVE))
            };
            self.legs[i] += away(a, b) * self.turns[i];
            self.legs[i + 1] += away(b, a) * self.turns[i];
        }
    }

    fn follow_legs(&mut self, layout: &Layout<'_>, shape: &Shape) {
        let k = layout.bends();
        for leg in 1..k {
            let axis = shape.legs[leg];
            let swing = self.legs[leg] - axis * axis.dot(&self.legs[leg]);
            let on_leg =
                axis * self.lengths[leg] + swing / shape.lengths[leg].max(f64::MIN_POSITIVE);
            self.corners[leg] += on_leg;
            self.corners[leg - 1] -= on_leg;
        }
        self.outward[0] += self.legs[0];
        if k > 0 {
            self.outward[1] -= self.legs[k];
        }
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
fn half_tan_slope(half_tan: f64, turn: f64) -> f64 {
    if turn <= MAX_TURN.radians() {
        return 0.5 * (1.0 + half_tan * half_tan);
    }
    let most_cos = (MAX_TURN / 2.0).cos();
    0.5 / (most_cos * most_cos)
}
