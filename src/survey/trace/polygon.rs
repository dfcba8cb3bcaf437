//! A polygon along points of a centerline, with so many joints.

use super::blame::Hints;
use super::chain::{Link, chains, vertices};
use super::error::TraceError;
use super::lines::{center_line, middle};
use super::readings::{On, Readings};
use super::shape::check;
use super::spot::Spot;
use super::suspects::{Fit, suspects};
use super::touched::Trace;
use crate::geometry::Point;
use crate::survey::adjust::chance;
use crate::units::{Angle, Length};

/// A step against the one before it: the greatest turn of a centerline at one point.
const BACK: Angle = Angle::from_degrees(120.0);

/// Points of a centerline that may be put aside, in parts of all.
const STRAYS: usize = 20;

/// How much farther than asked for a point must be off to be put aside.
pub(super) const STRAY: f64 = 2.0;

/// Rounds in which points of a centerline go to the piece that is nearest.
const ROUNDS: usize = 6;

/// Probability that ends are as far off as they are by chance, below which pieces are
/// missing between them.
const ENDS_MEET: f64 = 1e-3;

/// Ends whose axes differ less than this may be those of one straight tube.
const ONE_AXIS: Angle = Angle::from_degrees(3.0);

/// How much farther points may be off lines that are not yet joined than in the end.
const ROUGH: f64 = 1.5;

/// Points that go back on the step before them.
pub(super) fn backward(points: &[Point], least: f64) -> Vec<TraceError> {
    let goes_back = |three: &[Point]| {
        let (a, b) = (three[1] - three[0], three[2] - three[1]);
        a.norm() > least && b.norm() > least && crate::geometry::angle_between(&a, &b) > BACK
    };
    let places = points
        .windows(3)
        .enumerate()
        .filter(|(_, three)| goes_back(three));
    places
        .map(|(i, _)| TraceError::Back(Spot::Center(i + 1)))
        .collect()
}

/// A tube without joints, if all points and both ends lie along one line.
pub(super) fn straight_tube(trace: &Trace, within: Length) -> Option<(Readings, Fit)> {
    let [a, b] = &trace.ends;
    if crate::geometry::angle_between(&a.outward, &-b.outward) > ONE_AXIS {
        return None;
    }
    let readings = Readings::of(trace, 0, |_| On::Axis(0));
    let fit = readings.fit(&[a.center, b.center])?;
    is_near(&readings, &fit, within).then_some((readings, fit))
}

/// The polygon whose pieces begin at the points `begins`, if all points are `within` it
/// but a few that stray; what is left else is noted.
pub(super) fn polygon(
    trace: &Trace,
    points: &[Point],
    begins: &[usize],
    within: Length,
    nearest: &mut (usize, f64),
) -> Option<(Readings, Fit)> {
    let joints = begins.len();
    let mut piece_of: Vec<usize> = (0..points.len())
        .map(|i| begins.iter().filter(|&&begin| begin <= i).count())
        .collect();
    let own = |piece_of: &[usize], piece: usize| -> Vec<Point> {
        let own = points.iter().zip(piece_of).filter(|(_, of)| **of == piece);
        own.map(|(point, _)| *point).collect()
    };
    let mut links = vec![Link::of_end(&trace.ends[0])];
    for piece in 1..joints {
        let own = own(&piece_of, piece);
        let line = center_line(&own)?;
        links.push(Link {
            allowed: vec![super::lines::Allowed { line, squares: 0.0 }],
            middle: middle(&own),
        });
    }
    links.push(Link::of_end(&trace.ends[1]));
    let lines = chains(&links, trace.accuracy.mm().max(f64::MIN_POSITIVE))
        .into_iter()
        .next()?;
    let off = |i: usize| (points[i] - lines[piece_of[i]].nearest_to(&points[i])).norm();
    let far = (0..points.len())
        .filter(|&i| off(i) > ROUGH * within.mm())
        .count();
    if far > points.len() / STRAYS {
        let most = (0..points.len()).map(off).fold(0.0, f64::max);
        *nearest = (joints, most);
        return None;
    }
    let ends = [&trace.ends[0], &trace.ends[1]];
    let mut guess = vertices(&links, &lines, ends, trace.radius.mm());
    for round in 1.. {
        let of = piece_of.clone();
        let readings = Readings::of(trace, joints, |spot| match spot {
            Spot::Center(i) => On::Axis(of[i]),
            _ => On::Axis(0),
        });
        let fit = readings.fit(&guess)?;
        guess = readings.unpack(&fit.adjusted.x);
        let again = nearest_pieces(points, &guess);
        if again == piece_of || round == ROUNDS {
            let most = readings
                .points
                .iter()
                .map(|p| readings.off(p, &guess))
                .fold(0.0, f64::max);
            *nearest = (joints, most);
            return is_near(&readings, &fit, within).then_some((readings, fit));
        }
        piece_of = again;
    }
    None
}

/// The piece that each point is nearest to.
pub(super) fn nearest_pieces(points: &[Point], vertices: &[Point]) -> Vec<usize> {
    let distance = |p: &Point, piece: usize| {
        let edge = crate::geometry::Segment {
            start: vertices[piece],
            end: vertices[piece + 1],
        };
        (p - edge.closest_to(p)).norm()
    };
    let nearest = |p: &Point| {
        let pieces = 0..vertices.len() - 1;
        pieces.min_by(|a, b| distance(p, *a).total_cmp(&distance(p, *b)))
    };
    points.iter().map(|p| nearest(p).unwrap_or(0)).collect()
}

/// Whether a fit could have been built, meets its ends, and keeps `within` all points
/// but a few that stray far.
pub(super) fn is_near(readings: &Readings, fit: &Fit, within: Length) -> bool {
    let vertices = readings.unpack(&fit.adjusted.x);
    let ends = Readings::rows_of_end(0).chain(Readings::rows_of_end(1));
    let squares: f64 = ends.map(|row| fit.adjusted.left[row].powi(2)).sum();
    if squares > chance(10, ENDS_MEET) || !check(readings, &vertices).is_empty() {
        return false;
    }
    let far = |fit: &Fit, limit: Length| {
        let vertices = readings.unpack(&fit.adjusted.x);
        let rows = readings.rows_of_points();
        let counted = readings
            .points
            .iter()
            .zip(rows)
            .filter(|(_, rows)| fit.counts[rows.start]);
        counted
            .filter(|(p, _)| readings.off(p, &vertices) > limit.mm())
            .count()
    };
    if far(fit, within) == 0 {
        return true;
    }
    if far(fit, within) > readings.points.len() / STRAYS + 1 {
        return false;
    }
    let first = Fit::new(readings, fit.adjusted.x.clone(), fit.counts.clone());
    let rest = first.and_then(|first| suspects(readings, first, within * STRAY, &Hints::default()));
    rest.is_some_and(|rest| far(&rest.fit, within) == 0)
}
