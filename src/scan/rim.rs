//! [`Rim`]: an open end of a scanned surface, and finding the one that is meant.

use super::border::{Border, Loop};
use super::side::{Neighbors, outward};
use super::{Mesh, Side};
use crate::geometry::{CircleFit, Point, Segment, Vector};
use rayon::prelude::*;
use thiserror::Error;

/// Points that a loop must have to count as a rim. What has fewer is a chip: a
/// triangle or two missing from the scan.
const LEAST_POINTS: usize = 6;
/// Rims whose centers are about as near, within this part of the best one's radius,
/// count as concentric if they are also of similar size.
const CONCENTRIC: f64 = 0.1;
/// Radii within this factor of each other are of similar size.
const SIMILAR: f64 = 2.0;

/// A closed loop of open edges, as a tube's end or a port leaves in a scan.
#[derive(Clone, Debug, PartialEq)]
pub struct Rim {
    /// Its corners in order round, counterclockwise for someone who looks against
    /// the circle's normal, at the opening from outside.
    pub points: Vec<Point>,
    /// The circle that they fit best. The normal points out of the opening into
    /// free space, as told by `side`.
    pub circle: CircleFit,
    /// What tells the normal's side.
    pub side: Side,
}

/// Why no rim is found near a point.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RimError {
    /// The mesh has no open end.
    #[error("the scan has no open rim of {LEAST_POINTS} points or more")]
    None,
    /// The nearest one is too far away.
    #[error(
        "no open rim within {within_mm:.1} mm: the nearest, {diameter_mm:.1} mm across, is {distance_mm:.1} mm away"
    )]
    Far {
        /// How near it should be, mm.
        within_mm: f64,
        /// How far the nearest one is, mm.
        distance_mm: f64,
        /// Its diameter, mm.
        diameter_mm: f64,
        /// Its center.
        center: Point,
    },
    /// The point is no place.
    #[error("the point has a coordinate that is not a number")]
    NotFinite,
}

impl Rim {
    /// Distance of a point from the nearest edge, mm.
    pub fn edge_distance(&self, to: &Point) -> f64 {
        let next = self.points.iter().cycle().skip(1);
        let edges = self.points.iter().zip(next);
        let here = Segment {
            start: *to,
            end: *to,
        };
        edges
            .map(|(&start, &end)| Segment { start, end }.closest_points(&here).distance().mm())
            .fold(f64::INFINITY, f64::min)
    }

    /// How near a point comes to the rim: to an edge or to the center, mm.
    pub fn distance(&self, to: &Point) -> f64 {
        self.edge_distance(to).min((self.circle.center - to).norm())
    }

    /// How far a point is from the middle of a round opening, mm: the distance of the
    /// center, and what the rim is out of round.
    fn miss(&self, to: &Point) -> f64 {
        (self.circle.center - to).norm() + self.circle.rms.mm()
    }

    /// The same rim with free space on the other side.
    pub(super) fn flipped(mut self) -> Self {
        let over = -self.circle.normal.into_inner();
        self.circle = self.circle.facing(&over);
        self.reverse();
        self
    }

    /// Lists the points the other way round, and what belongs to them.
    fn reverse(&mut self) {
        self.points.reverse();
        self.circle.roundness.reverse();
        self.circle.out_of_plane.reverse();
    }
}

/// All rims of a mesh, each with its circle, in the order of their first corners.
/// Loops that fit no circle are left out.
///
/// Points must be welded: triangles that only touch have every edge open.
pub fn rims(mesh: &Mesh) -> Vec<Rim> {
    let border = Border::of(mesh);
    let loops = border.loops(mesh);
    let neighbors = Neighbors::of(mesh);
    loops
        .par_iter()
        .filter(|found| found.corners.len() >= LEAST_POINTS)
        .filter_map(|found| rim(mesh, &neighbors, &border, found))
        .collect()
}

/// As [`pick_rim`], from a mesh's [`rims`].
pub fn nearest_rim(mesh: &Mesh, to: &Point, within: f64) -> Result<Rim, RimError> {
    pick_rim(&rims(mesh), to, within).cloned()
}

/// The rim that someone means who gives a point at about the middle of an opening, or
/// on its edge.
///
/// In question are rims that have an edge or their center within `within` mm. Of
/// these it is the one whose center is nearest, where being out of round counts like
/// distance: the ragged outer edge of a scan, whose middle may be anywhere, does not
/// win over a port. Of concentric ones, such as the inner and outer edge of a tube's
/// wall, it is the one whose edge is nearest: the bore from the middle, the outside
/// from without.
pub fn pick_rim<'a>(rims: &'a [Rim], to: &Point, within: f64) -> Result<&'a Rim, RimError> {
    if !to.iter().all(|c| c.is_finite()) {
        return Err(RimError::NotFinite);
    }
    let near: Vec<(f64, &Rim)> = rims.iter().map(|rim| (rim.distance(to), rim)).collect();
    let first = near.iter().min_by(|a, b| a.0.total_cmp(&b.0));
    let &(distance_mm, nearest) = first.ok_or(RimError::None)?;
    let in_reach = || {
        near.iter()
            .filter(|(d, _)| *d <= within)
            .map(|(_, rim)| *rim)
    };
    let best = in_reach().min_by(|a, b| a.miss(to).total_cmp(&b.miss(to)));
    let Some(best) = best else {
        return Err(RimError::Far {
            within_mm: within,
            distance_mm,
            diameter_mm: 2.0 * nearest.circle.radius.mm(),
            center: nearest.circle.center,
        });
    };
    let radius = best.circle.radius.mm();
    let alike = |rim: &&Rim| {
        let ratio = rim.circle.radius.mm() / radius;
        rim.miss(to) <= best.miss(to) + CONCENTRIC * radius
            && (1.0 / SIMILAR..=SIMILAR).contains(&ratio)
    };
    let concentric = in_reach().filter(alike);
    let chosen = concentric.min_by(|a, b| a.edge_distance(to).total_cmp(&b.edge_distance(to)));
    Ok(chosen.unwrap_or(best))
}

/// A loop with its circle; `None` if it fits none.
fn rim(mesh: &Mesh, neighbors: &Neighbors, border: &Border, found: &Loop) -> Option<Rim> {
    let corners = found.corners.iter();
    let points: Vec<Point> = corners.map(|&c| mesh.points[c as usize]).collect();
    let circle = CircleFit::new(&points).ok()?;
    let (side, out) = outward(mesh, neighbors, border, found, &circle);
    let circle = circle.facing(&out);
    let mut rim = Rim {
        points,
        circle,
        side,
    };
    if turning(&rim.points, &rim.circle) < 0.0 {
        rim.reverse();
    }
    Some(rim)
}

/// Positive where points go round counterclockwise, looking against the normal: twice
/// the area that they enclose.
fn turning(points: &[Point], circle: &CircleFit) -> f64 {
    let next = points.iter().cycle().skip(1);
    let pairs = points.iter().zip(next);
    let crosses = pairs.map(|(a, b)| (a - circle.center).cross(&(b - circle.center)));
    crosses.sum::<Vector>().dot(&circle.normal)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scan::Group;
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn mesh(points: Vec<Point>, triangles: Vec<[u32; 3]>) -> Mesh {
        let groups = vec![Group {
            name: String::new(),
            triangles: 0..triangles.len(),
        }];
        Mesh {
            points,
            triangles,
            groups,
        }
    }

    /// Rings of `sides` points along z, joined by triangles.
    fn lathe(rings: &[(f64, f64)], sides: u32) -> Mesh {
        let ring = |&(radius, z): &(f64, f64)| {
            (0..sides).map(move |i| {
                let angle = TAU * f64::from(i) / f64::from(sides);
                Point::new(radius * angle.cos(), radius * angle.sin(), z)
            })
        };
        let points = rings.iter().flat_map(ring).collect();
        let mut triangles = Vec::new();
        for ring in 0..rings.len() as u32 - 1 {
            for i in 0..sides {
                let (a, b) = (ring * sides + i, ring * sides + (i + 1) % sides);
                triangles.push([a, b, b + sides]);
                triangles.push([a, b + sides, a + sides]);
            }
        }
        mesh(points, triangles)
    }

    #[test]
    fn an_open_tube_has_two_rims() {
        let tube = lathe(&[(20.0, 0.0), (20.0, 50.0), (20.0, 100.0)], 12);
        let found = rims(&tube);
        assert_eq!(found.len(), 2);
        for (rim, (z, out)) in found.iter().zip([(0.0, -1.0), (100.0, 1.0)]) {
            assert_eq!((rim.points.len(), rim.side), (12, Side::Hanging));
            assert!((rim.circle.center - Point::new(0.0, 0.0, z)).norm() < 1e-12);
            assert!((rim.circle.normal.z - out).abs() < 1e-12);
            assert!((rim.circle.radius.mm() - 20.0).abs() < 1e-12);
            assert!(turning(&rim.points, &rim.circle) > 0.0);
        }
        let top = nearest_rim(&tube, &Point::new(1.0, 2.0, 90.0), 30.0).expect("a rim");
        assert!((top.circle.center.z - 100.0).abs() < 1e-12);
        let far = nearest_rim(&tube, &Point::new(0.0, 0.0, 400.0), 30.0);
        assert_eq!(
            far.expect_err("too far").to_string(),
            "no open rim within 30.0 mm: the nearest, 40.0 mm across, is 300.0 mm away"
        );
        assert_eq!(pick_rim(&[], &Point::origin(), 9.0), Err(RimError::None));
    }

    #[test]
    fn a_hole_in_a_plate_is_told_by_facing() {
        let plate = lathe(&[(20.0, 0.0), (60.0, 0.0)], 16);
        let found = rims(&plate);
        assert_eq!(found.len(), 2);
        assert!(found.iter().all(|rim| rim.side == Side::Facing));
        let [a, b, c] = plate.corners(0);
        let facing = (b - a).cross(&(c - a)).z.signum();
        assert!(
            found
                .iter()
                .all(|rim| (rim.circle.normal.z - facing).abs() < 1e-12)
        );
        // The middle means the bore, the outside the outer edge.
        let radius = |x| {
            nearest_rim(&plate, &Point::new(x, 0.0, 0.0), 70.0)
                .map(|r| r.circle.radius.mm().round())
        };
        assert_eq!(radius(0.0), Ok(20.0));
    }

    #[test]
    fn a_port_in_a_flat_face_opens_away_from_the_body() {
        // A head with a flat face at z = 0 and its body below, facing inward.
        let rings = [
            (20.0, 0.0),
            (40.0, 0.0),
            (60.0, -5.0),
            (60.0, -70.0),
            (50.0, -90.0),
        ];
        let mut head = lathe(&rings, 16);
        for turned_over in [false, true] {
            let found = nearest_rim(&head, &Point::origin(), 20.0).expect("a rim");
            assert_eq!(found.side, Side::Body, "{turned_over}");
            assert!((found.circle.normal.z - 1.0).abs() < 1e-12);
            head.triangles
                .iter_mut()
                .for_each(|corners| corners.swap(0, 1));
        }
    }

    #[test]
    fn of_a_wall_s_two_edges_the_nearer_is_meant() {
        let wall = lathe(&[(22.0, 0.0), (22.0, 50.0), (20.0, 50.0), (20.0, 0.0)], 24);
        let pick = |x| {
            nearest_rim(&wall, &Point::new(x, 0.0, 0.0), 70.0)
                .expect("a rim")
                .circle
                .radius
                .mm()
        };
        assert!((pick(0.5) - 20.0).abs() < 1e-9);
        assert!((pick(23.0) - 22.0).abs() < 1e-9);
    }

    #[test]
    fn touching_loops_come_apart() {
        // Two tubes that share a corner, and one triangle that stands on a rim.
        let mut both = lathe(&[(20.0, 0.0), (20.0, 50.0)], 12);
        let count = both.points.len() as u32;
        let second = both.clone();
        both.points.extend(
            second
                .points
                .iter()
                .map(|p| p + Vector::new(40.0, 0.0, 0.0)),
        );
        // The second tube's point 6, at x = 40 − 20, is the first one's point 0.
        let share = |corner: u32| if corner == 6 { 0 } else { corner + count };
        both.triangles
            .extend(second.triangles.iter().map(|t| t.map(share)));
        let found = rims(&both);
        let sizes: Vec<usize> = found.iter().map(|rim| rim.points.len()).collect();
        assert_eq!(sizes, [12, 12, 12, 12]);
        assert!(
            found
                .iter()
                .all(|rim| (rim.circle.radius.mm() - 20.0).abs() < 1e-9)
        );
    }

    #[test]
    fn nonsense_has_no_rims() {
        let fan = |n: u32| {
            let points = (0..=2 * n).map(|i| Point::new(f64::from(i), f64::from(i * i % 7), 0.0));
            mesh(
                points.collect(),
                (0..n).map(|i| [0, 2 * i + 1, 2 * i + 2]).collect(),
            )
        };
        assert!(rims(&fan(20_000)).is_empty());
        assert!(rims(&Mesh::default()).is_empty());
        let odd = mesh(
            vec![Point::origin(); 3],
            vec![[0, 0, 1], [7, 8, 9], [0, 1, 2], [0, 1, 2]],
        );
        assert!(rims(&odd).is_empty());
        let nowhere = Point::new(f64::NAN, 0.0, 0.0);
        assert_eq!(nearest_rim(&odd, &nowhere, 1.0), Err(RimError::NotFinite));
    }

    proptest! {
        #[test]
        fn any_triangles_will_do(
            points in prop::collection::vec(prop::array::uniform3(-3..3_i8), 1..12),
            triangles in prop::collection::vec(prop::array::uniform3(0..13_u32), 0..40),
        ) {
            let points: Vec<Point> = points.into_iter().map(|p| Point::from(p.map(f64::from))).collect();
            let mesh = mesh(points, triangles);
            let border = Border::of(&mesh);
            let mut walked = std::collections::BTreeSet::new();
            for found in border.loops(&mesh) {
                prop_assert_eq!(found.corners.len(), found.edges.len());
                for (i, &edge) in found.edges.iter().enumerate() {
                    // No edge twice, and each joins its corners.
                    prop_assert!(walked.insert(edge));
                    let mut ends = border.edges[edge].ends;
                    let mut pair = [found.corners[i], found.corners[(i + 1) % found.corners.len()]];
                    ends.sort_unstable();
                    pair.sort_unstable();
                    prop_assert_eq!(ends, pair);
                }
            }
            for rim in rims(&mesh) {
                prop_assert!(rim.circle.radius.is_finite());
            }
        }
    }
}
