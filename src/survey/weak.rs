//! [`Cause`]: what about readings makes them hold a port poorly.

use super::guess::{points, rod_points};
use super::next::rounded;
use super::reading::{Observed, Readings};
use super::stance::{Stance, pin_of};
use crate::geometry::{CircleFit, PlaneFit, Point, Spread};
use crate::units::{Angle, Length, Style, counted};

/// Points whose extent across is below this part of that along are nearly in a line.
const NARROW: f64 = 0.25;
/// Less of a rim than this leaves its center to chance: a third of a turn.
const SHORT_ARC: Angle = Angle::from_degrees(120.0);
/// A rod whose points are nearer together than this is short.
const SHORT_ROD: Length = Length::from_mm(150.0);
/// Points on the outside that reach less far along the tube than this hold its axis
/// poorly: 2 in.
const SHORT_OUTSIDE: Length = Length::from_inches(2.0);
/// A place nearer to the pins' plane than this part of its distance from them is nearly
/// in it.
const NEAR_PLANE: f64 = 0.15;

/// What about readings makes them hold a port poorly.
#[derive(Clone, Debug, PartialEq)]
pub enum Cause {
    /// Too few points on the face to make a plane.
    FewPoints {
        /// How many.
        count: usize,
    },
    /// Points on the face nearly in a line.
    PointsInLine {
        /// Deviation across it.
        width: Length,
        /// Deviation along it.
        length: Length,
    },
    /// Rim or bolt points round a small part of the circle.
    ShortArc {
        /// The part.
        sweep: Angle,
    },
    /// Points on a rod close together.
    ShortRod {
        /// How far apart the outermost are.
        length: Length,
        /// Standard deviation of the direction that they give, the rest unknown.
        lean: Angle,
        /// What points 8 in apart would give.
        better: Angle,
    },
    /// Points on the tube's outside that lie too near the face, or each other, to tell the
    /// axis.
    ShortOutside {
        /// How far along the axis they reach, from the face where that is told.
        reach: Length,
        /// Standard deviation of the axis that they give, the rest unknown.
        lean: Angle,
        /// How far back points should be: 3 in, or as far as the tube goes on straight.
        back: Length,
        /// What points so far back would give.
        better: Angle,
    },
    /// A mitered end of which nothing but the face was touched.
    NoAxis,
    /// A rod's tip close to the face.
    ShortTip {
        /// How far out it is.
        out: Length,
    },
    /// Fewer pins than a place takes.
    FewPins {
        /// How many.
        count: usize,
    },
    /// A direction that only a level tells.
    NoHeading,
    /// Pins nearly in a line.
    PinsInLine {
        /// Deviation across it.
        width: Length,
        /// Deviation along it.
        length: Length,
    },
    /// The center or tip nearly in the plane of the pins.
    InPlaneOfPins {
        /// How far from it.
        height: Length,
    },
}

impl Cause {
    /// What is so, and what would help, as the shop writes numbers.
    pub fn written(&self, style: Style) -> (String, String) {
        match self {
            Self::FewPoints { count } => (
                format!("{} on the face", counted(*count, "point")),
                "touch three points or more, far apart".to_owned(),
            ),
            Self::PointsInLine { width, length } => (
                format!(
                    "the points on the face lie nearly in a line: they spread {} across it and {} along it",
                    style.decimal(*width),
                    style.decimal(*length)
                ),
                "touch points all round the face".to_owned(),
            ),
            Self::ShortArc { sweep } => (
                format!(
                    "the points cover only {} of the circle",
                    style.angle(*sweep)
                ),
                "touch points all round".to_owned(),
            ),
            Self::ShortRod {
                length,
                lean,
                better,
            } => (
                format!(
                    "the points on the rod are only {} apart, which holds its direction to {}",
                    style.length(*length),
                    style.angle(*lean)
                ),
                format!(
                    "points {} apart would hold it to {}",
                    rounded(LONG_ROD, style),
                    style.angle(*better)
                ),
            ),
            Self::ShortOutside {
                reach,
                lean,
                back,
                better,
            } => (
                format!(
                    "the points on the outside reach only {} along the tube, which holds its axis to {}",
                    style.length(*reach),
                    style.angle(*lean)
                ),
                if *back < *reach * WORTH_REACHING {
                    "its piece goes no further back: touch more points round it, as far back as it goes, or hold a straight rod in it".to_owned()
                } else {
                    format!(
                        "points {} back from the face would hold it to {}",
                        if *back < FAR_BACK {
                            style.length(*back)
                        } else {
                            rounded(*back, style)
                        },
                        style.angle(*better)
                    )
                },
            ),
            Self::NoAxis => (
                "the face says little of which way the tube goes behind it".to_owned(),
                "touch points on the tube's outside, back from the face, or hold a rod in it"
                    .to_owned(),
            ),
            Self::ShortTip { out } => (
                format!(
                    "the rod's tip is only {} out of the face",
                    style.length(*out)
                ),
                "use a longer rod".to_owned(),
            ),
            Self::FewPins { count } => (
                format!("tapes from {}", counted(*count, "pin")),
                "tape from three pins or more that are not in a line".to_owned(),
            ),
            Self::NoHeading => (
                "a level says nothing of which way it points over the ground".to_owned(),
                "give 'heading' too".to_owned(),
            ),
            Self::PinsInLine { width, length } => (
                format!(
                    "the pins lie nearly in a line: they spread {} across it and {} along it",
                    style.decimal(*width),
                    style.decimal(*length)
                ),
                "tape from a pin well off that line".to_owned(),
            ),
            Self::InPlaneOfPins { height } => (
                format!(
                    "it lies nearly in the plane of the pins, {} from it, so tapes say little of its height",
                    style.decimal(*height)
                ),
                "tape from a pin above or below, or measure that coordinate".to_owned(),
            ),
        }
    }
}

/// How far back from the face points on the outside should be: 3 in, or 80 mm.
const FAR_BACK: Length = Length::from_inches(3.0);

/// Points that are so many times as far back tell the axis really better.
const WORTH_REACHING: f64 = 1.2;

/// How far apart two points of a rod should be: 8 in, or 200 mm.
const LONG_ROD: Length = Length::from_mm(200.0);

/// All that makes readings hold a port poorly.
pub(super) fn causes(readings: &Readings, stance: &Stance) -> Vec<Cause> {
    let mut found = Vec::new();
    found.extend(of_face(readings));
    found.extend(of_axis(readings));
    found.extend(of_outside(readings, stance));
    found.extend(of_arc(readings));
    found.extend(of_rod(readings, stance));
    let tip = readings.has(|what| matches!(what, Observed::ToTip { .. }));
    if tip && stance.tip < SHORT_ROD.mm() {
        let out = Length::from_mm(stance.tip);
        found.push(Cause::ShortTip { out });
    }
    found.extend(of_pins(readings, stance));
    found.extend(of_level(readings));
    found
}

fn of_face(readings: &Readings) -> Option<Cause> {
    let face: Vec<Point> = readings
        .list
        .iter()
        .filter_map(|r| r.what.face_point())
        .collect();
    match face.len() {
        0 if !readings.face.is_mitered() => None,
        count @ 0..=2 => Some(Cause::FewPoints { count }),
        _ => {
            let [length, width, _] = extents(&face);
            let narrow = PlaneFit::new(&face).is_err() || width < NARROW * length;
            narrow.then(|| Cause::PointsInLine {
                width: Length::from_mm(width),
                length: Length::from_mm(length),
            })
        }
    }
}

fn of_arc(readings: &Readings) -> Option<Cause> {
    let rim = points(readings, |what| matches!(what, Observed::OnRim { .. }));
    let bolts = points(readings, |what| {
        matches!(what, Observed::OnBoltCircle { .. })
    });
    let sweeps = [rim, bolts]
        .into_iter()
        .filter_map(|all| CircleFit::new(&all).ok());
    let sweep = sweeps.map(|fit| fit.sweep).reduce(Angle::max)?;
    (sweep < SHORT_ARC).then_some(Cause::ShortArc { sweep })
}

fn of_rod(readings: &Readings, stance: &Stance) -> Option<Cause> {
    let mut rod: Vec<Point> = rod_points(readings).into_iter().map(|(at, _)| at).collect();
    // A rod held in the port goes through its center, which other readings may tell.
    let is_told = readings.has(tells_center);
    if !rod.is_empty() && is_told {
        rod.push(stance.center);
    }
    let laid = points(readings, |what| matches!(what, Observed::OnLaidRod { .. }));
    let longer = if extent(&rod) >= extent(&laid) {
        rod
    } else {
        laid
    };
    let length = extent(&longer);
    let good_to = readings
        .list
        .iter()
        .find_map(|reading| match reading.what {
            Observed::OnRod { good_to, .. } | Observed::OnLaidRod { good_to, .. } => Some(good_to),
            _ => None,
        })?;
    let lean = |apart: f64| {
        let off = good_to.mm() * std::f64::consts::SQRT_2;
        Angle::from_radians(off / apart.max(off))
    };
    // One point alone is no line.
    (length > 0.0 && length < SHORT_ROD.mm()).then(|| Cause::ShortRod {
        length: Length::from_mm(length),
        lean: lean(length),
        better: lean(LONG_ROD.mm()),
    })
}

/// A mitered face without anything that tells the axis.
fn of_axis(readings: &Readings) -> Option<Cause> {
    let told = readings.has(|what| {
        !matches!(
            what,
            Observed::OnRim { .. }
                | Observed::OnBoltCircle { .. }
                | Observed::OnFace { .. }
                | Observed::RimRadius { .. }
                | Observed::BoltRadius { .. }
                | Observed::Coordinate { .. }
                | Observed::ToCenter { .. }
                | Observed::Cut { .. }
        )
    });
    (readings.face.is_mitered() && !told).then_some(Cause::NoAxis)
}

/// Points on the outside that reach only a little along the tube.
fn of_outside(readings: &Readings, stance: &Stance) -> Option<Cause> {
    let outside = points(readings, |what| matches!(what, Observed::OnOutside { .. }));
    let rim = points(readings, |what| matches!(what, Observed::OnRim { .. }));
    let good_to = readings
        .list
        .iter()
        .find_map(|reading| match reading.what {
            Observed::OnOutside { good_to, .. } => Some(good_to),
            _ => None,
        })?;
    let along = |at: &Point| stance.outward.dot(&(at - stance.center));
    // Of a mitered rim the middle counts: half of it is on either side.
    let at_face = (!rim.is_empty()).then_some(0.0);
    let all: Vec<f64> = outside.iter().map(along).chain(at_face).collect();
    let most = all.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let reach = most - all.iter().copied().fold(f64::INFINITY, f64::min);
    let lean = |reach: f64| {
        let off = good_to.mm() * std::f64::consts::SQRT_2;
        Angle::from_radians(off / reach.max(off))
    };
    let back = readings.behind.unwrap_or(FAR_BACK).min(FAR_BACK);
    (reach < SHORT_OUTSIDE.mm()).then(|| Cause::ShortOutside {
        reach: Length::from_mm(reach),
        lean: lean(reach),
        back,
        better: lean(back.mm()),
    })
}

/// A level without anything that tells a direction over the ground.
fn of_level(readings: &Readings) -> Option<Cause> {
    let level = readings.has(|what| matches!(what, Observed::Elevation { .. }));
    let course = readings.has(|what| {
        what.face_point().is_some()
            || matches!(
                what,
                Observed::Heading { .. }
                    | Observed::Outward { .. }
                    | Observed::OnRod { .. }
                    | Observed::OnLaidRod { .. }
                    | Observed::ToTip { .. }
            )
    });
    (level && !course).then_some(Cause::NoHeading)
}

fn of_pins(readings: &Readings, stance: &Stance) -> Option<Cause> {
    let mut used: Vec<usize> = readings
        .list
        .iter()
        .filter_map(|r| pin_of(&r.what))
        .collect();
    used.sort_unstable();
    used.dedup();
    let pins: Vec<Point> = used
        .iter()
        .filter_map(|&i| Some(readings.pins.get(i)?.at))
        .collect();
    match pins.len() {
        0 => return None,
        count @ 1..=2 => return Some(Cause::FewPins { count }),
        _ => {}
    }
    let [length, width, _] = extents(&pins);
    if width < NARROW * length {
        return Some(Cause::PinsInLine {
            width: Length::from_mm(width),
            length: Length::from_mm(length),
        });
    }
    let plane = PlaneFit::new(&pins).ok()?.plane;
    let flat = extents(&pins)[2] < NARROW * length;
    let tip = stance.center + stance.outward.into_inner() * stance.tip;
    let taped = [stance.center, tip]
        .into_iter()
        .take(1 + usize::from(stance.tip > 0.0));
    let low = taped
        .map(|at| {
            (
                plane.normal.dot(&(at - plane.point)).abs(),
                (at - plane.point).norm(),
            )
        })
        .find(|(height, away)| *height < NEAR_PLANE * away);
    low.filter(|_| flat)
        .map(|(height, _)| Cause::InPlaneOfPins {
            height: Length::from_mm(height),
        })
}

/// Whether a reading says something of the center across the axis.
const fn tells_center(what: &Observed) -> bool {
    matches!(
        what,
        Observed::Coordinate { .. }
            | Observed::OnRim { .. }
            | Observed::OnBoltCircle { .. }
            | Observed::ToCenter { .. }
    )
}

/// Greatest distance between two points.
fn extent(points: &[Point]) -> f64 {
    let pairs = points.iter().enumerate();
    let apart = pairs.flat_map(|(i, a)| points[i + 1..].iter().map(move |b| (a - b).norm()));
    apart.fold(0.0, f64::max)
}

/// Standard deviations along the principal axes, the greatest first; none of points that
/// are in one place.
fn extents(points: &[Point]) -> [f64; 3] {
    Spread::even(points).map_or([0.0; 3], |spread| spread.deviations)
}
