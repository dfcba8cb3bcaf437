//! [`Lattice`]: evenly spaced points in a box.

use crate::geometry::{Point, Vector};

/// Points `cell` apart along the axes, from a corner on.
#[derive(Clone, Debug, PartialEq)]
pub struct Lattice {
    /// The point with the least coordinates.
    pub origin: Point,
    /// Distance between neighbors along an axis, mm.
    pub cell: f64,
    /// Number of points along each axis; at least [`Lattice::LEAST`] of one that fills a
    /// box.
    pub count: [usize; 3],
}

impl Lattice {
    /// Fewest points along an axis: what smooth interpolation between them needs.
    pub const LEAST: usize = 4;

    /// A lattice that fills the box from `min` to `max` with about `most` points at most,
    /// and none nearer to each other than `finest`, mm.
    pub fn filling(min: &Point, max: &Point, most: usize, finest: f64) -> Self {
        let extent = (max - min).map(|side| side.max(finest));
        // Points along the edges count too: a few steps bring the number down.
        let mut cell = (extent.product() / most as f64).cbrt().max(finest);
        let count = |cell: f64| {
            let along = |side: f64| ((side / cell).ceil() as usize + 1).max(Self::LEAST);
            [along(extent.x), along(extent.y), along(extent.z)]
        };
        while count(cell).iter().product::<usize>() > most.max(Self::LEAST.pow(3)) {
            cell *= COARSER;
        }
        Self {
            origin: *min,
            cell,
            count: count(cell),
        }
    }

    /// Number of points.
    pub fn len(&self) -> usize {
        self.count.iter().product()
    }

    /// Whether there are none, which is never so.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// A point by its number: x runs fastest.
    pub fn point(&self, index: usize) -> Point {
        let [i, j, k] = self.place(index);
        self.at([i, j, k])
    }

    /// A point by its place along each axis.
    pub fn at(&self, place: [usize; 3]) -> Point {
        self.origin + Vector::from(place.map(|i| i as f64)) * self.cell
    }

    /// Number of the point at a place along each axis.
    pub const fn index(&self, [i, j, k]: [usize; 3]) -> usize {
        i + self.count[0] * (j + self.count[1] * k)
    }

    /// Place along each axis of a point by its number.
    pub const fn place(&self, index: usize) -> [usize; 3] {
        let [x, y, _] = self.count;
        [index % x, index / x % y, index / (x * y)]
    }

    /// Where `point` lies, counted in cells from the origin.
    pub fn locate(&self, point: &Point) -> Vector {
        (point - self.origin) / self.cell
    }

    /// The place nearest to `point`.
    pub fn nearest(&self, point: &Point) -> [usize; 3] {
        let at = self.locate(point);
        std::array::from_fn(|axis| (at[axis].round().max(0.0) as usize).min(self.count[axis] - 1))
    }
}

/// Factor between the cells that are tried.
const COARSER: f64 = 1.02;
