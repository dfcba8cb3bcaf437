//! [`Placed`]: a scan carried to where landmarks and rims say, and how well they agree.

use super::anchors::{Anchors, find_rims, stretch};
use super::landmark::{Landmark, RimMatch};
use super::mesh::Mesh;
use super::place_error::{PlaceError, PlaceWarning};
use super::placement::Placement;
use super::rim::Rim;
use crate::geometry::FitError;
use crate::units::{Angle, Length};

/// A scan's place in the job's frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// From the scan's own axes to the job's frame.
    pub placement: Placement,
    /// What is left over, worst first; equals in the order given, landmarks first.
    pub residuals: Vec<Residual>,
    /// Root mean square distance over landmarks, rim centers and the points that stand
    /// for the rims' axes, one rim diameter from their centers; of those that were not
    /// left out.
    pub rms: Length,
    /// Standard deviation of a coordinate, from the same; `None` where too little is
    /// measured twice.
    pub scatter: Option<Length>,
    /// How many times as far apart landmarks and rims are in the job as in the scan;
    /// `None` of less than two.
    pub stretch: Option<f64>,
    /// Standard error of the turn about the line that the points lie nearest to; half
    /// a turn where it is free. See [`RigidFit::turn_error`](crate::geometry::RigidFit::turn_error).
    pub turn_error: Angle,
    /// The rims that were matched, in the scan's own axes, normals as used.
    pub rims: Vec<Rim>,
    /// What the user should know.
    pub warnings: Vec<PlaceWarning>,
}

/// What is left over for a landmark or rim.
#[derive(Clone, Debug, PartialEq)]
pub struct Residual {
    /// The landmark's or port's name.
    pub name: String,
    /// From where the landmark or the rim's center comes to lie to where it should.
    pub distance: Length,
    /// Angle between the rim's axis and the port's.
    pub tilt: Option<Angle>,
    /// Whether it does not go with the others, and has no part in the placement.
    pub left_out: bool,
}

/// How many times as far apart landmarks are in the job as in the scan, which is what the
/// scan's unit should be counted in, and one where it is right. `None` of less than two.
pub fn stretch_of(landmarks: &[Landmark]) -> Option<f64> {
    let pairs = landmarks.iter().map(|mark| (mark.in_scan, mark.in_job));
    let (from, to): (Vec<_>, Vec<_>) = pairs.unzip();
    stretch(&from, &to).filter(|_| landmarks.len() > 1)
}

/// Places a scan by landmarks and rims, together in one least squares.
///
/// A rim counts as two pairs: its center to the port's, and the point one rim diameter
/// out on its axis to the point as far out on the port's. Landmarks alone must be three
/// or more, not on a line. A rim alone, or rims and landmarks on one axis, leave the
/// turn about it free; then the scan is turned as little as it can be, with a warning.
/// Where the scan does not tell for certain on which side of a rim free space is, what
/// it suggests is taken unless the other side fits the rest far better; if both fit, a
/// warning says so.
///
/// `good_to` is one standard deviation of a mark's coordinate, in scan and job together.
/// Of four or more, one that does not go with the others is named and left out.
pub fn place(
    mesh: &Mesh,
    landmarks: &[Landmark],
    matches: &[RimMatch],
    good_to: Length,
) -> Result<Placed, PlaceError> {
    if matches.is_empty() && landmarks.len() < 3 {
        let given = landmarks.len();
        return Err(PlaceError::TooFew { given });
    }
    let found = find_rims(mesh, matches)?;
    let anchors = Anchors::new(landmarks, matches, found, good_to);
    let (anchors, held) = match anchors.clone().with_best_sides() {
        Ok(fitted) => fitted,
        Err(error) => {
            // A mirror image may fit no way at all.
            if error == FitError::Ambiguous {
                anchors.refuse_mirrored(f64::INFINITY)?;
            }
            return Err(error.into());
        }
    };
    anchors.refuse_mirrored(held.rms())?;
    Ok(anchors.placed(held))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::{Direction, FitError, Point, Vector, angle_between};
    use crate::scan::Group;
    use nalgebra::Rotation3;
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn landmark(name: &str, in_scan: [f64; 3], in_job: Point) -> Landmark {
        Landmark {
            name: name.to_owned(),
            in_scan: Point::from(in_scan),
            in_job,
        }
    }

    /// A tube along z from 0 to 100 mm, radius 20 mm, turned a little.
    fn tube() -> (Mesh, Placement) {
        let mut mesh = Mesh::default();
        for ring in 0..3_u32 {
            for i in 0..12_u32 {
                let angle = TAU * f64::from(i) / 12.0;
                let (x, y) = (20.0 * angle.cos(), 20.0 * angle.sin());
                mesh.points.push(Point::new(x, y, 50.0 * f64::from(ring)));
                let (a, b) = (12 * ring + i, 12 * ring + (i + 1) % 12);
                if ring < 2 {
                    mesh.triangles.push([a, b, b + 12]);
                    mesh.triangles.push([a, b + 12, a + 12]);
                }
            }
        }
        mesh.groups = vec![Group {
            name: String::new(),
            triangles: 0..mesh.triangles.len(),
        }];
        let placed = Placement {
            turn: Rotation3::new(Vector::new(0.2, -0.7, 0.4)),
            shift: Vector::new(100.0, 200.0, 300.0),
        };
        (mesh, placed)
    }

    fn port(name: &str, z: f64, out: f64, truth: &Placement) -> RimMatch {
        RimMatch {
            name: name.to_owned(),
            near: Point::new(1.0, 2.0, z),
            within: RimMatch::USUAL_REACH,
            center: truth.apply(&Point::new(0.0, 0.0, z)),
            outward: truth.turn(&Direction::new_normalize(Vector::z() * out)),
        }
    }

    /// One standard deviation of a coordinate.
    const GOOD_TO: Length = Length::from_mm(0.5);

    const AT: [[f64; 3]; 5] = [
        [0.0, 0.0, 0.0],
        [400.0, 0.0, 30.0],
        [0.0, 300.0, 0.0],
        [350.0, 320.0, 200.0],
        [50.0, 60.0, 250.0],
    ];

    #[test]
    fn the_pair_that_is_off_is_named() {
        let (mesh, truth) = tube();
        let mut landmarks: Vec<Landmark> = AT
            .iter()
            .enumerate()
            .map(|(i, at)| {
                landmark(
                    &format!("pair {}", i + 1),
                    *at,
                    truth.apply(&Point::from(*at)),
                )
            })
            .collect();
        let good = place(&mesh, &landmarks, &[], GOOD_TO).expect("placed");
        assert!(good.warnings.is_empty() && good.rms.mm() < 1e-9);
        landmarks[2].in_job.x += 4.1;
        for count in [4, 5] {
            let placed = place(&mesh, &landmarks[..count], &[], GOOD_TO).expect("placed");
            assert_eq!(
                placed.warnings[0].to_string(),
                "'pair 3' is 4.1 mm off what the others say (which agree to 0.00 mm); it is left out"
            );
            let worst = placed
                .residuals
                .windows(2)
                .all(|pair| pair[0].distance >= pair[1].distance);
            assert!(worst && placed.residuals.len() == count);
            // Once: the pair that was named stayed in, and pulled the scan off.
            let out: Vec<&str> = placed
                .residuals
                .iter()
                .filter(|residual| residual.left_out)
                .map(|residual| residual.name.as_str())
                .collect();
            assert_eq!(out, ["pair 3"]);
            assert!(placed.rms.mm() < 1e-9);
            for at in AT.map(Point::from) {
                let off = placed.placement.apply(&at) - truth.apply(&at);
                assert!(off.norm() < 1e-9, "{off}");
            }
        }
        // Three cannot say which of them is off.
        assert!(
            place(&mesh, &landmarks[..3], &[], GOOD_TO)
                .expect("placed")
                .warnings
                .is_empty()
        );
    }

    #[test]
    fn marks_with_one_axis_negated_are_told_to_be_a_mirror_image() {
        // Once: they were fitted as well as can be, and nothing was said.
        let truth = tube().1;
        for axis in 0..3 {
            for count in [4, 5] {
                let marks = AT[..count].iter().map(|at| {
                    let mut in_scan = *at;
                    in_scan[axis] = -in_scan[axis];
                    landmark("p", in_scan, truth.apply(&Point::from(*at)))
                });
                let marks: Vec<Landmark> = marks.collect();
                let placed = place(&Mesh::default(), &marks, &[], GOOD_TO);
                assert_eq!(placed, Err(PlaceError::Mirrored));
            }
        }
    }

    #[test]
    fn a_sign_that_the_rims_contradict_is_named() {
        let (mesh, truth) = tube();
        let ports = [port("top", 100.0, 1.0, &truth)];
        for axis in 0..3 {
            let marks = AT.iter().map(|at| {
                let mut in_scan = *at;
                in_scan[axis] = -in_scan[axis];
                landmark("p", in_scan, truth.apply(&Point::from(*at)))
            });
            let marks: Vec<Landmark> = marks.collect();
            // The rim stands on z: x and y mirror it onto itself.
            let expected = if axis == 2 {
                PlaceError::Negated {
                    axis,
                    in_scan: true,
                }
            } else {
                PlaceError::Mirrored
            };
            assert_eq!(place(&mesh, &marks, &ports, GOOD_TO), Err(expected));
        }
    }

    #[test]
    fn a_stretch_is_told_whatever_the_turn() {
        let truth = tube().1;
        let marks: Vec<Landmark> = AT
            .iter()
            .map(|at| landmark("p", at.map(|x| x / 25.4), truth.apply(&Point::from(*at))))
            .collect();
        assert!((stretch_of(&marks).expect("two marks or more") - 25.4).abs() < 1e-9);
        assert_eq!(stretch_of(&marks[..1]), None);
    }

    #[test]
    fn good_marks_are_hardly_ever_left_out() {
        // As good as told: one job in a hundred may lose one.
        let mut lost = 0;
        for job in 0..400_u32 {
            let marks: Vec<Landmark> = AT
                .iter()
                .enumerate()
                .map(|(i, at)| {
                    let noise = [0, 1, 2].map(|axis| normal(job * 15 + 3 * i as u32 + axis));
                    let off = Vector::from(noise) * GOOD_TO.mm();
                    landmark("p", *at, Point::from(*at) + off)
                })
                .collect();
            let placed = place(
                &Mesh::default(),
                &marks[..4 + job as usize % 2],
                &[],
                GOOD_TO,
            );
            lost += usize::from(!placed.expect("placed").warnings.is_empty());
        }
        assert!(lost <= 8, "{lost}");
    }

    /// A number of a standard normal distribution: the sum of twelve even ones less six.
    fn normal(seed: u32) -> f64 {
        let even = (0..12_u32).map(|i| {
            let mut x = (seed * 12 + i).wrapping_mul(0x9E37_79B9);
            x ^= x >> 16;
            x = x.wrapping_mul(0x85EB_CA6B);
            x ^= x >> 13;
            x = x.wrapping_mul(0xC2B2_AE35);
            x ^= x >> 16;
            f64::from(x) / f64::from(u32::MAX)
        });
        even.sum::<f64>() - 6.0
    }

    #[test]
    fn one_rim_leaves_the_roll_free() {
        let (mesh, truth) = tube();
        let ports = [port("top", 100.0, 1.0, &truth)];
        let placed = place(&mesh, &[], &ports, GOOD_TO).expect("placed");
        let axis = placed.placement.turn(&Vector::z_axis());
        assert!((axis.into_inner() - ports[0].outward.into_inner()).norm() < 1e-12);
        assert!(
            (placed.placement.apply(&Point::new(0.0, 0.0, 100.0)) - ports[0].center).norm() < 1e-9
        );
        assert!(matches!(
            placed.warnings[..],
            [PlaceWarning::RollFree { .. }]
        ));
        // No turn takes z there with less.
        let least = angle_between(&Vector::z(), &ports[0].outward).radians();
        assert!((placed.placement.turn.angle() - least).abs() < 1e-9);
        // Both ends of a tube are on one axis; a landmark beside it holds the rest.
        let both = [ports[0].clone(), port("bottom", 0.0, -1.0, &truth)];
        let placed = place(&mesh, &[], &both, GOOD_TO).expect("placed");
        assert!(matches!(
            placed.warnings[..],
            [PlaceWarning::RollFree { .. }]
        ));
        let beside = landmark(
            "boss",
            [80.0, 10.0, 20.0],
            truth.apply(&Point::new(80.0, 10.0, 20.0)),
        );
        let placed = place(&mesh, &[beside], &both, GOOD_TO).expect("placed");
        assert!(placed.warnings.is_empty(), "{:?}", placed.warnings);
        assert!((placed.placement.turn.matrix() - truth.turn.matrix()).amax() < 1e-12);
        assert!(placed.residuals.iter().all(|r| r.distance.mm() < 1e-9));
        assert!(
            placed
                .residuals
                .iter()
                .filter_map(|r| r.tilt)
                .all(|t| t.radians() < 1e-9)
        );
    }

    #[test]
    fn what_holds_nothing_is_refused() {
        let (mesh, truth) = tube();
        assert_eq!(
            place(&mesh, &[], &[], GOOD_TO),
            Err(PlaceError::TooFew { given: 0 })
        );
        let line: Vec<Landmark> = (0..4)
            .map(|i| [f64::from(i), 0.0, 0.0])
            .map(|at| landmark("p", at, Point::from(at)))
            .collect();
        assert!(matches!(
            place(&mesh, &line, &[], GOOD_TO),
            Err(PlaceError::Fit(FitError::Collinear { .. }))
        ));
        let top = port("top", 100.0, 1.0, &truth);
        let mut away = top.clone();
        away.near.z = 900.0;
        assert!(matches!(
            place(&mesh, &[], &[away], GOOD_TO),
            Err(PlaceError::Rim { .. })
        ));
        let twice = place(
            &mesh,
            &[],
            &[
                top.clone(),
                RimMatch {
                    name: "again".to_owned(),
                    ..top
                },
            ],
            GOOD_TO,
        );
        assert!(matches!(twice, Err(PlaceError::SameRim { .. })));
    }

    #[test]
    fn an_inside_out_flange_is_turned_over() {
        // A flat ring whose triangles face −z, though the port opens toward +z.
        let (mut mesh, truth) = tube();
        for point in &mut mesh.points {
            let factor = 1.0 + point.z / 50.0;
            *point = Point::new(point.x * factor, point.y * factor, 0.0);
        }
        let ports = [-1.0, 1.0].map(|out| RimMatch {
            near: Point::origin(),
            ..port("flange", 0.0, out, &truth)
        });
        let marks: Vec<Landmark> = AT
            .iter()
            .map(|at| landmark("p", *at, truth.apply(&Point::from(*at))))
            .collect();
        for port in ports {
            let placed =
                place(&mesh, &marks, std::slice::from_ref(&port), GOOD_TO).expect("placed");
            assert!(placed.rms.mm() < 1e-9, "{}", placed.rms.mm());
            assert!(placed.warnings.is_empty(), "{:?}", placed.warnings);
            // Alone it goes either way.
            let alone = place(&mesh, &[], &[port], GOOD_TO).expect("placed");
            assert!(matches!(
                alone.warnings[..],
                [
                    PlaceWarning::RollFree { .. },
                    PlaceWarning::SideUnsure { .. }
                ]
            ));
        }
    }

    proptest! {
        #[test]
        fn motions_are_recovered(
            at in prop::collection::vec(prop::array::uniform3(-1e3..1e3_f64), 3..8),
            turn in prop::array::uniform3(-3.0..3.0_f64), shift in prop::array::uniform3(-1e3..1e3_f64),
        ) {
            let truth = Placement { turn: Rotation3::new(Vector::from(turn)), shift: Vector::from(shift) };
            let marks: Vec<Landmark> = at.iter().map(|at| landmark("p", *at, truth.apply(&Point::from(*at)))).collect();
            let placed = place(&Mesh::default(), &marks, &[], GOOD_TO).expect("placed");
            prop_assume!(placed.warnings.is_empty());
            for at in &at {
                let at = Point::from(*at);
                let off = (placed.placement.apply(&at) - truth.apply(&at)).norm();
                prop_assert!(off < 1e-9, "{}", off);
            }
        }

        #[test]
        fn noise_shows_as_it_is(noise in prop::collection::vec(prop::array::uniform3(-1.0..1.0_f64), 60)) {
            // Uniform noise of ±1 mm in each coordinate: standard deviation 1/√3.
            let marks: Vec<Landmark> = noise.iter().enumerate().map(|(i, noise)| {
                let t = i as f64;
                let at = [500.0 * (t * 0.7).sin(), 400.0 * (t * 1.3).cos(), 300.0 * (t * 2.1).sin()];
                landmark("p", at, Point::from(at) + Vector::from(*noise))
            }).collect();
            let placed = place(&Mesh::default(), &marks, &[], GOOD_TO).expect("placed");
            let expected = (1.0 - 6.0 / 180.0_f64).sqrt();
            prop_assert!((placed.rms.mm() - expected).abs() < 0.25, "{}", placed.rms.mm());
            prop_assert!(placed.warnings.is_empty());
        }

        #[test]
        fn no_number_breaks_it(numbers in prop::collection::vec(prop::array::uniform6(any::<f64>()), 0..6)) {
            let marks: Vec<Landmark> = numbers.iter()
                .map(|n| landmark("p", [n[0], n[1], n[2]], Point::new(n[3], n[4], n[5])))
                .collect();
            let (mesh, truth) = tube();
            for ports in [vec![], vec![port("top", 100.0, 1.0, &truth)]] {
                if let Ok(placed) = place(&mesh, &marks, &ports, GOOD_TO) {
                    prop_assert!(placed.placement.is_finite() && placed.rms.is_finite());
                }
            }
        }
    }
}
