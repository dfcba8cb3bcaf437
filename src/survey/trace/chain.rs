//! Axes in order of flow, put together: one a piece, so that neighbors meet.

use super::end::TubeEnd;
use super::lines::{Allowed, Line};
use crate::geometry::Point;

/// Chains that are followed along the tube.
const WIDTH: usize = 12;
/// Chains that are given back.
const GIVEN: usize = 6;
/// How far from between its neighbors' points a joint may be, in parts of their distance
/// and the tube's diameter, before the lines are taken to say nothing about it.
const FAR: f64 = 1.5;

/// A piece as a chain needs it.
#[derive(Clone, Debug)]
pub(super) struct Link {
    /// Axes that it may have.
    pub(super) allowed: Vec<Allowed>,
    /// The middle of its points.
    pub(super) middle: Point,
}

impl Link {
    /// An end piece, whose axis is its port's.
    pub(super) fn of_end(end: &TubeEnd) -> Self {
        let line = Line {
            point: end.center,
            direction: end.outward.into_inner(),
        };
        Self {
            allowed: vec![Allowed { line, squares: 0.0 }],
            middle: end.center,
        }
    }
}

/// The lines of the best chains, one line a link, the best first.
///
/// A chain costs what its axes leave of their own points and how far neighbors pass each
/// other in deviations of both.
pub(super) fn chains(links: &[Link], sigma: f64) -> Vec<Vec<Line>> {
    let mut chains: Vec<(f64, Vec<Line>)> = vec![(0.0, Vec::new())];
    for (i, link) in links.iter().enumerate() {
        let mut longer = Vec::new();
        for (cost, lines) in &chains {
            for allowed in &link.allowed {
                let gap = lines.last().map_or(0.0, |last: &Line| {
                    last.gap(&allowed.line, &between(links, i - 1)) / (2.0 * sigma)
                });
                let mut lines = lines.clone();
                lines.push(allowed.line);
                longer.push((cost + allowed.squares + gap * gap, lines));
            }
        }
        longer.sort_by(|a, b| a.0.total_cmp(&b.0));
        longer.truncate(WIDTH);
        chains = longer;
    }
    chains.truncate(GIVEN);
    chains.into_iter().map(|(_, lines)| lines).collect()
}

/// About where link `i` and the next meet.
fn between(links: &[Link], i: usize) -> Point {
    let (a, b) = (links[i].middle, links[i + 1].middle);
    a + (b - a) / 2.0
}

/// Vertices where a chain's lines meet, from face to face.
pub(super) fn vertices(
    links: &[Link],
    lines: &[Line],
    ends: [&TubeEnd; 2],
    radius: f64,
) -> Vec<Point> {
    let mut vertices = vec![ends[0].center];
    for i in 0..lines.len().saturating_sub(1) {
        let about = between(links, i);
        let apart = (links[i + 1].middle - links[i].middle).norm();
        let is_near = |[a, b]: &[Point; 2]| {
            let far = FAR * (apart + 2.0 * radius);
            (a - about).norm() < far && (b - about).norm() < far
        };
        let [a, b] = lines[i]
            .pass(&lines[i + 1])
            .filter(is_near)
            .unwrap_or_else(|| [lines[i].nearest_to(&about), lines[i + 1].nearest_to(&about)]);
        // The ends' axes are the firmest: their joints begin on them.
        vertices.push(if i == 0 {
            a
        } else if i + 2 == lines.len() {
            b
        } else {
            a + (b - a) / 2.0
        });
    }
    vertices.push(ends[1].center);
    vertices
}
