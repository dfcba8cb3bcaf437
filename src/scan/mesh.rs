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

    /// The triangles that `is_wanted` says, with their points, in their groups.
    pub fn part(&self, is_wanted: impl Fn(usize) -> bool) -> Self {
        const NONE: u32 = u32::MAX;
        let mut part = Self::default();
        let mut numbers = vec![NONE; self.points.len()];
        for group in &self.groups {
            let first = part.triangles.len();
            for triangle in group.triangles.clone().filter(|&t| is_wanted(t)) {
                let corners = self.triangles[triangle].map(|corner| {
                    let number = &mut numbers[corner as usize];
                    if *number == NONE {
                        *number = part.points.len() as u32;
                        part.points.push(self.points[corner as usize]);
                    }
                    *number
                });
                part.triangles.push(corners);
            }
            if part.triangles.len() > first {
                part.groups.push(Group {
                    name: group.name.clone(),
                    triangles: first..part.triangles.len(),
                });
            }
        }
        part
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
