//! From a file's triangles to a mesh: choosing groups, dropping what no distance can be
//! taken to, numbering anew.

use super::soup::{Bits, Soup};
use super::wanted::Wanted;
use crate::geometry::{Point, Vector};
use crate::scan::{Group, Mesh};
use rayon::prelude::*;
use std::fmt;
use std::ops::Range;

/// Farthest coordinate, mm, that is one: a thousand kilometers. Scanners write such
/// numbers where they saw nothing.
pub const FARTHEST: f64 = 1e9;

/// Least height of a triangle above its longest edge, as a part of that edge, for it to
/// have a direction: what is flatter is an edge of its neighbors, and rounding decides
/// where it faces. The size of a triangle does not matter.
pub const FLATTEST: f64 = 1e-9;

/// Marks a point without a number yet.
const NONE: u32 = u32::MAX;

/// Triangles that were left out, of the groups that were kept.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dropped {
    /// With a coordinate that is no number or beyond [`FARTHEST`].
    pub not_finite: usize,
    /// Two corners in one place, or flatter than [`FLATTEST`]; and faces with fewer than
    /// three corners.
    pub degenerate: usize,
    /// Of the same three corners as an earlier one, in any order.
    pub duplicate: usize,
}

impl fmt::Display for Dropped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "{} not finite, {} degenerate, {} duplicate",
            self.not_finite, self.degenerate, self.duplicate
        )
    }
}

/// The sound triangles of the chosen groups, and what was left out.
pub(super) fn clean(soup: Soup, wanted: &Wanted) -> (Mesh, Dropped) {
    let mut dropped = Dropped {
        degenerate: soup.thin,
        ..Dropped::default()
    };
    let points: Vec<Point> = soup.welded.iter().map(place).collect();
    let mut triangles = Vec::with_capacity(soup.triangles.len());
    let mut groups = Vec::new();
    for (name, runs) in chosen(&soup, wanted) {
        let from = triangles.len();
        for run in runs {
            let sound = soup.triangles[run].iter().copied();
            triangles.extend(sound.filter(|triangle| is_sound(&points, triangle, &mut dropped)));
        }
        groups.push(Group {
            name,
            triangles: from..triangles.len(),
        });
    }
    drop(soup);
    let repeated = repeated(&triangles);
    dropped.duplicate = repeated.len();
    let mut mesh = Mesh {
        points,
        triangles,
        groups,
    };
    leave_out(&mut mesh, &repeated);
    renumber(&mut mesh);
    (mesh, dropped)
}

/// A point from its bits.
fn place(bits: &Bits) -> Point {
    Point::from(bits.map(f64::from_bits))
}

/// Names and triangles of the chosen groups, in the order of the file.
fn chosen(soup: &Soup, wanted: &Wanted) -> Vec<(String, Vec<Range<usize>>)> {
    let mut groups: Vec<(String, Vec<Range<usize>>)> = soup
        .groups
        .keys()
        .map(|name| (name.clone(), Vec::new()))
        .collect();
    let ends = soup.runs.iter().skip(1).map(|run| run.from);
    let ends = ends.chain([soup.triangles.len()]);
    for (run, end) in soup.runs.iter().zip(ends) {
        groups[run.group].1.push(run.from..end);
    }
    groups.retain(|(name, _)| wanted.keeps(name));
    groups
}

/// Whether a distance to the triangle can be taken; counts why not.
fn is_sound(points: &[Point], triangle: &[u32; 3], dropped: &mut Dropped) -> bool {
    let corners = triangle.map(|corner| points[corner as usize]);
    // Written so that NaN is none.
    let near = |x: &f64| x.abs() <= FARTHEST;
    if !corners.iter().all(|corner| corner.iter().all(near)) {
        dropped.not_finite += 1;
        return false;
    }
    let sound = has_direction(&corners);
    dropped.degenerate += usize::from(!sound);
    sound
}

/// Whether the triangle is not too flat to have a direction.
fn has_direction([a, b, c]: &[Point; 3]) -> bool {
    let edges = [b - a, c - b, a - c];
    let size = edges.iter().map(Vector::amax).fold(0.0, f64::max);
    if size <= 0.0 {
        return false;
    }
    // Of size one, so that squares of small edges do not vanish.
    let edges = edges.map(|edge| edge / size);
    let longest = edges.iter().map(Vector::norm_squared).fold(0.0, f64::max);
    edges[0].cross(&edges[1]).norm() > FLATTEST * longest
}

/// Numbers of the triangles that repeat an earlier one, in order.
fn repeated(triangles: &[[u32; 3]]) -> Vec<u32> {
    let mut sorted: Vec<([u32; 3], u32)> = triangles
        .par_iter()
        .enumerate()
        .map(|(number, triangle)| {
            let mut corners = *triangle;
            corners.sort_unstable();
            (corners, number as u32)
        })
        .collect();
    sorted.par_sort_unstable();
    let mut repeated: Vec<u32> = sorted
        .windows(2)
        .filter(|pair| pair[0].0 == pair[1].0)
        .map(|pair| pair[1].1)
        .collect();
    repeated.sort_unstable();
    repeated
}

/// Takes out the triangles of these numbers, which rise, and groups that are empty.
fn leave_out(mesh: &mut Mesh, numbers: &[u32]) {
    let mut next = numbers.iter().peekable();
    let mut number = 0;
    mesh.triangles.retain(|_| {
        let out = next.next_if_eq(&&number).is_some();
        number += 1;
        !out
    });
    // How many of the numbers lie before.
    let before = |triangle: usize| numbers.partition_point(|&n| (n as usize) < triangle);
    for group in &mut mesh.groups {
        let Range { start, end } = group.triangles;
        group.triangles = start - before(start)..end - before(end);
    }
    mesh.groups.retain(|group| !group.triangles.is_empty());
}

/// Numbers the points as the triangles first use them, and forgets the others.
fn renumber(mesh: &mut Mesh) {
    let mut numbers = vec![NONE; mesh.points.len()];
    let mut points = Vec::with_capacity(mesh.points.len());
    for corner in mesh.triangles.iter_mut().flatten() {
        let number = &mut numbers[*corner as usize];
        if *number == NONE {
            *number = points.len() as u32;
            points.push(mesh.points[*corner as usize]);
        }
        *corner = *number;
    }
    mesh.points = points;
    mesh.points.shrink_to_fit();
    mesh.triangles.shrink_to_fit();
}

#[cfg(test)]
mod tests {
    use super::super::reading::read_mm;
    use super::*;

    const CORNERS: &str = "v 0 0 0\nv 1 0 0\nv 0 1 0\n";

    fn dropped(text: &str) -> (usize, Dropped) {
        let reading = read_mm("a.obj", CORNERS.to_owned() + "f 1 2 3\n" + text).unwrap();
        (reading.mesh.points.len(), reading.dropped)
    }

    #[test]
    fn points_in_one_place_become_one() {
        let text = "v 0 1e0 -0.0\nv 1 0 0\nv 1 1 0\nf 4 5 6\n";
        assert_eq!(dropped(text), (4, Dropped::default()));
    }

    #[test]
    fn coordinates_that_are_none_are_dropped_with_their_triangles() {
        for x in ["nan", "-inf", "1e999", "1.1e9", "-nan(ind)", "1.#QNAN"] {
            let text = format!("v {x} 1 1\nf 1 2 4\nf 2 3 4\n");
            let wanted = Dropped {
                not_finite: 2,
                ..Dropped::default()
            };
            assert_eq!(dropped(&text), (3, wanted), "{x}");
        }
        let far = "v 1e9 0 0\nv 0 -1e9 0\nf 1 4 5\n";
        assert_eq!(dropped(far), (5, Dropped::default()));
    }

    #[test]
    fn triangles_without_direction_are_dropped() {
        let flat = |text: &str| dropped(text).1.degenerate;
        // A corner twice, three in line, faces that are none.
        assert_eq!(flat("f 1 2 2\nv 1 0 0\nf 1 2 4\n"), 2);
        assert_eq!(flat("v 3 0 0\nf 1 2 4\nf 4 2 1\n"), 2);
        assert_eq!(flat("f 1 2\nf 1\nf\n"), 3);
        // Too flat, and just not.
        assert_eq!(flat("v 0.5 0.9e-9 0\nf 1 2 4\n"), 1);
        assert_eq!(flat("v 0.5 1.1e-9 0\nf 1 2 4\n"), 0);
    }

    #[test]
    fn small_triangles_are_sound() {
        for size in ["1e-3", "1e-12", "1e-100", "1e-300"] {
            let text = format!("v {size} 0 0\nv 0 {size} 0\nf 1 4 5\n");
            assert_eq!(dropped(&text), (5, Dropped::default()), "{size}");
        }
    }

    #[test]
    fn repeated_triangles_are_dropped_once_kept() {
        let text = "v 1 1 1\nf 3 1 2\nf 2 1 3\nf 1 2 4\nf 4 1 2\n";
        let wanted = Dropped {
            duplicate: 3,
            ..Dropped::default()
        };
        assert_eq!(dropped(text), (4, wanted));
    }

    #[test]
    fn groups_stay_apart_when_triangles_go() {
        let text = CORNERS.to_owned()
            + "v 1 1 1\ng a\nf 1 1 2\nf 1 2 3\ng b\nf 3 2 1\ng c\nf 1 2 4\nf 4 2 1\ng a\nf 2 3 4\n";
        let mesh = read_mm("a.obj", text).unwrap().mesh;
        let groups: Vec<_> = mesh
            .groups
            .iter()
            .map(|g| (g.name.as_str(), g.triangles.clone()))
            .collect();
        assert_eq!(groups, [("a", 0..2), ("c", 2..3)]);
        assert_eq!(mesh.triangles, [[0, 1, 2], [1, 2, 3], [0, 1, 3]]);
    }

    #[test]
    fn points_are_numbered_as_they_are_used() {
        let text = "v 9 9 9\nv 0 1 0\nv 1 0 0\nv 0 0 0\nf 4 3 2\n";
        let mesh = read_mm("a.obj", text).unwrap().mesh;
        assert_eq!(
            mesh,
            read_mm("a.obj", CORNERS.to_owned() + "f 1 2 3\n")
                .unwrap()
                .mesh
        );
    }
}
