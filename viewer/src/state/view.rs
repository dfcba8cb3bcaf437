//! [`View`]: how the run is shown.

use crate::eye::Eye;
use runwright::geometry::{Plane, Point, Vector};
use runwright::units::Length;

/// What a click in the view does.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Tool {
    /// Chooses a piece.
    #[default]
    Choose,
    /// Picks points to measure between.
    Measure,
    /// Drags corners of the route.
    Corners,
}

/// What the section is square to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SectionAxis {
    /// One of the job's axes, 0 to 2.
    Axis(usize),
}

/// A plane that cuts open what is shown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SectionPlane {
    /// What it is square to.
    pub axis: SectionAxis,
    /// Where it stands, as a part of the scene's extent, 0 to 1.
    pub part: f64,
    /// Whether the far side is what is taken away.
    pub flipped: bool,
}

impl SectionPlane {
    /// Through the middle, square to the axis that the eye looks along most, with what is
    /// on its side taken away.
    pub fn before(eye: &Eye) -> Self {
        let out = eye.axes()[0];
        let axis = out.iamax();
        Self {
            axis: SectionAxis::Axis(axis),
            part: 0.5,
            flipped: out[axis] < 0.0,
        }
    }

    /// Whether a point is left.
    pub fn leaves(&self, point: &Point, extent: (Point, Point)) -> bool {
        let plane = self.plane(extent);
        (point - plane.point).dot(&plane.normal) <= 0.0
    }

    /// The plane in a scene of such a box; what its normal points to is taken away.
    pub fn plane(&self, (low, high): (Point, Point)) -> Plane {
        let SectionAxis::Axis(axis) = self.axis;
        let sign = if self.flipped { -1.0 } else { 1.0 };
        let normal = nalgebra::Unit::new_unchecked(Vector::ith(axis, sign));
        Plane {
            point: low + (high - low) * self.part,
            normal,
        }
    }
}

/// Points picked to measure between: chains of two.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Measure {
    /// In order; every second one ends a distance.
    pub points: Vec<Point>,
}

impl Measure {
    /// Distances that are kept before the oldest goes.
    const MOST: usize = 8;

    /// One more point.
    pub fn pick(&mut self, point: Point) {
        self.points.push(point);
        while self.points.len() > 2 * Self::MOST {
            self.points.drain(..2);
        }
    }

    /// Each distance and its two ends.
    pub fn distances(&self) -> impl Iterator<Item = (Point, Point, Length)> + '_ {
        let pairs = self.points.chunks_exact(2);
        pairs.map(|pair| {
            (
                pair[0],
                pair[1],
                Length::from_mm((pair[1] - pair[0]).norm()),
            )
        })
    }
}

/// How the run is shown.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// From where.
    pub eye: Eye,
    /// Whether the run is colored by the room that it has.
    pub heat: bool,
    /// Whether scans and bodies are seen through…
    pub see_through: bool,
    /// …or not shown at all.
    pub hide_scene: bool,
    /// Whether the tightest place is marked.
    pub tightest: bool,
    /// A plane that cuts all open.
    pub section: Option<SectionPlane>,
    /// What a click does.
    pub tool: Tool,
    /// What was measured.
    pub measure: Measure,
    /// Whether the whole is to be fitted into the view when it is next drawn.
    pub wants_fit: bool,
}

impl Default for View {
    fn default() -> Self {
        Self {
            eye: Eye::default(),
            heat: false,
            see_through: true,
            hide_scene: false,
            tightest: true,
            section: None,
            tool: Tool::default(),
            measure: Measure::default(),
            wants_fit: true,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_come_by_twos_and_the_oldest_go() {
        let mut measure = Measure::default();
        for i in 0..21 {
            measure.pick(Point::new(f64::from(i * i), 0.0, 0.0));
        }
        assert!(measure.points.len() <= 2 * Measure::MOST);
        let found: Vec<_> = measure.distances().collect();
        for (a, b, length) in found {
            assert!((b.x - a.x - length.mm()).abs() < 1e-12);
        }
    }

    #[test]
    fn a_section_stands_at_its_part_of_the_scene() {
        let scene = (Point::new(0.0, 0.0, -10.0), Point::new(1.0, 1.0, 30.0));
        let section = SectionPlane {
            axis: SectionAxis::Axis(2),
            part: 0.5,
            flipped: true,
        };
        let plane = section.plane(scene);
        assert!((plane.point.z - 10.0).abs() < 1e-12 && plane.normal.z == -1.0);
    }
}
