//! Which point of the outside is to blame: by fitting again without each.
//!
//! A point that is far off bends its piece's axis so much that what first order says of
//! the others is wrong. So each point of the pieces in doubt is left out in turn, from
//! several first guesses, and what is left of the rest decides. Where two choices leave
//! about as little, neither is named.

use super::lines::{Line, OwnLine, own_line};
use super::readings::{On, Readings, TouchedPoint};
use super::suspects::{Fit, Suspect, Verdict, surprise};
use super::{Caution, Spot};
use crate::geometry::{Point, Segment};
use crate::survey::adjust::{Adjusted, adjust_roughly, chance};
use crate::units::Length;
use nalgebra::DVector;
use rayon::prelude::*;

/// Points that are left out in turn, at most.
const TRIED: usize = 24;
/// By how much more another choice must leave of the squares to be ruled out: 20 to 1.
const RULED_OUT: f64 = 6.0;
/// On a piece with no more points than this, two that seem off may be two good ones that
/// a third one pushes aside.
const FEW: usize = 8;
/// Deviations within which a point is on another piece.
const ON_IT: f64 = 3.0;
/// Probability that chance makes another radius fit as much better as it does.
const OTHER_RADIUS: f64 = 1e-4;
/// Probability that a piece's own points scatter as they do, below which its own line
/// tells nothing of its neighbor.
const OWN_FIT: f64 = 1e-3;
/// Deviations by which own lines pass each other where a piece is missing…
const MISSED: f64 = 6.0;
/// …and parts of the radius.
const MISSED_PART: f64 = 0.08;

/// Part of the squares that another radius leaves where it is what is wrong.
const MOST_OF_IT: f64 = 0.5;

/// What the points of each piece said alone.
#[derive(Clone, Debug, Default)]
pub(super) struct Hints {
    /// First guesses that a point that is far off has no part in.
    pub(super) starts: Vec<DVector<f64>>,
    /// Pieces whose points lie on no tube.
    pub(super) doubtful: Vec<usize>,
}

impl Hints {
    /// The least squares of what counts, from `begin` and all other guesses.
    pub(super) fn fit(
        &self,
        readings: &Readings,
        begin: DVector<f64>,
        counts: Vec<bool>,
    ) -> Option<Fit> {
        let best = self.adjusted(readings, &begin, &counts)?;
        Fit::new(readings, best.x, counts)
    }

    fn adjusted(
        &self,
        readings: &Readings,
        begin: &DVector<f64>,
        counts: &[bool],
    ) -> Option<Adjusted> {
        std::iter::once(begin)
            .chain(&self.starts)
            .filter_map(|start| adjust_roughly(readings, start.clone(), counts))
            .min_by(|a, b| a.squares.total_cmp(&b.squares))
    }
}

/// The point without which the least is left, among those of the pieces in doubt; `None`
/// where `worst` is none of the outside.
pub(super) fn single_out(
    readings: &Readings,
    fit: &Fit,
    worst: usize,
    hints: &Hints,
) -> Option<(usize, Fit)> {
    if !matches!(readings.points[worst].on, On::Outside(_)) {
        return None;
    }
    let rows = readings.rows_of_points();
    let without = |i: usize| {
        let mut counts = fit.counts.clone();
        counts[rows[i].clone()].fill(false);
        counts
    };
    let tried = in_doubt(readings, fit, worst, hints);
    // Each is a search of its own; the least is the same on any number of cores.
    let (i, best) = tried
        .into_par_iter()
        .filter_map(|i| {
            let found = hints.adjusted(readings, &fit.adjusted.x, &without(i))?;
            Some((i, found))
        })
        .min_by(|a, b| a.1.squares.total_cmp(&b.1.squares).then(a.0.cmp(&b.0)))?;
    Some((i, Fit::new(readings, best.x, without(i))?))
}

/// Points of the pieces in doubt, the most doubtful piece first.
fn in_doubt(readings: &Readings, fit: &Fit, worst: usize, hints: &Hints) -> Vec<usize> {
    let rows = readings.rows_of_points();
    let mut doubts: Vec<(f64, usize, usize)> = Vec::new();
    for (i, point) in readings.points.iter().enumerate() {
        let is_counted = fit.counts[rows[i].start];
        if let (true, Some(piece)) = (is_counted, point.piece()) {
            let doubt = fit.hold.doubt(&fit.adjusted.left, &rows[i]);
            doubts.push((doubt.map_or(0.0, |doubt| doubt.test), i, piece));
        }
    }
    doubts.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let first = readings.points[worst].piece();
    let mut pieces: Vec<usize> = first.into_iter().chain(hints.doubtful.clone()).collect();
    pieces.extend(doubts.iter().map(|(.., piece)| *piece));
    let mut tried: Vec<usize> = Vec::new();
    for piece in pieces {
        let own = doubts.iter().filter(|(.., of)| *of == piece);
        for (_, i, _) in own {
            if !tried.contains(i) && tried.len() < TRIED {
                tried.push(*i);
            }
        }
    }
    tried
}

/// Another radius that explains more than the most surprising reading does.
pub(super) fn other_radius(
    readings: &Readings,
    fit: &Fit,
    most: f64,
    hints: &Hints,
) -> Option<Caution> {
    let (radius, squares) = with_radius_free(readings, fit, hints)?;
    let drop = fit.adjusted.squares - squares;
    let is_better = drop > chance(1, OTHER_RADIUS) && surprise(drop, 1) > most;
    is_better.then_some(Caution::OtherRadius { radius })
}

/// Another radius with which nothing else is odd, or that explains most of it.
pub(super) fn right_radius(readings: &Readings, fit: &Fit, hints: &Hints) -> Option<Caution> {
    let (_, squares) = with_radius_free(readings, fit, hints)?;
    let usual = chance(fit.spare().saturating_sub(1).max(1), OWN_FIT);
    let is_right = squares <= usual.max(MOST_OF_IT * fit.adjusted.squares);
    is_right
        .then(|| other_radius(readings, fit, 0.0, hints))
        .flatten()
}

/// The radius that fits best, and the squares that it leaves.
fn with_radius_free(readings: &Readings, fit: &Fit, hints: &Hints) -> Option<(Length, f64)> {
    let outside = |point: &TouchedPoint| matches!(point.on, On::Outside(_));
    if !readings.points.iter().any(outside) {
        return None;
    }
    let free = Readings {
        is_radius_free: true,
        ..readings.clone()
    };
    let found = std::iter::once(&fit.adjusted.x)
        .chain(&hints.starts)
        .filter_map(|start| adjust_roughly(&free, start.clone().push(0.0), &fit.counts))
        .min_by(|a, b| a.squares.total_cmp(&b.squares))?;
    let radius = readings.radius + found.x[3 * readings.vertices];
    (radius > 0.0).then_some((Length::from_mm(radius), found.squares))
}

/// Pieces of which a point is off that the others do not single out.
#[derive(Default)]
struct Blurred {
    /// Which, and about how far.
    pieces: Vec<(usize, Length)>,
    /// What the tube would be with each choice.
    ways: Vec<DVector<f64>>,
}

impl Blurred {
    fn is(&self, spot: Spot) -> bool {
        let is_on =
            |(piece, _): &(usize, Length)| matches!(spot, Spot::Outside(of, _) if of == *piece);
        self.pieces.iter().any(is_on)
    }
}

/// Takes back the blame where another point could bear it as well.
pub(super) fn settled(
    readings: &Readings,
    mut suspects: Vec<Suspect>,
    mut fit: Fit,
    aside: &[usize],
    hints: &Hints,
) -> Option<Verdict> {
    let blurred = blurred(readings, &fit, aside, hints);
    if !blurred.pieces.is_empty() {
        suspects.retain(|suspect| !blurred.is(suspect.spot));
        let mut counts = fit.counts.clone();
        for (point, rows) in readings.points.iter().zip(readings.rows_of_points()) {
            if blurred.is(point.spot) {
                counts[rows].fill(true);
            }
        }
        fit = hints.fit(readings, fit.adjusted.x, counts)?;
        widen(&mut fit, &blurred.ways);
    }
    mark_strangers(readings, &fit, &mut suspects);
    let cautions = blurred.pieces.into_iter();
    Some(Verdict {
        suspects,
        fit,
        cautions: cautions
            .map(|(piece, off)| Caution::Blurred { piece, off })
            .collect(),
    })
}

/// What the points that were put `aside` leave open.
fn blurred(readings: &Readings, fit: &Fit, aside: &[usize], hints: &Hints) -> Blurred {
    let mut blurred = Blurred::default();
    let vertices = readings.unpack(&fit.adjusted.x);
    for &i in aside {
        let On::Outside(piece) = readings.points[i].on else {
            continue;
        };
        let rivals = rivals(readings, fit, i, hints);
        if rivals.is_empty() && !is_crowd(readings, aside, piece) {
            continue;
        }
        let off = Length::from_mm(readings.off(&readings.points[i], &vertices)).abs();
        let theirs = rivals.iter().map(|(j, _)| readings.points[*j].piece());
        for piece in std::iter::once(Some(piece)).chain(theirs).flatten() {
            if blurred.pieces.iter().all(|(known, _)| *known != piece) {
                blurred.pieces.push((piece, off));
            }
        }
        blurred.ways.extend(rivals.into_iter().map(|(_, x)| x));
    }
    blurred.ways.push(fit.adjusted.x.clone());
    blurred
}

/// Whether several of a piece's few points were put aside.
fn is_crowd(readings: &Readings, aside: &[usize], piece: usize) -> bool {
    let on_piece = |point: &TouchedPoint| point.piece() == Some(piece);
    let given = readings.points.iter().filter(|p| on_piece(p)).count();
    let out = aside.iter().filter(|i| on_piece(&readings.points[**i]));
    out.count() > 1 && given <= FEW
}

/// Points that might be off in place of point `i`, with what the tube would be then:
/// those of its piece and the two beside it.
fn rivals(readings: &Readings, fit: &Fit, i: usize, hints: &Hints) -> Vec<(usize, DVector<f64>)> {
    let rows = readings.rows_of_points();
    let Some(piece) = readings.points[i].piece() else {
        return Vec::new();
    };
    let beside = |j: &usize| {
        let of = readings.points[*j].piece();
        fit.counts[rows[*j].start] && of.is_some_and(|of| of.abs_diff(piece) <= 1)
    };
    let instead = |j: usize| {
        let mut counts = fit.counts.clone();
        counts[rows[i].clone()].fill(true);
        counts[rows[j].clone()].fill(false);
        let found = hints.adjusted(readings, &fit.adjusted.x, &counts)?;
        (found.squares < fit.adjusted.squares + RULED_OUT).then_some((j, found.x))
    };
    (0..rows.len()).filter(beside).filter_map(instead).collect()
}

/// Adds to the covariance how far other tubes that fit as well are from this one.
fn widen(fit: &mut Fit, ways: &[DVector<f64>]) {
    for way in ways {
        let off = way - &fit.adjusted.x;
        fit.hold.covariance += &off * off.transpose() / ways.len() as f64;
    }
}

/// Says of suspects which neighboring piece they are on.
fn mark_strangers(readings: &Readings, fit: &Fit, suspects: &mut [Suspect]) {
    let vertices = readings.unpack(&fit.adjusted.x);
    for suspect in suspects {
        let Some(point) = readings.points.iter().find(|p| p.spot == suspect.spot) else {
            continue;
        };
        if let On::Outside(piece) = point.on {
            let beside = [piece.checked_sub(1), Some(piece + 1)];
            let mut beside = beside.into_iter().flatten();
            suspect.fits = beside.find(|&other| is_on(readings, &vertices, &point.at, other));
        }
    }
}

/// Whether a point is on the outside of a piece, between its joints.
fn is_on(readings: &Readings, vertices: &[Point], at: &Point, piece: usize) -> bool {
    let Some([start, end]) = vertices.get(piece..piece + 2) else {
        return false;
    };
    let edge = Segment {
        start: *start,
        end: *end,
    };
    let nearest = edge.closest_to(at);
    let is_between = (nearest - start).norm() > 0.0 && (nearest - end).norm() > 0.0;
    let off = (at - nearest).norm() - readings.radius;
    is_between && off.abs() <= ON_IT * readings.sigma
}

/// Joints whose pieces' own lines, each sound by itself, pass each other too far apart.
pub(super) fn missing(readings: &Readings, vertices: &[Point]) -> Vec<Caution> {
    let lines: Vec<Option<OwnLine>> = (0..vertices.len() - 1)
        .map(|piece| sound_line(readings, vertices, piece))
        .collect();
    let told = lines.windows(2).enumerate().filter_map(|(joint, pair)| {
        let (a, b) = (pair[0].as_ref()?, pair[1].as_ref()?);
        let [p, q] = a.line.pass(&b.line)?;
        let way = (q - p).try_normalize(f64::MIN_POSITIVE)?;
        let (apart, sigma) = ((q - p).norm(), a.sigma(&p, &way).hypot(b.sigma(&q, &way)));
        let is_missing = apart > MISSED * sigma && apart > MISSED_PART * readings.radius;
        is_missing.then_some(Caution::Missing {
            joint,
            apart: Length::from_mm(apart),
            sigma: Length::from_mm(sigma),
        })
    });
    told.collect()
}

/// A piece's own line, if its own points lie on a tube about it.
fn sound_line(readings: &Readings, vertices: &[Point], piece: usize) -> Option<OwnLine> {
    let own = readings.points.iter();
    let own: Vec<TouchedPoint> = own
        .filter(|point| point.on == On::Outside(piece))
        .copied()
        .collect();
    let start = Line {
        point: vertices[piece],
        direction: (vertices[piece + 1] - vertices[piece]).normalize(),
    };
    own_line(&own, readings.radius, readings.sigma, &start)
        .filter(|own| own.spare > 0 && own.squares <= chance(own.spare, OWN_FIT))
}
