//! [`Solid`]: convex bodies and their exact signed distance.
//!
//! **Cost.** [`Solid::nearest_along`] is what a route's search calls over and over.
//! Nothing allocates. Optimized, with random segments of about a meter, it takes
//! 20 ns for a half space, 30 ns for a capsule, 0.15 µs for a block and 0.26 µs for a
//! cylinder; [`Solid::nearest_along_at_least`] is done with a far body in 20 to 80 ns.

use crate::geometry::{Direction, Plane, Point, Vector, perpendicular};
use crate::units::Length;
use nalgebra::Rotation3;

/// Squares of lengths between this and its reciprocal, mm², neither vanish nor
/// overflow, with enough room below for the parts of a sum of them.
const LEAST_SQUARE: f64 = 1e-200;

/// Error in a least distance, mm, at which its search stops: rounding at one
/// meter is about a tenth of it.
const NEAR_ENOUGH: f64 = 1e-11;

/// The same as a part of the distances compared, for very large scenes.
const NEAR_ENOUGH_PART: f64 = 16.0 * f64::EPSILON;

/// Bound on the steps of that search. One in three halves the stretch, so this
/// brings it to the resolution of `f64` whatever the body; most take under ten.
const MAX_STEPS: usize = 160;

/// A convex body.
///
/// Its signed distance is the Euclidean distance from the body outside, and minus
/// the distance to the nearest place on the surface inside. It never changes by
/// more than the point moves, and along a straight line it is convex: it has one
/// least stretch, and is greatest at an end.
///
/// Coordinates up to 1e60 mm give finite results. A negative radius or half side
/// is not a body and means nothing.
#[derive(Clone, Debug, PartialEq)]
pub enum Solid {
    /// A block, turned any way.
    Box {
        /// Where its diagonals meet.
        center: Point,
        /// Turns the job's axes into the block's own.
        axes: Rotation3<f64>,
        /// Half its sides along its own axes, mm.
        half: Vector,
    },
    /// Everything behind a plane: the side that the normal points away from.
    HalfSpace(Plane),
    /// A round bar with flat, square ends. Without length it has no axis, and
    /// counts as a ball: whichever disk is meant lies within.
    Cylinder {
        /// Middle of one end.
        from: Point,
        /// Middle of the other end.
        to: Point,
        /// Outside radius.
        radius: Length,
    },
    /// All that is within a radius of a segment: a round bar with round ends, or
    /// a ball where the ends are one.
    Capsule {
        /// Center of one end's ball.
        from: Point,
        /// Center of the other end's ball.
        to: Point,
        /// Outside radius.
        radius: Length,
    },
}

/// Where a segment comes nearest to a solid, or goes farthest from it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Near {
    /// The place as a part of the way along the segment, 0 to 1.
    pub part: f64,
    /// Signed distance there, mm; negative inside.
    pub distance: f64,
    /// Gradient of the distance there: the shortest way out. A unit vector, but
    /// shorter where the segment is deepest between two faces: there it is the mean
    /// of both faces' that is square to the segment, which is how the least distance
    /// changes as the segment moves.
    pub away: Vector,
}

impl Solid {
    /// The block with its sides along the job's axes and `min` and `max` as
    /// opposite corners, in any order.
    pub fn between(min: Point, max: Point) -> Self {
        Self::Box {
            center: nalgebra::center(&min, &max),
            axes: Rotation3::identity(),
            half: (max.coords * 0.5 - min.coords * 0.5).abs(),
        }
    }

    /// Signed distance of `point`, mm, and its gradient, a unit vector.
    ///
    /// Where the gradient jumps (a block's middle planes inside, a bar's axis) it
    /// is one of those beside the point, and never NaN.
    pub fn distance(&self, point: &Point) -> (f64, Vector) {
        match self {
            Self::Box { center, axes, half } => {
                let local = axes.inverse_transform_vector(&(point - center));
                let (distance, away) = block_distance(&local, half);
                (distance, axes * away)
            }
            Self::HalfSpace(plane) => (plane.distance(point), plane.normal.into_inner()),
            Self::Cylinder { from, to, radius } => match Bar::new(from, to, *radius) {
                Some(bar) => bar.distance(&(point - bar.middle)),
                None => capsule_distance(from, to, *radius, point),
            },
            Self::Capsule { from, to, radius } => capsule_distance(from, to, *radius, point),
        }
    }

    /// The least signed distance along the segment from `a` to `b`.
    ///
    /// Closed form for half spaces and capsules, else a bounded search; within
    /// 1e-9 mm in a scene of meters. Where a whole stretch is equally near, some
    /// place on it.
    pub fn nearest_along(&self, a: &Point, b: &Point) -> Near {
        match self {
            Self::Box { center, axes, half } => {
                let start = axes.inverse_transform_vector(&(a - center));
                let along = axes.inverse_transform_vector(&(b - a));
                let near = least_along(&start, &along, None, |local| block_distance(local, half));
                Near {
                    away: axes * near.away,
                    ..near
                }
            }
            Self::HalfSpace(_) => {
                let (start, end) = self.ends(a, b);
                if end.distance < start.distance {
                    end
                } else {
                    start
                }
            }
            Self::Cylinder { from, to, radius } => match Bar::new(from, to, *radius) {
                Some(bar) => {
                    // Exact where the side is nearest, which is the usual case.
                    let guess = part_nearest(a, b, from, to);
                    let start = a - bar.middle;
                    least_along(&start, &(b - a), Some(guess), |place| bar.distance(place))
                }
                None => self.near_at(a, b, part_nearest(a, b, from, to)),
            },
            // Inside a capsule, too, depth is the radius less the distance from
            // the axis: one formula serves both sides.
            Self::Capsule { from, to, .. } => self.near_at(a, b, part_nearest(a, b, from, to)),
        }
    }

    /// As [`Solid::nearest_along`], but where the segment is plainly farther than
    /// `enough`, mm, cheaper and only a lower bound, itself more than `enough`:
    /// distance(middle) − |b − a|/2, as no distance changes by more than the point
    /// moves. `part` and `away` are then those of the middle.
    pub fn nearest_along_at_least(&self, a: &Point, b: &Point, enough: f64) -> Near {
        let middle = self.near_at(a, b, 0.5);
        let bound = middle.distance - 0.5 * (b - a).norm();
        if bound > enough {
            Near {
                distance: bound,
                ..middle
            }
        } else {
            self.nearest_along(a, b)
        }
    }

    /// The greatest signed distance along the segment from `a` to `b`, always at
    /// an end of it.
    pub fn farthest_along(&self, a: &Point, b: &Point) -> Near {
        let (start, end) = self.ends(a, b);
        if end.distance > start.distance {
            end
        } else {
            start
        }
    }

    /// The solid carried by p → turn·p + shift, `shift` in mm.
    pub fn moved(&self, turn: &Rotation3<f64>, shift: &Vector) -> Self {
        let carry = |point: &Point| turn * point + shift;
        match self {
            Self::Box { center, axes, half } => Self::Box {
                center: carry(center),
                axes: turn * axes,
                half: *half,
            },
            Self::HalfSpace(plane) => Self::HalfSpace(Plane {
                point: carry(&plane.point),
                normal: turn * plane.normal,
            }),
            Self::Cylinder { from, to, radius } => Self::Cylinder {
                from: carry(from),
                to: carry(to),
                radius: *radius,
            },
            Self::Capsule { from, to, radius } => Self::Capsule {
                from: carry(from),
                to: carry(to),
                radius: *radius,
            },
        }
    }

    /// The place farthest along `direction`; for a half space, which has none, its point.
    pub fn farthest(&self, direction: &Vector) -> Point {
        match self {
            Self::Box { center, axes, half } => {
                let local = axes.inverse_transform_vector(direction);
                center + axes * half.zip_map(&local, f64::copysign)
            }
            Self::HalfSpace(plane) => plane.point,
            Self::Cylinder { from, to, radius } => {
                let end = farther(from, to, direction);
                let axis = to - from;
                let along = axis.dot(direction) / axis.norm_squared().max(f64::MIN_POSITIVE);
                let across = direction - axis * along;
                end + length_and_direction(&across)
                    .map_or_else(Vector::zeros, |(_, out)| out * radius.mm())
            }
            Self::Capsule { from, to, radius } => {
                let out = length_and_direction(direction);
                farther(from, to, direction)
                    + out.map_or_else(Vector::zeros, |(_, out)| out * radius.mm())
            }
        }
    }

    /// Center and radius, mm, of a ball that holds the solid; `None` for a half
    /// space, which none holds.
    pub fn bounds_sphere(&self) -> Option<(Point, f64)> {
        match self {
            Self::Box { center, half, .. } => Some((*center, half.norm())),
            Self::HalfSpace(_) => None,
            Self::Cylinder { from, to, radius } => {
                let reach = (0.5 * (to - from).norm()).hypot(radius.mm());
                Some((nalgebra::center(from, to), reach))
            }
            Self::Capsule { from, to, radius } => {
                let reach = 0.5 * (to - from).norm() + radius.mm();
                Some((nalgebra::center(from, to), reach))
            }
        }
    }

    fn near_at(&self, a: &Point, b: &Point, part: f64) -> Near {
        let (distance, away) = self.distance(&(a + (b - a) * part));
        Near {
            part,
            distance,
            away,
        }
    }

    fn ends(&self, a: &Point, b: &Point) -> (Near, Near) {
        (self.near_at(a, b, 0.0), self.near_at(a, b, 1.0))
    }
}

/// The one of two points that is farther along `direction`.
fn farther(a: &Point, b: &Point, direction: &Vector) -> Point {
    if (b - a).dot(direction) > 0.0 { *b } else { *a }
}

/// A cylinder as its distance is computed.
struct Bar {
    middle: Point,
    axis: Direction,
    /// Half the length, mm.
    half: f64,
    /// Outside radius, mm.
    radius: f64,
}

impl Bar {
    /// `None` for a cylinder without length.
    fn new(from: &Point, to: &Point, radius: Length) -> Option<Self> {
        let (length, axis) = length_and_direction(&(to - from))?;
        Some(Self {
            middle: nalgebra::center(from, to),
            axis: Direction::new_unchecked(axis),
            half: 0.5 * length,
            radius: radius.mm(),
        })
    }

    /// Signed distance and gradient at `place`, counted from the middle.
    fn distance(&self, place: &Vector) -> (f64, Vector) {
        let height = self.axis.dot(place);
        let (reach, outward) = length_and_direction(&(place - self.axis.into_inner() * height))
            .unwrap_or_else(|| (0.0, perpendicular(&self.axis).into_inner()));
        let endward = self.axis.into_inner() * 1.0_f64.copysign(height);
        let beyond_side = reach - self.radius;
        let beyond_end = height.abs() - self.half;
        // Past both the side and an end, the rim is nearest; else one face decides.
        if beyond_side > 0.0 && beyond_end > 0.0 {
            let rim = outward * beyond_side + endward * beyond_end;
            length_and_direction(&rim).unwrap_or((0.0, outward))
        } else if beyond_side > beyond_end {
            (beyond_side, outward)
        } else {
            (beyond_end, endward)
        }
    }
}

/// Signed distance and gradient, in a block's own frame, at `local`.
fn block_distance(local: &Vector, half: &Vector) -> (f64, Vector) {
    let beyond = local.abs() - half;
    let outside = beyond.zip_map(local, |b, l| b.max(0.0).copysign(l));
    length_and_direction(&outside).unwrap_or_else(|| {
        let nearest = beyond.imax();
        let mut away = Vector::zeros();
        away[nearest] = 1.0_f64.copysign(local[nearest]);
        (beyond[nearest], away)
    })
}

/// Signed distance and gradient at `point` of all within `radius` of a segment.
fn capsule_distance(from: &Point, to: &Point, radius: Length, point: &Point) -> (f64, Vector) {
    let axis = to - from;
    let part = part_of(axis.dot(&(point - from)), axis.norm_squared());
    let (distance, away) = length_and_direction(&(point - (from + axis * part)))
        .unwrap_or_else(|| (0.0, any_across(&axis)));
    (distance - radius.mm(), away)
}

/// Some unit vector square to `axis`, which may be zero.
fn any_across(axis: &Vector) -> Vector {
    length_and_direction(axis).map_or(Vector::x(), |(_, direction)| {
        perpendicular(&Direction::new_unchecked(direction)).into_inner()
    })
}

/// Length of `vector` and the unit vector along it, for tiny and huge ones too;
/// `None` for the zero vector.
fn length_and_direction(vector: &Vector) -> Option<(f64, Vector)> {
    let square = vector.norm_squared();
    if (LEAST_SQUARE..=1.0 / LEAST_SQUARE).contains(&square) {
        let length = square.sqrt();
        return Some((length, vector / length));
    }
    let scale = vector.amax();
    if scale == 0.0 {
        return None;
    }
    let scaled = vector / scale;
    let length = scaled.norm();
    Some((scale * length, scaled / length))
}

/// `over`/`under` held within 0 to 1; 0 where that is not a number.
fn part_of(over: f64, under: f64) -> f64 {
    let part = over / under;
    // Not `clamp`: a NaN falls through to 0.
    if part > 0.0 { part.min(1.0) } else { 0.0 }
}

/// The part of the way from `a` to `b` that is nearest to the segment from `c` to
/// `d`.
///
/// As [`crate::geometry::Segment::closest_points`], but with cross products in
/// place of a·e − b², which loses half the digits for nearly parallel segments.
fn part_nearest(a: &Point, b: &Point, c: &Point, d: &Point) -> f64 {
    let (along, across, between) = (b - a, d - c, c - a);
    let normal = along.cross(&across);
    let part = part_of(between.cross(&across).dot(&normal), normal.norm_squared());
    // Held to the other segment's ends, its nearest place may ask for another part.
    let other = part_of(across.dot(&(along * part - between)), across.norm_squared());
    part_of(along.dot(&(between + across * other)), along.norm_squared())
}

/// A convex function of a part of the way, at one place.
struct Sample {
    part: f64,
    distance: f64,
    away: Vector,
    /// Change of the distance per part of the way, mm.
    slope: f64,
}

impl Sample {
    fn near(&self) -> Near {
        Near {
            part: self.part,
            distance: self.distance,
            away: self.away,
        }
    }
}

/// The least of a convex signed distance on the way from `start` by `along`, with
/// a part of the way to try first if there is one.
///
/// Keeps two places between which the distance stops falling. Their tangents
/// meet below the least distance, which says how much there is left to gain and
/// is exact between two flat faces; the secant of the square's slope is exact
/// near a block's edge or corner; halving bounds the steps.
fn least_along(
    start: &Vector,
    along: &Vector,
    mut guess: Option<f64>,
    distance: impl Fn(&Vector) -> (f64, Vector),
) -> Near {
    let sample = |part: f64| {
        let (distance, away) = distance(&(start + along * part));
        Sample {
            part,
            distance,
            away,
            slope: away.dot(along),
        }
    };
    let mut low = sample(0.0);
    if low.slope >= 0.0 {
        return low.near();
    }
    let mut high = sample(1.0);
    if high.slope <= 0.0 {
        return high.near();
    }
    for step in 0..MAX_STEPS {
        let (meeting, bound) = tangents_meet(&low, &high);
        if nothing_to_gain(&low, &high, bound) {
            break;
        }
        let part = match step % 3 {
            0 => guess.take().unwrap_or_else(|| secant(&low, &high)),
            1 => meeting,
            _ => 0.5 * (low.part + high.part),
        };
        let next = sample(part);
        if next.slope < 0.0 {
            low = next;
        } else {
            high = next;
        }
    }
    deepest(&low, &high)
}

/// The better of both places, with the mean of their gradients along which the
/// distance neither falls nor rises: at a smooth least that of the place itself, at
/// a kink the one by which the least distance changes (envelope theorem).
fn deepest(low: &Sample, high: &Sample) -> Near {
    let better = if low.distance < high.distance {
        low
    } else {
        high
    };
    let share = part_of(-low.slope, high.slope - low.slope);
    Near {
        away: low.away * (1.0 - share) + high.away * share,
        ..better.near()
    }
}

/// Where the tangents at both places meet, and how high: no more than the least.
fn tangents_meet(low: &Sample, high: &Sample) -> (f64, f64) {
    let width = high.part - low.part;
    let rise = high.distance - low.distance;
    let onward = part_of(high.slope * width - rise, (high.slope - low.slope) * width) * width;
    (low.part + onward, low.distance + low.slope * onward)
}

/// Where the slope of the squared distance passes zero if it is straight between
/// both places; of the distance itself where that goes inside.
fn secant(low: &Sample, high: &Sample) -> f64 {
    let outside = low.distance > 0.0 && high.distance > 0.0;
    let weigh = |sample: &Sample| sample.slope * if outside { sample.distance } else { 1.0 };
    let (falling, rising) = (weigh(low), weigh(high));
    low.part + part_of(falling, falling - rising) * (high.part - low.part)
}

fn nothing_to_gain(low: &Sample, high: &Sample, bound: f64) -> bool {
    let rounding = NEAR_ENOUGH_PART * (low.distance.abs() + high.distance.abs());
    low.distance.min(high.distance) - bound <= rounding.max(NEAR_ENOUGH)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn point(x: f64, y: f64, z: f64) -> Point {
        Point::new(x, y, z)
    }

    /// 200 × 100 × 60 mm about the origin.
    fn block() -> Solid {
        Solid::between(point(-100.0, -50.0, -30.0), point(100.0, 50.0, 30.0))
    }

    /// Along z from 0 to 200 mm, of radius 40 mm.
    fn cylinder() -> Solid {
        Solid::Cylinder {
            from: Point::origin(),
            to: point(0.0, 0.0, 200.0),
            radius: Length::from_mm(40.0),
        }
    }

    fn capsule() -> Solid {
        Solid::Capsule {
            from: Point::origin(),
            to: point(0.0, 0.0, 200.0),
            radius: Length::from_mm(40.0),
        }
    }

    fn assert_distance(solid: &Solid, at: [f64; 3], distance: f64, away: [f64; 3]) {
        let (found, gradient) = solid.distance(&Point::from(at));
        assert!((found - distance).abs() < 1e-12, "{solid:?} {at:?} {found}");
        let apart = (gradient - Vector::from(away)).norm();
        assert!(apart < 1e-12, "{solid:?} {at:?} {gradient}");
    }

    #[test]
    fn a_block_is_measured_from_faces_edges_and_corners() {
        assert_distance(&block(), [110.0, 20.0, -10.0], 10.0, [1.0, 0.0, 0.0]);
        assert_distance(&block(), [0.0, 53.0, -34.0], 5.0, [0.0, 0.6, -0.8]);
        let third = 1.0 / 3.0;
        let corner = [-third, 2.0 * third, 2.0 * third];
        assert_distance(&block(), [-101.0, 52.0, 32.0], 3.0, corner);
        assert_distance(&block(), [0.0, 0.0, 25.0], -5.0, [0.0, 0.0, 1.0]);
        assert_distance(&block(), [-98.0, 45.0, 0.0], -2.0, [-1.0, 0.0, 0.0]);
        assert_distance(&block(), [0.0, 0.0, 0.0], -30.0, [0.0, 0.0, 1.0]);
    }

    #[test]
    fn a_half_space_is_behind_its_plane() {
        let wall = Solid::HalfSpace(Plane {
            point: point(0.0, 0.0, 5.0),
            normal: Vector::z_axis(),
        });
        assert_distance(&wall, [70.0, -3.0, 9.0], 4.0, [0.0, 0.0, 1.0]);
        assert_distance(&wall, [0.0, 0.0, -1.0], -6.0, [0.0, 0.0, 1.0]);
    }

    #[test]
    fn a_cylinder_is_measured_from_side_ends_and_rims() {
        assert_distance(&cylinder(), [0.0, 50.0, 90.0], 10.0, [0.0, 1.0, 0.0]);
        assert_distance(&cylinder(), [20.0, 0.0, 207.0], 7.0, [0.0, 0.0, 1.0]);
        assert_distance(&cylinder(), [43.0, 0.0, -4.0], 5.0, [0.6, 0.0, -0.8]);
        assert_distance(&cylinder(), [0.0, -38.0, 100.0], -2.0, [0.0, -1.0, 0.0]);
        assert_distance(&cylinder(), [10.0, 0.0, 1.0], -1.0, [0.0, 0.0, -1.0]);
    }

    #[test]
    fn a_capsule_is_measured_from_side_and_balls() {
        assert_distance(&capsule(), [0.0, 50.0, 90.0], 10.0, [0.0, 1.0, 0.0]);
        assert_distance(&capsule(), [30.0, 0.0, 240.0], 10.0, [0.6, 0.0, 0.8]);
        assert_distance(&capsule(), [0.0, -38.0, 100.0], -2.0, [0.0, -1.0, 0.0]);
        assert_distance(&capsule(), [0.0, 0.0, -10.0], -30.0, [0.0, 0.0, -1.0]);
    }

    #[test]
    fn the_order_of_corners_is_free() {
        let (a, b) = (point(1.0, 8.0, -3.0), point(5.0, 2.0, 4.0));
        assert_eq!(Solid::between(a, b), Solid::between(b, a));
    }

    #[test]
    fn a_line_past_an_edge_is_nearest_where_it_crosses_it() {
        // At height 80 over an edge along y, running across it.
        let near = block().nearest_along(&point(40.0, -30.0, 110.0), &point(160.0, 30.0, 20.0));
        // In the plane of x and z: the corner (100, 30) from the line through
        // (40, 110) by (120, −90), |60·90 − 80·120|/150 = 28.
        assert!((near.distance - 28.0).abs() < 1e-9);
        assert!((near.away - Vector::new(0.6, 0.0, 0.8)).norm() < 1e-6);
    }

    #[test]
    fn a_line_through_a_block_is_deepest_between_two_faces() {
        // Into the face z = 30, out at x = 100, level in y: depths
        // 30 − z and 100 − x are equal at z = x − 70.
        let near = block().nearest_along(&point(60.0, 0.0, 40.0), &point(140.0, 0.0, -40.0));
        assert!((near.distance + 15.0).abs() < 1e-9);
        assert!((near.part - 25.0 / 80.0).abs() < 1e-9);
        // Both faces are equally steep along the line: half of each gradient.
        assert!((near.away - Vector::new(0.5, 0.0, 0.5)).norm() < 1e-9);
    }

    #[test]
    fn nearly_parallel_lines_lose_no_digits() {
        // Crossing the axis by a hair: least distance is that of touching it.
        let near = capsule().nearest_along(&point(1e-5, 0.0, 20.0), &point(-3e-5, 0.0, 180.0));
        assert!((near.distance + 40.0).abs() < 1e-12);
        assert!((near.part - 0.25).abs() < 1e-6);
    }

    #[test]
    fn degenerate_and_huge_input_stays_finite() {
        for size in [0.0, 1e-300, 1e-20, 1.0, 1e9, 1e60] {
            for solid in odd_solids(size) {
                for a in odd_points(size) {
                    let (distance, away) = solid.distance(&a);
                    assert!(distance.is_finite(), "{solid:?} {a:?}");
                    assert!((away.norm() - 1.0).abs() < 1e-12, "{solid:?} {a:?}");
                    for b in odd_points(size) {
                        assert_sound(&solid.nearest_along(&a, &b));
                        assert_sound(&solid.farthest_along(&a, &b));
                        assert_sound(&solid.nearest_along_at_least(&a, &b, 0.0));
                    }
                }
            }
        }
    }

    fn assert_sound(near: &Near) {
        assert!((0.0..=1.0).contains(&near.part));
        assert!(near.distance.is_finite());
        assert!(near.away.norm() <= 1.0 + 1e-12);
    }

    fn odd_points(size: f64) -> Vec<Point> {
        vec![
            Point::origin(),
            point(size, 0.0, 0.0),
            point(0.0, -size, size),
            point(1.0, 1.0, 1.0),
            point(size, size, 0.5 * size),
        ]
    }

    fn odd_solids(size: f64) -> Vec<Solid> {
        let mut solids = vec![Solid::HalfSpace(Plane {
            point: point(size, 0.0, 0.0),
            normal: Vector::x_axis(),
        })];
        for to in odd_points(size) {
            solids.push(Solid::between(Point::origin(), to));
            for radius in [0.0, 1.0, size].map(Length::from_mm) {
                let from = Point::origin();
                solids.push(Solid::Cylinder { from, to, radius });
                solids.push(Solid::Capsule { from, to, radius });
            }
        }
        solids
    }

    /// Anywhere within about a meter; whole tens make ties, parallels and touching
    /// common.
    fn place() -> impl Strategy<Value = Point> {
        let tens = (-50_i8..=50).prop_map(|n| 10.0 * f64::from(n));
        prop_oneof![
            prop::array::uniform3(-500.0..500.0_f64),
            prop::array::uniform3(tens),
        ]
        .prop_map(Point::from)
    }

    fn turn() -> impl Strategy<Value = Rotation3<f64>> {
        let angle = prop_oneof![Just(0.0), -3.2..3.2_f64];
        prop::array::uniform3(angle).prop_map(|[x, y, z]| Rotation3::from_euler_angles(x, y, z))
    }

    fn solid() -> impl Strategy<Value = Solid> {
        let size = || {
            prop_oneof![
                1.0..300.0_f64,
                (0_i8..=20).prop_map(|n| 10.0 * f64::from(n))
            ]
        };
        let radius = || size().prop_map(Length::from_mm);
        let half = prop::array::uniform3(size()).prop_map(Vector::from);
        prop_oneof![
            (place(), turn(), half).prop_map(|(center, axes, half)| Solid::Box {
                center,
                axes,
                half
            }),
            (place(), turn()).prop_map(|(point, turn)| Solid::HalfSpace(Plane {
                point,
                normal: turn * Vector::z_axis(),
            })),
            (place(), place(), radius()).prop_map(|(from, to, radius)| Solid::Cylinder {
                from,
                to,
                radius
            }),
            (place(), place(), radius()).prop_map(|(from, to, radius)| Solid::Capsule {
                from,
                to,
                radius
            }),
        ]
    }

    /// The least distance by thirds: slow, and sure for a convex function.
    fn least_by_thirds(solid: &Solid, a: &Point, b: &Point) -> f64 {
        let at = |part: f64| solid.distance(&(a + (b - a) * part)).0;
        let (mut low, mut high) = (0.0, 1.0);
        for _ in 0..100 {
            let (first, second) = ((2.0 * low + high) / 3.0, (low + 2.0 * high) / 3.0);
            if at(first) < at(second) {
                high = second;
            } else {
                low = first;
            }
        }
        at(low).min(at(high))
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(1000) })]

        #[test]
        fn the_gradient_is_that_of_the_distance(solid in solid(), p in place()) {
            const STEP: f64 = 1e-5;
            const TURN: f64 = 1e-5;
            let (_, away) = solid.distance(&p);
            prop_assert!((away.norm() - 1.0).abs() < 1e-12);
            let mut measured = Vector::zeros();
            for i in 0..3 {
                let mut step = Vector::zeros();
                step[i] = STEP;
                let (ahead, back) = (solid.distance(&(p + step)), solid.distance(&(p - step)));
                // Not across a kink, nor so near an edge that it turns fast. The slope
                // of a convex function only rises, so this also bounds the error.
                prop_assume!((ahead.1 - back.1).norm() < TURN);
                measured[i] = (ahead.0 - back.0) / (2.0 * STEP);
            }
            prop_assert!((measured - away).norm() < 2.0 * TURN);
        }

        #[test]
        fn the_surface_is_where_the_gradient_points(solid in solid(), p in place()) {
            let (distance, away) = solid.distance(&p);
            let (left, _) = solid.distance(&(p - away * distance));
            prop_assert!(left.abs() < 1e-9);
        }

        #[test]
        fn distance_is_convex_and_changes_no_faster_than_the_point(
            solid in solid(), a in place(), b in place(), part in 0.0..1.0_f64,
        ) {
            let ends = (solid.distance(&a).0, solid.distance(&b).0);
            let between = solid.distance(&(a + (b - a) * part)).0;
            prop_assert!(between <= ends.0 * (1.0 - part) + ends.1 * part + 1e-9);
            prop_assert!((ends.1 - ends.0).abs() <= (b - a).norm() + 1e-9);
        }

        #[test]
        fn the_nearest_place_is_the_least(solid in solid(), a in place(), b in place()) {
            let near = solid.nearest_along(&a, &b);
            prop_assert!((near.distance - least_by_thirds(&solid, &a, &b)).abs() < 1e-9);
            let (distance, _) = solid.distance(&(a + (b - a) * near.part));
            prop_assert!((distance - near.distance).abs() < 1e-9);
            // Outside there is no kink, so the gradient stays whole.
            prop_assert!(near.distance < 1e-3 || (near.away.norm() - 1.0).abs() < 1e-6);
        }

        #[test]
        fn the_farthest_place_is_an_end(solid in solid(), a in place(), b in place()) {
            let far = solid.farthest_along(&a, &b);
            let greatest = solid.distance(&a).0.max(solid.distance(&b).0);
            prop_assert!((far.distance - greatest).abs() < 1e-12);
            prop_assert!(far.part == 0.0 || far.part == 1.0);
        }

        #[test]
        fn the_shortcut_is_a_lower_bound(
            solid in solid(), a in place(), b in place(), enough in -50.0..200.0_f64,
        ) {
            let exact = solid.nearest_along(&a, &b).distance;
            let quick = solid.nearest_along_at_least(&a, &b, enough).distance;
            prop_assert!(quick <= exact + 1e-9);
            prop_assert!(quick == exact || quick > enough);
        }

        #[test]
        fn moving_everything_changes_nothing(
            solid in solid(), a in place(), b in place(), turn in turn(), shift in place(),
        ) {
            let shift = shift.coords;
            let (there, c, d) = (solid.moved(&turn, &shift), turn * a + shift, turn * b + shift);
            prop_assert!((solid.distance(&a).0 - there.distance(&c).0).abs() < 1e-9);
            let (before, after) = (solid.nearest_along(&a, &b), there.nearest_along(&c, &d));
            prop_assert!((before.distance - after.distance).abs() < 1e-9);
        }

        #[test]
        fn the_ball_holds_the_solid(solid in solid(), p in place()) {
            let (distance, away) = solid.distance(&p);
            if let Some((center, reach)) = solid.bounds_sphere() {
                let surface = p - away * distance;
                prop_assert!((surface - center).norm() <= reach + 1e-9);
            } else {
                prop_assert!(matches!(solid, Solid::HalfSpace(_)));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(200) })]

        #[test]
        fn no_sampled_place_is_nearer(solid in solid(), a in place(), b in place()) {
            const PARTS: u32 = 2000;
            let sampled = (0..=PARTS)
                .map(|i| solid.distance(&(a + (b - a) * (f64::from(i) / f64::from(PARTS)))).0)
                .fold(f64::INFINITY, f64::min);
            let found = solid.nearest_along(&a, &b).distance;
            prop_assert!(found <= sampled + 1e-9);
            // The nearest sample is at most half a spacing off.
            let spacing = (b - a).norm() / f64::from(PARTS);
            prop_assert!(sampled - found <= 0.5 * spacing + 1e-9);
        }
    }
}
