//! [`PortSurvey`]: what was measured of a port, what came of it, and what to say about it.

use super::Problem;
use super::measured::{Measured, RimPick};
use super::path::Path;
use crate::geometry::{Direction, Point, Scatter, Vector};
use crate::survey::{Cause, Observed, Readings, SurveyError, Surveyed, survey};
use crate::units::{Angle, Length, Style, direction_text};

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
            paths: measured.paths,
            path,
        }
    }

    /// Whether center and outward are given and nothing else.
    pub fn is_stated(&self) -> bool {
        let stated = |what: &Observed| {
            matches!(what, Observed::Coordinate { .. } | Observed::Outward { .. })
        };
        self.readings.list.len() == 4 && self.readings.list.iter().all(|r| stated(&r.what))
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
    pub(super) fn settle(&mut self, style: Style) -> Result<(), Problem> {
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
    pub(super) fn add(&mut self, name: String, what: Observed, path: &Path) {
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
    pub(super) fn warnings(&self, style: Style) -> Vec<Problem> {
        let Some(found) = &self.found else {
            return Vec::new();
        };
        let mut all = self.suspicions(found, style);
        if all.is_empty() && found.disagreement > 1.0 {
            let message = format!(
                "the readings disagree {:.1} times as much as their accuracy explains",
                found.disagreement
            );
            let help = "measure again, or say under 'measuring' how good the tools really are";
            all.push(Problem::at(&self.path, message, help));
        }
        all.extend(found.poor.as_ref().map(|_| self.poorly_held(found, style)));
        all
    }

    fn suspicions(&self, found: &Surveyed, style: Style) -> Vec<Problem> {
        let warn = |suspicion: &crate::survey::Suspicion| {
            let off = suspicion.off.written(style);
            match suspicion.readings[..] {
                [one] => Problem::at(
                    &self.paths[one],
                    format!("is {off} off what the other readings say"),
                    "measure it again",
                ),
                _ => {
                    let names = suspicion.readings.iter().take(MOST_NAMED);
                    let names: Vec<&str> = names
                        .map(|&i| self.readings.list[i].name.as_str())
                        .collect();
                    Problem::at(
                        &self.path,
                        format!(
                            "a reading is off by some {off}, and the others cannot tell which: {}",
                            names.join(", ")
                        ),
                        "measure these again, or one thing more",
                    )
                }
            }
        };
        found.suspicions.iter().map(warn).collect()
    }

    fn poorly_held(&self, found: &Surveyed, style: Style) -> Problem {
        let place = found.scatter.ellipsoid()[0];
        let lean = found.scatter.leans(&found.outward)[0];
        let mut message = format!(
            "the readings hold the center to {} along {} and the direction to {} (1σ)",
            style.decimal(place.0),
            direction_text(place.1.into_inner()),
            style.angle(lean.0),
        );
        let causes = found.poor.iter().flat_map(|poor| &poor.causes);
        let (whys, mut helps) = written(causes, style);
        for why in whys {
            message.push_str("; ");
            message.push_str(&why);
        }
        if helps.is_empty()
            && let Some(next) = &found.next
        {
            helps.push(format!("measure {}", next.what.written(style)));
        }
        if helps.is_empty() {
            helps.push("measure more of it, or with better tools".to_owned());
        }
        Problem::at(&self.path, message, helps.join("; "))
    }
}

/// Most readings that one message names.
const MOST_NAMED: usize = 6;

/// What causes say, and what would help.
fn written<'a>(
    causes: impl Iterator<Item = &'a Cause>,
    style: Style,
) -> (Vec<String>, Vec<String>) {
    causes.map(|cause| cause.written(style)).unzip()
}
