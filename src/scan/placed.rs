//! [`Placed`]: a scan carried to where landmarks and rims say, and how well they agree.

use super::{Landmark, Mesh, Placement, Rim, RimError, RimMatch, Side, rims};
use crate::geometry::{Direction, FitError, Point, RigidFit, angle_between};
use crate::units::{Angle, Length};
use std::collections::BTreeMap;
use thiserror::Error;

/// How many times greater the scatter must be with an item than without it for the
/// item to be named as off: with four pairs of equal quality chance alone does this
/// about once in ten jobs, with more pairs hardly ever.
const STANDS_OUT: f64 = 3.0;
/// Least distance, mm, from where the others put it at which an item is named.
const WORTH_NAMING: f64 = 0.1;
/// Least spare measurements (coordinates beyond the six that a placement takes) that
/// must be left without an item for the others to judge it: three pairs have three.
const LEAST_SPARE: usize = 3;
/// Items tried as the one that is off: those with the greatest residuals. Each costs a
/// fit of all others.
const MOST_JUDGED: usize = 100;
/// Conditioning under which the turn about the line through the points is said to be
/// poorly held: an error across the line counts twentyfold at its length.
const NEAR_LINE: f64 = 0.05;
/// Rims whose side is tried both ways; the number of fits is two to this power.
const MOST_TRIED: usize = 6;
/// What turning rims over must bring the scatter down to, in parts of itself, to be
/// believed against what the scan tells. Ports side by side in one face fit equally well
/// both ways round, but for noise.
const BETTER: f64 = 0.5;
/// Scatter, mm, below which there is nothing to improve: rounding.
const NOTHING: f64 = 1e-6;

/// A scan's place in the job's frame.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// From the scan's own axes to the job's frame.
    pub placement: Placement,
    /// What is left over, worst first; equals in the order given, landmarks first.
    pub residuals: Vec<Residual>,
    /// Root mean square distance over landmarks, rim centers and the points that stand
    /// for the rims' axes, one rim diameter from their centers.
    pub rms: Length,
    /// Standard error of the turn about the line that the points lie nearest to; half
    /// a turn where it is free. See [`RigidFit::turn_error`].
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
}

/// Why a scan cannot be placed.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlaceError {
    /// Neither rims nor enough landmarks.
    #[error("{given} landmarks are too few: it takes three that are not on a line, or a rim")]
    TooFew {
        /// Landmarks given.
        given: usize,
    },
    /// Landmarks hold no placement.
    #[error("the landmarks do not hold the scan: {0}")]
    Fit(#[from] FitError),
    /// No rim at the place given.
    #[error("rim for '{name}': {error}")]
    Rim {
        /// The port.
        name: String,
        /// What is wrong.
        error: RimError,
    },
    /// Two ports claim one rim.
    #[error("'{first}' and '{second}' are matched to the same rim of the scan")]
    SameRim {
        /// The port that came first.
        first: String,
        /// The other.
        second: String,
    },
}

/// What the user should know about a placement.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum PlaceWarning {
    /// The others agree without it.
    #[error(
        "'{name}' is {off_mm:.1} mm off what the others say (which agree to {rms_mm:.2} mm): measure it again"
    )]
    Off {
        /// Landmark or port.
        name: String,
        /// How far from where the others put it, mm.
        off_mm: f64,
        /// Root mean square of the others without it, mm.
        rms_mm: f64,
    },
    /// The turn about an axis is anyone's guess.
    #[error(
        "nothing holds the scan's turn about the axis through ({:.1}, {:.1}, {:.1}) mm along ({:.3}, {:.3}, {:.3}): it was left as near the scan's own axes as can be; give a landmark off that axis",
        through.x, through.y, through.z, along.x, along.y, along.z
    )]
    RollFree {
        /// A place on the axis, in the job's frame.
        through: Point,
        /// Along the axis, in the job's frame.
        along: Direction,
    },
    /// The turn about a line is held by little.
    #[error(
        "the points lie nearly on a line, so the turn about it is only good to about {:.2}°: give a landmark farther off it",
        error.degrees()
    )]
    NearLine {
        /// Standard error of the turn.
        error: Angle,
    },
    /// The scan does not say where a rim's free side is.
    #[error(
        "the scan does not tell for certain which side of the rim for '{name}' is free: check that the scan is not the wrong way round"
    )]
    SideUnsure {
        /// The port.
        name: String,
    },
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
pub fn place(
    mesh: &Mesh,
    landmarks: &[Landmark],
    matches: &[RimMatch],
) -> Result<Placed, PlaceError> {
    if matches.is_empty() && landmarks.len() < 3 {
        let given = landmarks.len();
        return Err(PlaceError::TooFew { given });
    }
    let found = find_rims(mesh, matches)?;
    let anchors = Anchors::new(landmarks, matches, found);
    let (anchors, fit) = anchors.with_best_sides()?;
    Ok(anchors.placed(&fit))
}

/// The rim that each match means.
fn find_rims(mesh: &Mesh, matches: &[RimMatch]) -> Result<Vec<Rim>, PlaceError> {
    if matches.is_empty() {
        return Ok(Vec::new());
    }
    let all = rims(mesh);
    let mut taken: BTreeMap<usize, &str> = BTreeMap::new();
    let mut found = Vec::new();
    for wanted in matches {
        let name = wanted.name.clone();
        let (number, rim) = match wanted.find(&all) {
            Ok(rim) => rim,
            Err(error) => return Err(PlaceError::Rim { name, error }),
        };
        if let Some(first) = taken.insert(number, &wanted.name) {
            let (first, second) = (first.to_owned(), name);
            return Err(PlaceError::SameRim { first, second });
        }
        found.push(rim);
    }
    Ok(found)
}

/// A fit of anchors, and whether a turn is left free.
struct Held {
    fit: RigidFit,
    roll_free: bool,
    /// Whether rims of uncertain side fit about as well turned over.
    side_unsure: bool,
}

/// Everything that holds a scan; landmarks come first, then rims.
#[derive(Clone)]
struct Anchors<'a> {
    landmarks: &'a [Landmark],
    matches: &'a [RimMatch],
    rims: Vec<Rim>,
}

impl<'a> Anchors<'a> {
    fn new(landmarks: &'a [Landmark], matches: &'a [RimMatch], rims: Vec<Rim>) -> Self {
        Self {
            landmarks,
            matches,
            rims,
        }
    }

    fn count(&self) -> usize {
        self.landmarks.len() + self.rims.len()
    }

    fn name(&self, number: usize) -> &str {
        match number.checked_sub(self.landmarks.len()) {
            None => &self.landmarks[number].name,
            Some(rim) => &self.matches[rim].name,
        }
    }

    /// The points, scan and job, that stand for one anchor.
    fn pairs(&self, number: usize) -> Vec<(Point, Point)> {
        let Some(rim) = number.checked_sub(self.landmarks.len()) else {
            let landmark = &self.landmarks[number];
            return vec![(landmark.in_scan, landmark.in_job)];
        };
        let (port, circle) = (&self.matches[rim], &self.rims[rim].circle);
        let arm = 2.0 * circle.radius.mm();
        let tip = circle.center + circle.normal.into_inner() * arm;
        vec![
            (circle.center, port.center),
            (tip, port.center + port.outward.into_inner() * arm),
        ]
    }

    /// Fits all anchors but one.
    fn fit(&self, without: Option<usize>) -> Result<Held, FitError> {
        let kept = (0..self.count()).filter(|number| Some(*number) != without);
        let pairs = kept.flat_map(|number| self.pairs(number));
        let (from, to): (Vec<Point>, Vec<Point>) = pairs.unzip();
        let fit = RigidFit::new(&from, &to, None);
        let on_a_line = matches!(
            fit,
            Err(FitError::Collinear { .. } | FitError::TooFew { .. })
        );
        if on_a_line && !self.rims.is_empty() {
            let fit = RigidFit::along_line(&from, &to, None)?;
            return Ok(Held {
                fit,
                roll_free: true,
                side_unsure: false,
            });
        }
        fit.map(|fit| Held {
            fit,
            roll_free: false,
            side_unsure: false,
        })
    }

    /// Turns rims of uncertain side over where that fits better: all combinations of
    /// the first few, those that keep more rims as told first.
    fn with_best_sides(self) -> Result<(Self, Held), FitError> {
        let unsure: Vec<usize> = (0..self.rims.len())
            .filter(|&rim| self.rims[rim].side != Side::Hanging)
            .take(MOST_TRIED)
            .collect();
        let mut choices: Vec<u32> = (0..1 << unsure.len()).collect();
        choices.sort_by_key(|choice| choice.count_ones());
        let mut tried: Vec<(Self, Held)> = Vec::new();
        let mut refused = None;
        for choice in choices {
            let mut anchors = self.clone();
            for (bit, &rim) in unsure.iter().enumerate() {
                if choice >> bit & 1 == 1 {
                    anchors.rims[rim] = self.rims[rim].clone().flipped();
                }
            }
            match anchors.fit(None) {
                Ok(held) => tried.push((anchors, held)),
                Err(error) => refused = refused.or(Some(error)),
            }
        }
        best_of(tried).ok_or_else(|| refused.unwrap_or(FitError::Ambiguous))
    }

    /// Puts the result together.
    fn placed(self, held: &Held) -> Placed {
        let placement = Placement::from(&held.fit);
        let mut residuals: Vec<Residual> = (0..self.count())
            .map(|number| self.residual(number, &placement))
            .collect();
        residuals.sort_by(|a, b| b.distance.mm().total_cmp(&a.distance.mm()));
        Placed {
            placement,
            residuals,
            rms: held.fit.rms,
            turn_error: held.fit.turn_error,
            warnings: self.warnings(held),
            rims: self.rims,
        }
    }

    fn residual(&self, number: usize, placement: &Placement) -> Residual {
        let (from, to) = self.pairs(number)[0];
        let rim = number.checked_sub(self.landmarks.len());
        let tilt = rim.map(|rim| {
            let normal = placement.turn(&self.rims[rim].circle.normal);
            angle_between(&normal, &self.matches[rim].outward)
        });
        Residual {
            name: self.name(number).to_owned(),
            distance: Length::from_mm((placement.apply(&from) - to).norm()),
            tilt,
        }
    }

    fn warnings(&self, held: &Held) -> Vec<PlaceWarning> {
        let mut warnings = Vec::new();
        warnings.extend(self.odd_one_out(held));
        if held.roll_free {
            let port = &self.matches[0];
            warnings.push(PlaceWarning::RollFree {
                through: port.center,
                along: port.outward,
            });
        } else if held.fit.conditioning < NEAR_LINE {
            let error = held.fit.turn_error;
            warnings.push(PlaceWarning::NearLine { error });
        }
        let unsure = self.rims.iter().position(|rim| rim.side != Side::Hanging);
        warnings.extend(unsure.filter(|_| held.side_unsure).map(|rim| {
            let name = self.matches[rim].name.clone();
            PlaceWarning::SideUnsure { name }
        }));
        warnings
    }

    /// The anchor without which the others agree far better, if there is one.
    fn odd_one_out(&self, held: &Held) -> Option<PlaceWarning> {
        let scatter = self.scatter(held, None)?;
        let placement = Placement::from(&held.fit);
        let mut suspects: Vec<(usize, Length)> = (0..self.count())
            .map(|number| (number, self.residual(number, &placement).distance))
            .collect();
        suspects.sort_by(|a, b| b.1.mm().total_cmp(&a.1.mm()));
        let suspects = suspects.into_iter().take(MOST_JUDGED);
        let others = suspects.filter_map(|(number, _)| {
            let held = self.fit(Some(number)).ok().filter(|held| !held.roll_free)?;
            let scatter = self.scatter(&held, Some(number))?;
            Some((number, held, scatter))
        });
        let (number, others, without) = others.min_by(|a, b| a.2.total_cmp(&b.2))?;
        let placement = Placement::from(&others.fit);
        let off = self.pairs(number).into_iter();
        let off_mm = off
            .map(|(from, to)| (placement.apply(&from) - to).norm())
            .fold(0.0, f64::max);
        let named = off_mm > WORTH_NAMING && scatter > STANDS_OUT * without;
        named.then(|| PlaceWarning::Off {
            name: self.name(number).to_owned(),
            off_mm,
            rms_mm: others.fit.rms.mm(),
        })
    }

    /// Standard deviation of a coordinate, mm, with the freedom that the fit has used
    /// up allowed for; `None` where too little is measured twice. A landmark measures
    /// three numbers, a rim five.
    fn scatter(&self, held: &Held, without: Option<usize>) -> Option<f64> {
        let kept = (0..self.count()).filter(|number| Some(*number) != without);
        let numbers: usize = kept
            .map(|number| if number < self.landmarks.len() { 3 } else { 5 })
            .sum();
        let spare = numbers.checked_sub(6).filter(|&n| n >= LEAST_SPARE)?;
        let squares: f64 = held.fit.residuals.iter().map(|r| r.mm() * r.mm()).sum();
        Some((squares / spare as f64).sqrt())
    }
}

/// The first of several fits that none is clearly better than.
fn best_of<T>(mut tried: Vec<(T, Held)>) -> Option<(T, Held)> {
    let rms = |held: &Held| held.fit.rms.mm();
    let better = |new: &Held, old: &Held| rms(new) < BETTER * rms(old) && rms(old) > NOTHING;
    let mut best = 0;
    for i in 1..tried.len() {
        if better(&tried[i].1, &tried[best].1) {
            best = i;
        }
    }
    let others = tried.iter().enumerate().filter(|(i, _)| *i != best);
    let unsure = others
        .filter(|(_, (_, held))| !better(&tried[best].1, held))
        .count();
    let (anchors, mut held) = (best < tried.len()).then(|| tried.swap_remove(best))?;
    held.side_unsure = unsure > 0;
    Some((anchors, held))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Vector;
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
        let good = place(&mesh, &landmarks, &[]).expect("placed");
        assert!(good.warnings.is_empty() && good.rms.mm() < 1e-9);
        landmarks[2].in_job.x += 4.1;
        for count in [4, 5] {
            let placed = place(&mesh, &landmarks[..count], &[]).expect("placed");
            assert_eq!(
                placed.warnings[0].to_string(),
                "'pair 3' is 4.1 mm off what the others say (which agree to 0.00 mm): measure it again"
            );
            let worst = placed
                .residuals
                .windows(2)
                .all(|pair| pair[0].distance >= pair[1].distance);
            assert!(worst && placed.residuals.len() == count);
        }
        // Three cannot say which of them is off.
        assert!(
            place(&mesh, &landmarks[..3], &[])
                .expect("placed")
                .warnings
                .is_empty()
        );
    }

    #[test]
    fn one_rim_leaves_the_roll_free() {
        let (mesh, truth) = tube();
        let ports = [port("top", 100.0, 1.0, &truth)];
        let placed = place(&mesh, &[], &ports).expect("placed");
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
        let placed = place(&mesh, &[], &both).expect("placed");
        assert!(matches!(
            placed.warnings[..],
            [PlaceWarning::RollFree { .. }]
        ));
        let beside = landmark(
            "boss",
            [80.0, 10.0, 20.0],
            truth.apply(&Point::new(80.0, 10.0, 20.0)),
        );
        let placed = place(&mesh, &[beside], &both).expect("placed");
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
        assert_eq!(place(&mesh, &[], &[]), Err(PlaceError::TooFew { given: 0 }));
        let line: Vec<Landmark> = (0..4)
            .map(|i| [f64::from(i), 0.0, 0.0])
            .map(|at| landmark("p", at, Point::from(at)))
            .collect();
        assert!(matches!(
            place(&mesh, &line, &[]),
            Err(PlaceError::Fit(FitError::Collinear { .. }))
        ));
        let top = port("top", 100.0, 1.0, &truth);
        let mut away = top.clone();
        away.near.z = 900.0;
        assert!(matches!(
            place(&mesh, &[], &[away]),
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
            let placed = place(&mesh, &marks, std::slice::from_ref(&port)).expect("placed");
            assert!(placed.rms.mm() < 1e-9, "{}", placed.rms.mm());
            assert!(placed.warnings.is_empty(), "{:?}", placed.warnings);
            // Alone it goes either way.
            let alone = place(&mesh, &[], &[port]).expect("placed");
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
            let placed = place(&Mesh::default(), &marks, &[]).expect("placed");
            prop_assume!(placed.warnings.is_empty());
            for at in &at {
                let at = Point::from(*at);
                prop_assert!((placed.placement.apply(&at) - truth.apply(&at)).norm() < 1e-9);
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
            let placed = place(&Mesh::default(), &marks, &[]).expect("placed");
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
                if let Ok(placed) = place(&mesh, &marks, &ports) {
                    prop_assert!(placed.placement.is_finite() && placed.rms.is_finite());
                }
            }
        }
    }
}
