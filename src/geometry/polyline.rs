//! [`Polyline`]: what a miter-cut run's centerline exactly is.

use super::{Direction, Point, Segment, Vector};
use crate::units::Length;

/// Two or more points, no two neighbors equal.
#[derive(Clone, Debug, PartialEq)]
pub struct Polyline {
    points: Vec<Point>,
}

impl Polyline {
    /// From its vertices. `None` with fewer than two points, a coordinate that
    /// is not finite, or an edge without length.
    pub fn new(points: Vec<Point>) -> Option<Self> {
        let finite = points.iter().all(|p| p.iter().all(|c| c.is_finite()));
        let apart = points.windows(2).all(|pair| pair[0] != pair[1]);
        (points.len() >= 2 && finite && apart).then_some(Self { points })
    }

    /// The vertices in order of flow.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// The edges in order of flow.
    pub fn edges(&self) -> impl ExactSizeIterator<Item = Segment> + '_ {
        self.points.windows(2).map(|pair| Segment {
            start: pair[0],
            end: pair[1],
        })
    }

    /// Direction of each edge, downstream.
    pub fn directions(&self) -> Vec<Direction> {
        self.points
            .windows(2)
            .map(|pair| Direction::new_normalize(pair[1] - pair[0]))
            .collect()
    }

    /// First and last vertex, each with the direction from it along the polyline.
    pub fn ends(&self) -> [(Point, Direction); 2] {
        let last = self.points.len() - 1;
        let toward = |from: usize, to: usize| {
            let along = self.points[to] - self.points[from];
            (self.points[from], Direction::new_normalize(along))
        };
        [toward(0, 1), toward(last, last - 1)]
    }

    /// The point at `part` of the whole length, 0 at the start and 1 at the end.
    pub fn at(&self, part: f64) -> Point {
        let mut left = self.length().mm() * part;
        for edge in self.edges() {
            let length = edge.length().mm();
            if left <= length {
                return edge.start + edge.vector() * (left / length).max(0.0);
            }
            left -= length;
        }
        self.points[self.points.len() - 1]
    }

    /// Sum of the edges.
    pub fn length(&self) -> Length {
        let edges = self.points.windows(2).map(|pair| pair[1] - pair[0]);
        Length::from_mm(edges.map(|edge: Vector| edge.norm()).sum())
    }
}
