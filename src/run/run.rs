//! [`Run`]: the pieces and joints that a polyline between two ports is made of.

use super::{Allowance, Joint, JointKind, Port};
use crate::geometry::{
    Direction, Plane, Point, Polyline, Vector, angle_between, clock_between, perpendicular,
    transport,
};
use crate::tube::{Cut, Facets, Mesh, Piece, PieceError, Ring, Tube};
use crate::units::{Angle, Length};
use thiserror::Error;

/// Largest distance, mm, that a polyline's end may be off its port, and largest
/// angle, rad, that its first and last edge may be off the port's axis. Both are
/// rounding of coordinates in the meters.
const CLOSING_TOLERANCE: f64 = 1e-9;

/// Deflections below this, rad, are no joint: 2 µm across a 20 m edge.
const STRAIGHT_TOLERANCE: f64 = 1e-7;

/// A run of one tube between two ports.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    tube: Tube,
    centerline: Polyline,
    joints: Vec<Joint>,
    pieces: Vec<Placed>,
}

/// A piece where it stands in the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The piece as it is cut: shorter than its edge by the allowances, longer
    /// by a socket.
    pub piece: Piece,
    /// Its edge of the run, vertex to vertex.
    pub edge: Length,
    /// Downstream direction of its axis.
    pub axis: Direction,
    /// Where its clock zero points: the start's long side, or the end's where the
    /// start is square.
    pub zero: Direction,
}

/// Why a polyline cannot be made as a run.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RunError {
    /// The polyline does not begin or end where and as the port asks.
    #[error("the centerline misses port '{port}' by {offset_mm:e} mm and {angle_deg:e}°")]
    Open {
        /// The port.
        port: String,
        /// Distance from the port's face.
        offset_mm: f64,
        /// Angle to the port's axis.
        angle_deg: f64,
    },
    /// A vertex where the centerline turns back on itself.
    #[error("the centerline turns back on itself at vertex {vertex}")]
    Reverses {
        /// Index into the centerline.
        vertex: usize,
    },
    /// A vertex where the centerline does not turn.
    #[error("the centerline does not turn at vertex {vertex}: leave it out")]
    Straight {
        /// Index into the centerline.
        vertex: usize,
    },
    /// A piece that cannot be cut.
    #[error("piece {number}: {source}")]
    Piece {
        /// Number of the piece from 1, in order of flow.
        number: usize,
        /// What is wrong with it.
        source: PieceError,
    },
}

impl Run {
    /// The run along `centerline`, from `start`'s face to `end`'s.
    pub fn new(
        tube: &Tube,
        start: &Port,
        end: &Port,
        centerline: Polyline,
        allowance: Allowance,
    ) -> Result<Self, RunError> {
        check_ends(&centerline, start, end)?;
        let axes = centerline.directions();
        let joints = joints(&centerline, &axes)?;
        let pieces = centerline
            .edges()
            .enumerate()
            .map(|(i, edge)| {
                let ends = [
                    (&joints[i], (i == 0).then_some(start)),
                    (&joints[i + 1], (i + 1 == axes.len()).then_some(end)),
                ];
                let added: Length = ends
                    .iter()
                    .map(|(joint, port)| added(joint, *port, allowance))
                    .sum();
                let length = edge.length() + added;
                let upstream = i.checked_sub(1).map(|before| axes[before]);
                place(
                    tube,
                    length,
                    edge.length(),
                    axes[i],
                    upstream,
                    axes.get(i + 1),
                )
                .map_err(|source| RunError::Piece {
                    number: i + 1,
                    source,
                })
            })
            .collect::<Result<_, _>>()?;
        Ok(Self {
            tube: tube.clone(),
            centerline,
            joints,
            pieces,
        })
    }

    /// The stock.
    pub const fn tube(&self) -> &Tube {
        &self.tube
    }

    /// The polyline from the first port's face to the last port's.
    pub const fn centerline(&self) -> &Polyline {
        &self.centerline
    }

    /// Joints in order of flow: a flange, the miters, a flange.
    pub fn joints(&self) -> &[Joint] {
        &self.joints
    }

    /// The joints between pieces.
    pub fn miters(&self) -> impl Iterator<Item = &Joint> {
        self.joints
            .iter()
            .filter(|joint| joint.kind == JointKind::Miter)
    }

    /// Pieces in order of flow; piece i stands between joints i and i + 1.
    pub fn pieces(&self) -> &[Placed] {
        &self.pieces
    }

    /// Length of the centerline, face to face.
    pub fn length(&self) -> Length {
        self.centerline.length()
    }

    /// Sum of the pieces' center lengths as cut.
    pub fn cut_length(&self) -> Length {
        self.pieces.iter().map(|placed| placed.piece.length()).sum()
    }

    /// Weld round all miter joints.
    pub fn weld_length(&self) -> Length {
        let radius = self.tube.radius();
        self.miters().map(|joint| joint.weld_length(radius)).sum()
    }

    /// The whole run as one closed mesh, as welded, face to face: the wall with
    /// its bore, or with `solid` a full rod.
    pub fn mesh(&self, facets: Facets, solid: bool) -> Mesh {
        let outer = self.rings(self.tube.radius(), facets);
        if solid {
            Mesh::solid(&outer)
        } else {
            Mesh::hollow(&outer, &self.rings(self.tube.bore_radius(), facets))
        }
    }

    /// Corners of the box round the outside, face to face, least and greatest.
    ///
    /// Exact: the run's hull is that of its joints' ellipses, and an ellipse
    /// V + r·(U·cos t + W·sin t) reaches r·√(U² + W²) from V along each axis.
    pub fn bounds(&self) -> (Point, Point) {
        let axes = self.centerline.directions();
        let radius = self.tube.radius().mm();
        let mut low = self.centerline.points()[0];
        let mut high = low;
        for (i, joint) in self.joints.iter().enumerate() {
            let axis = axes[i.saturating_sub(1)];
            let mark = perpendicular(&axis);
            let on_plane = |side: Vector| {
                let normal = joint.plane.normal;
                side - axis.into_inner() * (normal.dot(&side) / normal.dot(&axis))
            };
            let (u, w) = (on_plane(mark.into_inner()), on_plane(axis.cross(&mark)));
            let reach = u.zip_map(&w, f64::hypot) * radius;
            let center = joint.plane.point;
            (low, high) = (low.inf(&(center - reach)), high.sup(&(center + reach)));
        }
        (low, high)
    }

    /// One ring of points a joint, on the tube of `radius` and the joint's plane.
    fn rings(&self, radius: Length, facets: Facets) -> Vec<Ring> {
        let axes = self.centerline.directions();
        let mut mark = perpendicular(&axes[0]);
        self.joints
            .iter()
            .zip(self.centerline.points())
            .enumerate()
            .map(|(i, (joint, vertex))| {
                // The ring at joint i is drawn along the axis of the piece before
                // it; the piece after shares it, since both lie on one ellipse.
                let axis = axes[i.saturating_sub(1)];
                if let Some(before) = i.checked_sub(2) {
                    mark = transport(&mark, &axes[before], &axis);
                }
                joint_ring(joint, *vertex, &axis, &mark, radius, facets)
            })
            .collect()
    }
}

/// What an end's joint adds to its piece's length: less the allowance, or, in a
/// socket, where the tube passes the face and no gap is left, the socket's depth.
fn added(joint: &Joint, port: Option<&Port>, allowance: Allowance) -> Length {
    match port {
        Some(port) if port.socket > Length::ZERO => port.socket,
        _ => -allowance.setback(joint.cut()),
    }
}

/// Points of a tube round `axis` through `vertex`, on the joint's plane.
fn joint_ring(
    joint: &Joint,
    vertex: Point,
    axis: &Direction,
    mark: &Direction,
    radius: Length,
    facets: Facets,
) -> Ring {
    let across = axis.cross(mark);
    facets
        .clocks()
        .map(|clock| {
            let (sin, cos) = clock.sin_cos();
            let off_axis: Vector = (mark.into_inner() * cos + across * sin) * radius.mm();
            let point = vertex + off_axis;
            point + axis.into_inner() * joint.plane.reach(&point, axis)
        })
        .collect()
}

fn check_ends(centerline: &Polyline, start: &Port, end: &Port) -> Result<(), RunError> {
    let points = centerline.points();
    let axes = centerline.directions();
    let ends = [
        (start, points[0], axes[0].into_inner()),
        (
            end,
            points[points.len() - 1],
            -axes[axes.len() - 1].into_inner(),
        ),
    ];
    for (port, point, outward) in ends {
        let offset_mm = (point - port.center).norm();
        let angle = angle_between(&outward, &port.outward);
        if offset_mm > CLOSING_TOLERANCE || angle.radians() > CLOSING_TOLERANCE {
            return Err(RunError::Open {
                port: port.name.clone(),
                offset_mm,
                angle_deg: angle.degrees(),
            });
        }
    }
    Ok(())
}

fn joints(centerline: &Polyline, axes: &[Direction]) -> Result<Vec<Joint>, RunError> {
    let points = centerline.points();
    let flange = |point: Point, normal: Direction| Joint {
        kind: JointKind::Flange,
        plane: Plane { point, normal },
        deflection: Angle::ZERO,
        clock: Angle::ZERO,
    };
    let mut joints = vec![flange(points[0], axes[0])];
    for vertex in 1..axes.len() {
        let (incoming, outgoing) = (axes[vertex - 1], axes[vertex]);
        let plane = Plane::bisecting(points[vertex], &incoming, &outgoing)
            .ok_or(RunError::Reverses { vertex })?;
        let deflection = angle_between(&incoming, &outgoing);
        if deflection.radians() < STRAIGHT_TOLERANCE {
            return Err(RunError::Straight { vertex });
        }
        let clock = match vertex.checked_sub(2) {
            None => Angle::ZERO,
            Some(before) => clock_between(
                &incoming,
                &long_side(&incoming, &axes[before]),
                &long_side(&incoming, &-outgoing),
            ),
        };
        joints.push(Joint {
            kind: JointKind::Miter,
            plane,
            deflection,
            clock,
        });
    }
    joints.push(flange(points[points.len() - 1], axes[axes.len() - 1]));
    Ok(joints)
}

/// The side of a piece with axis `axis` that is long where it meets a neighbor:
/// square to the axis and, for the neighbor before, on the side it comes from
/// (`other` = its downstream direction); for the neighbor after, on the side away
/// from where it goes (`other` = its direction, reversed).
fn long_side(axis: &Direction, other: &Direction) -> Direction {
    let square = other.into_inner() - axis.into_inner() * axis.dot(other);
    Direction::new_normalize(square)
}

fn place(
    tube: &Tube,
    length: Length,
    edge: Length,
    axis: Direction,
    before: Option<Direction>,
    after: Option<&Direction>,
) -> Result<Placed, PieceError> {
    let start_long = before.map(|before| long_side(&axis, &before));
    let end_long = after.map(|after| long_side(&axis, &-*after));
    let zero = start_long
        .or(end_long)
        .unwrap_or_else(|| perpendicular(&axis));
    let cut = |neighbor: Option<Direction>, long: Option<Direction>| match (neighbor, long) {
        (Some(neighbor), Some(long)) => Cut {
            angle: angle_between(&axis, &neighbor) / 2.0,
            clock: clock_between(&axis, &zero, &long),
        },
        _ => Cut::SQUARE,
    };
    let start = cut(before, start_long);
    let end = cut(after.copied(), end_long);
    Ok(Placed {
        piece: Piece::new(tube.clone(), length, start, end)?,
        edge,
        axis,
        zero,
    })
}
