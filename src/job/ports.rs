//! Ports and their flanges: the file's, checked.

use super::Problem;
use super::build::JobRun;
use super::file::{FlangeFile, JobFile, PortFile};
use super::file_values::Quantity;
use super::path::Path;
use super::values::{Reader, Sign};
use crate::geometry::Scatter;
use crate::run::{Flange, Port};
use crate::units::Length;
use std::collections::BTreeMap;

/// Straight tube left at a port unless the job says otherwise: room for the
/// flange's weld and a wrench.
const DEFAULT_STRAIGHT: Length = Length::from_inches(0.5);

impl Reader<'_> {
    /// Ports by name; `None` for one that is wrong, so that a run to it is not
    /// blamed for an unknown name.
    pub(super) fn ports(&mut self, file: &JobFile) -> BTreeMap<String, Option<Port>> {
        let path = Path::root().key("ports");
        let example = "{ \"outlet\": { \"center\": [0, 0, 0], \"outward\": [0, 0, 1] }, … }";
        let Some(ports) = self.required(&file.ports, &path, example) else {
            return BTreeMap::new();
        };
        if ports.len() < 2 {
            self.error(
                &path,
                "holds fewer than two ports",
                "a run needs two: where it begins and where it ends",
            );
        }
        ports
            .iter()
            .map(|(name, port)| {
                let path = path.key(name);
                let named = self.name(name, &path).is_some();
                let port = self.port(name, port, &path).filter(|_| named);
                (name.clone(), port)
            })
            .collect()
    }

    pub(super) fn warn_unused(&mut self, ports: &BTreeMap<String, Option<Port>>, runs: &[JobRun]) {
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

    fn port(&mut self, name: &str, file: &PortFile, path: &Path) -> Option<Port> {
        let center = self.required(&file.center, &path.key("center"), "[x, y, z]");
        let center = center.and_then(|c| self.center(c, &path.key("center")));
        let outward = self.required(
            &file.outward,
            &path.key("outward"),
            "[x, y, z], from the face into free space",
        );
        let outward = outward.and_then(|d| self.direction(d, &path.key("outward")));
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
        Some(Port {
            name: name.to_owned(),
            center: center?,
            outward: outward?,
            socket: socket?,
            straight,
            freedom: freedom?,
            flange,
            scatter: Scatter::none(),
        })
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
