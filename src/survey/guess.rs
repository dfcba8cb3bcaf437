//! First guesses of a stance: from each kind of reading alone, and every way to put them
//! together.

use super::miter_guess::poses;
use super::reading::{Observed, Readings};
use super::stance::Stance;
use super::trace::outside_lines;
use crate::geometry::{CircleFit, Direction, PlaneFit, Point, Spread, Vector, perpendicular};
use std::f64::consts::TAU;

/// Guesses that nothing calls for: round a circle on which a place must lie, and round
/// a cone on which a direction must lie.
pub(super) const ROUND: u32 = 8;
/// Extent of pins across, in parts of that along, below which they are in a line or a
/// plane for a first guess.
const THIN: f64 = 1e-3;
/// How far the tip may be when nothing else says so, mm.
const USUAL_TIP: f64 = 250.0;
/// Guesses at most; a dozen are usual.
const MOST_GUESSES: usize = 400;
/// Points on the outside from which an axis is guessed, the radius being known.
const FEWEST_OUTSIDE: usize = 4;
/// Deviation, mm, of a point on the outside for a first guess.
const ROUGHLY: f64 = 0.5;
/// Points on a circle of known radius that may leave its center on either side.
const FEW: usize = 3;
/// Directions this near, by their cosine, are one guess.
const ALIKE: f64 = 0.999;
/// The same of a mitered end, where an axis only so far from the face's normal is another
/// guess than the normal: 0.1°.
const MITERED_ALIKE: f64 = 0.999_998;
/// Places this near, mm, are one guess.
const SAME_PLACE: f64 = 1.0;

/// An axis, outward, and the normal of the face.
pub(super) type Pose = (Direction, Direction);

/// Stances to begin from; at least one, and a few hundred at most.
pub(super) fn guesses(readings: &Readings) -> Vec<Stance> {
    let mut found = Vec::new();
    let tips = places(readings, |what| match what {
        Observed::ToTip { pin, distance, .. } => Some((*pin, distance.mm())),
        _ => None,
    });
    let cylinders = cylinders(readings);
    for center in centers(readings) {
        let outwards = directions(readings, &center, &tips, &cylinders);
        let poses = if readings.face.is_mitered() {
            poses(readings, &outwards)
        } else {
            outwards.into_iter().map(|u| (u, u)).collect()
        };
        for pose in poses {
            for center in beside(readings, center, &pose.1) {
                found.push(stance(readings, center, pose));
            }
        }
    }
    found.truncate(MOST_GUESSES);
    found
}

/// Axes of tubes that the points on the outside allow, where their radius is known.
fn cylinders(readings: &Readings) -> Vec<Vector> {
    let outside = points(readings, |what| matches!(what, Observed::OnOutside { .. }));
    let rim = points(readings, |what| matches!(what, Observed::OnRim { .. }));
    let told = readings.list.iter().find_map(|reading| match reading.what {
        Observed::RimRadius { radius, .. } => Some(radius.mm()),
        _ => None,
    });
    let radius = told.or_else(|| Some(CircleFit::new(&rim).ok()?.radius.mm()));
    let Some(radius) = radius.filter(|_| outside.len() >= FEWEST_OUTSIDE) else {
        return Vec::new();
    };
    // The rim is on the outside too.
    let all: Vec<Point> = outside.into_iter().chain(rim).collect();
    let found = outside_lines(&all, radius, ROUGHLY, &[]);
    found.iter().map(|allowed| allowed.line.direction).collect()
}

/// A center, and where a circle of known radius is touched at few points, both places
/// that it may have through the two farthest apart.
fn beside(readings: &Readings, center: Point, normal: &Direction) -> Vec<Point> {
    let mut found = vec![center];
    for (radius, touched) in circles(readings) {
        let Some((a, b)) = farthest(&touched) else {
            continue;
        };
        let chord = b - a;
        let Some(side) = normal.cross(&chord).try_normalize(f64::MIN_POSITIVE) else {
            continue;
        };
        let height = (radius * radius - chord.norm_squared() / 4.0)
            .max(0.0)
            .sqrt();
        let middle = a + chord / 2.0;
        found.extend([middle + side * height, middle - side * height].map(|p| known(readings, p)));
    }
    distinct(found, |a, b| (a - b).norm() < SAME_PLACE)
}

/// Circles of known radius and the points on them.
fn circles(readings: &Readings) -> Vec<(f64, Vec<Point>)> {
    let known = readings
        .list
        .iter()
        .filter_map(|reading| match reading.what {
            Observed::RimRadius { radius, .. } => {
                let on = points(readings, |what| matches!(what, Observed::OnRim { .. }));
                Some((radius.mm(), on))
            }
            Observed::BoltRadius { radius, .. } => {
                let on = points(readings, |what| {
                    matches!(what, Observed::OnBoltCircle { .. })
                });
                Some((radius.mm(), on))
            }
            _ => None,
        });
    known.filter(|(_, on)| on.len() <= FEW).collect()
}

/// A place with those coordinates that were read.
fn known(readings: &Readings, mut place: Point) -> Point {
    for reading in &readings.list {
        if let Observed::Coordinate { axis, at, .. } = reading.what {
            place[axis] = at.mm();
        }
    }
    place
}

/// The two points that are farthest apart.
fn farthest(points: &[Point]) -> Option<(Point, Point)> {
    let pairs = points.iter().enumerate();
    let pairs = pairs.flat_map(|(i, a)| points[i + 1..].iter().map(move |b| (*a, *b)));
    pairs.max_by(|x, y| (x.0 - x.1).norm().total_cmp(&(y.0 - y.1).norm()))
}

/// All unknowns from a center and a pose.
fn stance(readings: &Readings, center: Point, (outward, face): Pose) -> Stance {
    let mean = |pick: &dyn Fn(&Observed) -> Option<f64>| {
        let values: Vec<f64> = readings.list.iter().filter_map(|r| pick(&r.what)).collect();
        (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
    };
    let off_axis = |at: &Point| outward.cross(&(at - center)).norm();
    let pins: Vec<Point> = readings.pins.iter().map(|pin| pin.at).collect();
    let laid: Vec<Point> = points(readings, |what| matches!(what, Observed::OnLaidRod { .. }));
    let tip_out = mean(&|what| match what {
        Observed::TipOut { out, .. } => Some(out.mm()),
        _ => None,
    });
    let tip_by_tape = mean(&|what| match what {
        Observed::ToTip { pin, distance, .. } => {
            // The farther of the two places on the axis at that distance.
            let arm = pins.get(*pin)? - center;
            let along = outward.dot(&arm);
            let rest = distance.mm().powi(2) - arm.norm_squared() + along * along;
            Some(along + rest.max(0.0).sqrt())
        }
        _ => None,
    });
    Stance {
        rim: mean(&|what| match what {
            Observed::OnRim { at, .. } => Some(off_axis(at)),
            _ => None,
        })
        .or_else(|| {
            mean(&|what| match what {
                Observed::OnOutside { at, .. } => Some(off_axis(at)),
                _ => None,
            })
        })
        .unwrap_or(0.0),
        bolts: mean(&|what| match what {
            Observed::OnBoltCircle { at, .. } => Some(off_axis(at)),
            _ => None,
        })
        .unwrap_or(0.0),
        tip: tip_out.or(tip_by_tape).unwrap_or(USUAL_TIP),
        laid: middle(&laid).unwrap_or(center),
        pins,
        center,
        outward,
        face,
    }
}

/// Where the center may be.
fn centers(readings: &Readings) -> Vec<Point> {
    let mut found: Vec<Point> = Vec::new();
    found.extend(readings.near);
    for circle in [
        points(readings, |what| matches!(what, Observed::OnRim { .. })),
        points(readings, |what| {
            matches!(what, Observed::OnBoltCircle { .. })
        }),
    ] {
        found.extend(CircleFit::new(&circle).ok().map(|fit| fit.center));
        found.extend(middle(&circle));
    }
    found.extend(places(readings, |what| match what {
        Observed::ToCenter { pin, distance, .. } => Some((*pin, distance.mm())),
        _ => None,
    }));
    found.extend(on_rod(readings));
    let touched: Vec<Point> = readings
        .list
        .iter()
        .filter_map(|r| r.what.point())
        .collect();
    if found.is_empty() {
        found.extend(middle(&touched));
    }
    if found.is_empty() {
        let pins: Vec<Point> = readings.pins.iter().map(|pin| pin.at).collect();
        found.push(middle(&pins).unwrap_or_default());
    }
    let found = found.into_iter().map(|center| known(readings, center));
    distinct(found.collect(), |a, b| (a - b).norm() < SAME_PLACE)
}

/// Where the rod meets the face, if a point on it says how far out it is.
fn on_rod(readings: &Readings) -> Vec<Point> {
    let rod = rod_points(readings);
    let known = rod.iter().filter_map(|(at, out)| Some((*at, (*out)?)));
    let nearest = known.min_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    let mut found = Vec::new();
    if let Some((at, out)) = nearest {
        found.push(at);
        if let Some(line) = line(&rod) {
            found.extend([at + line * out, at - line * out]);
        }
    }
    found
}

/// Which way the port may point, with its center at `center`, the rod's tip at one of
/// `tips`, or its tube along one of `cylinders`.
fn directions(
    readings: &Readings,
    center: &Point,
    tips: &[Point],
    cylinders: &[Vector],
) -> Vec<Direction> {
    let mut found: Vec<Direction> = Vec::new();
    let mut both = |line: Option<Vector>| {
        if let Some(line) = line.and_then(|line| Direction::try_new(line, f64::MIN_POSITIVE)) {
            found.extend([line, -line]);
        }
    };
    let face: Vec<Point> = readings
        .list
        .iter()
        .filter_map(|r| r.what.face_point())
        .collect();
    both(
        PlaneFit::new(&face)
            .ok()
            .map(|fit| fit.plane.normal.into_inner()),
    );
    both(line(&rod_points(readings)));
    let laid = points(readings, |what| matches!(what, Observed::OnLaidRod { .. }));
    let laid: Vec<(Point, Option<f64>)> = laid.into_iter().map(|at| (at, None)).collect();
    both(line(&laid));
    for line in cylinders {
        both(Some(*line));
    }
    found.extend(
        tips.iter()
            .filter_map(|tip| Direction::try_new(tip - center, 1.0)),
    );
    let one_rod_point = rod_points(readings);
    if let [(at, _)] = &one_rod_point[..]
        && let Some(line) = Direction::try_new(at - center, 1.0)
    {
        found.extend([line, -line]);
    }
    for reading in &readings.list {
        match &reading.what {
            Observed::Outward { direction, .. } => found.push(*direction),
            Observed::Elevation { up, angle, .. } => {
                let side = perpendicular(up);
                let other = up.cross(&side);
                let (rise, run) = angle.sin_cos();
                found.extend((0..ROUND).map(|i| {
                    let (sin, cos) = (f64::from(i) * TAU / f64::from(ROUND)).sin_cos();
                    let level = side.into_inner() * cos + other * sin;
                    Direction::new_normalize(level * run + up.into_inner() * rise)
                }));
            }
            Observed::Heading {
                up, ahead, angle, ..
            } => {
                let (sin, cos) = angle.sin_cos();
                let level = ahead.into_inner() * cos + ahead.cross(up) * sin;
                found.push(Direction::new_normalize(level));
            }
            _ => {}
        }
    }
    found.extend(readings.toward);
    if found.is_empty() {
        let axes = [Vector::x_axis(), Vector::y_axis(), Vector::z_axis()];
        found.extend(axes.into_iter().flat_map(|axis| [axis, -axis]));
    }
    let alike = if readings.face.is_mitered() {
        MITERED_ALIKE
    } else {
        ALIKE
    };
    distinct(found, |a, b| a.dot(b) > alike)
}

/// Where a place at given distances from pins may be: both sides of the pins' plane, or
/// round the line that they lie on.
///
/// |x − pᵢ|² = dᵢ² less its mean over the pins is linear in x: solved in the directions
/// that the pins spread in, and what is left of the distances in the others.
fn places(readings: &Readings, pick: impl Fn(&Observed) -> Option<(usize, f64)>) -> Vec<Point> {
    let taped = readings.list.iter().filter_map(|r| pick(&r.what));
    let taped: Vec<(Point, f64)> = taped
        .filter_map(|(pin, distance)| Some((readings.pins.get(pin)?.at, distance)))
        .collect();
    let pins: Vec<Point> = taped.iter().map(|(at, _)| *at).collect();
    let Some(mean) = middle(&pins) else {
        return Vec::new();
    };
    let arms: Vec<Vector> = pins.iter().map(|at| at - mean).collect();
    // Pins in one place spread nowhere.
    let none = [Vector::x(), Vector::y(), Vector::z()].map(|axis| (axis, 0.0));
    let own = Spread::even(&pins).map_or(none, |spread| {
        [0, 1, 2].map(|i| (spread.axes[i], spread.deviations[i]))
    });
    let largest = own[0].1;
    let count = taped.len() as f64;
    let power = |i: usize| arms[i].norm_squared() - taped[i].1 * taped[i].1;
    let mean_power = (0..taped.len()).map(power).sum::<f64>() / count;
    let mut offset = Vector::zeros();
    let mut thin: Vec<Vector> = Vec::new();
    for (axis, deviation) in own {
        if deviation <= THIN * largest {
            thin.push(axis);
            continue;
        }
        let sum: f64 = (0..taped.len())
            .map(|i| arms[i].dot(&axis) * power(i))
            .sum();
        offset += axis * (sum / (2.0 * count * deviation * deviation));
    }
    // Mean of |x − pᵢ|² is |x − mean|² + mean |arm|².
    let height = (-mean_power - offset.norm_squared()).max(0.0).sqrt();
    let foot = mean + offset;
    match thin[..] {
        [] => vec![foot],
        [side] => vec![foot + side * height, foot - side * height],
        [side, other] => around(foot, side, other, height),
        _ => {
            let [x, y, z] = [Vector::x(), Vector::y(), Vector::z()];
            let mut all = around(foot, x, y, height);
            all.extend(around(foot, y, z, height));
            all
        }
    }
}

/// Places round a circle.
fn around(middle: Point, side: Vector, other: Vector, radius: f64) -> Vec<Point> {
    (0..ROUND)
        .map(|i| (f64::from(i) * TAU / f64::from(ROUND)).sin_cos())
        .map(|(sin, cos)| middle + (side * cos + other * sin) * radius)
        .collect()
}

/// Points on the rod with how far out of the face each is.
pub(super) fn rod_points(readings: &Readings) -> Vec<(Point, Option<f64>)> {
    let points = readings
        .list
        .iter()
        .filter_map(|reading| match reading.what {
            Observed::OnRod { at, out, .. } => Some((at, out.map(|(out, _)| out.mm()))),
            _ => None,
        });
    points.collect()
}

/// Unit vector between the two points of a rod that are farthest apart, outward if both
/// say how far out they are.
fn line(rod: &[(Point, Option<f64>)]) -> Option<Vector> {
    let pairs = rod
        .iter()
        .enumerate()
        .flat_map(|(i, a)| rod[i + 1..].iter().map(move |b| (a, b)));
    let (a, b) = pairs.max_by(|x, y| {
        let apart = |pair: &(&(Point, _), &(Point, _))| (pair.0.0 - pair.1.0).norm_squared();
        apart(x).total_cmp(&apart(y))
    })?;
    let line = (b.0 - a.0).try_normalize(f64::MIN_POSITIVE)?;
    Some(match (a.1, b.1) {
        (Some(first), Some(second)) if second < first => -line,
        _ => line,
    })
}

/// Points of one kind.
pub(super) fn points(readings: &Readings, is: impl Fn(&Observed) -> bool) -> Vec<Point> {
    let of_kind = readings.list.iter().filter(|r| is(&r.what));
    of_kind.filter_map(|r| r.what.point()).collect()
}

/// Mean place.
fn middle(points: &[Point]) -> Option<Point> {
    let first = *points.first()?;
    let sum: Vector = points.iter().map(|p| p - first).sum();
    Some(first + sum / points.len() as f64)
}

/// The first of each lot that are alike.
pub(super) fn distinct<T>(all: Vec<T>, alike: impl Fn(&T, &T) -> bool) -> Vec<T> {
    let mut kept: Vec<T> = Vec::new();
    for one in all {
        if !kept.iter().any(|other| alike(other, &one)) {
            kept.push(one);
        }
    }
    kept
}
