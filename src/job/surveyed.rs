//! [`PortSurvey`]: what was measured of a port, what came of it, and what to say about it.

use super::Problem;
use super::measured::{Measured, RimPick};
use super::path::Path;
use crate::geometry::{Direction, Point, Scatter, Vector, angle_between};
use crate::survey::{Observed, Readings, SurveyError, Surveyed, Suspicion, survey};
use crate::units::{Angle, Length, Style, line_text};

/// What was measured of a port, and what came of it.
#[derive(Clone, Debug, PartialEq)]
pub struct PortSurvey {
    /// The port's name.
    pub port: String,
    /// What was measured.
    pub readings: Readings,
    /// What came of it; `None` while a rim is still to be picked from a scan.
    pub found: Option<Surveyed>,
    /// The rim that is still to be picked.
    pub(super) rim: Option<RimPick>,
    /// Whether center and outward are given, not measured.
    stated: bool,
    /// Whether a scan told which way is out.
    pub(super) picked: bool,
    /// Where each reading is in the job file; those from a scan's rim are where it is.
    paths: Vec<Path>,
    path: Path,
}

impl PortSurvey {
    pub(super) fn new(port: &str, measured: Measured, path: Path) -> Self {
        Self {
            port: port.to_owned(),
            readings: measured.readings,
            found: None,
            rim: measured.rim,
            stated: measured.stated,
            picked: false,
            paths: measured.paths,
            path,
        }
    }

    /// Whether center and outward are given and nothing else.
    pub const fn is_stated(&self) -> bool {
        self.stated
    }

    /// Whether center and outward are given as exact.
    pub fn is_exact(&self) -> bool {
        let exact = |what: &Observed| match what {
            Observed::Coordinate { good_to, .. } => *good_to == Length::ZERO,
            Observed::Outward { good_to, .. } => *good_to == [Angle::ZERO; 2],
            _ => false,
        };
        self.is_stated() && self.readings.list.iter().all(|r| exact(&r.what))
    }

    /// The outward direction to the last digit, where it is given and nothing else is.
    fn given(&self) -> Option<Direction> {
        let is_stated = self.is_stated();
        let given = self
            .readings
            .list
            .iter()
            .find_map(|reading| match reading.what {
                Observed::Outward { direction, .. } => Some(direction),
                _ => None,
            });
        given.filter(|_| is_stated)
    }

    /// Fits the readings, unless a rim is still to come.
    pub fn settle(&mut self, style: Style) -> Result<(), Problem> {
        if self.rim.is_some() {
            return Ok(());
        }
        match survey(&self.readings) {
            Ok(found) => {
                self.found = Some(found);
                Ok(())
            }
            Err(error) => Err(self.refusal(&error, style)),
        }
    }

    /// Center, outward direction and how well both are known. Before a scan's rim is
    /// picked, about where it is.
    pub(super) fn place(&self) -> (Point, Direction, Scatter) {
        if let Some(found) = &self.found {
            let outward = self.given().unwrap_or(found.outward);
            let scatter = if self.is_exact() {
                Scatter::none()
            } else {
                found.scatter
            };
            return (found.center, outward, scatter);
        }
        let center = self.rim.as_ref().map(|rim| rim.near).unwrap_or_default();
        let outward = self.readings.toward.unwrap_or_else(Vector::z_axis);
        (center, outward, Scatter::none())
    }

    /// Adds a reading that a scan gives.
    pub fn add(&mut self, name: String, what: Observed, path: &Path) {
        self.readings
            .list
            .push(crate::survey::Reading { name, what });
        self.paths.push(path.clone());
    }

    fn refusal(&self, error: &SurveyError, style: Style) -> Problem {
        let (message, help) = error.written(style);
        Problem::at(&self.path, message, help)
    }

    /// What is odd about the readings.
    pub fn warnings(&self, style: Style) -> Vec<Problem> {
        let Some(found) = &self.found else {
            return Vec::new();
        };
        let mut all: Vec<Problem> = found
            .suspicions
            .iter()
            .map(|suspicion| self.suspicion(suspicion, found, style))
            .collect();
        if all.is_empty() && found.disagreement > 1.0 {
            let message = format!(
                "the readings disagree {:.1} times as much as their accuracy explains",
                found.disagreement
            );
            let help = "measure again, or say under 'measuring' how good the tools really are";
            all.push(Problem::at(&self.path, message, help));
        }
        all.extend(self.beside_hints(found, style));
        all.extend(self.poorly_held(found, style));
        all
    }

    fn suspicion(&self, suspicion: &Suspicion, found: &Surveyed, style: Style) -> Problem {
        let off = suspicion.off.written(style);
        let name = |i: usize| self.readings.list[i].name.as_str();
        if let [one] = suspicion.readings[..] {
            let message = format!(
                "{} is {off} off what the other readings say; it is left out",
                name(one)
            );
            return Problem::at(&self.paths[one], message, "measure it again");
        }
        let named: Vec<&str> = suspicion
            .readings
            .iter()
            .take(MOST_NAMED)
            .map(|&i| name(i))
            .collect();
        let more = suspicion.readings.len() - named.len();
        let more = if more > 0 {
            format!(" and {more} more")
        } else {
            String::new()
        };
        let message = format!(
            "one of these is off, perhaps by {off}, and nothing tells which: {}{more}",
            named.join(", ")
        );
        let next = found.next.as_ref();
        let next = next.map(|next| format!(", or {}", next.what.written(style)));
        let help = format!("measure them again{}", next.unwrap_or_default());
        Problem::at(&self.path, message, help)
    }

    /// Where the port came out far from where it was said to be, roughly.
    fn beside_hints(&self, found: &Surveyed, style: Style) -> Vec<Problem> {
        let mut all = Vec::new();
        let path = self.path.key("measured");
        let away = self
            .readings
            .near
            .map(|near| Length::from_mm((found.center - near).norm()));
        if let Some(away) = away.filter(|away| *away > FAR) {
            let message = format!("the center comes out {} from 'near'", style.length(away));
            let help = "check 'near', the unit, and that no readings were swapped";
            all.push(Problem::at(&path.key("near"), message, help));
        }
        let toward = self.readings.toward.filter(|_| !self.picked);
        let lean = toward.map(|toward| angle_between(&found.outward, &toward));
        if let Some(lean) = lean.filter(|lean| *lean > ASIDE) {
            let message = format!("the port faces {} off 'toward'", style.angle(lean));
            let help = "check 'toward', and the signs of levels and headings";
            all.push(Problem::at(&path.key("toward"), message, help));
        }
        all
    }

    /// That the port is held poorly, then each cause with what would help.
    fn poorly_held(&self, found: &Surveyed, style: Style) -> Vec<Problem> {
        let Some(poor) = &found.poor else {
            return Vec::new();
        };
        let message = format!(
            "the readings hold the center to {} {} and the direction to {}, two of three within",
            style.decimal(poor.place.0),
            line_text(poor.place.1.into_inner()),
            style.angle(poor.lean.0),
        );
        let help = match &found.next {
            Some(next) => format!(
                "measure {}: then {} and {}",
                next.what.written(style),
                style.decimal(next.place),
                style.angle(next.lean)
            ),
            None => "measure more of it, or with better tools".to_owned(),
        };
        let causes = poor.causes.iter().map(|cause| {
            let (why, help) = cause.written(style);
            Problem::at(&self.path, why, help)
        });
        std::iter::once(Problem::at(&self.path, message, help))
            .chain(causes)
            .collect()
    }

    /// Warns of a rim that has little to do with the tube.
    pub(super) fn beside_tube(&self, od: Length, style: Style) -> Option<Problem> {
        let rim = self.found.as_ref()?.rim?;
        let times = rim / od;
        let unlike = !(1.0 / UNLIKE..=UNLIKE).contains(&times);
        unlike.then(|| {
            Problem::at(
                &self.path,
                format!(
                    "the rim is {} across, the tube {}",
                    style.decimal(rim),
                    style.decimal(od)
                ),
                "check the unit: an inch is 25.4 mm",
            )
        })
    }
}

/// Most readings that one message names.
const MOST_NAMED: usize = 12;
/// A center farther than this from where it was said to be, roughly, is no slip of the
/// hand: 6 in.
const FAR: Length = Length::from_inches(6.0);
/// The same for the direction.
const ASIDE: Angle = Angle::from_degrees(75.0);
/// A rim so many times larger or smaller than the tube is measured in another unit.
const UNLIKE: f64 = 4.0;
