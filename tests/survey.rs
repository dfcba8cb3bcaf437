//! Ports from readings: known truth, known noise; what is stated must be so.

#[path = "support/ends.rs"]
mod ends;
#[path = "support/noise.rs"]
mod noise;
mod support;

use ends::{End, EndShop};
use nalgebra::{DMatrix, DVector, Rotation3};
use noise::{Noise, is_chi_square};
use proptest::prelude::*;
use runwright::geometry::{
    CircleFit, Direction, Point, Scatter, Vector, angle_between, perpendicular,
};
use runwright::survey::{
    Amount, Cause, Face, Observed, Pin, Reading, Readings, SurveyError, Surveyed, Wanted, survey,
};
use runwright::units::{Angle, Length, LengthUnit, Style};

const POINT: f64 = 0.5;
const TAPE: f64 = 1.0;

fn mm(value: f64) -> Length {
    Length::from_mm(value)
}

/// A port as it really is.
#[derive(Clone, Copy)]
struct Truth {
    center: Point,
    outward: Direction,
    rim: f64,
    bolts: f64,
    tip: f64,
}

fn truth() -> Truth {
    Truth {
        center: Point::new(210.0, -85.0, 160.0),
        outward: Direction::new_normalize(Vector::new(0.5, -0.3, 0.8)),
        rim: 31.75,
        bolts: 47.6,
        tip: 250.0,
    }
}

impl Truth {
    fn tip_at(&self) -> Point {
        self.center + self.outward.into_inner() * self.tip
    }

    fn round(&self, radius: f64, degrees: f64) -> Point {
        let first = perpendicular(&self.outward);
        let (sin, cos) = degrees.to_radians().sin_cos();
        self.center + (first.into_inner() * cos + self.outward.cross(&first) * sin) * radius
    }
}

/// Readings of a port, each with its noise.
struct Shop {
    truth: Truth,
    noise: Noise,
    readings: Readings,
}

impl Shop {
    fn new(truth: Truth, seed: u64) -> Self {
        let pins = [
            ("A", [0.0, 0.0, 0.0]),
            ("B", [450.0, 0.0, 0.0]),
            ("C", [0.0, 400.0, 0.0]),
            ("D", [430.0, 380.0, 250.0]),
        ];
        let pins = pins.map(|(name, at)| Pin {
            name: name.to_owned(),
            at: Point::from(at),
            good_to: Length::ZERO,
        });
        Self {
            truth,
            noise: Noise::new(seed),
            readings: Readings {
                pins: pins.to_vec(),
                toward: Some(truth.outward),
                ..Readings::default()
            },
        }
    }

    fn add(mut self, what: Observed) -> Self {
        let name = format!("reading {}", self.readings.list.len() + 1);
        self.readings.list.push(Reading { name, what });
        self
    }

    fn touch(&mut self, at: Point) -> Point {
        at + self.noise.three(POINT)
    }

    fn rim(mut self, degrees: &[f64]) -> Self {
        for &degrees in degrees {
            let at = self.touch(self.truth.round(self.truth.rim, degrees));
            self = self.add(Observed::OnRim {
                at,
                good_to: mm(POINT),
            });
        }
        self
    }

    fn bolts(mut self, degrees: &[f64]) -> Self {
        for &degrees in degrees {
            let at = self.touch(self.truth.round(self.truth.bolts, degrees));
            self = self.add(Observed::OnBoltCircle {
                at,
                good_to: mm(POINT),
            });
        }
        self
    }

    fn bolt_circle(mut self) -> Self {
        let radius = mm(self.truth.bolts + self.noise.of(0.05));
        let good_to = mm(0.05);
        self.add(Observed::BoltRadius { radius, good_to })
    }

    fn face(mut self, degrees: &[f64]) -> Self {
        for &degrees in degrees {
            let at = self.touch(self.truth.round(60.0, degrees));
            self = self.add(Observed::OnFace {
                at,
                good_to: mm(POINT),
            });
        }
        self
    }

    fn rod(mut self, outs: &[f64], known: bool) -> Self {
        for &out in outs {
            let at = self.touch(self.truth.center + self.truth.outward.into_inner() * out);
            let out = mm(out + self.noise.of(TAPE));
            let out = known.then_some((out, mm(TAPE)));
            let good_to = mm(POINT);
            self = self.add(Observed::OnRod { at, good_to, out });
        }
        self
    }

    fn laid(mut self, alongs: &[f64]) -> Self {
        let beside = self.truth.round(20.0, 70.0);
        for &along in alongs {
            let at = self.touch(beside + self.truth.outward.into_inner() * along);
            self = self.add(Observed::OnLaidRod {
                at,
                good_to: mm(POINT),
            });
        }
        self
    }

    fn tape(mut self, pins: &[usize], to_tip: bool) -> Self {
        for &pin in pins {
            let from = self.readings.pins[pin].at;
            let (center, tip) = (self.truth.center, self.truth.tip_at());
            let error = self.noise.of(TAPE);
            let good_to = mm(TAPE);
            self = if to_tip {
                let distance = mm((tip - from).norm() + error);
                self.add(Observed::ToTip {
                    pin,
                    distance,
                    good_to,
                })
            } else {
                let distance = mm((center - from).norm() + error);
                self.add(Observed::ToCenter {
                    pin,
                    distance,
                    good_to,
                })
            };
        }
        self
    }

    fn tip_out(mut self) -> Self {
        let out = mm(self.truth.tip + self.noise.of(TAPE));
        let good_to = mm(TAPE);
        self.add(Observed::TipOut { out, good_to })
    }

    fn coordinates(mut self, axes: &[usize]) -> Self {
        for &axis in axes {
            let at = mm(self.truth.center[axis] + self.noise.of(POINT));
            let good_to = mm(POINT);
            self = self.add(Observed::Coordinate { axis, at, good_to });
        }
        self
    }

    fn level(mut self) -> Self {
        let rise = self.truth.outward.z.asin().to_degrees();
        let angle = Angle::from_degrees(rise + self.noise.of(0.2));
        let (up, good_to) = (Vector::z_axis(), Angle::from_degrees(0.2));
        self.add(Observed::Elevation { up, angle, good_to })
    }

    fn heading(mut self) -> Self {
        let u = self.truth.outward;
        let clockwise = (-u.y).atan2(u.x).to_degrees();
        let angle = Angle::from_degrees(clockwise + self.noise.of(1.0));
        let (up, ahead, good_to) = (Vector::z_axis(), Vector::x_axis(), Angle::from_degrees(1.0));
        self.add(Observed::Heading {
            up,
            ahead,
            angle,
            good_to,
        })
    }

    fn direction(mut self) -> Self {
        let sigmas = [0.3_f64, 0.9];
        let first = perpendicular(&self.truth.outward);
        let second = Direction::new_unchecked(self.truth.outward.cross(&first));
        let lean = first.into_inner() * self.noise.of(sigmas[0].to_radians())
            + second.into_inner() * self.noise.of(sigmas[1].to_radians());
        let turn = Rotation3::new(self.truth.outward.cross(&lean));
        let direction = turn * self.truth.outward;
        self.add(Observed::Outward {
            direction,
            across: [turn * first, turn * second],
            good_to: sigmas.map(Angle::from_degrees),
        })
    }

    fn survey(&self) -> Surveyed {
        survey(&self.readings).expect("a port")
    }
}

/// Square of how far off, in the deviations that are stated: chi-square with 5 degrees of
/// freedom if these are true.
fn off(found: &Surveyed, truth: &Truth) -> f64 {
    let lean = found.outward.cross(&truth.outward);
    let shift = truth.center - found.center;
    let first = perpendicular(&found.outward);
    let second = found.outward.cross(&first);
    let mut project = DMatrix::zeros(5, 6);
    project.fill_diagonal(1.0);
    for (row, side) in [first.into_inner(), second].iter().enumerate() {
        project
            .view_mut((3 + row, 3), (1, 3))
            .copy_from(&side.transpose());
        project[(3 + row, 3 + row)] = side[row];
    }
    let error = DVector::from_iterator(6, shift.iter().chain(lean.iter()).copied());
    let (error, covariance) = (
        &project * error,
        &project * found.scatter.covariance() * project.transpose(),
    );
    let root = covariance.cholesky().expect("positive");
    error.dot(&root.solve(&error))
}

/// The ways to measure that a job offers, each with something to spare or without.
type Way = (&'static str, fn(u64) -> Shop);

fn ways() -> Vec<Way> {
    vec![
        ("center and direction", |s| {
            Shop::new(truth(), s).coordinates(&[0, 1, 2]).direction()
        }),
        ("center, level and heading", |s| {
            Shop::new(truth(), s)
                .coordinates(&[0, 1, 2])
                .level()
                .heading()
        }),
        ("three rim points", |s| {
            Shop::new(truth(), s).rim(&[0.0, 120.0, 240.0])
        }),
        ("eight rim points", |s| {
            Shop::new(truth(), s).rim(&[0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0])
        }),
        ("rim and face points", |s| {
            Shop::new(truth(), s)
                .rim(&[0.0, 60.0, 130.0, 200.0])
                .face(&[20.0, 140.0, 260.0])
        }),
        ("bolt holes", |s| {
            Shop::new(truth(), s).bolts(&[30.0, 150.0, 270.0])
        }),
        ("bolt holes of a known circle", |s| {
            Shop::new(truth(), s)
                .bolts(&[45.0, 135.0, 225.0, 315.0])
                .bolt_circle()
        }),
        ("tapes to center and tip", |s| {
            Shop::new(truth(), s)
                .tape(&[0, 1, 2, 3], false)
                .tape(&[0, 1, 2, 3], true)
                .tip_out()
        }),
        ("tapes and known coordinates", |s| {
            Shop::new(truth(), s)
                .coordinates(&[2])
                .tape(&[0, 1, 3], false)
                .tape(&[0, 1, 2, 3], true)
                .tip_out()
        }),
        ("a rod", |s| Shop::new(truth(), s).rod(&[0.0, 300.0], true)),
        ("a rod and the face", |s| {
            Shop::new(truth(), s)
                .rod(&[40.0, 180.0, 320.0], false)
                .face(&[0.0, 90.0])
        }),
        ("a laid rod and coordinates", |s| {
            Shop::new(truth(), s)
                .laid(&[-50.0, 250.0])
                .coordinates(&[0, 1, 2])
        }),
        ("everything", |s| {
            Shop::new(truth(), s)
                .rim(&[0.0, 100.0, 200.0])
                .bolts(&[45.0, 225.0])
                .rod(&[200.0], true)
                .laid(&[0.0, 200.0])
                .tape(&[0, 1, 2, 3], false)
                .tape(&[1, 3], true)
                .level()
        }),
    ]
}

#[test]
fn stated_deviations_cover_the_truth_as_often_as_they_say() {
    for (name, way) in ways() {
        let runs: Vec<(f64, usize)> = (0..600)
            .map(|seed| {
                let shop = way(seed);
                let found = shop.survey();
                (off(&found, &shop.truth), found.spare)
            })
            .collect();
        let mean = runs.iter().map(|(off, _)| off).sum::<f64>() / 600.0;
        println!("{name}: mean {mean:.2} of 5, {} to spare", runs[0].1);
        let all: Vec<f64> = runs.into_iter().map(|(off, _)| off).collect();
        is_chi_square(&all, 5);
    }
}

#[test]
fn without_noise_every_way_gives_the_truth() {
    for (name, way) in ways() {
        let mut shop = way(1);
        // The same readings, of the truth.
        let exact = exact(&shop);
        shop.readings = exact;
        let found = shop.survey();
        let lean = angle_between(&found.outward, &shop.truth.outward).radians();
        assert!((found.center - shop.truth.center).norm() < 1e-7, "{name}");
        assert!(lean < 1e-9, "{name}: {lean}");
        assert!(
            found.suspicions.is_empty() && found.disagreement == 1.0,
            "{name}"
        );
    }
}

/// The readings of a shop without their noise.
fn exact(shop: &Shop) -> Readings {
    let truth = shop.truth;
    let mut readings = shop.readings.clone();
    for reading in &mut readings.list {
        match &mut reading.what {
            Observed::Coordinate { axis, at, .. } => *at = mm(truth.center[*axis]),
            Observed::Outward {
                direction, across, ..
            } => {
                let first = perpendicular(&truth.outward);
                *direction = truth.outward;
                *across = [first, Direction::new_unchecked(truth.outward.cross(&first))];
            }
            Observed::Elevation { angle, .. } => {
                *angle = Angle::from_radians(truth.outward.z.asin());
            }
            Observed::Heading { angle, .. } => {
                *angle = Angle::from_radians((-truth.outward.y).atan2(truth.outward.x));
            }
            Observed::OnRim { at, .. } => *at = onto(&truth, truth.rim, at),
            Observed::OnBoltCircle { at, .. } => *at = onto(&truth, truth.bolts, at),
            Observed::OnFace { at, .. } => *at = onto(&truth, 60.0, at),
            Observed::BoltRadius { radius, .. } => *radius = mm(truth.bolts),
            Observed::RimRadius { radius, .. } => *radius = mm(truth.rim),
            Observed::OnRod { at, out, .. } => {
                let along = truth.outward.dot(&(*at - truth.center));
                *at = truth.center + truth.outward.into_inner() * along;
                *out = out.map(|(_, good_to)| (mm(along), good_to));
            }
            Observed::OnLaidRod { at, .. } => {
                let beside = truth.round(20.0, 70.0);
                let along = truth.outward.dot(&(*at - beside));
                *at = beside + truth.outward.into_inner() * along;
            }
            Observed::ToCenter { pin, distance, .. } => {
                *distance = mm((truth.center - readings.pins[*pin].at).norm());
            }
            Observed::ToTip { pin, distance, .. } => {
                *distance = mm((truth.tip_at() - readings.pins[*pin].at).norm());
            }
            Observed::TipOut { out, .. } => *out = mm(truth.tip),
            Observed::OnOutside { .. } | Observed::Cut { .. } => unreachable!("not of a port here"),
        }
    }
    readings
}

/// The nearest place on a circle of the face.
fn onto(truth: &Truth, radius: f64, at: &Point) -> Point {
    let arm = at - truth.center;
    let flat = arm - truth.outward.into_inner() * truth.outward.dot(&arm);
    truth.center + flat.normalize() * radius
}

#[test]
fn what_is_left_over_is_chi_square_too() {
    let mut squares = Vec::new();
    for seed in 0..600 {
        let shop = Shop::new(truth(), seed).rim(&[0.0, 60.0, 120.0, 180.0, 240.0, 300.0]);
        let found = shop.survey();
        if !found.suspicions.is_empty() {
            // One in a hundred, by chance: a point is left out.
            continue;
        }
        assert_eq!(found.spare, 6);
        let parts = found.left.iter().flat_map(|left| &left.parts);
        squares.push(
            parts
                .map(|(_, amount)| match amount {
                    Amount::Length(length) => (length.mm() / POINT).powi(2),
                    Amount::Angle(_) => f64::NAN,
                })
                .sum(),
        );
    }
    is_chi_square(&squares, 6);
}

#[test]
fn false_alarms_are_as_rare_as_stated() {
    let alarms = (0..1000)
        .filter(|&seed| {
            let shop = Shop::new(truth(), seed)
                .rim(&[0.0, 60.0, 120.0, 180.0, 240.0, 300.0])
                .tape(&[0, 1, 2, 3], false);
            !shop.survey().suspicions.is_empty()
        })
        .count();
    // One in a hundred: 10 ± 4·3.2.
    assert!(alarms <= 23, "{alarms}");
}

#[test]
fn a_reading_that_is_off_is_named() {
    let mut named = 0;
    for seed in 0..100 {
        let mut shop = Shop::new(truth(), seed)
            .rim(&[0.0, 60.0, 120.0, 180.0, 240.0, 300.0])
            .tape(&[0, 1, 2, 3], false);
        let Observed::OnRim { at, .. } = &mut shop.readings.list[2].what else {
            unreachable!("the third is a rim point")
        };
        *at += shop.truth.outward.into_inner() * 5.0;
        let found = shop.survey();
        let worst = found.suspicions.first().expect("seen");
        if worst.readings == [2] {
            named += 1;
            let Amount::Length(off) = worst.off else {
                panic!("a length")
            };
            assert!((off.mm() - 5.0).abs() < 4.0, "{}", off.mm());
        }
        assert!(found.disagreement > 1.0 || found.suspicions.len() == 1);
    }
    assert!(named >= 97, "{named}");
}

#[test]
fn two_readings_that_are_off_are_both_named() {
    let mut shop =
        Shop::new(truth(), 4).rim(&[0.0, 40.0, 80.0, 120.0, 160.0, 200.0, 240.0, 280.0, 320.0]);
    for i in [1, 6] {
        let Observed::OnRim { at, .. } = &mut shop.readings.list[i].what else {
            unreachable!("all are rim points")
        };
        *at += shop.truth.outward.into_inner() * 8.0;
    }
    let mut named: Vec<_> = shop
        .survey()
        .suspicions
        .iter()
        .map(|s| s.readings.clone())
        .collect();
    named.sort();
    assert_eq!(named, [[1], [6]]);
}

#[test]
fn with_one_to_spare_nobody_is_blamed_alone() {
    // Four tapes to a place of three coordinates.
    let mut shop = Shop::new(truth(), 2).tape(&[0, 1, 2, 3], false).direction();
    let Observed::ToCenter { distance, .. } = &mut shop.readings.list[1].what else {
        unreachable!("a tape")
    };
    *distance += mm(60.0);
    let found = shop.survey();
    assert_eq!(found.suspicions.len(), 1);
    let mut blamed = found.suspicions[0].readings.clone();
    blamed.sort_unstable();
    assert_eq!(blamed, [0, 1, 2, 3]);
    assert!(found.disagreement > 3.0);
}

#[test]
fn the_mirrored_place_is_told_or_resolved() {
    // Pins in one plane: the port may be above or below it.
    let shop = Shop::new(truth(), 3).tape(&[0, 1, 2], false).direction();
    let Err(SurveyError::Ambiguous { ports, .. }) = survey(&shop.readings) else {
        panic!("two places fit")
    };
    let mut heights = ports.map(|(center, _)| center.z);
    heights.sort_by(f64::total_cmp);
    assert!((heights[0] + heights[1]).abs() < 1e-6 && heights[1] > 150.0);
    for z in [50.0, 400.0] {
        let mut shop = Shop::new(truth(), 3).tape(&[0, 1, 2], false).direction();
        shop.readings.near = Some(Point::new(0.0, 0.0, z));
        assert!(shop.survey().center.z > 0.0);
        shop.readings.near = Some(Point::new(0.0, 0.0, -z));
        assert!(shop.survey().center.z < 0.0);
    }
    // A pin off that plane, or a coordinate, resolves it too.
    let fourth = Shop::new(truth(), 3).tape(&[0, 1, 2, 3], false).direction();
    assert!((fourth.survey().center - fourth.truth.center).norm() < 6.0);
    let known = Shop::new(truth(), 3)
        .tape(&[0, 1], false)
        .coordinates(&[1, 2])
        .direction();
    assert!((known.survey().center - known.truth.center).norm() < 6.0);
}

#[test]
fn a_face_has_two_sides_and_toward_says_which() {
    let mut shop = Shop::new(truth(), 5).rim(&[0.0, 90.0, 180.0, 270.0]);
    shop.readings.toward = None;
    assert!(matches!(
        survey(&shop.readings),
        Err(SurveyError::Ambiguous { .. })
    ));
    for side in [shop.truth.outward, -shop.truth.outward] {
        shop.readings.toward = Some(side);
        assert!(shop.survey().outward.dot(&side) > 0.99);
    }
    // A rod says it by itself; and 'toward' may contradict it.
    let mut rod = Shop::new(truth(), 5).rod(&[0.0, 300.0], true);
    rod.readings.toward = None;
    assert!(rod.survey().outward.dot(&rod.truth.outward) > 0.99);
    rod.readings.toward = Some(-rod.truth.outward);
    assert!(matches!(
        survey(&rod.readings),
        Err(SurveyError::Away { .. })
    ));
}

#[test]
fn what_is_free_is_said() {
    let says = |shop: Shop, expected: &str| {
        let error = survey(&shop.readings).expect_err("free").to_string();
        assert!(error.contains(expected), "{error}");
    };
    let new = || Shop::new(truth(), 6);
    says(new().coordinates(&[0, 1, 2]), "lean any amount");
    says(
        new().direction().coordinates(&[0, 2]),
        "its center may be anywhere along (0.0000, 1.0000, 0.0000)",
    );
    says(
        new().rod(&[50.0, 250.0], false),
        "its center may be anywhere along",
    );
    says(new().level().coordinates(&[0, 1, 2]), "lean any amount");
    says(new().rim(&[0.0, 90.0]), "lean any amount");
    says(
        new().tape(&[0, 1], false).direction(),
        "its center may be anywhere along",
    );
    assert!(matches!(
        survey(&Readings::default()),
        Err(SurveyError::Count { count: 0 })
    ));
}

#[test]
fn poor_geometry_says_what_it_achieves_and_why() {
    let poor = |shop: &Shop| shop.survey().poor.expect("poor");
    // A rod of 20 mm: 0.5·√2/20 is 2.03°.
    let rod = Shop::new(truth(), 7).rod(&[0.0, 20.0], true);
    let found = poor(&rod);
    assert!(
        (found.lean.0.degrees() - 2.03).abs() < 0.2,
        "{}",
        found.lean.0.degrees()
    );
    assert!(matches!(found.causes[..], [Cause::ShortRod { length, .. }] if length.mm() < 23.0));
    // Points on 50° of a rim.
    let arc = Shop::new(truth(), 7)
        .rim(&[0.0, 17.0, 35.0, 50.0])
        .direction();
    let found = poor(&arc);
    assert!(found.place.0.mm() > 2.0, "{}", found.place.0.mm());
    assert!(
        found
            .causes
            .iter()
            .any(|c| matches!(c, Cause::ShortArc { .. }))
    );
    // Pins almost in a line, the port beside them.
    let mut line = Shop::new(truth(), 7);
    line.readings.pins[2].at = Point::new(220.0, 4.0, 0.0);
    let line = line.tape(&[0, 1, 2], false).coordinates(&[2]).direction();
    let mut near = line;
    near.readings.near = Some(near.truth.center);
    let found = near.survey();
    assert!(
        found.poor.is_none()
            || found.poor.is_some_and(|p| p
                .causes
                .iter()
                .any(|c| matches!(c, Cause::PinsInLine { .. })))
    );
    // A port nearly in the pins' plane.
    let mut low = truth();
    low.center.z = 20.0;
    let mut flat = Shop::new(low, 7).tape(&[0, 1, 2], false).direction();
    flat.readings.near = Some(low.center);
    let found = poor(&flat);
    assert!(found.place.1.z > 0.9 && found.place.0.mm() > 5.0);
    assert!(
        found
            .causes
            .iter()
            .any(|c| matches!(c, Cause::InPlaneOfPins { .. }))
    );
    for cause in &found.causes {
        let (what, help) = cause.written(Style::new(LengthUnit::In));
        assert!(what.contains("in") && !help.is_empty());
    }
}

#[test]
fn the_next_reading_does_what_it_promises() {
    for (name, way) in ways() {
        let shop = way(8);
        let found = shop.survey();
        let Some(next) = &found.next else { continue };
        let now = (
            found.scatter.ellipsoid()[0].0,
            found.scatter.lean(&found.outward),
        );
        assert!(
            next.place <= now.0 * 1.000_001 && next.lean <= now.1 * 1.000_001,
            "{name}"
        );
        println!(
            "{name}: {} takes {:.2} mm, {:.2}° to {:.2} mm, {:.2}°",
            next.what.written(Style::new(LengthUnit::Mm)),
            now.0.mm(),
            now.1.degrees(),
            next.place.mm(),
            next.lean.degrees(),
        );
    }
    // Of a port by rim points, the rod that it asks for gives what it said.
    let shop = Shop::new(truth(), 9).rim(&[0.0, 90.0, 180.0, 270.0]);
    let next = shop.survey().next.expect("worth it");
    assert!(
        matches!(next.what, runwright::survey::Wanted::RodPoint(_)),
        "{next:?}"
    );
    let after = shop.rod(&[300.0], false).survey();
    let lean = after.scatter.lean(&after.outward);
    assert!(
        (lean / next.lean - 1.0).abs() < 0.05,
        "{} {}",
        lean.degrees(),
        next.lean.degrees()
    );
}

#[test]
fn an_exact_center_and_direction_stay_as_they_are() {
    let shop = Shop::new(truth(), 0).coordinates(&[0, 1, 2]).direction();
    let found = shop.survey();
    for reading in &shop.readings.list {
        match &reading.what {
            Observed::Coordinate { axis, at, .. } => assert_eq!(found.center[*axis], at.mm()),
            Observed::Outward { direction, .. } => {
                assert!((found.outward.into_inner() - direction.into_inner()).norm() < 1e-15);
            }
            _ => unreachable!(),
        }
    }
    // One deviation of each coordinate, and the two of the direction.
    for (size, _) in found.scatter.ellipsoid() {
        assert!((size.mm() - POINT).abs() < 1e-9);
    }
    let [most, least] = found
        .scatter
        .leans(&found.outward)
        .map(|(lean, _)| lean.degrees());
    assert!((most - 0.9).abs() < 1e-9 && (least - 0.3).abs() < 1e-9);
}

#[test]
fn pins_that_are_not_exact_count() {
    let tapes = |good_to: f64| {
        let mut shop = Shop::new(truth(), 11);
        for pin in &mut shop.readings.pins {
            pin.good_to = mm(good_to);
        }
        let shop = shop.tape(&[0, 1, 2, 3], false).direction();
        shop.survey().scatter.distance().mm()
    };
    assert!(tapes(2.0) > 1.5 * tapes(0.0));
}

/// The least-squares circle in the plane of best fit, for all points of one accuracy,
/// differs from the joint fit only to second order.
#[test]
fn rim_points_alone_agree_with_the_circle_fit() {
    let shop = Shop::new(truth(), 12).rim(&[0.0, 50.0, 100.0, 150.0, 200.0, 250.0, 300.0]);
    let points: Vec<Point> = shop
        .readings
        .list
        .iter()
        .filter_map(|r| match r.what {
            Observed::OnRim { at, .. } => Some(at),
            _ => None,
        })
        .collect();
    let fit = CircleFit::new(&points)
        .expect("a circle")
        .facing(&shop.truth.outward);
    let found = shop.survey();
    assert!((fit.center - found.center).norm() < 0.02);
    assert!((fit.radius.mm() - found.rim.expect("touched").mm() / 2.0).abs() < 0.02);
    assert!(angle_between(&fit.normal, &found.outward).degrees() < 0.02);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn moving_the_job_moves_the_port(
        turn in prop::array::uniform3(-3.0..3.0_f64), shift in prop::array::uniform3(-500.0..500.0_f64), seed in 0..50_u64,
    ) {
        let shop = Shop::new(truth(), seed).rim(&[0.0, 80.0, 170.0, 260.0]).rod(&[200.0], false).tape(&[0, 1, 2, 3], false);
        let found = shop.survey();
        let turn = Rotation3::new(Vector::from(turn));
        let moved = |p: &Point| turn * p + Vector::from(shift);
        let mut readings = shop.readings.clone();
        readings.toward = readings.toward.map(|t| turn * t);
        for pin in &mut readings.pins {
            pin.at = moved(&pin.at);
        }
        for reading in &mut readings.list {
            match &mut reading.what {
                Observed::OnRim { at, .. } | Observed::OnRod { at, .. } => *at = moved(at),
                _ => {}
            }
        }
        let other = survey(&readings).expect("a port");
        prop_assert!((other.center - moved(&found.center)).norm() < 1e-6);
        prop_assert!(angle_between(&other.outward, &(turn * found.outward)).radians() < 1e-8);
        let sizes = |s: &Scatter| s.ellipsoid().map(|(size, _)| size.mm());
        for (a, b) in sizes(&found.scatter).iter().zip(sizes(&other.scatter)) {
            prop_assert!((a - b).abs() < 1e-5 * a);
        }
    }

    #[test]
    fn moving_a_mitered_end_moves_what_is_found(
        turn in prop::array::uniform3(-3.0..3.0_f64), shift in prop::array::uniform3(-500.0..500.0_f64), seed in 0..200_u64,
    ) {
        let end = End::any(seed, 0.5, 30.0);
        let shop = EndShop::new(end, seed).rim(8).outside(6).diameter();
        let found = shop.survey().expect("an end");
        let turn = Rotation3::new(Vector::from(turn));
        let moved = |p: &Point| turn * p + Vector::from(shift);
        let mut other = shop;
        for reading in &mut other.readings.list {
            if let Observed::OnRim { at, .. } | Observed::OnOutside { at, .. } = &mut reading.what {
                *at = moved(at);
            }
        }
        let other = other.survey().expect("an end");
        prop_assert!((other.center - moved(&found.center)).norm() < 1e-6);
        prop_assert!(angle_between(&other.outward, &(turn * found.outward)).radians() < 1e-8);
        prop_assert!(angle_between(&other.normal, &(turn * found.normal)).radians() < 1e-8);
        let sizes = |s: &Scatter| s.ellipsoid().map(|(size, _)| size.mm());
        for (a, b) in sizes(&found.face_scatter).iter().zip(sizes(&other.face_scatter)) {
            prop_assert!((a - b).abs() < 1e-5 * a);
        }
    }

    #[test]
    fn any_port_is_found(
        center in prop::array::uniform3(-400.0..400.0_f64), outward in prop::array::uniform3(-1.0..1.0_f64),
        seed in 0..1000_u64, way in 0..3_usize,
    ) {
        let outward = Vector::from(outward);
        prop_assume!(outward.norm() > 0.1);
        let truth = Truth { center: Point::from(center), outward: Direction::new_normalize(outward), ..truth() };
        let shop = Shop::new(truth, seed);
        let shop = match way {
            0 => shop.rim(&[10.0, 130.0, 250.0]).bolts(&[0.0, 180.0]),
            1 => shop.tape(&[0, 1, 2, 3], false).tape(&[0, 1, 2, 3], true).tip_out(),
            _ => shop.rod(&[0.0, 250.0], true).level(),
        };
        // Near the pins' plane tapes may fit two places; then it says so.
        match survey(&shop.readings) {
            Ok(found) => prop_assert!(off(&found, &truth) < 60.0, "{}", off(&found, &truth)),
            Err(error) => prop_assert!(way == 1, "{error:?}"),
        }
    }

    #[test]
    fn no_number_breaks_it(numbers in prop::collection::vec(any::<f64>(), 24), kinds in prop::collection::vec(0..17_usize, 1..8), is_mitered in any::<bool>()) {
        let at = |i: usize| Point::new(numbers[i], numbers[i + 1], numbers[i + 2]);
        let (length, good_to) = (mm(numbers[9]), mm(numbers[10]));
        let angle = Angle::from_radians(numbers[11]);
        let up = Direction::new_normalize(Vector::new(1.0, 2.0, 2.0));
        let ahead = perpendicular(&up);
        let face = if is_mitered { Face::Mitered } else { Face::Square };
        let list = kinds.iter().enumerate().map(|(i, kind)| {
            let at = at(i * 2);
            let what = match kind {
                0 => Observed::Coordinate { axis: i % 3, at: length, good_to },
                1 => Observed::Outward { direction: up, across: [ahead, Direction::new_unchecked(up.cross(&ahead))], good_to: [angle; 2] },
                2 => Observed::Elevation { up, angle, good_to: angle },
                3 => Observed::Heading { up, ahead, angle, good_to: angle },
                4 => Observed::OnRim { at, good_to },
                5 => Observed::OnBoltCircle { at, good_to },
                6 => Observed::OnFace { at, good_to },
                7 => Observed::RimRadius { radius: length, good_to },
                8 => Observed::BoltRadius { radius: length, good_to },
                9 => Observed::OnRod { at, good_to, out: Some((length, good_to)) },
                10 => Observed::OnRod { at, good_to, out: None },
                11 => Observed::OnLaidRod { at, good_to },
                12 => Observed::ToCenter { pin: i % 3, distance: length, good_to },
                13 => Observed::ToTip { pin: i % 3, distance: length, good_to },
                14 => Observed::OnOutside { at, good_to },
                15 => Observed::Cut { angle, good_to: angle },
                _ => Observed::TipOut { out: length, good_to },
            };
            Reading { name: "reading".to_owned(), what }
        });
        let pins = (0..2).map(|i| Pin { name: "pin".to_owned(), at: at(3 * i), good_to });
        let readings = Readings { list: list.collect(), pins: pins.collect(), face, ..Readings::default() };
        if let Ok(found) = survey(&readings) {
            prop_assert!(found.normal.iter().all(|c| c.is_finite()));
            prop_assert!(found.center.iter().all(|c| c.is_finite()));
        }
    }
}

/// Ways to measure the end of a built tube.
fn of_outside(shop: EndShop) -> EndShop {
    shop.rim(8).outside(6).diameter()
}

fn of_saw(shop: EndShop, axis: f64) -> EndShop {
    shop.rim(8).cut().diameter().axis(axis).toward(0.0)
}

fn of_rod(shop: EndShop) -> EndShop {
    shop.rim(4).rod(&[0.0, 70.0, 200.0]).diameter().toward(10.0)
}

#[test]
fn exact_mitered_ends_are_recovered() {
    for seed in 0..120 {
        let end = End::any(seed, 0.5, 30.0);
        for (way, shop) in [
            of_outside(EndShop::exact(end)),
            of_saw(EndShop::exact(end), 3.0),
            of_rod(EndShop::exact(end)),
        ]
        .iter()
        .enumerate()
        {
            let found = shop
                .survey()
                .unwrap_or_else(|error| panic!("{seed}, {way}: {error}, {end:?}"));
            let apart = (found.center - end.center).norm();
            let lean = angle_between(&found.outward, &end.outward).radians();
            let tilt = angle_between(&found.normal, &end.normal).radians();
            assert!(
                apart < 1e-7 && lean < 1e-8 && tilt < 1e-8,
                "{seed}, {way}, cut {}: {apart} {lean} {tilt}",
                end.cut().degrees()
            );
            assert!(found.suspicions.is_empty() && found.disagreement == 1.0);
        }
    }
}

#[test]
fn stated_deviations_of_mitered_ends_are_true() {
    type Way = (&'static str, f64, fn(EndShop) -> EndShop);
    let ways: [Way; 3] = [
        ("outside", 0.5, of_outside),
        ("saw", 7.5, |shop| of_saw(shop, 1.0)),
        ("rod", 0.5, of_rod),
    ];
    for (name, least, way) in ways {
        let mut all: [Vec<f64>; 2] = Default::default();
        for seed in 0..600 {
            let end = End::any(seed, least, 30.0);
            let found = way(EndShop::new(end, seed)).survey().expect("an end");
            let of_axis = (found.center, found.outward);
            let of_face = (found.center, found.normal);
            all[0].push(ends::off(
                of_axis,
                &found.scatter,
                (end.center, end.outward),
            ));
            all[1].push(ends::off(
                of_face,
                &found.face_scatter,
                (end.center, end.normal),
            ));
        }
        let mean = all.each_ref().map(|all| all.iter().sum::<f64>() / 600.0);
        println!("{name}: mean {:.2} and {:.2} of 5", mean[0], mean[1]);
        for all in &all {
            is_chi_square(all, 5);
        }
    }
}

#[test]
fn a_wrong_point_of_a_mitered_end_is_named() {
    let rate = |reading: usize| {
        let named = (0..200).filter(|&seed| {
            let end = End::any(seed, 0.5, 30.0);
            let shop = EndShop::new(end, seed).rim(8).outside(8).diameter();
            let by = match shop.readings.list[reading].what {
                Observed::OnRim { .. } => end.normal.into_inner() * 6.0,
                Observed::OnOutside { at, .. } => {
                    let arm = at - end.center;
                    let flat = arm - end.outward.into_inner() * end.outward.dot(&arm);
                    flat.normalize() * 6.0
                }
                _ => unreachable!("a point"),
            };
            let found = shop.off(reading, by).survey().expect("an end");
            found.suspicions.iter().any(|s| s.readings == [reading])
        });
        named.count()
    };
    let (rim, outside) = (rate(3), rate(11));
    println!("of 200 named: rim {rim}, outside {outside}");
    assert!(rim >= 194 && outside >= 190, "{rim} {outside}");
}

#[test]
fn an_ellipse_alone_is_never_silently_one_end() {
    let (mut said, mut right, mut refused) = (0, 0, 0);
    for seed in 0..120 {
        let end = End::any(seed, 0.5, 30.0);
        for (is_exact, shop) in [
            (true, EndShop::exact(end)),
            (false, EndShop::new(end, seed)),
        ] {
            let shop = shop.rim(12).diameter();
            match shop.survey() {
                Err(SurveyError::Ambiguous { .. }) => said += 1,
                Err(SurveyError::Free { .. } | SurveyError::Loose { .. }) => refused += 1,
                other => panic!("{seed}, cut {}: {other:?}", end.cut().degrees()),
            }
            match shop.toward(0.0).survey() {
                Ok(found) => {
                    let lean = angle_between(&found.outward, &end.outward);
                    let sigma = found.scatter.lean(&found.outward);
                    assert!(
                        lean < sigma * 5.0,
                        "{seed}: {} {}",
                        lean.degrees(),
                        sigma.degrees()
                    );
                    right += 1;
                }
                Err(SurveyError::Free { .. } | SurveyError::Loose { .. }) => {}
                // Noise may turn both as far from the truth.
                Err(SurveyError::Ambiguous { .. }) if !is_exact => {}
                other => panic!("{seed}: {other:?}"),
            }
        }
    }
    println!("of 240: {said} ambiguous, {refused} refused; {right} right with 'toward'");
    assert!(right > 60);
}

#[test]
fn toward_picks_one_of_two_mirrored_axes() {
    // 15° apart, and 'toward' as rough as a hand that points.
    let end = End::new(
        Point::new(50.0, 20.0, -70.0),
        truth().outward,
        57.0,
        7.5,
        40.0,
    );
    let mirrored =
        end.normal.into_inner() * (2.0 * end.normal.dot(&end.outward)) - end.outward.into_inner();
    let mirrored = Direction::new_normalize(mirrored);
    let shop = EndShop::exact(end).rim(16).diameter();
    for axis in [end.outward, mirrored] {
        let mut shop = shop.clone();
        let off = Vector::new(0.05, 0.02, -0.06);
        shop.readings.toward = Some(Direction::new_normalize(axis.into_inner() + off));
        let found = shop.survey().expect("an end");
        assert!(angle_between(&found.outward, &axis).degrees() < 1e-5);
    }
    // Amid the two it tells neither.
    let mut amid = shop;
    amid.readings.toward = Some(end.normal);
    let Err(error @ SurveyError::Ambiguous { .. }) = amid.survey() else {
        panic!("two axes fit")
    };
    let (_, help) = error.written(Style::new(LengthUnit::In));
    assert!(help.contains("clearly nearer"), "{help}");
}

#[test]
fn points_on_the_outside_help_a_port_too() {
    for seed in 0..40 {
        let end = End::any(seed, 0.0, 1e-12);
        let mut shop = EndShop::exact(end).rim(5).outside(6).diameter();
        shop.readings.face = Face::Square;
        let found = shop.survey().expect("a port");
        // Which way is out they tell by themselves.
        assert!(angle_between(&found.outward, &end.outward).radians() < 1e-8);
        assert!((found.center - end.center).norm() < 1e-7);
        assert_eq!(found.normal, found.outward);
        assert_eq!(found.face_scatter, found.scatter);
        shop.readings.toward = Some(-end.outward);
        assert!(matches!(shop.survey(), Err(SurveyError::Away { .. })));
        // And without a rim: the outside tells the axis, a coordinate or three the rest.
        let mut bare = EndShop::exact(end).outside(7).diameter();
        bare.readings.face = Face::Square;
        for axis in 0..3 {
            let (at, good_to) = (mm(end.center[axis]), mm(POINT));
            bare.add(Observed::Coordinate { axis, at, good_to });
        }
        let found = bare.survey().expect("a port");
        assert!(
            angle_between(&found.outward, &end.outward).radians() < 1e-8,
            "{seed}"
        );
    }
}

#[test]
fn what_holds_a_mitered_end_poorly_is_said() {
    let end = End::new(
        Point::new(50.0, 20.0, -70.0),
        Vector::x_axis(),
        31.75,
        7.5,
        40.0,
    );
    let style = Style::new(LengthUnit::In);
    // Nothing behind the face.
    let error = EndShop::new(end, 1)
        .rim(8)
        .diameter()
        .survey()
        .expect_err("poor");
    assert!(error.written(style).1.contains("on the tube's outside"));
    // The outside touched only near the face.
    let mut near = EndShop::new(end, 1).rim(8).diameter();
    for i in 0..4 {
        let (at, good_to) = (end.outside(90.0 * f64::from(i), 15.0), mm(POINT));
        near.add(Observed::OnOutside { at, good_to });
    }
    let found = near.survey().expect("an end");
    let poor = found.poor.expect("poor");
    assert!(poor.face.is_some());
    let short = poor
        .causes
        .iter()
        .find(|c| matches!(c, Cause::ShortOutside { .. }));
    let (why, help) = short.expect("short").written(style);
    assert!(why.contains("5/8 in along the tube") && help.contains("3 in back"));
    let next = found.next.expect("worth it").what.written(style);
    assert!(
        next.contains("the tube's outside, 3 in back from its end"),
        "{next}"
    );
    // Of a piece that is no longer than an inch, nothing is asked for farther back; once it
    // was, on a piece of 3/4 in.
    for behind in [25.0, 16.0] {
        let mut short = near.clone();
        short.readings.behind = Some(mm(behind));
        let found = short.survey().expect("an end");
        if let Some(Wanted::OutsidePoint { back, .. }) = found.next.map(|next| next.what) {
            assert!(back <= mm(behind), "{back:?}");
        }
        let mut causes = found.poor.expect("poor").causes.into_iter();
        let cause = causes.find(|c| matches!(c, Cause::ShortOutside { .. }));
        let (_, help) = cause.expect("short").written(style);
        let right = match behind > 20.0 {
            true => "points 31/32 in back",
            false => "its piece goes no further back",
        };
        assert!(help.contains(right), "{help}");
    }
    let mut short = EndShop::new(end, 1)
        .rim(8)
        .diameter()
        .cut()
        .axis(3.0)
        .toward(0.0);
    short.readings.behind = Some(mm(25.0));
    let next = short.survey().expect("an end").next.expect("worth it").what;
    let Wanted::OutsidePoint { back, is_there, .. } = next else {
        panic!("a point on the outside: {next:?}")
    };
    assert!(back == mm(25.0) && is_there);
    // It does what it promises.
    let wanted = EndShop::new(end, 1)
        .rim(8)
        .diameter()
        .cut()
        .axis(3.0)
        .toward(0.0);
    let found = wanted.survey().expect("an end");
    let next = found.next.expect("worth it");
    let Wanted::OutsidePoint { at, .. } = next.what else {
        panic!("a point on the outside")
    };
    let mut after = wanted;
    let good_to = mm(POINT);
    after.add(Observed::OnOutside { at, good_to });
    let after = after.survey().expect("an end");
    let lean = after.scatter.lean(&after.outward);
    assert!(
        (lean / next.lean - 1.0).abs() < 0.05,
        "{lean:?} {:?}",
        next.lean
    );
    // A face that nothing tells, and an axis that nothing tells.
    let face = EndShop::exact(end)
        .outside(7)
        .diameter()
        .survey()
        .expect_err("no face");
    assert!(face.to_string().contains("its face may lean any amount"));
    let mut free = EndShop::exact(end).toward(0.0);
    for i in 0..3 {
        let (at, good_to) = (end.rim(120.0 * f64::from(i)), mm(POINT));
        free.add(Observed::OnFace { at, good_to });
    }
    let free = free.survey().expect_err("no axis");
    assert!(free.to_string().contains("its axis may lean any amount"));
}
