//! [`trace`]: from points to the tube.

use super::blame::{Hints, missing, right_radius};
use super::chain::{Link, chains, vertices};
use super::cut_up::CutUp;
use super::end::EndReading;
use super::lines::{Line, center_line, middle, outside_lines};
use super::order::explained;
use super::readings::{On, Readings, TouchedPoint};
use super::shape::check;
use super::suspects::{Fit, Verdict, suspects};
use super::{Caution, Spot, TraceError, Traced, TubeEnd};
use crate::geometry::{Point, Spread, Vector};
use crate::survey::adjust::{Model, chance};
use crate::units::{Angle, Length};
use nalgebra::DVector;

/// Most points of one tube. Finding where pieces begin takes time and memory as their
/// square.
pub const MOST_POINTS: usize = 1000;
/// Most joints of one tube.
pub const MOST_JOINTS: usize = 40;
/// Points on a piece's outside that hold its axis: a line has four numbers.
const OUTSIDE_LEAST: usize = 4;
/// Farthest coordinate, mm.
const FARTHEST: f64 = 1e9;
/// Deviations within which two points are one place.
const TOGETHER: f64 = 3.0;
/// Probability that chance would make another axis fit as much worse as it does.
const OTHER_AXIS: f64 = 0.01;
/// Parts of the radius by which two axes must differ to be another.
const ANOTHER: f64 = 0.3;
/// Deviations that a step along a centerline must have for its way to be told.
const STEP: f64 = 10.0;
/// A step against the one before it: the greatest turn of a centerline at one point.
const BACK: Angle = Angle::from_degrees(120.0);
/// How much farther points may be off lines that are not yet joined than in the end.
const ROUGH: f64 = 1.5;
/// Points of a centerline that may be put aside, in parts of all.
const STRAYS: usize = 20;
/// How much farther than asked for a point must be off to be put aside.
const STRAY: f64 = 2.0;
/// Rounds in which points of a centerline go to the piece that is nearest.
const ROUNDS: usize = 6;
/// Deviations that none of a thousand points of a centerline is off, 99 times in 100.
const FEW_EXCEED: f64 = 4.5;
/// Probability that ends are as far off as they are by chance, below which pieces are
/// missing between them.
const ENDS_MEET: f64 = 1e-3;
/// Ends whose axes differ less than this may be those of one straight tube.
const ONE_AXIS: Angle = Angle::from_degrees(3.0);

/// Squares, in parts of what is usual or of the least, that are no fit.
const FAR_OFF: f64 = 9.0;
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

/// What was touched of a tube, in order of flow.
#[derive(Clone, Debug, PartialEq)]
pub enum Touched {
    /// The middle of each joint.
    Joints(Vec<Point>),
    /// Points on the outside of each piece, between the first end and the last.
    Pieces(Vec<Vec<Point>>),
    /// Points along the centerline.
    Centerline {
        /// In order.
        points: Vec<Point>,
        /// How far one may be from the copy. Default: 1/16 in, or 4 1/2 deviations.
        within: Option<Length>,
    },
}

/// A tube to be traced.
#[derive(Clone, Debug, PartialEq)]
pub struct Trace {
    /// Its ends, as measured.
    pub ends: [TubeEnd; 2],
    /// Radius of its outside.
    pub radius: Length,
    /// What was touched of it.
    pub touched: Touched,
    /// Standard deviation of a touched point along each axis.
    pub accuracy: Length,
}

/// How far a copy may be from a centerline's points unless it is said, and the deviation
/// of points is small: 1/16 in (common practice, no source).
const WITHIN: Length = Length::from_inches(1.0 / 16.0);

/// The tube that what was touched says: the polyline with the least sum of squares of
/// what is left of points and ends, in their deviations.
///
/// Refuses points that hold no tube, all that is wrong with them at once.
pub fn trace(trace: &Trace) -> Result<Traced, Vec<TraceError>> {
    let errors = check_points(trace);
    if !errors.is_empty() {
        return Err(errors);
    }
    match &trace.touched {
        Touched::Joints(points) => from_joints(trace, points),
        Touched::Pieces(pieces) => from_pieces(trace, pieces),
        Touched::Centerline { points, within } => from_centerline(trace, points, *within),
    }
}

fn check_points(trace: &Trace) -> Vec<TraceError> {
    let listed = listed(&trace.touched);
    let (count, joints) = match &trace.touched {
        Touched::Joints(points) => (0, points.len()),
        Touched::Pieces(pieces) => (listed.len(), pieces.len().saturating_sub(1)),
        Touched::Centerline { points, .. } => (points.len(), 0),
    };
    let mut errors = Vec::new();
    for (given, most) in [(count, MOST_POINTS), (joints, MOST_JOINTS)] {
        if given > most {
            errors.push(TraceError::TooMany { given, most });
        }
    }
    let bad = |p: &Point| !p.iter().all(|c| c.abs() <= FARTHEST);
    errors.extend(
        listed
            .iter()
            .filter(|(_, p)| bad(p))
            .map(|(spot, _)| TraceError::NotFinite(*spot)),
    );
    errors
}

fn listed(touched: &Touched) -> Vec<(Spot, Point)> {
    match touched {
        Touched::Joints(points) => points
            .iter()
            .enumerate()
            .map(|(i, p)| (Spot::Joint(i), *p))
            .collect(),
        Touched::Pieces(pieces) => pieces
            .iter()
            .enumerate()
            .flat_map(|(i, piece)| {
                piece
                    .iter()
                    .enumerate()
                    .map(move |(j, p)| (Spot::Outside(i, j), *p))
            })
            .collect(),
        Touched::Centerline { points, .. } => points
            .iter()
            .enumerate()
            .map(|(i, p)| (Spot::Center(i), *p))
            .collect(),
    }
}

impl Readings {
    fn of(trace: &Trace, joints: usize, on: impl Fn(Spot) -> On) -> Self {
        let points = listed(&trace.touched);
        Self {
            ends: trace.ends.map(EndReading::new),
            points: points
                .into_iter()
                .map(|(spot, at)| TouchedPoint {
                    spot,
                    at,
                    on: on(spot),
                })
                .collect(),
            radius: trace.radius.mm(),
            is_radius_free: false,
            sigma: trace.accuracy.mm().max(f64::MIN_POSITIVE),
            vertices: joints + 2,
            origin: trace.ends[0].center,
        }
    }

    fn fit(&self, guess: &[Point]) -> Option<Fit> {
        Fit::new(self, self.pack(guess), vec![true; self.rows()])
    }
}

/// An end's axis.
fn axis(end: &TubeEnd) -> Line {
    Line {
        point: end.center,
        direction: end.outward.into_inner(),
    }
}

fn from_joints(trace: &Trace, points: &[Point]) -> Result<Traced, Vec<TraceError>> {
    let near = TOGETHER * trace.accuracy.mm();
    let mut all = vec![trace.ends[0].center];
    all.extend(points);
    all.push(trace.ends[1].center);
    let together: Vec<TraceError> = all
        .windows(2)
        .enumerate()
        .filter(|(_, pair)| (pair[1] - pair[0]).norm() <= near)
        .map(|(i, pair)| TraceError::Together {
            joint: i.min(points.len().saturating_sub(1)),
            apart: Length::from_mm((pair[1] - pair[0]).norm()),
        })
        .collect();
    if !together.is_empty() {
        return Err(together);
    }
    let readings = Readings::of(trace, points.len(), |spot| match spot {
        Spot::Joint(i) => On::Vertex(i + 1),
        _ => On::Vertex(0),
    });
    let last = all.len() - 1;
    if last >= 2 {
        all[last - 1] = axis(&trace.ends[1]).nearest_to(&all[last - 1]);
        all[1] = axis(&trace.ends[0]).nearest_to(&all[1]);
    }
    let fit = readings.fit(&all).ok_or(vec![TraceError::Astray])?;
    finish(&readings, fit, Length::ZERO, &Hints::default())
}

fn from_pieces(trace: &Trace, pieces: &[Vec<Point>]) -> Result<Traced, Vec<TraceError>> {
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
fn put_together(
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
fn guesses(trace: &Trace, readings: &Readings, links: &[Link]) -> Vec<DVector<f64>> {
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
fn fits_of(readings: &Readings, starts: &[DVector<f64>]) -> Vec<(usize, Fit)> {
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
fn hints_of(trace: &Trace, pieces: &[Vec<Point>], readings: &Readings, links: &[Link]) -> Hints {
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
    fn of_points(trace: &Trace, points: &[Point]) -> Self {
        let hints = trace.ends.map(|end| end.outward.into_inner());
        Self {
            allowed: outside_lines(points, trace.radius.mm(), trace.accuracy.mm(), &hints),
            middle: middle(points),
        }
    }
}

/// Pieces with the axes that their points allow.
fn links_of(trace: &Trace, pieces: &[Vec<Point>]) -> Vec<Link> {
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
fn ambiguous(readings: &Readings, best: &Fit, others: &[Fit]) -> Vec<TraceError> {
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

fn from_centerline(
    trace: &Trace,
    points: &[Point],
    within: Option<Length>,
) -> Result<Traced, Vec<TraceError>> {
    let noise = trace.accuracy * FEW_EXCEED;
    let asked = within.unwrap_or(WITHIN.max(noise));
    let back = backward(points, STEP * trace.accuracy.mm());
    if !back.is_empty() {
        return Err(back);
    }
    let axes = [axis(&trace.ends[0]), axis(&trace.ends[1])];
    let mut cut_up = CutUp::new(points, axes);
    let mut nearest = (0, f64::INFINITY);
    let straight = straight_tube(trace, asked);
    let mut tries = std::iter::once(straight).chain((0..MOST_JOINTS).map_while(|lines| {
        let begins = cut_up.pieces(lines)?;
        let mitered = polygon(trace, points, &begins, asked, &mut nearest);
        Some(mitered.and_then(|found| {
            if is_chance(&found.1) {
                return Some(found);
            }
            // A smooth tube leaves its polygon as far as was asked: that is no error of
            // the points, and no reason to doubt the ends.
            let each = points.len() as f64 / (begins.len() + 1) as f64;
            let rough = rougher(trace, asked, each);
            polygon(&rough, points, &begins, asked, &mut nearest)
        }))
    }));
    if let Some((readings, fit)) = tries.by_ref().flatten().next() {
        let mut traced = finish(&readings, fit, asked, &Hints::default())?;
        if within.is_some_and(|within| within < noise) {
            traced.cautions.push(Caution::Tight {
                within: asked,
                noise,
            });
        }
        return Ok(traced);
    }
    drop(tries);
    let (joints, off) = nearest;
    Err(vec![TraceError::NotWithin {
        joints,
        off: Length::from_mm(off),
    }])
}

/// Whether what is left of points and ends is what chance leaves.
fn is_chance(fit: &Fit) -> bool {
    let spare = fit.spare();
    let all = spare == 0 || fit.adjusted.squares <= chance(spare, SMOOTH);
    // Points that stand off together pull at the ends long before they scatter too much.
    let ends = (0..2).all(|end| {
        let doubt = fit
            .hold
            .doubt(&fit.adjusted.left, &Readings::rows_of_end(end));
        doubt.is_none_or(|doubt| doubt.test <= chance(doubt.freedom, SMOOTH))
    });
    all && ends
}

/// The same tube with points that stand off it as a smooth bend's do: neighbors on the
/// same side, so that the points of a piece, of which there are `each`, tell no more than
/// a few.
fn rougher(trace: &Trace, within: Length, each: f64) -> Trace {
    let alike = (each / MOST_TELLING).max(1.0).sqrt();
    let both = trace.accuracy.mm().hypot(within.mm() * CHORD * alike);
    Trace {
        accuracy: Length::from_mm(both),
        ..trace.clone()
    }
}

/// Probability of chance below which a centerline's points are those of a smooth bend.
const SMOOTH: f64 = 1e-3;
/// Root mean square of how far a smooth bend is from its polygon, in parts of the most:
/// that of an arc's height over a chord which is fitted to it, 0.3, and some to spare.
const CHORD: f64 = 0.5;

/// Points of a smooth bend, a piece, that tell different things.
const MOST_TELLING: f64 = 8.0;

/// Points that go back on the step before them.
fn backward(points: &[Point], least: f64) -> Vec<TraceError> {
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
fn straight_tube(trace: &Trace, within: Length) -> Option<(Readings, Fit)> {
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
fn polygon(
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
fn nearest_pieces(points: &[Point], vertices: &[Point]) -> Vec<usize> {
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
fn is_near(readings: &Readings, fit: &Fit, within: Length) -> bool {
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

/// Tells what does not go with the rest, and how well the rest holds the tube.
fn finish(
    readings: &Readings,
    fit: Fit,
    within: Length,
    hints: &Hints,
) -> Result<Traced, Vec<TraceError>> {
    let vertices = readings.unpack(&fit.adjusted.x);
    let errors = check(readings, &vertices);
    let free = free(readings, &fit);
    if errors.is_empty() && !free.is_empty() {
        return Err(free);
    }
    let odd = missing(readings, &vertices);
    let verdict = if odd.is_empty() {
        suspects(readings, fit, within * STRAY, hints).ok_or(vec![TraceError::Astray])?
    } else {
        // Each of the two pieces is sound by itself: no point of them is to blame.
        let odd = right_radius(readings, &fit, hints).map_or(odd, |caution| vec![caution]);
        Verdict::blaming_none(fit, odd)
    };
    // A wrong point may make of a sound tube one that could not be.
    let is_mended = !verdict.suspects.is_empty() && is_sound(&verdict.fit);
    let errors = if errors.is_empty() || is_mended {
        check(readings, &readings.unpack(&verdict.fit.adjusted.x))
    } else {
        errors
    };
    if errors.is_empty() {
        return Ok(Traced::new(readings, verdict));
    }
    let odd = verdict.cautions.into_iter().map(TraceError::Odd);
    Err(odd.chain(errors).collect())
}

/// Whether points scatter about as much as was said.
fn is_sound(fit: &Fit) -> bool {
    fit.adjusted.squares <= FAR_OFF * fit.spare() as f64
}

/// Pieces whose axes nothing holds, and joints that may be anywhere along them.
fn free(readings: &Readings, fit: &Fit) -> Vec<TraceError> {
    let vertices = readings.unpack(&fit.adjusted.x);
    let mut errors = Vec::new();
    for way in &fit.hold.free {
        let motion =
            |vertex: usize| Vector::new(way[3 * vertex], way[3 * vertex + 1], way[3 * vertex + 2]);
        let across = |piece: usize| {
            let along = (vertices[piece + 1] - vertices[piece]).normalize();
            let square = |v: Vector| (v - along * along.dot(&v)).norm();
            square(motion(piece)).max(square(motion(piece + 1)))
        };
        let freest = (0..vertices.len() - 1).max_by(|a, b| across(*a).total_cmp(&across(*b)));
        let vertex =
            (1..vertices.len() - 1).max_by(|a, b| motion(*a).norm().total_cmp(&motion(*b).norm()));
        let error = match (freest, vertex) {
            (Some(piece), _) if across(piece) > ANOTHER => TraceError::Free { piece },
            (_, Some(vertex)) => TraceError::Straight { joint: vertex - 1 },
            _ => TraceError::Astray,
        };
        if !errors.contains(&error) {
            errors.push(error);
        }
    }
    errors
}
