//! [`Soup`]: points and triangles as a file's reader meets them.

use super::error::{Place, ReadError};
use super::limits::Limits;
use super::text::printable;
use crate::units::Length;
use indexmap::{IndexMap, IndexSet};

/// The bits of a point's coordinates, mm.
pub(super) type Bits = [u64; 3];

/// What is gathered while a file is read.
pub(super) struct Soup {
    unit: f64,
    limits: Limits,
    /// Each place once. The hash is seeded at random, so that no file can be made to
    /// collide; the order is that of the file all the same.
    pub welded: IndexSet<Bits>,
    /// Where each of the file's points is among those.
    places: Vec<u32>,
    /// Corners as the file numbers its points, from 0.
    pub triangles: Vec<[u32; 3]>,
    /// Names in the order of the file, with counts of triangles.
    pub groups: IndexMap<String, usize>,
    /// Which triangles are in which group.
    pub runs: Vec<Run>,
    /// Faces with fewer than three corners.
    pub thin: usize,
    /// The greatest number of a point that is spoken of, and where.
    farthest: Option<(u32, Place)>,
}

/// Consecutive triangles of one group: up to where the next run begins.
#[derive(Clone, Copy)]
pub(super) struct Run {
    /// Its group, by number.
    pub group: usize,
    /// Its first triangle.
    pub from: usize,
}

impl Soup {
    /// Nothing yet. `unit` is the length of one unit of the file.
    pub fn new(unit: Length, limits: Limits) -> Self {
        Self {
            unit: unit.mm(),
            limits,
            welded: IndexSet::new(),
            places: Vec::new(),
            triangles: Vec::new(),
            groups: IndexMap::new(),
            runs: Vec::new(),
            thin: 0,
            farthest: None,
        }
    }

    /// Points that the file has listed so far.
    pub const fn points(&self) -> usize {
        self.places.len()
    }

    /// The next of the file's points, in the file's unit.
    pub fn point(&mut self, coordinates: [f64; 3]) -> Result<(), ReadError> {
        let place = self.weld(coordinates)?;
        check(self.places.len(), self.limits.points, "points")?;
        self.places.push(place);
        Ok(())
    }

    /// The number of the place at `coordinates`, for files that repeat their points.
    fn weld(&mut self, coordinates: [f64; 3]) -> Result<u32, ReadError> {
        check(self.welded.len(), self.limits.points, "points")?;
        // Adding zero makes -0 the 0 that it equals.
        let bits = coordinates.map(|x| (x * self.unit + 0.0).to_bits());
        Ok(self.welded.insert_full(bits).0 as u32)
    }

    /// A triangle by its corners' coordinates. A file has such triangles or points.
    pub fn loose_triangle(&mut self, corners: [[f64; 3]; 3]) -> Result<(), ReadError> {
        let mut triangle = [0; 3];
        for (corner, coordinates) in triangle.iter_mut().zip(corners) {
            *corner = self.weld(coordinates)?;
        }
        self.push(triangle)
    }

    /// A triangle by the numbers of its points, which may be yet to come. `place` is
    /// where it stands.
    pub fn triangle(&mut self, corners: [u32; 3], place: Place) -> Result<(), ReadError> {
        let greatest = corners.into_iter().max().unwrap_or_default();
        if self
            .farthest
            .is_none_or(|(farthest, _)| farthest < greatest)
        {
            self.farthest = Some((greatest, place));
        }
        self.push(corners)
    }

    fn push(&mut self, triangle: [u32; 3]) -> Result<(), ReadError> {
        check(self.triangles.len(), self.limits.triangles, "triangles")?;
        if self.runs.is_empty() {
            self.begin_group(b"", Place::Line(0))?;
        }
        let group = self.runs.last().map_or(0, |run| run.group);
        if let Some((_, count)) = self.groups.get_index_mut(group) {
            *count += 1;
        }
        self.triangles.push(triangle);
        Ok(())
    }

    /// What follows belongs to the group of this name.
    pub fn begin_group(&mut self, name: &[u8], place: Place) -> Result<(), ReadError> {
        if name.len() > self.limits.name {
            return Err(ReadError::Malformed {
                place,
                what: format!("a group's name is longer than {} bytes", self.limits.name),
            });
        }
        let name = printable(name);
        let group = match self.groups.get_index_of(&name) {
            Some(group) => group,
            None => {
                check(self.groups.len(), self.limits.groups, "groups")?;
                self.groups.insert_full(name, 0).0
            }
        };
        let from = self.triangles.len();
        self.runs.pop_if(|run| run.from == from);
        self.runs.push(Run { group, from });
        Ok(())
    }

    /// Makes the triangles' corners those of the welded points.
    pub fn resolve(&mut self) -> Result<(), ReadError> {
        let points = self.places.len();
        if let Some((index, place)) = self.farthest
            && index as usize >= points
        {
            return Err(ReadError::NoSuchPoint {
                place,
                index: (u64::from(index) + 1).to_string(),
                points: points as u64,
            });
        }
        if self.farthest.is_some() {
            for corner in self.triangles.iter_mut().flatten() {
                *corner = self.places[*corner as usize];
            }
        }
        self.places = Vec::new();
        Ok(())
    }
}

/// Whether one more of `what` may come to so many.
const fn check(count: usize, limit: usize, what: &'static str) -> Result<(), ReadError> {
    if count < limit {
        Ok(())
    } else {
        Err(ReadError::TooMany { what, limit })
    }
}
