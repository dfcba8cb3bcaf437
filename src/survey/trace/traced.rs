//! [`Traced`]: a tube as its points say it is.

use super::end::EndShift;
use super::joint::{OwnLines, TracedJoint};
use super::lines::{Line, own_line};
use super::readings::{On, Readings, TouchedPoint};
use super::shape::turns;
use super::suspects::{Suspect, Verdict};
use super::{Caution, Spot};
use crate::geometry::{
    Direction, Point, Scatter, Vector, angle_between, clock_between, perpendicular,
};
use crate::survey::adjust::chance;
use crate::units::{Angle, Length};
use nalgebra::{DMatrix, Matrix3, Matrix6, SymmetricEigen};

/// Deviations by which a joint must turn to be one.
const TURNS: f64 = 3.0;
/// Clocks that a piece's outside is touched within, below which it is touched along one
/// side.
const ONE_SIDE: Angle = Angle::from_degrees(60.0);
/// Probability that points that scatter as said are said to scatter more.
const FALSE_ALARM: f64 = 0.01;
/// How far, mm, an end that is exactly known may be moved back to where it is: what its
/// finite weight leaves open.
const SNAP: f64 = 1e-4;
/// Bound on the iterations of a symmetric eigenvalue decomposition of 3 × 3.
const EIGEN_STEPS: usize = 1000;

/// A tube traced from its points.
#[derive(Clone, Debug, PartialEq)]
pub struct Traced {
    /// From face to face: joints are all but the first and last.
    pub vertices: Vec<Point>,
    /// Of the vertices' coordinates in order, three each; mm².
    pub covariance: DMatrix<f64>,
    /// One a vertex but the first and last.
    pub joints: Vec<TracedJoint>,
    /// How far each end came to lie from where it was measured.
    pub ends: [EndShift; 2],
    /// What is left of each point, in the order given.
    pub left: Vec<Left>,
    /// What does not go with the rest, the most doubtful first.
    pub suspects: Vec<Suspect>,
    /// What else is odd.
    pub cautions: Vec<Caution>,
    /// √(Σ d²/n) of what is left of the points that count; `None` without any.
    pub rms: Option<Length>,
    /// Sum of the squares of what is left, in deviations: chi-square distributed with
    /// `spare` degrees of freedom if deviations are as said.
    pub squares: f64,
    /// Readings beyond what it takes.
    pub spare: usize,
}

/// What is left of one point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Left {
    /// Which.
    pub spot: Spot,
    /// Distance from its joint or its piece's axis; of a point of the outside, from
    /// there, negative within the tube.
    pub off: Length,
    /// Whether the tube was traced with it.
    pub counted: bool,
}

impl Traced {
    pub(super) fn new(readings: &Readings, verdict: Verdict) -> Self {
        let Verdict {
            suspects,
            fit,
            cautions: told,
        } = verdict;
        let mut vertices = readings.unpack(&fit.adjusted.x);
        snap(readings, &mut vertices);
        let rows = readings.rows_of_points();
        let left: Vec<Left> = readings
            .points
            .iter()
            .zip(&rows)
            .map(|(point, rows)| Left {
                spot: point.spot,
                off: Length::from_mm(readings.off(point, &vertices)),
                counted: fit.counts[rows.start],
            })
            .collect();
        let lines = own_lines(readings, &vertices, &left);
        let covariance = fit.hold.covariance.clone();
        let joints: Vec<TracedJoint> = turns(&vertices)
            .into_iter()
            .enumerate()
            .map(|(joint, turn)| TracedJoint {
                at: vertices[joint + 1],
                scatter: scatter_of(&covariance, joint + 1),
                turn,
                turn_sigma: turn_sigma(&vertices[joint..joint + 3], &covariance, joint),
                own: match (&lines[joint], &lines[joint + 1]) {
                    (Some(a), Some(b)) => {
                        OwnLines::Apart(Length::from_mm(a.gap(b, &vertices[joint + 1])))
                    }
                    _ => OwnLines::TooFew,
                },
                rms: rms(readings
                    .points
                    .iter()
                    .zip(&left)
                    .filter(|(point, _)| is_next_to(point, joint))),
            })
            .collect();
        let (squares, spare) = (fit.adjusted.squares, fit.spare());
        Self {
            cautions: [told, cautions(readings, &vertices, &joints, squares, spare)].concat(),
            ends: shifts(readings, &vertices),
            rms: rms(readings.points.iter().zip(&left)),
            vertices,
            covariance,
            joints,
            left,
            suspects,
            squares,
            spare,
        }
    }
}

/// Puts ends that are exactly known back where they are.
fn snap(readings: &Readings, vertices: &mut [Point]) {
    let last = vertices.len() - 1;
    for (i, [face, next]) in [[0, 1], [last, last - 1]].into_iter().enumerate() {
        let end = &readings.ends[i].end;
        if !end.scatter.is_none() {
            continue;
        }
        let axis = Line {
            point: end.center,
            direction: end.outward.into_inner(),
        };
        let joint = axis.nearest_to(&vertices[next]);
        // A joint that both ends share stays where the first end's axis has it.
        let is_own = last > 2 || (last == 2 && i == 0);
        if is_own && (joint - vertices[next]).norm() < SNAP {
            vertices[next] = joint;
        }
        if (vertices[face] - end.center).norm() < SNAP {
            vertices[face] = end.center;
        }
    }
}

fn shifts(readings: &Readings, vertices: &[Point]) -> [EndShift; 2] {
    let last = vertices.len() - 1;
    let shift = |i: usize, face: usize, next: usize| {
        let end = &readings.ends[i].end;
        EndShift {
            shift: Length::from_mm((vertices[face] - end.center).norm()),
            lean: angle_between(&(vertices[next] - vertices[face]), &end.outward),
        }
    };
    [shift(0, 0, 1), shift(1, last, last - 1)]
}

fn is_next_to(point: &TouchedPoint, joint: usize) -> bool {
    match point.on {
        On::Vertex(vertex) => vertex == joint + 1,
        On::Axis(piece) | On::Outside(piece) => piece == joint || piece == joint + 1,
    }
}

fn rms<'a>(points: impl Iterator<Item = (&'a TouchedPoint, &'a Left)>) -> Option<Length> {
    let off: Vec<f64> = points
        .filter(|(_, left)| left.counted)
        .map(|(_, left)| left.off.mm())
        .collect();
    let squares: f64 = off.iter().map(|d| d * d).sum();
    (!off.is_empty()).then(|| Length::from_mm((squares / off.len() as f64).sqrt()))
}

/// Each piece's line from its own points alone; an end piece without enough has its
/// end's axis.
fn own_lines(readings: &Readings, vertices: &[Point], left: &[Left]) -> Vec<Option<Line>> {
    let last = vertices.len() - 2;
    let line = |piece: usize| {
        let own: Vec<TouchedPoint> = readings
            .points
            .iter()
            .zip(left)
            .filter(|(point, left)| left.counted && point.piece() == Some(piece))
            .map(|(point, _)| *point)
            .collect();
        let start = Line {
            point: vertices[piece],
            direction: (vertices[piece + 1] - vertices[piece]).normalize(),
        };
        let of_end = |i: usize| {
            let end = &readings.ends[i].end;
            Line {
                point: end.center,
                direction: end.outward.into_inner(),
            }
        };
        own_line(&own, readings.radius, readings.sigma, &start)
            .map(|own| own.line)
            .or(match piece {
                0 => Some(of_end(0)),
                piece if piece == last => Some(of_end(1)),
                _ => None,
            })
    };
    (0..=last).map(line).collect()
}

/// A vertex' part of the covariance.
fn scatter_of(covariance: &DMatrix<f64>, vertex: usize) -> Scatter {
    let mut six = Matrix6::zeros();
    six.fixed_view_mut::<3, 3>(0, 0)
        .copy_from(&covariance.fixed_view::<3, 3>(3 * vertex, 3 * vertex));
    Scatter::new(six)
}

/// Standard deviation of the angle between two edges. With their directions a and b,
/// |b − a| = 2·sin(δ/2), so that σ(δ) = σ(|b − a|)/cos(δ/2).
fn turn_sigma(three: &[Point], covariance: &DMatrix<f64>, joint: usize) -> Angle {
    let edges = [three[1] - three[0], three[2] - three[1]];
    let slopes = edges.map(|edge| {
        let length = edge.norm().max(f64::MIN_POSITIVE);
        let along = edge / length;
        (Matrix3::identity() - along * along.transpose()) / length
    });
    let mut by = DMatrix::zeros(3, 9);
    by.view_mut((0, 0), (3, 3)).copy_from(&slopes[0]);
    by.view_mut((0, 3), (3, 3))
        .copy_from(&(-slopes[0] - slopes[1]));
    by.view_mut((0, 6), (3, 3)).copy_from(&slopes[1]);
    let own = covariance.view((3 * joint, 3 * joint), (9, 9));
    let spread = &by * own * by.transpose();
    let spread: Matrix3<f64> = spread.fixed_view::<3, 3>(0, 0).into_owned();
    let chord: Vector = edges[1].normalize() - edges[0].normalize();
    let half = angle_between(&edges[0], &edges[1]) / 2.0;
    let greatest = SymmetricEigen::try_new(spread, f64::EPSILON, EIGEN_STEPS)
        .map_or(0.0, |own| own.eigenvalues.max());
    let variance = match Direction::try_new(chord, f64::EPSILON) {
        // A turn that is nothing but chance may go any way.
        Some(way) if chord.norm_squared() > greatest => way.dot(&(spread * way.into_inner())),
        _ => greatest,
    };
    Angle::from_radians(variance.max(0.0).sqrt() / half.cos().max(f64::EPSILON))
}

fn cautions(
    readings: &Readings,
    vertices: &[Point],
    joints: &[TracedJoint],
    squares: f64,
    spare: usize,
) -> Vec<Caution> {
    let straight = joints
        .iter()
        .enumerate()
        .filter(|(_, joint)| joint.turn < joint.turn_sigma * TURNS);
    let mut cautions: Vec<Caution> = straight
        .map(|(i, joint)| Caution::Straight {
            joint: i,
            turn: joint.turn,
            sigma: joint.turn_sigma,
        })
        .collect();
    cautions.extend((0..vertices.len() - 1).filter_map(|piece| {
        let span = span(readings, vertices, piece)?;
        (span < ONE_SIDE).then_some(Caution::OneSide { piece, span })
    }));
    if spare == 0 {
        cautions.push(Caution::Unchecked);
    } else if squares > chance(spare, FALSE_ALARM) {
        let factor = (squares / spare as f64).sqrt();
        cautions.push(Caution::Scattered { factor });
    }
    cautions
}

/// Clocks that the points on a piece's outside lie within: a full turn less the widest
/// gap. `None` without such points.
fn span(readings: &Readings, vertices: &[Point], piece: usize) -> Option<Angle> {
    let axis = Direction::new_normalize(vertices[piece + 1] - vertices[piece]);
    let zero = perpendicular(&axis);
    let own = readings
        .points
        .iter()
        .filter(|point| point.on == On::Outside(piece));
    let mut clocks: Vec<f64> = own
        .filter_map(|point| {
            let w = point.at - vertices[piece];
            let q = Direction::try_new(w - axis.into_inner() * axis.dot(&w), f64::MIN_POSITIVE)?;
            Some(clock_between(&axis, &zero, &q).radians())
        })
        .collect();
    clocks.sort_by(f64::total_cmp);
    let (first, last) = (clocks.first()?, clocks.last()?);
    let round = first + std::f64::consts::TAU - last;
    let widest = clocks
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .fold(round, f64::max);
    Some(Angle::FULL - Angle::from_radians(widest))
}
