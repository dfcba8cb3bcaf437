//! A tube from points on the outside of its pieces.

use super::blame::Hints;
use super::chain::{Link, chains, vertices};
use super::error::TraceError;
use super::finish::{ANOTHER, FAR_OFF, finish};
use super::lines::{Line, middle, outside_lines};
use super::order::explained;
use super::readings::{On, Readings};
use super::shape::check;
use super::spot::Spot;
use super::suspects::Fit;
use super::touched::Trace;
use super::traced::Traced;
use crate::geometry::{Point, Spread};
use crate::survey::adjust::Model;
use crate::survey::adjust::chance;
use crate::units::Length;
use nalgebra::DVector;

/// Points on a piece's outside that hold its axis: a line has four numbers.
const OUTSIDE_LEAST: usize = 4;

/// Probability that chance would make another axis fit as much worse as it does.
const OTHER_AXIS: f64 = 0.01;

/// Pieces whose points lie on no tube that are looked into: more are no slips.
const MOST_BAD: usize = 6;

/// Points of a piece beyond which one that is off does not hide the axis.
const MOST_LEFT_OUT: usize = 24;

/// Axes that are kept of a piece without one of its points.
const OF_EACH: usize = 2;

/// Axes that are kept of such a piece in all.
const MOST_AXES: usize = 16;

/// Chains of these that are followed up.
const MOST_STARTS: usize = 2;

pub(super) fn from_pieces(trace: &Trace, pieces: &[Vec<Point>]) -> Result<Traced, Vec<TraceError>> {
    let last = pieces.len().saturating_sub(1);
    let mut errors = Vec::new();
    for (piece, points) in pieces.iter().enumerate() {
        let held_by_end = piece == 0 || piece == last;
        let size = Spread::even(points).map_or(0.0, |spread| spread.deviations[0]);
        if points.len() < OUTSIDE_LEAST && !held_by_end {
            errors.push(TraceError::TooFew {
                piece,
                given: points.len(),
                needed: OUTSIDE_LEAST,
            });
        } else if points.len() >= 2 && size <= trace.accuracy.mm() {
            errors.push(TraceError::OnePlace { piece });
        }
    }
    if pieces.is_empty() {
        errors.push(TraceError::TooFew {
            piece: 0,
            given: 0,
            needed: 1,
        });
    }
    if !errors.is_empty() {
        return Err(errors);
    }
    let readings = Readings::of(trace, last, |spot| match spot {
        Spot::Outside(piece, _) => On::Outside(piece),
        _ => On::Vertex(0),
    });
    let links = links_of(trace, pieces);
    let ends = [&trace.ends[0], &trace.ends[1]];
    let inner = |piece: usize| {
        let is_held = pieces[piece].len() >= OUTSIDE_LEAST;
        is_held.then(|| Link::of_points(trace, &pieces[piece]))
    };
    put_together(trace, pieces, &readings, &links)
        .map_err(|errors| explained(&readings, &links, ends, errors, inner))
}

/// Fits the tube, from the chains of axes that fit best.
pub(super) fn put_together(
    trace: &Trace,
    pieces: &[Vec<Point>],
    readings: &Readings,
    links: &[Link],
) -> Result<Traced, Vec<TraceError>> {
    let hints = hints_of(trace, pieces, readings, links);
    let mut starts = guesses(trace, readings, links);
    let mut fits = fits_of(readings, &starts);
    if fits.first().is_none_or(|(wrong, _)| *wrong > 0) {
        starts.extend(hints.starts.iter().cloned());
        fits = fits_of(readings, &starts);
    }
    let mut fits = fits.into_iter();
    let (wrong, best) = fits.next().ok_or(vec![TraceError::Astray])?;
    let others: Vec<Fit> = fits
        .filter(|(other, _)| *other == wrong)
        .map(|(_, fit)| fit)
        .collect();
    let doubtful = ambiguous(readings, &best, &others);
    if !doubtful.is_empty() {
        return Err(doubtful);
    }
    finish(readings, best, Length::ZERO, &hints)
}

/// What chains of axes make of the tube.
pub(super) fn guesses(trace: &Trace, readings: &Readings, links: &[Link]) -> Vec<DVector<f64>> {
    let ends = [&trace.ends[0], &trace.ends[1]];
    if links.len() < 2 {
        return vec![readings.pack(&[ends[0].center, ends[1].center])];
    }
    let chains = chains(links, readings.sigma);
    let guess = |lines: &Vec<Line>| readings.pack(&vertices(links, lines, ends, readings.radius));
    chains.iter().map(guess).collect()
}

/// Fits from guesses, with how much is wrong with each: what somebody could have built
/// comes before what fits as well.
pub(super) fn fits_of(readings: &Readings, starts: &[DVector<f64>]) -> Vec<(usize, Fit)> {
    let fit = |start: &DVector<f64>| {
        let fit = Fit::new(readings, start.clone(), vec![true; readings.rows()])?;
        let wrong = check(readings, &readings.unpack(&fit.adjusted.x)).len();
        Some((wrong, fit))
    };
    let mut fits: Vec<(usize, Fit)> = starts.iter().filter_map(fit).collect();
    let least = fits.iter().map(|(_, fit)| fit.adjusted.squares);
    let least = least.fold(f64::INFINITY, f64::min);
    // A tube that somebody could have built, but far from its points, is none.
    let is_far = |fit: &Fit| fit.adjusted.squares > FAR_OFF * least.max(fit.spare() as f64);
    fits.sort_by(|a, b| {
        let order = is_far(&a.1).cmp(&is_far(&b.1)).then(a.0.cmp(&b.0));
        order.then(a.1.adjusted.squares.total_cmp(&b.1.adjusted.squares))
    });
    fits
}

/// Guesses that one point of a piece that is far off has no part in: where a piece's
/// points lie on no tube, the axes of all of them but one, each.
pub(super) fn hints_of(
    trace: &Trace,
    pieces: &[Vec<Point>],
    readings: &Readings,
    links: &[Link],
) -> Hints {
    let last = links.len().saturating_sub(1);
    let is_bad = |piece: &usize| {
        let spare = pieces[*piece].len().saturating_sub(OUTSIDE_LEAST);
        let best = links[*piece].allowed.first();
        spare > 0 && best.is_none_or(|best| best.squares > chance(spare, OTHER_AXIS))
    };
    let doubtful: Vec<usize> = (1..last).filter(is_bad).collect();
    let mut links = links.to_vec();
    for &piece in doubtful.iter().take(MOST_BAD) {
        if pieces[piece].len() > MOST_LEFT_OUT {
            continue;
        }
        for i in 0..pieces[piece].len() {
            let mut rest = pieces[piece].clone();
            rest.remove(i);
            let found = Link::of_points(trace, &rest).allowed.into_iter();
            links[piece].allowed.extend(found.take(OF_EACH));
        }
        let allowed = &mut links[piece].allowed;
        allowed.sort_by(|a, b| a.squares.total_cmp(&b.squares));
        allowed.truncate(MOST_AXES);
    }
    let starts = match doubtful.len() {
        0 => Vec::new(),
        _ => guesses(trace, readings, &links),
    };
    Hints {
        starts: starts.into_iter().take(MOST_STARTS).collect(),
        doubtful,
    }
}

impl Link {
    /// A piece by the points on its outside.
    pub(super) fn of_points(trace: &Trace, points: &[Point]) -> Self {
        let hints = trace.ends.map(|end| end.outward.into_inner());
        Self {
            allowed: outside_lines(points, trace.radius.mm(), trace.accuracy.mm(), &hints),
            middle: middle(points),
        }
    }
}

/// Pieces with the axes that their points allow.
pub(super) fn links_of(trace: &Trace, pieces: &[Vec<Point>]) -> Vec<Link> {
    let last = pieces.len().saturating_sub(1);
    pieces
        .iter()
        .enumerate()
        .map(|(i, points)| match i {
            0 => Link::of_end(&trace.ends[0]),
            i if i == last => Link::of_end(&trace.ends[1]),
            _ => Link::of_points(trace, points),
        })
        .collect()
}

/// Pieces whose axes another fit, as good but for chance, has elsewhere.
pub(super) fn ambiguous(readings: &Readings, best: &Fit, others: &[Fit]) -> Vec<TraceError> {
    let most = best.adjusted.squares + chance(1, OTHER_AXIS);
    let vertices = readings.unpack(&best.adjusted.x);
    let mut errors: Vec<TraceError> = Vec::new();
    for other in others.iter().filter(|other| other.adjusted.squares < most) {
        let there = readings.unpack(&other.adjusted.x);
        let apart = |piece: usize| {
            let half = |v: &[Point]| v[piece] + (v[piece + 1] - v[piece]) / 2.0;
            let here = Line {
                point: vertices[piece],
                direction: (vertices[piece + 1] - vertices[piece]).normalize(),
            };
            (half(&there) - here.nearest_to(&half(&there))).norm()
        };
        let farthest = (0..vertices.len() - 1).max_by(|a, b| apart(*a).total_cmp(&apart(*b)));
        let Some(piece) = farthest.filter(|&piece| apart(piece) > ANOTHER * readings.radius) else {
            continue;
        };
        if !errors
            .iter()
            .any(|e| matches!(e, TraceError::Ambiguous { piece: known, .. } if *known == piece))
        {
            errors.push(TraceError::Ambiguous {
                piece,
                apart: Length::from_mm(apart(piece)),
            });
        }
    }
    errors
}
