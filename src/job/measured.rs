//! Measurements of ports: the file's, checked and turned into readings.

use super::file_values::Quantity;
use super::measured_file::{
    AnglesFile, MeasuredFile, MeasuringFile, OutwardFile, RodFile, ScanRimFile, TapeFile,
};
use super::path::Path;
use super::values::{Reader, Sign};
use crate::geometry::{Direction, Level, Point, Vector, across, perpendicular};
use crate::survey::{MOST_READINGS, Measuring, Observed, Pin, Reading, Readings};
use crate::units::{Angle, Length};
use std::collections::BTreeMap;

/// A standard deviation beyond this is no measuring: a foot.
const WORST: Length = Length::from_inches(12.0);
/// The same for angles.
const WORST_ANGLE: Angle = Angle::from_degrees(45.0);
/// Nearer to plumb than this, level and heading are one direction.
const STEEP: Angle = Angle::from_degrees(10.0);
/// Nearer to plumb than so many deviations a level alone says that it is plumb.
const PLUMB: f64 = 3.0;
/// Most pins of a job.
const MOST_PINS: usize = 200;
/// Sine between 'up' and 'ahead' below which they are one direction.
const ALONG: f64 = 1e-3;
/// Sine of the dip from which 'toward' clearly points downward.
const CLEARLY: f64 = 0.5;

/// What measurements are taken from and with.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Bench {
    pub pins: Vec<Pin>,
    pub measuring: Measuring,
    /// What levels and headings refer to.
    pub level: Level,
}

impl Bench {
    /// What is taken where the job says nothing.
    pub(super) fn usual() -> Self {
        Self {
            pins: Vec::new(),
            measuring: Measuring::default(),
            level: Level::default(),
        }
    }
}

/// What was measured of a port, and where in the file each reading is.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Measured {
    pub readings: Readings,
    pub paths: Vec<Path>,
    /// A rim that is still to be picked from a scan.
    pub rim: Option<RimPick>,
    /// Whether center and outward are given, not measured.
    pub stated: bool,
}

/// A rim to be picked from a scan.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct RimPick {
    /// The scan's name.
    pub scan: String,
    /// About its middle.
    pub near: Point,
    pub path: Path,
}

impl Measured {
    fn new(bench: &Bench) -> Self {
        Self {
            readings: Readings {
                pins: bench.pins.clone(),
                measuring: bench.measuring,
                ..Readings::default()
            },
            paths: Vec::new(),
            rim: None,
            stated: false,
        }
    }

    /// Adds a reading and where in the file it is.
    pub(super) fn add(&mut self, name: impl Into<String>, what: Observed, path: Path) {
        let name = name.into();
        self.readings.list.push(Reading { name, what });
        self.paths.push(path);
    }
}

impl Reader<'_> {
    /// Tools, pins and level of a job.
    pub(super) fn bench(
        &mut self,
        measuring: Option<&MeasuringFile>,
        pins: Option<&BTreeMap<String, Vec<Quantity>>>,
        up: Option<&Vec<Quantity>>,
        ahead: Option<&Vec<Quantity>>,
    ) -> Option<Bench> {
        let root = Path::root();
        let measuring = self.tools(measuring, &root.key("measuring"));
        self.measuring = measuring.unwrap_or_default();
        let pins = self.pins(pins, &root.key("pins"), self.measuring.pin);
        let up = match up {
            Some(up) => self.heading(up, &root.key("up")),
            None => Some(Vector::z_axis()),
        };
        let up = up?;
        let ahead = match ahead {
            Some(ahead) => self.heading(ahead, &root.key("ahead"))?,
            // Where x is up, anything square to it will do.
            None if up.cross(&Vector::x()).norm() > ALONG => Vector::x_axis(),
            None => perpendicular(&up),
        };
        let level = ahead.into_inner() - up.into_inner() * up.dot(&ahead);
        let Some(ahead) = Direction::try_new(level, ALONG) else {
            let help = "'ahead' is a direction over the ground, such as [1, 0, 0]";
            return self.fail(&root.key("ahead"), "points straight up or down", help);
        };
        Some(Bench {
            pins: pins?,
            measuring: measuring?,
            level: Level { up, ahead },
        })
    }

    fn tools(&mut self, file: Option<&MeasuringFile>, path: &Path) -> Option<Measuring> {
        let usual = Measuring::default();
        let Some(file) = file else {
            return Some(usual);
        };
        let mut length = |value: &Option<Quantity>, key: &str, usual: Length| {
            self.deviation(value, &path.key(key), usual)
        };
        let (point, tape) = (
            length(&file.point, "point", usual.point),
            length(&file.tape, "tape", usual.tape),
        );
        let (caliper, pin) = (
            length(&file.caliper, "caliper", usual.caliper),
            length(&file.pin, "pin", usual.pin),
        );
        let scan = length(&file.scan, "scan", usual.scan);
        let mut angle = |value: &Option<Quantity>, key: &str, usual: Angle| {
            self.lean(value, &path.key(key), usual)
        };
        let (level, heading) = (
            angle(&file.level, "level", usual.level),
            angle(&file.heading, "heading", usual.heading),
        );
        let direction = angle(&file.direction, "direction", usual.direction);
        Some(Measuring {
            point: point?,
            tape: tape?,
            caliper: caliper?,
            level: level?,
            heading: heading?,
            direction: direction?,
            pin: pin?,
            scan: scan?,
        })
    }

    /// A standard deviation of lengths.
    pub(super) fn deviation(
        &mut self,
        value: &Option<Quantity>,
        path: &Path,
        usual: Length,
    ) -> Option<Length> {
        let length = self.length_or(value, path, Sign::NotNegative, usual)?;
        if length > WORST {
            let help = "give one standard deviation: two readings in three are within it";
            return self.fail(path, "is more than 12 in (304.8 mm)", help);
        }
        Some(length)
    }

    /// A standard deviation of angles.
    pub(super) fn lean(
        &mut self,
        value: &Option<Quantity>,
        path: &Path,
        usual: Angle,
    ) -> Option<Angle> {
        let angle = self.angle_or(value, path, usual)?;
        if !(Angle::ZERO..=WORST_ANGLE).contains(&angle) {
            let help = "give one standard deviation: two readings in three are within it";
            return self.fail(path, "must be from 0° to 45°", help);
        }
        Some(angle)
    }

    fn pins(
        &mut self,
        file: Option<&BTreeMap<String, Vec<Quantity>>>,
        path: &Path,
        good_to: Length,
    ) -> Option<Vec<Pin>> {
        let none = BTreeMap::new();
        let file = file.unwrap_or(&none);
        if file.len() > MOST_PINS {
            let message = format!("holds {} pins", file.len());
            return self.fail(path, message, format!("give at most {MOST_PINS}"));
        }
        let pins: Vec<Option<Pin>> = file
            .iter()
            .map(|(name, at)| {
                let path = path.key(name);
                let named = self.name(name, &path).is_some();
                let at = self.center(at, &path)?;
                named.then(|| Pin {
                    name: name.clone(),
                    at,
                    good_to,
                })
            })
            .collect();
        pins.into_iter().collect()
    }

    /// A port that is given by center and direction, as readings of those.
    pub(super) fn stated(
        &mut self,
        (center, center_path): (&[Quantity], &Path),
        (outward, outward_path): (&OutwardFile, &Path),
        point: Option<Length>,
        lean: Option<Angle>,
        bench: &Bench,
    ) -> Option<Measured> {
        let mut measured = Measured::new(bench);
        let place = self.center(center, center_path);
        let observed = self.outward(outward, outward_path, bench, lean);
        measured.stated = true;
        let point = point.unwrap_or(bench.measuring.point);
        let place = place?;
        for axis in 0..3 {
            let (at, good_to) = (Length::from_mm(place[axis]), point);
            measured.add(
                format!("the center's {}", AXES[axis]),
                Observed::Coordinate { axis, at, good_to },
                center_path.index(axis),
            );
        }
        measured.add("the outward direction", observed?, outward_path.clone());
        Some(measured)
    }

    /// What was measured of a port.
    pub(super) fn measured(
        &mut self,
        file: &MeasuredFile,
        path: &Path,
        bench: &Bench,
    ) -> Option<Measured> {
        let errors = self.errors.len();
        let mut measured = Measured::new(bench);
        self.hints(file, path, &mut measured);
        if let Some(center) = &file.center {
            self.coordinates(center, &path.key("center"), &mut measured);
        }
        if let Some(outward) = &file.outward {
            let path = path.key("outward");
            if let Some(what) = self.outward(outward, &path, bench, None) {
                measured.add("the outward direction", what, path);
            }
        }
        self.levels(file, path, bench, &mut measured);
        self.touched_points(file, path, &mut measured);
        self.diameters(file, path, &mut measured);
        self.rod(file.rod.as_deref(), &path.key("rod"), &mut measured);
        self.tapes(file, path, &mut measured);
        let nothing = measured.readings.list.is_empty() && measured.rim.is_none();
        if nothing && self.errors.len() == errors {
            let help = "give for example 'rim': three points or more on the rim, and 'toward'";
            return self.fail(path, "holds no readings", help);
        }
        if measured.readings.list.len() > MOST_READINGS {
            let message = format!("holds {} readings", measured.readings.list.len());
            return self.fail(path, message, format!("give at most {MOST_READINGS}"));
        }
        (self.errors.len() == errors).then_some(measured)
    }

    /// Points that were touched.
    fn touched_points(&mut self, file: &MeasuredFile, path: &Path, measured: &mut Measured) {
        let good_to = measured.readings.measuring.point;
        self.points(&file.rim, &path.key("rim"), "rim point", measured, |at| {
            Observed::OnRim { at, good_to }
        });
        self.points(
            &file.outside,
            &path.key("outside"),
            "outside point",
            measured,
            |at| Observed::OnOutside { at, good_to },
        );
        self.points(
            &file.face,
            &path.key("face"),
            "face point",
            measured,
            |at| Observed::OnFace { at, good_to },
        );
        self.points(
            &file.bolts,
            &path.key("bolts"),
            "bolt hole",
            measured,
            |at| Observed::OnBoltCircle { at, good_to },
        );
        let laid = path.key("laid_rod");
        self.points(&file.laid_rod, &laid, "laid rod point", measured, |at| {
            Observed::OnLaidRod { at, good_to }
        });
    }

    /// Those of the center's coordinates that are known.
    fn coordinates(&mut self, values: &[Quantity], path: &Path, measured: &mut Measured) {
        let good_to = measured.readings.measuring.point;
        let Some(values) = self.triple(values, path) else {
            return;
        };
        for (axis, value) in values.iter().enumerate().filter(|(_, v)| !v.0.is_null()) {
            let path = path.index(axis);
            if let Some(at) = self.length(value, &path, Sign::Any) {
                let name = format!("the center's {}", AXES[axis]);
                measured.add(name, Observed::Coordinate { axis, at, good_to }, path);
            }
        }
    }

    /// A direction by numbers or by two angles, good to `lean` any way if that is given.
    pub(super) fn outward(
        &mut self,
        file: &OutwardFile,
        path: &Path,
        bench: &Bench,
        lean: Option<Angle>,
    ) -> Option<Observed> {
        let usual = lean.unwrap_or(bench.measuring.direction);
        match file {
            OutwardFile::Vector(values) => {
                let direction = self.heading(values, path)?;
                Some(even(direction, usual))
            }
            OutwardFile::Angles(angles) => self.angles(angles, path, bench, lean),
        }
    }

    fn angles(
        &mut self,
        file: &AnglesFile,
        path: &Path,
        bench: &Bench,
        lean: Option<Angle>,
    ) -> Option<Observed> {
        match (&file.azimuth, &file.elevation, &file.level, &file.heading) {
            (Some(azimuth), Some(elevation), None, None) => {
                let azimuth = self.angle(azimuth, &path.key("azimuth"));
                let elevation = self.rise(elevation, &path.key("elevation"));
                let direction = pointing(
                    &Vector::z_axis(),
                    &Vector::x_axis(),
                    // From x toward y is counterclockwise from above.
                    -azimuth?,
                    elevation?,
                );
                Some(even(direction, lean.unwrap_or(bench.measuring.direction)))
            }
            (None, None, Some(level), Some(heading)) => {
                let level = self.rise(level, &path.key("level"));
                let heading = self.angle(heading, &path.key("heading"));
                Some(leveled(level?, heading?, bench, lean))
            }
            (azimuth, elevation, level, heading) => {
                let given = [
                    (azimuth.is_some(), "azimuth"),
                    (elevation.is_some(), "elevation"),
                    (level.is_some(), "level"),
                    (heading.is_some(), "heading"),
                ];
                let given = given.into_iter().filter(|(given, _)| *given);
                let given: Vec<&str> = given.map(|(_, name)| name).collect();
                let message = match given[..] {
                    [] => "is no direction".to_owned(),
                    _ => format!("is no direction by {} alone", given.join(" and ")),
                };
                let help = "give 'azimuth' and 'elevation', or 'level' and 'heading', or [x, y, z]";
                self.fail(path, message, help)
            }
        }
    }

    /// Level, face level and heading of a port, alone or together.
    fn levels(&mut self, file: &MeasuredFile, path: &Path, bench: &Bench, measured: &mut Measured) {
        // A level shows no sign; 'toward' tells up from down as well.
        let toward = measured.readings.toward;
        let is_down = toward.is_some_and(|toward| toward.dot(&bench.level.up) < -CLEARLY);
        let mut rise = |value: &Option<Quantity>, key: &str| {
            let path = path.key(key);
            let angle = self.rise(value.as_ref()?, &path)?;
            Some((if is_down { -angle.abs() } else { angle }, path))
        };
        let rod = rise(&file.level, "level");
        let face = rise(&file.face_level, "face_level").map(|(angle, path)| {
            // A face that lies level points straight up, or down.
            let plumb = if is_down || angle < Angle::ZERO {
                -Angle::QUARTER
            } else {
                Angle::QUARTER
            };
            (plumb - angle, path)
        });
        let heading = file.heading.as_ref().and_then(|value| {
            let path = path.key("heading");
            Some((self.angle(value, &path)?, path))
        });
        let mut levels: Vec<(&str, Angle, Path)> = Vec::new();
        levels.extend(rod.map(|(angle, path)| ("the level on the rod", angle, path)));
        levels.extend(face.map(|(angle, path)| ("the level on the face", angle, path)));
        let good_to = bench.measuring.level;
        let mut joined = false;
        for (name, angle, path) in levels {
            let off = Angle::QUARTER - angle.abs();
            let what = if let Some((heading, _)) = heading.as_ref().filter(|_| off < STEEP) {
                // Alone the heading of what is nearly plumb would mean nothing.
                joined = true;
                leveled(angle, *heading, bench, None)
            } else if off < good_to * PLUMB {
                let off = off.radians();
                let lean = Angle::from_radians(off.hypot(good_to.radians()));
                let up = if angle < Angle::ZERO {
                    -bench.level.up
                } else {
                    bench.level.up
                };
                even(up, lean)
            } else {
                let up = bench.level.up;
                Observed::Elevation { up, angle, good_to }
            };
            measured.add(name, what, path);
        }
        if let Some((angle, path)) = heading.filter(|_| !joined) {
            let what = Observed::Heading {
                up: bench.level.up,
                ahead: bench.level.ahead,
                angle,
                good_to: bench.measuring.heading,
            };
            measured.add("the heading", what, path);
        }
    }

    fn points(
        &mut self,
        values: &Option<Vec<Vec<Quantity>>>,
        path: &Path,
        name: &str,
        measured: &mut Measured,
        what: impl Fn(Point) -> Observed,
    ) {
        for (i, value) in values.iter().flatten().enumerate() {
            let path = path.index(i);
            if let Some(at) = self.center(value, &path) {
                measured.add(format!("{name} {}", i + 1), what(at), path);
            }
        }
    }

    /// Diameters of rim and bolt circle, which only help where points were touched.
    fn diameters(&mut self, file: &MeasuredFile, path: &Path, measured: &mut Measured) {
        let good_to = measured.readings.measuring.caliper / 2.0;
        for (value, key, points, of) in [
            (&file.rim_diameter, "rim_diameter", &file.rim, "rim"),
            (&file.bolt_circle, "bolt_circle", &file.bolts, "bolts"),
        ] {
            let Some(value) = value else { continue };
            let path = path.key(key);
            let touched = |points: &Option<Vec<_>>| points.as_ref().is_some_and(|p| !p.is_empty());
            // The tube's outside is as thick as its rim.
            let by_tube = of == "rim" && (file.scan_rim.is_some() || touched(&file.outside));
            if !touched(points) && !by_tube {
                let help = format!("touch points and give them as '{of}', or leave it out");
                self.error(&path, format!("says nothing without '{of}'"), help);
                continue;
            }
            let Some(diameter) = self.length(value, &path, Sign::Positive) else {
                continue;
            };
            let radius = diameter / 2.0;
            let (name, what) = if of == "rim" {
                (
                    "the rim's diameter",
                    Observed::RimRadius { radius, good_to },
                )
            } else {
                ("the bolt circle", Observed::BoltRadius { radius, good_to })
            };
            measured.add(name, what, path);
        }
    }

    fn rod(&mut self, files: Option<&[RodFile]>, path: &Path, measured: &mut Measured) {
        let tools = measured.readings.measuring;
        for (i, file) in files.unwrap_or_default().iter().enumerate() {
            let path = path.index(i);
            let (at, out) = match file {
                RodFile::Bare(values) => (self.center(values, &path), Some(None)),
                RodFile::Point(file) => (
                    self.required_point(&file.at, &path.key("at")),
                    match &file.out {
                        Some(out) => self.length(out, &path.key("out"), Sign::Any).map(Some),
                        None => Some(None),
                    },
                ),
            };
            if let (Some(at), Some(out)) = (at, out) {
                let what = Observed::OnRod {
                    at,
                    good_to: tools.point,
                    out: out.map(|out| (out, tools.tape)),
                };
                measured.add(format!("rod point {}", i + 1), what, path);
            }
        }
    }

    fn tapes(&mut self, file: &MeasuredFile, path: &Path, measured: &mut Measured) {
        let good_to = measured.readings.measuring.tape;
        let tapes = file.tape.as_deref().unwrap_or_default();
        for (i, tape) in tapes.iter().enumerate() {
            self.tape_row(tape, &path.key("tape").index(i), measured);
        }
        let Some(tip) = &file.tip else { return };
        let path = path.key("tip");
        if !tapes.iter().any(|tape| tape.tip.is_some()) {
            let help = "tape from pins to the tip and give these as 'tape', or leave it out";
            return self.error(&path, "says nothing without a tape to the tip", help);
        }
        if let Some(out) = self.length(tip, &path, Sign::Positive) {
            let what = Observed::TipOut { out, good_to };
            measured.add("the tip's distance from the face", what, path);
        }
    }

    fn tape_row(&mut self, file: &TapeFile, path: &Path, measured: &mut Measured) {
        let good_to = measured.readings.measuring.tape;
        let name = self.required(&file.pin, &path.key("pin"), "the pin's name");
        let name = name.and_then(|name| self.text(name, &path.key("pin")));
        let names: Vec<String> = measured
            .readings
            .pins
            .iter()
            .map(|p| p.name.clone())
            .collect();
        let pin = name.and_then(|name| {
            let known = names.iter().position(|known| *known == name);
            known.or_else(|| {
                let help = if names.is_empty() {
                    format!("give its place: \"pins\": {{ \"{name}\": [x, y, z] }}")
                } else {
                    format!("the pins are {}", names.join(", "))
                };
                self.fail(&path.key("pin"), format!("there is no pin '{name}'"), help)
            })
        });
        if file.center.is_none() && file.tip.is_none() {
            let help = "give what the tape reads to 'center', to 'tip', or both";
            return self.error(path, "holds no distance", help);
        }
        for (value, key) in [(&file.center, "center"), (&file.tip, "tip")] {
            let Some(value) = value else { continue };
            let path = path.key(key);
            let distance = self.length(value, &path, Sign::Positive);
            let (Some(pin), Some(distance)) = (pin, distance) else {
                continue;
            };
            let (to, what) = if key == "tip" {
                let what = Observed::ToTip {
                    pin,
                    distance,
                    good_to,
                };
                ("the tip", what)
            } else {
                let what = Observed::ToCenter {
                    pin,
                    distance,
                    good_to,
                };
                ("the center", what)
            };
            measured.add(
                format!("the tape from '{}' to {to}", names[pin]),
                what,
                path,
            );
        }
    }

    /// What tells one of two ports that fit, and the rim of a scan.
    fn hints(&mut self, file: &MeasuredFile, path: &Path, measured: &mut Measured) {
        if let Some(toward) = &file.toward {
            measured.readings.toward = self.heading(toward, &path.key("toward"));
        }
        if let Some(near) = &file.near {
            measured.readings.near = self.center(near, &path.key("near"));
        }
        if let Some(rim) = &file.scan_rim {
            measured.rim = self.rim_pick(rim, &path.key("scan_rim"));
        }
    }

    fn rim_pick(&mut self, file: &ScanRimFile, path: &Path) -> Option<RimPick> {
        let scan = self.required(&file.scan, &path.key("scan"), "the scan's name");
        let scan = scan.and_then(|scan| self.text(scan, &path.key("scan")));
        let near = self.required_point(&file.near, &path.key("near"));
        Some(RimPick {
            scan: scan?,
            near: near?,
            path: path.clone(),
        })
    }

    fn angle(&mut self, value: &Quantity, path: &Path) -> Option<Angle> {
        let angle = self.angle_or(&Some(value.clone()), path, Angle::ZERO)?;
        if angle.abs() > Angle::FULL || !angle.is_finite() {
            return self.fail(path, "is more than a whole turn", "give degrees up to 360");
        }
        Some(angle)
    }

    /// An angle from level.
    fn rise(&mut self, value: &Quantity, path: &Path) -> Option<Angle> {
        let angle = self.angle(value, path)?;
        if angle.abs() > Angle::QUARTER {
            let help = "a level reads 0 lying and 90 plumb; negative points downward";
            return self.fail(path, "must be from -90° to 90°", help);
        }
        Some(angle)
    }
}

const AXES: [&str; 3] = ["x", "y", "z"];

/// A direction that may be off as much any way.
fn even(direction: Direction, lean: Angle) -> Observed {
    Observed::Outward {
        direction,
        across: across(&direction),
        good_to: [lean; 2],
    }
}

/// The direction that rises by `rise` and goes clockwise by `heading` from `ahead`.
fn pointing(up: &Direction, ahead: &Direction, heading: Angle, rise: Angle) -> Direction {
    let (sin, cos) = heading.sin_cos();
    let level = ahead.into_inner() * cos + ahead.cross(up) * sin;
    let (sin, cos) = rise.sin_cos();
    Direction::new_normalize(level * cos + up.into_inner() * sin)
}

/// A direction by level and heading, whose deviations differ: up and down as good as the
/// level, sideways as good as the heading, which counts less the steeper it points.
fn leveled(level: Angle, heading: Angle, bench: &Bench, lean: Option<Angle>) -> Observed {
    let direction = pointing(&bench.level.up, &bench.level.ahead, heading, level);
    let over = pointing(
        &bench.level.up,
        &bench.level.ahead,
        heading + Angle::QUARTER,
        Angle::ZERO,
    );
    let (sin, cos) = level.sin_cos();
    let tools = bench.measuring;
    // Where it points straight up, the level says so both ways.
    let sideways = (tools.heading.radians() * cos).hypot(tools.level.radians() * sin);
    let sideways = Angle::from_radians(sideways);
    Observed::Outward {
        direction,
        across: [Direction::new_unchecked(direction.cross(&over)), over],
        good_to: [lean.unwrap_or(tools.level), lean.unwrap_or(sideways)],
    }
}
