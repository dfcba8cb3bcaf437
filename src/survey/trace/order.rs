//! What may be behind pieces that make no tube: two in the wrong order, or a joint that
//! hardly turns.

use super::TraceError;
use super::chain::{Link, chains, vertices};
use super::end::TubeEnd;
use super::lines::Line;
use super::readings::{On, Readings};
use super::shape::{SLIDES, check};
use super::suspects::Fit;
use crate::survey::adjust::Model;

/// How much more than said points may scatter, in squares, in a tube whose pieces were
/// put in another order.
const SCATTER: f64 = 4.0;

/// Errors with what may be behind them.
pub(super) fn explained(
    readings: &Readings,
    links: &[Link],
    ends: [&TubeEnd; 2],
    errors: Vec<TraceError>,
    inner: impl Fn(usize) -> Option<Link>,
) -> Vec<TraceError> {
    let is_shape = |error: &TraceError| {
        matches!(
            error,
            TraceError::Straight { .. }
                | TraceError::Sharp { .. }
                | TraceError::OutOfOrder { .. }
                | TraceError::Behind { .. }
                | TraceError::Ambiguous { .. }
        )
    };
    if !errors.iter().any(is_shape) {
        return errors;
    }
    let is_odd = |error: &&TraceError| matches!(error, TraceError::Odd(_));
    let fits = |&piece: &usize| fits_swapped(readings, links, ends, piece, &inner);
    if let Some(piece) = (0..links.len() - 1).find(fits) {
        return [vec![TraceError::Swapped { piece }], errors].concat();
    }
    // What is odd about the points is why they make no tube.
    let odd: Vec<TraceError> = errors.iter().filter(is_odd).copied().collect();
    if !odd.is_empty() {
        return odd;
    }
    let straight = straight(links, readings.sigma);
    if straight.is_empty() {
        errors
    } else {
        straight
    }
}

/// Whether the tube is sound with piece `piece` and the next in the other order.
fn fits_swapped(
    readings: &Readings,
    links: &[Link],
    ends: [&TubeEnd; 2],
    piece: usize,
    inner: &impl Fn(usize) -> Option<Link>,
) -> bool {
    let last = links.len() - 1;
    let mut swapped = links.to_vec();
    swapped.swap(piece, piece + 1);
    // An end's axis stays where it is, whatever piece is there.
    for (end, place, other) in [(0, 0, 1), (1, last, last.saturating_sub(1))] {
        if piece == place || piece + 1 == place {
            let Some(link) = inner(place) else {
                return false;
            };
            swapped[place] = Link::of_end(ends[end]);
            swapped[other] = link;
        }
    }
    let mut readings = readings.clone();
    for point in &mut readings.points {
        match point.on {
            On::Outside(of) if of == piece => point.on = On::Outside(piece + 1),
            On::Outside(of) if of == piece + 1 => point.on = On::Outside(piece),
            _ => {}
        }
    }
    chains(&swapped, readings.sigma).iter().any(|lines| {
        let guess = vertices(&swapped, lines, ends, readings.radius);
        let counts = vec![true; readings.rows()];
        let Some(fit) = Fit::new(&readings, readings.pack(&guess), counts) else {
            return false;
        };
        let is_tight = fit.adjusted.squares <= SCATTER * fit.spare() as f64;
        is_tight && check(&readings, &readings.unpack(&fit.adjusted.x)).is_empty()
    })
}

/// Joints at which neighbors' own axes are one but for what slides.
fn straight(links: &[Link], sigma: f64) -> Vec<TraceError> {
    let Some(lines) = chains(links, sigma).into_iter().next() else {
        return Vec::new();
    };
    let turn = |pair: &[Line]| pair[0].direction.cross(&pair[1].direction).norm().asin();
    let pairs = lines.windows(2).enumerate();
    let sliding = pairs.filter(|(_, pair)| turn(pair) < SLIDES.radians());
    sliding
        .map(|(joint, _)| TraceError::Straight { joint })
        .collect()
}
