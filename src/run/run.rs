//! [`Run`]: the pieces and joints that a polyline between two ports is made of.

use super::centerline::LEAST_LEG;
use super::{Allowance, Arc, Centerline, Joint, JointKind, Port};
use crate::geometry::{
    Direction, Plane, Point, Polyline, Vector, angle_between, clock_between, perpendicular,
    transport,
};
use crate::tube::{BentPiece, Cut, Facets, Mesh, Part, Piece, PieceError, Ring, Tube};
use crate::units::{Angle, Length};
use thiserror::Error;

/// Largest distance, mm, that a polyline's end may be off its port, and largest
/// angle, rad, that its first and last edge may be off the port's axis. Both are
/// rounding of coordinates in the meters.
const CLOSING_TOLERANCE: f64 = 1e-9;

/// Deflections below this, rad, are no joint: 2 µm across a 20 m edge.
pub(super) const STRAIGHT_TOLERANCE: f64 = 1e-7;

/// A run of one tube between two ports.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    tube: Tube,
    centerline: Centerline,
    joints: Vec<Joint>,
    pieces: Vec<Placed>,
}

/// A piece where it stands in the run.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// The piece as it is cut: shorter than its edge by the allowances, longer
    /// by a socket.
    pub piece: Part,
    /// Its stretch of the centerline, joint to joint.
    pub edge: Length,
    /// Downstream direction of its axis at its start.
    pub axis: Direction,
    /// Where its clock zero points: the start's long side, or the end's where the
    /// start is square; on a stock bend the outside of the bend.
    pub zero: Direction,
    /// The arc of a stock bend.
    pub arc: Option<Arc>,
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
    /// A miter at the end of a stock bend, whose ends are square.
    #[error("the centerline turns at vertex {vertex}, at the end of a stock bend")]
    CutBend {
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
        centerline: impl Into<Centerline>,
        allowance: Allowance,
    ) -> Result<Self, RunError> {
        let centerline = centerline.into();
        check_ends(centerline.polyline(), start, end)?;
        let vertices: Vec<usize> = (0..centerline.polyline().points().len())
            .filter(|&vertex| !centerline.is_bend(vertex))
            .collect();
        let axes = centerline.polyline().directions();
        let clocks = clocks(&axes);
        let joints = joints(&centerline, &axes, &clocks)?;
        let pieces = (1..vertices.len())
            .map(|number| {
                let ends = [
                    (&joints[number - 1], (number == 1).then_some(start)),
                    (
                        &joints[number],
                        (number + 1 == vertices.len()).then_some(end),
                    ),
                ];
                let added = ends.map(|(joint, port)| {
                    allowance.past(joint, port.map_or(Length::ZERO, |port| port.socket))
                });
                let at = [vertices[number - 1], vertices[number]];
                place(tube, &centerline, &axes, at, added)
                    .map_err(|source| RunError::Piece { number, source })
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

    /// The polyline from the first port's face to the last port's: its joints, and the
    /// corners of its stock bends.
    pub const fn centerline(&self) -> &Polyline {
        self.centerline.polyline()
    }

    /// Joints in order of flow: a flange, the joints between pieces, a flange.
    pub fn joints(&self) -> &[Joint] {
        &self.joints
    }

    /// The joints between pieces, mitered or square.
    pub fn welds(&self) -> impl Iterator<Item = &Joint> {
        self.joints
            .iter()
            .filter(|joint| joint.kind != JointKind::Flange)
    }

    /// Pieces in order of flow; piece i stands between joints i and i + 1.
    pub fn pieces(&self) -> &[Placed] {
        &self.pieces
    }

    /// Length of the centerline, face to face.
    pub fn length(&self) -> Length {
        self.pieces.iter().map(|placed| placed.edge).sum()
    }

    /// Sum of the pieces' center lengths as cut.
    pub fn cut_length(&self) -> Length {
        self.pieces.iter().map(|placed| placed.piece.length()).sum()
    }

    /// Weld round all joints between pieces.
    pub fn weld_length(&self) -> Length {
        let radius = self.tube.radius();
        self.welds().map(|joint| joint.weld_length(radius)).sum()
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
    /// Exact: a straight piece's hull is that of its joints' ellipses, and an ellipse
    /// V + r·(U·cos t + W·sin t) reaches r·√(U² + W²) from V along each axis. The
    /// outside of an arc is farthest along an axis at its ends or where its radius
    /// lies nearest to that axis.
    pub fn bounds(&self) -> (Point, Point) {
        let radius = self.tube.radius().mm();
        let mut low = self.centerline().points()[0];
        let mut high = low;
        let mut include = |plane: &Plane, axis: &Direction| {
            let mark = perpendicular(axis);
            let on_plane = |side: Vector| {
                let normal = plane.normal;
                side - axis.into_inner() * (normal.dot(&side) / normal.dot(axis))
            };
            let (u, w) = (on_plane(mark.into_inner()), on_plane(axis.cross(&mark)));
            let reach = u.zip_map(&w, f64::hypot) * radius;
            (low, high) = (
                low.inf(&(plane.point - reach)),
                high.sup(&(plane.point + reach)),
            );
        };
        for (i, placed) in self.pieces.iter().enumerate() {
            include(&self.joints[i].plane, &placed.axis);
            include(&self.joints[i + 1].plane, &placed.end_axis());
            for (point, axis) in placed.arc.iter().flat_map(farthest) {
                include(
                    &Plane {
                        point,
                        normal: axis,
                    },
                    &axis,
                );
            }
        }
        (low, high)
    }

    /// Rings of points on the tube of `radius`, in order of flow: one a joint, on its
    /// plane, and as many along each stock bend as `facets` ask for.
    pub(super) fn rings(&self, radius: Length, facets: Facets) -> Vec<Ring> {
        let first = self.pieces[0].axis;
        let mut mark = perpendicular(&first);
        let mut rings = vec![joint_ring(
            &self.joints[0].plane,
            &first,
            &mark,
            radius,
            facets,
        )];
        let mut last = first;
        for (i, placed) in self.pieces.iter().enumerate() {
            // A joint's ring is drawn along the axis of the piece before it; the piece
            // after shares it, since both lie on one ellipse.
            mark = transport(&mark, &last, &placed.axis);
            last = placed.axis;
            let [start, end] = [self.joints[i].plane, self.joints[i + 1].plane];
            let joints = [start.point, end.point];
            for (point, axis) in placed.stations(facets, self.tube.radius(), joints) {
                mark = transport(&mark, &last, &axis);
                last = axis;
                rings.push(joint_ring(
                    &Plane {
                        point,
                        normal: axis,
                    },
                    &axis,
                    &mark,
                    radius,
                    facets,
                ));
            }
            rings.push(joint_ring(&end, &last, &mark, radius, facets));
        }
        rings
    }
}

impl Placed {
    /// Downstream direction of its axis at its end.
    pub fn end_axis(&self) -> Direction {
        self.arc.map_or(self.axis, |arc| arc.outgoing)
    }

    /// Where rings stand along a stock bend between its two `joints`.
    pub(super) fn stations(
        &self,
        facets: Facets,
        radius: Length,
        joints: [Point; 2],
    ) -> Vec<(Point, Direction)> {
        let Some(arc) = self.arc else {
            return Vec::new();
        };
        let turn = arc.turn();
        let steps = facets.steps_along(radius, arc.clr, turn);
        // An arc's end that is a joint has its ring already.
        let [from, to] = joints.map(|joint| u32::from(arc.leg(joint) <= LEAST_LEG));
        (from..=steps - to)
            .map(|step| arc.at(turn * (f64::from(step) / f64::from(steps))))
            .collect()
    }
}

/// Where along an arc its outside can be farthest along one of the frame's axes: where
/// its radius lies nearest to that axis.
fn farthest(arc: &Arc) -> Vec<(Point, Direction)> {
    let (along, out) = (arc.incoming, arc.outside());
    (0..3)
        .flat_map(|i| {
            let angle = Angle::from_radians(along[i].atan2(out[i]));
            [angle.wrapped(), (angle + Angle::HALF).wrapped()]
        })
        .filter(|&turned| turned < arc.turn())
        .map(|turned| arc.at(turned))
        .collect()
}

/// Points of a tube round `axis`, on `plane`.
pub(super) fn joint_ring(
    plane: &Plane,
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
            let point = plane.point + off_axis;
            point + axis.into_inner() * plane.reach(&point, axis)
        })
        .collect()
}

fn check_ends(centerline: &Polyline, start: &Port, end: &Port) -> Result<(), RunError> {
    for (port, (point, outward)) in [start, end].into_iter().zip(centerline.ends()) {
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

/// How far the bend plane has turned at each inner vertex since the one before that
/// turns; zero at the first, and where the centerline goes straight on.
fn clocks(axes: &[Direction]) -> Vec<Angle> {
    let mut clocks = vec![Angle::ZERO; axes.len() + 1];
    let mut before: Option<Direction> = None;
    for vertex in 1..axes.len() {
        let (incoming, outgoing) = (axes[vertex - 1], axes[vertex]);
        if angle_between(&incoming, &outgoing).radians() < STRAIGHT_TOLERANCE {
            continue;
        }
        if let Some(before) = before {
            let zero = long_side(&incoming, &before);
            clocks[vertex] = clock_between(&incoming, &zero, &long_side(&incoming, &-outgoing));
        }
        before = Some(incoming);
    }
    clocks
}

fn joints(
    centerline: &Centerline,
    axes: &[Direction],
    clocks: &[Angle],
) -> Result<Vec<Joint>, RunError> {
    let points = centerline.polyline().points();
    let last = axes.len();
    let joint = |vertex: usize| {
        if vertex == 0 || vertex == last {
            return Ok(Joint {
                kind: JointKind::Flange,
                plane: Plane {
                    point: points[vertex],
                    normal: axes[vertex.min(last - 1)],
                },
                deflection: Angle::ZERO,
                clock: Angle::ZERO,
            });
        }
        let (incoming, outgoing) = (axes[vertex - 1], axes[vertex]);
        let plane = Plane::bisecting(points[vertex], &incoming, &outgoing)
            .ok_or(RunError::Reverses { vertex })?;
        let deflection = angle_between(&incoming, &outgoing);
        let straight = deflection.radians() < STRAIGHT_TOLERANCE;
        let beside_bend = centerline.is_bend(vertex - 1) || centerline.is_bend(vertex + 1);
        match (beside_bend, straight) {
            (true, false) => Err(RunError::CutBend { vertex }),
            (false, true) => Err(RunError::Straight { vertex }),
            (true, true) => Ok(Joint {
                kind: JointKind::Square,
                plane,
                deflection: Angle::ZERO,
                // The bend that begins here is clocked here.
                clock: if centerline.is_bend(vertex + 1) {
                    clocks[vertex + 1]
                } else {
                    Angle::ZERO
                },
            }),
            (false, false) => Ok(Joint {
                kind: JointKind::Miter,
                plane,
                deflection,
                clock: clocks[vertex],
            }),
        }
    };
    (0..=last)
        .filter(|&vertex| !centerline.is_bend(vertex))
        .map(joint)
        .collect()
}

/// The side of a piece with axis `axis` that is long where it meets a neighbor:
/// square to the axis and, for the neighbor before, on the side it comes from
/// (`other` = its downstream direction); for the neighbor after, on the side away
/// from where it goes (`other` = its direction, reversed).
fn long_side(axis: &Direction, other: &Direction) -> Direction {
    let square = other.into_inner() - axis.into_inner() * axis.dot(other);
    Direction::new_normalize(square)
}

/// The piece between the joints at two vertices, `added` to at each end.
fn place(
    tube: &Tube,
    centerline: &Centerline,
    axes: &[Direction],
    [from, to]: [usize; 2],
    added: [Length; 2],
) -> Result<Placed, PieceError> {
    let points = centerline.polyline().points();
    let axis = axes[from];
    if let Some(arc) = centerline.arc_at(from + 1) {
        let legs = [arc.leg(points[from]), arc.leg(points[to])];
        let turn = arc.turn();
        let piece = BentPiece {
            tube: tube.clone(),
            clr: arc.clr,
            turn,
            legs: [legs[0] + added[0], legs[1] + added[1]],
        };
        return Ok(Placed {
            piece: Part::Bent(piece),
            edge: legs[0] + legs[1] + arc.clr * turn.radians(),
            axis,
            zero: arc.outside(),
            arc: Some(arc),
        });
    }
    let edge = Length::from_mm((points[to] - points[from]).norm());
    let mitered = |other: &Direction| angle_between(&axis, other).radians() >= STRAIGHT_TOLERANCE;
    let before = from.checked_sub(1).map(|i| axes[i]).filter(mitered);
    let after = axes.get(to).copied().filter(mitered);
    let start_long = before.map(|before| long_side(&axis, &before));
    let end_long = after.map(|after| long_side(&axis, &-after));
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
    let (start, end) = (cut(before, start_long), cut(after, end_long));
    let piece = Piece::new(tube.clone(), edge + added[0] + added[1], start, end)?;
    Ok(Placed {
        piece: Part::Straight(piece),
        edge,
        axis,
        zero,
        arc: None,
    })
}
