//! [`Closure`]: the piece of tube that closes a gap.

use super::seam::At;
use super::trim::spread;
use super::{Axis, BuiltEnd, FitUp, Rim, Seam, Trim};
use crate::geometry::{
    Direction, Plane, Point, Vector, angle_between, clock_between, perpendicular, toward,
};
use crate::tube::{Cut, Edge, PieceError, Scribed, Sleeve, Tube};
use crate::units::{Angle, Length};
use thiserror::Error;

/// An end whose plane is this near to a true miter's all round the outside needs no new
/// cut: what a file takes off.
const ALREADY: Length = Length::from_mm(0.05);
/// Rounds in which the cuts of two trimmed ends settle; each changes the closing piece's
/// axis, and with it the other, by about r·tan κ over its length.
const ROUNDS: usize = 100;
/// Change of a cut's place, mm, at which it has settled.
const SETTLED: f64 = 1e-12;
/// Sides at which a piece is scribed to a ragged rim.
const SCRIBED: usize = 144;
/// Cuts below this, rad, are square: 1e-11 mm across a tube of 100 mm.
const SQUARE: f64 = 1e-13;
/// Cosine of the greatest angle, 75°, between a built tube and the piece that goes on.
const STEEPEST: f64 = 0.258_819_045_102_520_7;

/// The piece of straight tube that closes a gap between two built ends, and how it fits.
///
/// Each end is met as it is built, or cut again for a true miter. Between two ends as they
/// are the piece's axis is laid for the least mismatch of the walls. Where one is cut
/// again, it goes through the center of the other and through the point of the cut end's
/// axis at which the new plane, that bisects both axes, stands clear of the old rim.
///
/// With a root gap, each seam's meeting plane is in the middle of the gap: the built tube
/// is taken to go on as far as that, and the piece is cut back from it as far.
#[derive(Clone, Debug, PartialEq)]
pub struct Closure {
    /// Its axis, downstream, through the center of its start.
    pub axis: Axis,
    /// Its clock zero: the start's long side, the end's where the start is square; the
    /// mark on the end before it where neither has one.
    pub zero: Direction,
    /// Its exact shape.
    pub sleeve: Sleeve,
    /// How it meets the end before it and the end after it.
    pub seams: [Seam; 2],
    /// Ends that are cut again for it.
    pub trims: [Option<Trim>; 2],
    /// Where its axis meets the middle of each gap.
    pub corners: [Point; 2],
    /// Clocks of the marks on the built ends, on its own scale.
    pub marks: [Option<Angle>; 2],
    /// Minutes to cut and fit it, and to cut ends again.
    pub minutes: f64,
    /// What speaks against it: nothing if it can be welded.
    pub against: Vec<Against>,
}

/// Which of the two ends something is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The end that flow comes from.
    Before,
    /// The end that flow goes on into.
    After,
}

impl Side {
    /// Both, in order of flow.
    pub const BOTH: [Self; 2] = [Self::Before, Self::After];

    /// A direction out of this end, as flow goes.
    pub(super) fn downstream(self, outward: &Direction) -> Direction {
        match self {
            Self::Before => *outward,
            Self::After => -*outward,
        }
    }

    /// The word for it.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Before => "before",
            Self::After => "after",
        }
    }
}

/// What speaks against a closing piece.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Against {
    /// Walls do not meet.
    HighLow {
        /// At which seam.
        side: Side,
        /// By how much at worst.
        worst: Length,
        /// How much may be welded.
        most: Length,
    },
    /// A steeper cut than the job allows.
    Cut {
        /// At which seam.
        side: Side,
        /// The cut.
        cut: Angle,
        /// The greatest.
        most: Angle,
    },
    /// The piece stands askew in a flange or a socket.
    Lean {
        /// At which end.
        side: Side,
        /// By how much.
        lean: Angle,
        /// How much that may be.
        most: Angle,
    },
    /// Too little left to hold, grind and weld.
    ShortSide {
        /// What is left.
        short: Length,
        /// What is asked for.
        least: Length,
    },
    /// More would come off a built end than it has to give.
    Spare {
        /// Which end.
        side: Side,
        /// What comes off at most.
        off: Length,
        /// What it has.
        spare: Length,
    },
}

/// Why no piece of straight tube goes between two ends.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NoPiece {
    /// The ends stand in one place.
    #[error("the two ends stand in one place")]
    NoGap,
    /// The piece would have to leave a tube at more than 75°, or go back into it.
    #[error("a straight piece would leave the end {} it at {:.0}°", side.word(), lean.degrees())]
    Steep {
        /// Which end.
        side: Side,
        /// The angle between the tubes.
        lean: Angle,
    },
    /// The rims leave no room for a piece.
    #[error("no room: {0}")]
    Piece(PieceError),
    /// The cuts of the ends do not settle: the ends are too near and lean too much.
    #[error("the ends are too near to each other, and lean too much, for true miters")]
    Unsettled,
}

impl Closure {
    /// Of `tube` between two `ends`, of which those that are `trimmed` are cut again.
    pub fn new(
        tube: &Tube,
        ends: [&BuiltEnd; 2],
        trimmed: [bool; 2],
        fit_up: &FitUp,
    ) -> Result<Self, NoPiece> {
        let radius = tube.radius();
        let half = fit_up.gap / 2.0;
        let met = ends.map(|end| end.extended(half));
        let (axis, corners, trims) = if trimmed == [false; 2] {
            let axis = Axis::of_least_mismatch([&met[0], &met[1]], radius);
            let axis = axis.ok_or(NoPiece::NoGap)?;
            (axis, [0, 1].map(|i| corner(&axis, &met[i])), [None, None])
        } else {
            trim(ends, &met, trimmed, radius, fit_up)?
        };
        check_lean(ends, &axis)?;
        let faces = [0, 1].map(|i| match (&trims[i], &met[i].rim) {
            (Some(_), _) => bisector(corners[i], &met[i], i, &axis).map(Face::Flat),
            (None, Rim::Flat(normal)) => Some(Face::Flat(Plane {
                point: met[i].center,
                normal: downstream(normal, i),
            })),
            (None, Rim::Ragged { .. }) => Some(Face::Ragged(met[i].rim_points(radius, SCRIBED))),
        });
        let [Some(start), Some(end)] = faces else {
            return Err(NoPiece::Unsettled);
        };
        let shaped = Shaped::new(tube, &axis, [start, end], ends, half)?;
        let axis = shaped.axis;
        let seams = [0, 1].map(|i| {
            let at = At {
                end: &met[i],
                built: downstream(&met[i].axis, i),
                normal: downstream(&met[i].normal(), i),
                axis: &axis,
                zero: &shaped.zero,
                radius,
                gap: fit_up.gap,
            };
            match trims[i] {
                Some(trim) => Seam::mitered(&at, trim.cut, angle_between(&at.built, &axis.along)),
                None => Seam::as_built(&at, shaped.cuts[i]),
            }
        });
        let marks = ends.map(|end| {
            let mark = end.mark.as_ref()?;
            Some(axis.clock(&shaped.zero, &mark.0))
        });
        let mut closure = Self {
            axis,
            zero: shaped.zero,
            sleeve: shaped.sleeve,
            seams,
            trims,
            corners,
            marks,
            minutes: 0.0,
            against: Vec::new(),
        };
        closure.minutes = closure.work(fit_up);
        closure.against = closure.objections(fit_up);
        Ok(closure)
    }

    /// Where the outside of its start and of its end is at `clock`.
    pub fn edges_at(&self, clock: Angle) -> [Point; 2] {
        let out = toward(&self.axis.along, &self.zero, clock).into_inner();
        let side = self.axis.through + out * self.sleeve.tube().radius().mm();
        [self.sleeve.start_at(clock), self.sleeve.end_at(clock)]
            .map(|at| side + self.axis.along.into_inner() * at.mm())
    }

    /// Whether nothing speaks against it.
    pub const fn is_good(&self) -> bool {
        self.against.is_empty()
    }

    /// The greatest step from wall to wall at either seam, as a size.
    pub fn high_low(&self) -> Length {
        self.seams[0]
            .high_low
            .abs()
            .max(self.seams[1].high_low.abs())
    }

    /// Minutes: two cuts and a length, marking and cutting for each end that is cut
    /// again or scribed, two fit-ups.
    fn work(&self, fit_up: &FitUp) -> f64 {
        let rates = &fit_up.rates;
        let again = self.trims.iter().flatten().count() as f64;
        let edges = [self.sleeve.start(), self.sleeve.end()];
        let scribed = edges.iter().filter(|edge| matches!(edge, Edge::Scribed(_)));
        let by_hand = rates.clock_minutes + rates.cut_minutes;
        rates.stop_minutes
            + 2.0 * (rates.setup_minutes + rates.cut_minutes + rates.fit_up_minutes)
            + again * fit_up.again_minutes()
            + scribed.count() as f64 * by_hand
    }

    fn objections(&self, fit_up: &FitUp) -> Vec<Against> {
        let mut against = cut_or_short(&self.sleeve, fit_up);
        for (i, side) in Side::BOTH.into_iter().enumerate() {
            let seam = &self.seams[i];
            if seam.high_low.abs() > fit_up.high_low {
                against.push(Against::HighLow {
                    side,
                    worst: seam.high_low.abs(),
                    most: fit_up.high_low,
                });
            }
            if fit_up.at_port[i] && seam.deflection > PORT_LEAN {
                against.push(Against::Lean {
                    side,
                    lean: seam.deflection,
                    most: PORT_LEAN,
                });
            }
            if let (Some(trim), Some(spare)) = (self.trims[i], fit_up.spare[i])
                && trim.most > spare
            {
                against.push(Against::Spare {
                    side,
                    off: trim.most,
                    spare,
                });
            }
        }
        against
    }
}

/// What speaks against a piece's cuts and its short side.
pub(super) fn cut_or_short(sleeve: &Sleeve, fit_up: &FitUp) -> Vec<Against> {
    let edges = Side::BOTH.into_iter().zip([sleeve.start(), sleeve.end()]);
    let cuts = edges.filter_map(|(side, edge)| match edge {
        Edge::Cut(cut) if cut.angle > fit_up.most_cut + CUT_SLACK => Some(Against::Cut {
            side,
            cut: cut.angle,
            most: fit_up.most_cut,
        }),
        _ => None,
    });
    let (short, _) = sleeve.short_side();
    let least = fit_up.short_side;
    let short = (short < least).then_some(Against::ShortSide { short, least });
    cuts.chain(short).collect()
}

/// How far a piece may lean to a port that it goes straight into: what a flange or a socket
/// takes up (common practice, no source).
const PORT_LEAN: Angle = Angle::from_degrees(1.0);

/// How far a closing cut may pass the job's greatest. The limit is there for bends, which
/// must flow; a built end that was cut at it, and is off by what a build is, still counts
/// as keeping it.
pub const CUT_SLACK: Angle = Angle::from_degrees(2.0);

/// What one end of the piece is cut to, in the middle of the gap.
enum Face {
    /// A plane; its normal points downstream.
    Flat(Plane),
    /// Points round a rim.
    Ragged(Vec<Point>),
}

/// A direction out of the end number `i`, as flow goes.
fn downstream(outward: &Direction, i: usize) -> Direction {
    Side::BOTH[i].downstream(outward)
}

/// Where the piece's axis meets the rim's plane.
fn corner(axis: &Axis, end: &BuiltEnd) -> Point {
    let plane = Plane {
        point: end.center,
        normal: end.normal(),
    };
    axis.through + axis.along.into_inner() * plane.reach(&axis.through, &axis.along)
}

fn check_lean(ends: [&BuiltEnd; 2], axis: &Axis) -> Result<(), NoPiece> {
    for (i, side) in Side::BOTH.into_iter().enumerate() {
        let built = downstream(&ends[i].axis, i);
        let normal = downstream(&ends[i].normal(), i);
        if built.dot(&axis.along) < STEEPEST || normal.dot(&axis.along) < STEEPEST {
            let lean = angle_between(&built, &axis.along);
            return Err(NoPiece::Steep { side, lean });
        }
    }
    Ok(())
}

/// The plane of a true miter at `corner` between the end number `i` and the piece; its
/// normal points downstream.
fn bisector(corner: Point, end: &BuiltEnd, i: usize, axis: &Axis) -> Option<Plane> {
    Plane::bisecting(corner, &downstream(&end.axis, i), &axis.along)
}

/// The axis between ends of which some are cut again, where it meets the gaps, and the
/// cuts.
///
/// How far back a cut must go depends on its plane, that on the piece's axis, and that on
/// how far back both cuts go: solved by going round, each round nearer by about the ratio
/// of the tube's radius to the piece's length.
#[allow(
    clippy::type_complexity,
    reason = "three things that are found together"
)]
fn trim(
    ends: [&BuiltEnd; 2],
    met: &[BuiltEnd; 2],
    trimmed: [bool; 2],
    radius: Length,
    fit_up: &FitUp,
) -> Result<(Axis, [Point; 2], [Option<Trim>; 2]), NoPiece> {
    let mut corners = [met[0].center, met[1].center];
    let first = Axis::between(corners[0], corners[1]).ok_or(NoPiece::NoGap)?;
    let needed = [0, 1].map(|i| trimmed[i] && !is_true_miter(ends[i], i, &first, radius));
    let half = fit_up.gap.mm() / 2.0;
    for _ in 0..ROUNDS {
        let axis = Axis::between(corners[0], corners[1]).ok_or(NoPiece::NoGap)?;
        check_lean(ends, &axis)?;
        let mut moved: f64 = 0.0;
        let mut trims = [None, None];
        for i in (0..2).filter(|&i| needed[i]) {
            let end = ends[i];
            let plane = bisector(corners[i], end, i, &axis).ok_or(NoPiece::Unsettled)?;
            let outward = downstream(&plane.normal, i);
            let (least, _) = spread(end, &outward, radius);
            let back = (fit_up.shave - least).mm();
            let point = end.center - end.axis.into_inner() * back;
            let to = point + end.axis.into_inner() * (half / outward.dot(&end.axis));
            moved = moved.max((to - corners[i]).norm());
            corners[i] = to;
            trims[i] = Some(Trim::new(
                end,
                Plane {
                    point,
                    normal: outward,
                },
                radius,
            ));
        }
        if moved <= SETTLED * radius.mm().max(1.0) {
            return Ok((axis, corners, trims));
        }
    }
    Err(NoPiece::Unsettled)
}

/// Whether an end's rim lies on the plane of a true miter already.
fn is_true_miter(end: &BuiltEnd, i: usize, axis: &Axis, radius: Length) -> bool {
    bisector(end.center, end, i, axis).is_some_and(|plane| {
        let (least, most) = spread(end, &downstream(&plane.normal, i), radius);
        least.abs().max(most.abs()) <= ALREADY
    })
}

/// A piece's shape, its clock zero, and its cuts.
struct Shaped {
    /// Through the center of the piece's start.
    axis: Axis,
    sleeve: Sleeve,
    zero: Direction,
    cuts: [Angle; 2],
}

impl Shaped {
    fn new(
        tube: &Tube,
        axis: &Axis,
        faces: [Face; 2],
        ends: [&BuiltEnd; 2],
        half: Length,
    ) -> Result<Self, NoPiece> {
        let longs = [0, 1].map(|i| long_side(&faces[i], axis, i));
        let mark = ends[0].mark.as_ref();
        let mark = mark.and_then(|(at, _)| Direction::try_new(axis.out(at), f64::EPSILON));
        let zero = longs[0].or(longs[1]).or(mark);
        let zero = zero.unwrap_or_else(|| perpendicular(&axis.along));
        let edges = [0, 1].map(|i| edge(&faces[i], axis, &zero, longs[i], i, half));
        let [Some(start), Some(end)] = edges else {
            return Err(NoPiece::Unsettled);
        };
        let cuts = [&start.0, &end.0].map(|edge| match edge {
            Edge::Cut(cut) => cut.angle,
            Edge::Scribed(_) => Angle::ZERO,
        });
        let length = Length::from_mm(end.1 - start.1);
        let sleeve = Sleeve::new(tube.clone(), length, start.0, end.0).map_err(NoPiece::Piece)?;
        let axis = Axis {
            through: axis.through + axis.along.into_inner() * start.1,
            ..*axis
        };
        Ok(Self {
            axis,
            sleeve,
            zero,
            cuts,
        })
    }
}

/// The side at which a flat face leaves the piece longest: square to its axis.
///
/// On a plane of normal n the outside at the side e ends at z = −r·(n·e)/(n·u); the start
/// is long where that is least, at n's own side, the end opposite to it.
fn long_side(face: &Face, axis: &Axis, i: usize) -> Option<Direction> {
    let Face::Flat(plane) = face else {
        return None;
    };
    let along = axis.along.into_inner();
    let side: Vector = plane.normal.into_inner() - along * plane.normal.dot(&axis.along);
    let side = if i == 0 { side } else { -side };
    // Of a cut that is almost square only rounding is left; it must not lean.
    let side = Direction::try_new(side, SQUARE)?.into_inner();
    Direction::try_new(side - along * along.dot(&side), SQUARE)
}

/// One end of the piece, and where its center is along the axis: set back from the middle
/// of the gap by half of it.
fn edge(
    face: &Face,
    axis: &Axis,
    zero: &Direction,
    long: Option<Direction>,
    i: usize,
    half: Length,
) -> Option<(Edge, f64)> {
    let into = if i == 0 { 1.0 } else { -1.0 };
    match face {
        Face::Flat(plane) => {
            let setback = half.mm() / plane.normal.dot(&axis.along);
            let at = plane.reach(&axis.through, &axis.along) + into * setback;
            let cut = long.map_or(Cut::SQUARE, |long| Cut {
                angle: angle_between(&axis.along, &plane.normal),
                clock: clock_between(&axis.along, zero, &long),
            });
            at.is_finite().then_some((Edge::Cut(cut), at))
        }
        Face::Ragged(points) => {
            let reach: Vec<f64> = points.iter().map(|p| axis.reach(p)).collect();
            let middle = reach.iter().sum::<f64>() / reach.len() as f64;
            let knots: Vec<(Angle, Length)> = points
                .iter()
                .zip(&reach)
                .map(|(point, at)| {
                    (
                        axis.clock(zero, point),
                        Length::from_mm(into * (middle - at)),
                    )
                })
                .collect();
            Some((
                Edge::Scribed(Scribed::new(&knots)?),
                middle + into * half.mm(),
            ))
        }
    }
}
