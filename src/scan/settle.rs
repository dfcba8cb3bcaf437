//! Settling a scan on touched points, or on another scan.

use super::icp::Search;
use super::{IcpError, IcpLimits, IcpWarning, Mesh, Placement, Settled, Surface};
use crate::geometry::Point;
use std::collections::BTreeMap;

/// Points of a moving scan that are used at most.
const SAMPLE: usize = 4000;
/// Cells a side of the grid that thins a moving scan: about the square root of
/// [`SAMPLE`], for a surface.
const CELLS: f64 = 48.0;

/// Moves a scan until points touched on the real surfaces, in the job's frame, lie on
/// it. They need not correspond to anything. `start` carries the scan's axes to the
/// job's frame, as [`super::place`] finds it. Time: touches · steps · log(triangles).
pub fn settle_on_touches(
    scan: &Surface,
    touches: &[Point],
    start: &Placement,
    limits: &IcpLimits,
) -> Result<Settled, IcpError> {
    // In the scan's axes the points move, and the scan stands still.
    let search = Search::new(touches.to_vec(), scan, limits)?;
    let found = search.run(&start.inverse())?;
    let mut settled = search.report(&found, limits);
    let placement = found.pose.inverse();
    settled.placement = if found.pose == start.inverse() {
        *start
    } else {
        placement
    };
    for free in &mut settled.free {
        *free = free.carried(&placement);
    }
    let touch_warnings = search.touch_warnings(&found);
    settled.left_out = touch_warnings.iter().map(|(index, _)| *index).collect();
    settled
        .warnings
        .extend(touch_warnings.into_iter().map(|(_, warning)| warning));
    settled.warn_free();
    Ok(settled)
}

/// Moves a scan onto another one that overlaps it. `start` carries the moving scan's
/// axes to the fixed one's. Of the moving scan some thousand points, spread evenly, are
/// used.
pub fn settle_on_scan(
    moving: &Mesh,
    fixed: &Surface,
    start: &Placement,
    limits: &IcpLimits,
) -> Result<Settled, IcpError> {
    let search = Search::new(thinned(moving), fixed, limits)?;
    let found = search.run(start)?;
    let mut settled = search.report(&found, limits);
    settled.warn_free();
    Ok(settled)
}

impl Settled {
    fn warn_free(&mut self) {
        let free = self.free.iter().copied().map(IcpWarning::Free);
        self.warnings.extend(free);
    }
}

/// Points of a mesh, the first in each cell of a grid, in the grid's order; evenly
/// thinned further if they are still too many.
fn thinned(mesh: &Mesh) -> Vec<Point> {
    let finite = |p: &&Point| p.iter().all(|c| c.is_finite());
    let points = || mesh.points.iter().filter(finite);
    let Some(first) = points().next() else {
        return Vec::new();
    };
    let (min, max) = points().fold((*first, *first), |(min, max), p| (min.inf(p), max.sup(p)));
    let cell = (max - min).amax() / CELLS;
    let mut cells = BTreeMap::new();
    for point in points() {
        let at = (point - min) / cell;
        let key = [at.x, at.y, at.z].map(|c| c as u32);
        cells.entry(key).or_insert(*point);
    }
    let count = cells.len();
    let every = count.div_ceil(SAMPLE).max(1);
    cells.into_values().step_by(every).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Vector;
    use crate::scan::Group;
    use crate::scan::{Freedom, Stop};
    use crate::units::Length;
    use nalgebra::Rotation3;
    use proptest::prelude::*;

    /// Cells a side of the made-up block.
    const SIDE: u32 = 24;

    /// The top of a bumpy block, 200 mm square, with a step down its sides, and a hole
    /// where `holed`.
    fn block(holed: bool) -> Mesh {
        let mut mesh = Mesh::default();
        for j in 0..=SIDE {
            for i in 0..=SIDE {
                let (u, v) = (
                    f64::from(i) / f64::from(SIDE),
                    f64::from(j) / f64::from(SIDE),
                );
                // The outermost rows hang down as walls.
                let clamp = |t: f64| t.clamp(0.1, 0.9);
                let down = ((u - clamp(u)).abs() + (v - clamp(v)).abs()) * 600.0;
                let bump =
                    6.0 * (7.0 * u).sin() * (5.0 * v + 1.0).cos() + 3.0 * (17.0 * u * v).sin();
                mesh.points
                    .push(Point::new(200.0 * clamp(u), 200.0 * clamp(v), bump - down));
            }
        }
        for j in 0..SIDE {
            for i in 0..SIDE {
                let in_hole = holed && (8..12).contains(&i) && (14..18).contains(&j);
                let a = j * (SIDE + 1) + i;
                let (b, c, d) = (a + 1, a + SIDE + 2, a + SIDE + 1);
                if !in_hole {
                    mesh.triangles.push([a, b, c]);
                    mesh.triangles.push([a, c, d]);
                }
            }
        }
        mesh.groups = vec![Group {
            name: String::new(),
            triangles: 0..mesh.triangles.len(),
        }];
        mesh
    }

    /// Middles of some triangles; those at the walls' corners have no area, and the outer
    /// ones among them lie on the border.
    fn touches(mesh: &Mesh, every: usize) -> Vec<Point> {
        let chosen = (0..mesh.triangles.len()).step_by(every);
        let middle = |[a, b, c]: [Point; 3]| Point::from((a.coords + b.coords + c.coords) / 3.0);
        chosen
            .map(|t| middle(mesh.corners(t)))
            .filter(|p| p.iter().all(|c| c.is_finite()))
            .collect()
    }

    fn placement(turn: [f64; 3], shift: [f64; 3]) -> Placement {
        Placement {
            turn: Rotation3::new(Vector::from(turn)),
            shift: Vector::from(shift),
        }
    }

    /// Greatest distance between where two placements put the block's corners.
    fn apart(a: &Placement, b: &Placement) -> f64 {
        let corners = [
            [0.0, 0.0, 0.0],
            [200.0, 0.0, 0.0],
            [0.0, 200.0, 0.0],
            [200.0, 200.0, -60.0],
        ];
        let apart = corners
            .map(Point::from)
            .map(|p| (a.apply(&p) - b.apply(&p)).norm());
        apart.into_iter().fold(0.0, f64::max)
    }

    #[test]
    fn touches_bring_a_scan_home() {
        let truth = placement([0.3, -0.5, 1.1], [500.0, 100.0, -200.0]);
        let start = placement([0.02, -0.03, 0.04], [3.0, -2.0, 1.5]).then(&truth);
        let touched: Vec<Point> = touches(&block(false), 23)
            .iter()
            .map(|p| truth.apply(p))
            .collect();
        let scan = Surface::new(block(true));
        let settled =
            settle_on_touches(&scan, &touched, &start, &IcpLimits::default()).expect("settled");
        assert!(apart(&settled.placement, &truth) < 1e-6, "{settled:?}");
        assert!(
            settled.free.is_empty() && settled.stop == Stop::Settled,
            "{settled:?}"
        );
        assert!(settled.rms_after < settled.rms_before && settled.rms_after.mm() < 1e-7);
        // Those over the hole were not used, the others were.
        let beside = |w: &IcpWarning| matches!(w, IcpWarning::Beside { .. });
        assert!(
            !settled.warnings.is_empty() && settled.warnings.iter().all(beside),
            "{:?}",
            settled.warnings
        );
        assert!(settled.used > 0.9 && settled.used < 1.0);
    }

    #[test]
    fn a_wrong_touch_is_named_and_left_out() {
        let mut touched = touches(&block(false), 31);
        touched.remove(0);
        touched[7].z += 9.0;
        let start = placement([0.01, 0.02, -0.01], [1.0, -2.0, 1.5]);
        let scan = Surface::new(block(false));
        let settled =
            settle_on_touches(&scan, &touched, &start, &IcpLimits::default()).expect("settled");
        assert_eq!(settled.left_out, [7], "{:?}", settled.warnings);
        assert!(
            apart(&settled.placement, &Placement::identity()) < 1e-6,
            "{settled:?}"
        );
        assert!(
            settled.warnings[0]
                .to_string()
                .starts_with("touch point 8 is ")
        );
    }

    #[test]
    fn a_flat_face_holds_three_motions() {
        let mut flat = block(false);
        for point in &mut flat.points {
            point.z = 0.0;
        }
        let touched: Vec<Point> = [
            [60.0, 60.0],
            [150.0, 60.0],
            [60.0, 150.0],
            [120.0, 100.0],
            [140.0, 150.0],
        ]
        .map(|[x, y]| Point::new(x, y, 5.0))
        .to_vec();
        let scan = Surface::new(flat);
        let start = placement([0.02, 0.0, 0.0], [0.0; 3]);
        let settled =
            settle_on_touches(&scan, &touched, &start, &IcpLimits::default()).expect("settled");
        assert!(settled.rms_after.mm() < 1e-9);
        let slides = settled
            .free
            .iter()
            .filter(|f| matches!(f, Freedom::Slide { .. }))
            .count();
        assert_eq!((settled.free.len(), slides), (3, 2), "{:?}", settled.free);
        let Freedom::Turn { along, .. } = settled.free[2] else {
            panic!("{:?}", settled.free)
        };
        assert!((along.z - 1.0).abs() < 1e-6);
        assert!(
            settled.warnings[0]
                .to_string()
                .contains("nothing holds the scan against sliding along")
        );
    }

    #[test]
    fn a_few_touches_on_walls_hold_against_many_on_top() {
        // 40 touches on a flat top lie still whatever the shift; two walls of three each
        // must not count as off.
        let mut mesh = block(false);
        for point in &mut mesh.points {
            point.z = point.z.min(0.0);
            if point.x > 25.0 && point.x < 175.0 && point.y > 25.0 && point.y < 175.0 {
                point.z = 0.0;
            }
        }
        let mut touched: Vec<Point> = (0..40)
            .map(|i| {
                Point::new(
                    40.0 + f64::from(i % 8) * 15.0,
                    40.0 + f64::from(i / 8) * 25.0,
                    0.0,
                )
            })
            .collect();
        for along in [50.0, 90.0, 140.0] {
            touched.push(Point::new(20.0, along, -30.0));
            touched.push(Point::new(along, 20.0, -30.0));
        }
        let start = placement([0.0; 3], [4.0, 3.0, 0.0]);
        let scan = Surface::new(mesh);
        let settled =
            settle_on_touches(&scan, &touched, &start, &IcpLimits::default()).expect("settled");
        assert!(
            apart(&settled.placement, &Placement::identity()) < 1e-6,
            "{settled:?}"
        );
    }

    #[test]
    fn a_scan_settles_on_another() {
        let mut moving = block(true);
        let truth = placement([0.1, 0.2, -2.0], [30.0, -400.0, 80.0]);
        truth.inverse().carry(&mut moving);
        let start = truth.then(&placement([0.0, 0.01, 0.01], [2.0, -1.5, 0.5]));
        let fixed = Surface::new(block(false));
        let settled =
            settle_on_scan(&moving, &fixed, &start, &IcpLimits::default()).expect("settled");
        let there = block(true);
        let home = settled.placement;
        let off = moving
            .points
            .iter()
            .zip(&there.points)
            .map(|(a, b)| (home.apply(a) - b).norm());
        let off = off.fold(0.0, f64::max);
        assert!(off < 1e-6, "{off} {settled:?}");
        let again = settle_on_scan(&moving, &fixed, &start, &IcpLimits::default());
        assert_eq!(again.expect("settled"), settled);
    }

    #[test]
    fn what_cannot_be_settled_is_said() {
        let scan = Surface::new(block(false));
        let limits = IcpLimits::default();
        let start = Placement::identity();
        let at = |x| settle_on_touches(&scan, &[Point::new(x, 90.0, 0.0)], &start, &limits);
        assert_eq!(at(9000.0), Err(IcpError::NothingNear { reach_mm: 25.0 }));
        assert_eq!(at(f64::NAN), Err(IcpError::NotFinite));
        assert_eq!(
            settle_on_touches(&scan, &[], &start, &limits),
            Err(IcpError::Empty)
        );
        let empty = Surface::new(Mesh::default());
        assert!(settle_on_touches(&empty, &[Point::origin()], &start, &limits).is_err());
        // One point holds one motion.
        assert_eq!(at(90.0).expect("settled").free.len(), 5);
        let far = IcpLimits {
            farthest: Length::from_mm(0.5),
            ..limits
        };
        let lifted: Vec<Point> = touches(&block(false), 40)
            .iter()
            .map(|p| p + Vector::z() * 2.0)
            .collect();
        let settled = settle_on_touches(&scan, &lifted, &start, &far).expect("settled");
        assert!(
            settled
                .warnings
                .iter()
                .any(|w| matches!(w, IcpWarning::Far { .. }))
        );
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(48) })]

        #[test]
        fn offsets_of_millimeters_and_degrees_are_found(
            turn in prop::array::uniform3(-0.04..0.04_f64), shift in prop::array::uniform3(-4.0..4.0_f64),
        ) {
            // A turn about the block's middle, 2° and 4 mm a coordinate at most.
            let start = Placement::identity().nudged(&Point::new(100.0, 100.0, -20.0), &Vector::from(turn), &Vector::from(shift));
            let touched = touches(&block(false), 11);
            let scan = Surface::new(block(true));
            let settled = settle_on_touches(&scan, &touched, &start, &IcpLimits::default()).expect("settled");
            prop_assert!(settled.rms_after <= settled.rms_before);
            prop_assert!(apart(&settled.placement, &Placement::identity()) < 1e-5, "{settled:?}");
        }

        #[test]
        fn it_is_never_made_worse(
            points in prop::collection::vec(prop::array::uniform3(-50.0..250.0_f64), 1..30),
            turn in prop::array::uniform3(-1.0..1.0_f64), shift in prop::array::uniform3(-50.0..50.0_f64),
            reach in 1.0..100.0_f64,
        ) {
            let points: Vec<Point> = points.into_iter().map(Point::from).collect();
            let scan = Surface::new(block(true));
            let limits = IcpLimits { reach: Length::from_mm(reach), ..IcpLimits::default() };
            if let Ok(settled) = settle_on_touches(&scan, &points, &placement(turn, shift), &limits) {
                prop_assert!(settled.rms_after <= settled.rms_before);
                prop_assert!(settled.placement.is_finite() && settled.rms_before.is_finite());
            }
        }

        #[test]
        fn noise_is_averaged(noise in prop::collection::vec(-0.5..0.5_f64, 105)) {
            let touched: Vec<Point> = touches(&block(false), 11).iter().zip(&noise).map(|(p, n)| p + Vector::z() * *n).collect();
            let scan = Surface::new(block(false));
            let start = placement([0.01, 0.0, -0.01], [1.0, 1.0, 1.0]);
            let settled = settle_on_touches(&scan, &touched, &start, &IcpLimits::default()).expect("settled");
            prop_assert!(settled.rms_after.mm() < 0.5);
            prop_assert!(apart(&settled.placement, &Placement::identity()) < 1.0, "{settled:?}");
        }
    }
}
