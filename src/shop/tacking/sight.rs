//! [`Sight`]: whether a tape can be pulled straight past what is built.

use super::built_face::BuiltFace;
use super::origin::Origin;
use crate::geometry::{Direction, Plane, Point, Segment, Vector};
use crate::run::{Placed, Run};
use crate::units::{Angle, Length};

/// How far a tape's line may go into the outside and still count as free: pulled over a
/// bump of 1 mm, a tape of 100 mm reads 2·1²/100 = 0.02 mm more.
const GRAZE: Length = Length::from_mm(1.0);
/// The same as a part of the radius, for thin tube.
const GRAZE_PART: f64 = 0.1;
/// A line that is inside for less than this, mm, touches: rounding.
const TOUCHES: f64 = 1e-6;
/// Stock bends are taken as chords of this turn: at a CLR of 500 mm 0.17 mm off the arc.
const CHORD: Angle = Angle::from_degrees(3.0);

/// The outside of what is built so far.
pub(in crate::shop) struct Sight {
    rods: Vec<Rod>,
}

/// A straight rod between two planes.
struct Rod {
    start: Plane,
    end: Plane,
    axis: Direction,
    radius: f64,
    /// A ball round it.
    middle: Point,
    reach: f64,
}

impl Sight {
    /// Of the pieces at `built`, as they stand once welded, and the newest face.
    pub fn new(run: &Run, built: &[usize], face: &BuiltFace) -> Self {
        let radius = run.tube().radius();
        let radius = (radius - GRAZE.min(radius * GRAZE_PART)).mm();
        let joints = run.joints();
        let rods = built.iter().flat_map(|&index| {
            let mut ends = [joints[index].plane, joints[index + 1].plane];
            if index + 1 == face.piece {
                let normal =
                    Direction::new_unchecked(face.outward.into_inner() * face.origin.sign());
                let own = Plane {
                    normal,
                    ..face.plane()
                };
                match face.origin {
                    Origin::First => ends[1] = own,
                    Origin::Last => ends[0] = own,
                }
            }
            rods(&run.pieces()[index], ends, radius)
        });
        Self {
            rods: rods.collect(),
        }
    }

    /// Whether the straight line between two points keeps out of all tube.
    pub fn is_free(&self, line: &Segment) -> bool {
        !self.rods.iter().any(|rod| rod.holds(line))
    }
}

/// A piece as rods between its two planes, whose normals point downstream.
fn rods(placed: &Placed, [start, end]: [Plane; 2], radius: f64) -> Vec<Rod> {
    let Some(arc) = placed.arc else {
        return vec![Rod::new(start, end, placed.axis, radius)];
    };
    let turn = arc.turn();
    let count = (turn / CHORD).ceil().max(1.0);
    let square = |(point, normal): (Point, Direction)| Plane { point, normal };
    let steps = (0..=count as u32).map(|step| square(arc.at(turn * (f64::from(step) / count))));
    let planes: Vec<Plane> = std::iter::once(start)
        .chain(steps)
        .chain(std::iter::once(end))
        .collect();
    let pairs = planes.windows(2);
    pairs
        .filter_map(|pair| {
            let axis = Direction::try_new(pair[1].point - pair[0].point, TOUCHES)?;
            Some(Rod::new(pair[0], pair[1], axis, radius))
        })
        .collect()
}

impl Rod {
    fn new(start: Plane, end: Plane, axis: Direction, radius: f64) -> Self {
        let between = end.point - start.point;
        // An end reaches r/cos κ from its center.
        let slant = |plane: &Plane| radius / plane.normal.dot(&axis).abs().max(f64::MIN_POSITIVE);
        Self {
            start,
            end,
            axis,
            radius,
            middle: start.point + between / 2.0,
            reach: between.norm() / 2.0 + slant(&start).max(slant(&end)),
        }
    }

    /// Whether a stretch of the line lies inside.
    fn holds(&self, line: &Segment) -> bool {
        let nearest = line.closest_to(&self.middle);
        if (nearest - self.middle).norm() > self.reach {
            return false;
        }
        let way = line.vector();
        let Some(mut within) = self.within_radius(line, &way) else {
            return false;
        };
        for (plane, side) in [(&self.start, 1.0), (&self.end, -1.0)] {
            // Ahead of the start and behind the end: at + s·slope ≥ 0.
            let (at, slope) = (
                plane.distance(&line.start) * side,
                plane.normal.dot(&way) * side,
            );
            if slope > 0.0 {
                within.0 = within.0.max(-at / slope);
            } else if slope < 0.0 {
                within.1 = within.1.min(-at / slope);
            } else if at < 0.0 {
                return false;
            }
        }
        (within.1 - within.0) * way.norm() > TOUCHES
    }

    /// The part of the line, 0 to 1, that is nearer than the radius to the axis.
    fn within_radius(&self, line: &Segment, way: &Vector) -> Option<(f64, f64)> {
        let square = |v: Vector| v - self.axis.into_inner() * self.axis.dot(&v);
        let (from, way) = (square(line.start - self.start.point), square(*way));
        let (a, b) = (way.norm_squared(), from.dot(&way));
        let c = from.norm_squared() - self.radius * self.radius;
        let root = b * b - a * c;
        if a <= f64::MIN_POSITIVE {
            return (c < 0.0).then_some((0.0, 1.0));
        }
        if root <= 0.0 {
            return None;
        }
        let (middle, half) = (-b / a, root.sqrt() / a);
        let (from, to) = ((middle - half).max(0.0), (middle + half).min(1.0));
        (from < to).then_some((from, to))
    }
}
