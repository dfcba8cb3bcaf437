//! [`Mesh`]: triangles with shared corners, in named groups.

use crate::geometry::{Point, Vector};
use nalgebra::Rotation3;
use std::ops::Range;

/// A surface of triangles.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Mesh {
    /// Corners, mm. Each place is listed once; triangles share it.
    pub points: Vec<Point>,
    /// Three of the corners each, facing either way.
    pub triangles: Vec<[u32; 3]>,
    /// Which triangles belong together: consecutive ranges that hold all of them.
    pub groups: Vec<Group>,
}

/// Consecutive triangles of one name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Group {
    /// As the file calls it; empty where it does not say.
    pub name: String,
    /// Its triangles, by number.
    pub triangles: Range<usize>,
}

impl Mesh {
    /// Corners of a triangle.
    pub fn corners(&self, triangle: usize) -> [Point; 3] {
        self.triangles[triangle].map(|corner| self.points[corner as usize])
    }

    /// Least and greatest coordinates; `None` without points.
    pub fn bounds(&self) -> Option<(Point, Point)> {
        let first = *self.points.first()?;
        Some(
            self.points
                .iter()
                .fold((first, first), |(min, max), p| (min.inf(p), max.sup(p))),
        )
    }

    /// Carries every point by p → turn·p + shift, `shift` in mm.
    pub fn transform(&mut self, turn: &Rotation3<f64>, shift: &Vector) {
        for point in &mut self.points {
            *point = turn * *point + shift;
        }
    }
}
