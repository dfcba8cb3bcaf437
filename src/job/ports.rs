//! Ports and their flanges: the file's, checked.

use super::file::{FlangeFile, JobFile, PortFile};
use super::file_values::Quantity;
use super::job::JobRun;
use super::measured::{Bench, Measured};
use super::path::Path;
use super::problem::Problem;
use super::scan::ScanOrder;
use super::surveyed::PortSurvey;
use super::values::{Reader, Sign};
use super::words::nearest;
use crate::run::{Flange, Port};
use crate::units::{Angle, Length, Style};
use std::collections::BTreeMap;

/// Straight tube left at a port unless the job says otherwise: room for the
/// flange's weld and a wrench.
const DEFAULT_STRAIGHT: Length = Length::from_inches(0.5);

/// Most ports: two for each of a job's runs.
const MOST_PORTS: usize = 2000;

/// Ports by name; `None` for one that is wrong.
pub(super) type Ports = BTreeMap<String, Option<Port>>;

impl Reader<'_> {
    /// Ports by name, `None` for one that is wrong, so that a run to it is not blamed for
    /// an unknown name; and what was measured of each.
    pub(super) fn ports(
        &mut self,
        file: &JobFile,
        bench: Option<&Bench>,
    ) -> (Ports, Vec<PortSurvey>) {
        let path = Path::root().key("ports");
        let example = "{ \"outlet\": { \"center\": [0, 0, 0], \"outward\": [0, 0, 1] }, … }";
        let Some(ports) = self.required(&file.ports, &path, example) else {
            return (BTreeMap::new(), Vec::new());
        };
        if ports.len() < 2 {
            self.error(
                &path,
                "holds fewer than two ports",
                "a run needs two: where it begins and where it ends",
            );
        }
        if ports.len() > MOST_PORTS {
            let message = format!("holds {} ports", ports.len());
            self.error(&path, message, format!("give at most {MOST_PORTS}"));
            return (BTreeMap::new(), Vec::new());
        }
        let mut surveys = Vec::new();
        let mut found = Ports::new();
        for (name, file) in ports {
            let path = path.key(name);
            let named = self.name(name, &path).is_some();
            let port = self.port(name, file, &path, bench);
            let port = port.filter(|_| named).map(|(port, survey)| {
                if survey.rim.is_some() {
                    self.picked.push(name.clone());
                }
                surveys.push(survey);
                port
            });
            found.insert(name.clone(), port);
        }
        (found, surveys)
    }

    pub(super) fn warn_unused(&mut self, ports: &Ports, runs: &[JobRun]) {
        for name in ports.keys() {
            let used = |run: &JobRun| [&run.task.start.name, &run.task.end.name].contains(&name);
            if !runs.iter().any(used) {
                let path = Path::root().key("ports").key(name);
                let help = "nothing to do if that is so; else check the names in runs";
                self.warnings
                    .push(Problem::at(&path, "no run uses this port", help));
            }
        }
    }

    fn port(
        &mut self,
        name: &str,
        file: &PortFile,
        path: &Path,
        bench: Option<&Bench>,
    ) -> Option<(Port, PortSurvey)> {
        let measured = self.place(file, path, bench);
        let socket = self.length_or(
            &file.socket,
            &path.key("socket"),
            Sign::NotNegative,
            Length::ZERO,
        );
        let straight = self.length_or(
            &file.straight,
            &path.key("straight"),
            Sign::NotNegative,
            DEFAULT_STRAIGHT,
        );
        let freedom = self.freedom(file.slide.as_deref(), &file.cone, path);
        let flange = match &file.flange {
            Some(flange) => self.flange(flange, &path.key("flange")).map(Some),
            None => Some(None),
        };
        let flange = flange?;
        // A wrench reaches no bolt behind a bend.
        let straight = straight?.max(flange.map_or(Length::ZERO, |flange| flange.wrench));
        let (socket, freedom) = (socket?, freedom?);
        let style = Style::new(self.unit);
        let mut survey = PortSurvey::new(name, measured?, path.clone());
        if let Err(problem) = survey.settle(style) {
            self.errors.push(problem);
            return None;
        }
        self.warnings.extend(survey.warnings(style));
        let (center, outward, scatter) = survey.place();
        let port = Port {
            name: name.to_owned(),
            center,
            outward,
            socket,
            straight,
            freedom,
            flange,
            scatter,
        };
        Some((port, survey))
    }

    /// What is known of where a port is: center and outward, or measurements.
    fn place(&mut self, file: &PortFile, path: &Path, bench: Option<&Bench>) -> Option<Measured> {
        if let Some(measured) = &file.measured {
            for (given, key) in [
                (file.center.is_some(), "center"),
                (file.outward.is_some(), "outward"),
                (file.good_to.is_some(), "good_to"),
            ] {
                if given {
                    let help = "put it into 'measured' as one more reading, or leave one out";
                    self.error(&path.key(key), "stands beside 'measured'", help);
                }
            }
            return self.measured(measured, &path.key("measured"), bench?);
        }
        let (center_path, outward_path) = (path.key("center"), path.key("outward"));
        let center = self.required(
            &file.center,
            &center_path,
            "[x, y, z]; or 'measured', with what was measured",
        );
        let outward = self.required(
            &file.outward,
            &outward_path,
            "[x, y, z], from the face into free space",
        );
        let good_to = file.good_to.clone().unwrap_or_default();
        let path = path.key("good_to");
        let point = match &good_to.center {
            Some(_) => Some(self.deviation(&good_to.center, &path.key("center"), Length::ZERO)?),
            None => None,
        };
        let lean = match &good_to.outward {
            Some(_) => Some(self.lean(&good_to.outward, &path.key("outward"), Angle::ZERO)?),
            None => None,
        };
        // Each is read for its problems, whether the other is there or not.
        let fallback = bench.cloned().unwrap_or_else(Bench::usual);
        if let (None, Some(outward)) = (center, outward) {
            self.outward(outward, &outward_path, &fallback, lean);
        }
        if let (Some(center), None) = (center, outward) {
            self.center(center, &center_path);
        }
        let places = (
            (center?.as_slice(), &center_path),
            (outward?, &outward_path),
        );
        self.stated(places.0, places.1, point, lean, &fallback)
    }

    /// Ports that are picked from a scan: that there is one, and that no scan is placed by
    /// them in turn.
    pub(super) fn check_scan_rims(&mut self, surveys: &[PortSurvey], scans: Option<&[ScanOrder]>) {
        let Some(scans) = scans else { return };
        let names: Vec<String> = scans.iter().map(|scan| scan.name.clone()).collect();
        for survey in surveys {
            let Some(rim) = &survey.rim else { continue };
            if !names.contains(&rim.scan) {
                let help = nearest(&rim.scan, &names);
                let message = format!("there is no scan '{}'", rim.scan);
                self.error(&rim.path.key("scan"), message, help);
            }
            for scan in scans {
                if let Some(i) = scan.rims.iter().position(|r| r.name == survey.port) {
                    let message = format!(
                        "places the scan by '{}', which is itself picked from a scan",
                        survey.port
                    );
                    let help = "place the scan by landmarks, or measure that port";
                    self.error(&scan.path.key("rims").index(i), message, help);
                }
            }
        }
    }

    fn flange(&mut self, file: &FlangeFile, path: &Path) -> Option<Flange> {
        let mut length = |value: &Option<Quantity>, key: &str, example: &str| {
            let path = path.key(key);
            let value = self.required(value, &path, example)?;
            self.length(value, &path, Sign::Positive)
        };
        let radius = length(
            &file.radius,
            "radius",
            "what flange and wrench swing through",
        );
        let wrench = length(&file.wrench, "wrench", "what bolts and wrench stick out");
        Some(Flange {
            radius: radius?,
            wrench: wrench?,
        })
    }
}
