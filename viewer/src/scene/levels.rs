//! [`Levels`]: a large scan in blocks, so that what is out of view is left out, and as a
//! coarser copy for while the eye moves.

use super::Shape;
use std::collections::HashMap;
use std::sync::Arc;

/// Scans with fewer triangles are drawn as they are, whole and always.
pub const LARGE: usize = 120_000;
/// Most triangles of a block.
const BLOCK: usize = 40_000;
/// Most triangles of the coarser copy.
const COARSE: usize = 60_000;
/// Cells along a scan's diagonal that are tried first, and how much coarser each next try is.
const CELLS: (f32, f32) = (220.0, 1.35);
/// Tries after which the coarsest is taken.
const TRIES: usize = 12;

/// A scan's shapes.
#[derive(Clone, Debug, Default)]
pub struct Levels {
    /// All of it in one: what is picked and cut by planes.
    pub whole: Arc<Shape>,
    /// The same in blocks; none where it is small.
    pub blocks: Vec<Shape>,
    /// Coarser; none where it is small.
    pub coarse: Option<Shape>,
}

impl Levels {
    /// Of a whole shape.
    pub fn new(whole: Shape) -> Self {
        let is_large = whole.triangles.len() > LARGE;
        Self {
            blocks: if is_large { blocks(&whole) } else { Vec::new() },
            coarse: is_large.then(|| coarse(&whole)),
            whole: Arc::new(whole),
        }
    }
}

/// A shape's triangles in blocks, each near together: halved across its longest side until
/// small enough.
fn blocks(shape: &Shape) -> Vec<Shape> {
    let all: Vec<u32> = (0..shape.triangles.len() as u32).collect();
    let mut left = vec![all];
    let mut blocks = Vec::new();
    while let Some(mut faces) = left.pop() {
        if faces.len() <= BLOCK {
            blocks.push(part(shape, &faces));
            continue;
        }
        let axis = longest(shape, &faces);
        let half = faces.len() / 2;
        faces.select_nth_unstable_by(half, |a, b| {
            middle(shape, *a, axis).total_cmp(&middle(shape, *b, axis))
        });
        left.push(faces.split_off(half));
        left.push(faces);
    }
    blocks
}

/// Three times a triangle's middle along an axis.
fn middle(shape: &Shape, face: u32, axis: usize) -> f32 {
    let corners = shape.triangles.get(face as usize);
    let points = corners.into_iter().flatten();
    points
        .filter_map(|corner| shape.points.get(*corner as usize))
        .map(|point| point[axis])
        .sum()
}

fn longest(shape: &Shape, faces: &[u32]) -> usize {
    let mut best = (f32::MIN, 0);
    for axis in 0..3 {
        let (low, high) = faces
            .iter()
            .map(|face| middle(shape, *face, axis))
            .fold((f32::MAX, f32::MIN), |(low, high), at| {
                (low.min(at), high.max(at))
            });
        if high - low > best.0 {
            best = (high - low, axis);
        }
    }
    best.1
}

/// Some of a shape's triangles as a shape.
fn part(shape: &Shape, faces: &[u32]) -> Shape {
    let mut own: HashMap<u32, u32> = HashMap::new();
    let mut made = Shape::default();
    for face in faces {
        let Some(corners) = shape.triangles.get(*face as usize) else {
            continue;
        };
        let corners = corners.map(|corner| {
            *own.entry(corner).or_insert_with(|| {
                let at = corner as usize;
                made.points
                    .push(shape.points.get(at).copied().unwrap_or_default());
                made.normals
                    .push(shape.normals.get(at).copied().unwrap_or_default());
                made.points.len() as u32 - 1
            })
        });
        made.triangles.push(corners);
    }
    made.bound();
    made
}

/// All corners in a cell as one, in their mean; triangles that shrink to nothing left out.
fn coarse(shape: &Shape) -> Shape {
    let Some((low, high)) = shape.bounds else {
        return Shape::default();
    };
    let diagonal = (0..3)
        .map(|i| (high[i] - low[i]).powi(2))
        .sum::<f32>()
        .sqrt();
    let mut cell = diagonal / CELLS.0;
    for _ in 0..TRIES {
        let made = clustered(shape, low, cell);
        if made.triangles.len() <= COARSE {
            return made;
        }
        cell *= CELLS.1;
    }
    clustered(shape, low, cell)
}

fn add(sum: &mut [f32; 3], more: &[f32; 3]) {
    sum.iter_mut()
        .zip(more)
        .for_each(|(sum, more)| *sum += more);
}

fn clustered(shape: &Shape, low: [f32; 3], cell: f32) -> Shape {
    let mut cells: HashMap<[i32; 3], u32> = HashMap::new();
    let mut made = Shape::default();
    let mut counts: Vec<f32> = Vec::new();
    let mut own: Vec<u32> = Vec::with_capacity(shape.points.len());
    for (point, normal) in shape.points.iter().zip(&shape.normals) {
        let key = [0, 1, 2].map(|i| ((point[i] - low[i]) / cell) as i32);
        let at = *cells.entry(key).or_insert_with(|| {
            made.points.push([0.0; 3]);
            made.normals.push([0.0; 3]);
            counts.push(0.0);
            counts.len() as u32 - 1
        });
        let i = at as usize;
        add(&mut made.points[i], point);
        add(&mut made.normals[i], normal);
        counts[i] += 1.0;
        own.push(at);
    }
    for (point, count) in made.points.iter_mut().zip(&counts) {
        *point = point.map(|sum| sum / count);
    }
    for normal in &mut made.normals {
        let length = normal.iter().map(|part| part * part).sum::<f32>().sqrt();
        *normal = normal.map(|part| part / length.max(f32::MIN_POSITIVE));
    }
    let kept = shape.triangles.iter().filter_map(|corners| {
        let [a, b, c] = corners.map(|corner| own.get(corner as usize).copied().unwrap_or(0));
        (a != b && b != c && c != a).then_some([a, b, c])
    });
    made.triangles = kept.collect();
    made.bound();
    made
}

#[cfg(test)]
mod tests {
    use super::*;
    use runwright::geometry::Point;

    /// A wavy sheet of 2·n² triangles.
    fn sheet(n: u32) -> Shape {
        let at = |i: u32| f64::from(i) / f64::from(n) * 500.0;
        let points: Vec<Point> = (0..=n)
            .flat_map(|i| (0..=n).map(move |j| (at(i), at(j))))
            .map(|(x, y)| Point::new(x, y, 20.0 * (x / 40.0).sin() * (y / 60.0).cos()))
            .collect();
        let index = |i: u32, j: u32| i * (n + 1) + j;
        let triangles = (0..n).flat_map(|i| (0..n).map(move |j| (i, j)));
        let triangles = triangles.flat_map(|(i, j)| {
            let [a, b, c, d] = [
                index(i, j),
                index(i + 1, j),
                index(i + 1, j + 1),
                index(i, j + 1),
            ];
            [[a, b, c], [a, c, d]]
        });
        Shape::new(&points, triangles.collect(), &Point::origin())
    }

    #[test]
    fn blocks_are_all_of_it_and_small() {
        let levels = Levels::new(sheet(400));
        let count: usize = levels
            .blocks
            .iter()
            .map(|block| block.triangles.len())
            .sum();
        assert_eq!(count, levels.whole.triangles.len());
        let area = |shape: &Shape| -> f64 {
            let sides = shape.triangles.iter().map(|corners| {
                let [a, b, c] = corners.map(|i| shape.points[i as usize].map(f64::from));
                let (u, v) = (
                    [0, 1, 2].map(|k| b[k] - a[k]),
                    [0, 1, 2].map(|k| c[k] - a[k]),
                );
                let cross = nalgebra::Vector3::from(u).cross(&nalgebra::Vector3::from(v));
                cross.norm() / 2.0
            });
            sides.sum()
        };
        let own: f64 = levels.blocks.iter().map(area).sum();
        assert!((own / area(&levels.whole) - 1.0).abs() < 1e-9);
        for block in &levels.blocks {
            assert!(block.triangles.len() <= BLOCK);
            let (low, high) = block.bounds.unwrap();
            assert!(
                high[0] - low[0] < 300.0 || high[1] - low[1] < 300.0,
                "near together"
            );
        }
    }

    #[test]
    fn the_coarser_copy_is_near_the_scan_and_much_smaller() {
        let levels = Levels::new(sheet(400));
        let coarse = levels.coarse.as_ref().unwrap();
        assert!(coarse.triangles.len() <= COARSE && coarse.triangles.len() > 1000);
        for point in &coarse.points {
            let [x, y, z] = point.map(f64::from);
            let true_z = 20.0 * (x / 40.0).sin() * (y / 60.0).cos();
            assert!((z - true_z).abs() < 2.0, "{point:?}");
        }
        let small = Levels::new(sheet(20));
        assert!(small.blocks.is_empty() && small.coarse.is_none());
    }
}
