//! [`ScanOrder`]: a scan that the job asks for, checked but not read yet.

use super::file_values::Text;
use super::path::Path;
use super::scan_file::{LandmarkFile, RimFile, ScanFile, ZoneFile};
use super::values::{Reader, Sign};
use super::words::nearest;
use crate::run::Port;
use crate::scan::{Landmark, RimMatch, Wanted};
use crate::scene::Solid;
use crate::units::{Length, LengthUnit};
use std::collections::BTreeMap;

/// Most scans of a job.
const MAX_SCANS: usize = 20;
/// Most zones of a scan.
const MAX_ZONES: usize = 20;
/// Most landmarks, rims, touched points and names of a scan, each.
const MAX_MARKS: usize = 1000;
/// Longest path to a file.
const LONGEST_PATH: usize = 4096;

/// What to read, where to put it, and what distance to keep from it.
#[derive(Clone, Debug, PartialEq)]
pub struct ScanOrder {
    /// What the user calls it.
    pub name: String,
    /// Where it is, as the job has it: beside the job unless it says otherwise.
    pub file: String,
    /// Its unit and groups.
    pub wanted: Wanted,
    /// Distance to keep from what no zone holds.
    pub clearance: Length,
    /// Parts with clearances of their own; the first that holds a triangle counts.
    pub zones: Vec<Zone>,
    /// Marks known in the scan and in the job.
    pub landmarks: Vec<Landmark>,
    /// Rims that are ports.
    pub rims: Vec<RimMatch>,
    /// Points touched on the surface, in the job's frame.
    pub touch: Vec<crate::geometry::Point>,
    /// JSON path in the job file, for messages.
    pub(super) path: Path,
}

/// A part of a scan with a clearance of its own.
#[derive(Clone, Debug, PartialEq)]
pub struct Zone {
    /// What the user calls it.
    pub name: String,
    /// Patterns of groups in it.
    pub groups: Vec<String>,
    /// A body that holds the middles of its triangles.
    pub body: Option<Solid>,
    /// Distance to keep.
    pub clearance: Length,
}

impl Reader<'_> {
    /// The scans of a scene; `ports` by name, `None` for one that is wrong.
    pub(super) fn scans(
        &mut self,
        files: Option<&[ScanFile]>,
        path: &Path,
        clearance: Option<Length>,
        ports: &BTreeMap<String, Option<Port>>,
    ) -> Option<Vec<ScanOrder>> {
        let files = self.at_most(files.unwrap_or_default(), path, MAX_SCANS, "scans")?;
        let orders = self.each(files, path, |reader, file, path| {
            reader.scan(file, path, clearance, ports)
        })?;
        for (i, order) in orders.iter().enumerate() {
            if orders[..i].iter().any(|other| other.name == order.name) {
                self.error(
                    &path.index(i).key("name"),
                    "is the name of another scan too",
                    "give each scan a name of its own",
                );
            }
        }
        Some(orders)
    }

    fn scan(
        &mut self,
        file: &ScanFile,
        path: &Path,
        clearance: Option<Length>,
        ports: &BTreeMap<String, Option<Port>>,
    ) -> Option<ScanOrder> {
        let name = self.required(&file.name, &path.key("name"), "\"bay\"");
        let name = name.and_then(|name| self.text(name, &path.key("name")));
        let source = self.required(&file.file, &path.key("file"), "\"bay.stl\"");
        let source = source.and_then(|source| self.file_name(source, &path.key("file")));
        let unit = self.scan_unit(&file.units, &path.key("units"));
        let keep = self.patterns(file.keep.as_deref(), &path.key("keep"));
        let drop = self.patterns(file.drop.as_deref(), &path.key("drop"));
        let clearance = match &file.clearance {
            Some(own) => self.length(own, &path.key("clearance"), Sign::NotNegative),
            None => clearance,
        };
        let zones = file.zones.as_deref().unwrap_or_default();
        let zones = self
            .at_most(zones, &path.key("zones"), MAX_ZONES, "zones")
            .and_then(|zones| self.each(zones, &path.key("zones"), Self::zone));
        let unit_known = unit.unwrap_or(LengthUnit::Mm);
        let landmarks = file.landmarks.as_deref().unwrap_or_default();
        let landmarks = self.marks(landmarks, &path.key("landmarks"), |reader, mark, path| {
            reader.landmark(mark, path, unit_known)
        });
        let rims = file.rims.as_deref().unwrap_or_default();
        let rims = self.marks(rims, &path.key("rims"), |reader, rim, path| {
            reader.rim(rim, path, unit_known, ports)
        });
        let touch = file.touch.as_deref().unwrap_or_default();
        let touch = self.marks(touch, &path.key("touch"), |reader, point, path| {
            reader.center(point, path)
        });
        Some(ScanOrder {
            name: name?,
            file: source?,
            wanted: Wanted {
                unit: Length::from_unit(1.0, unit?),
                keep: keep?,
                drop: drop?,
            },
            clearance: clearance?,
            zones: zones?,
            landmarks: landmarks?,
            rims: rims?,
            touch: touch?,
            path: path.clone(),
        })
    }

    fn file_name(&mut self, text: &Text, path: &Path) -> Option<String> {
        let name = text.0.as_str().unwrap_or_default();
        let is_name = !name.trim().is_empty()
            && name.len() <= LONGEST_PATH
            && !name.chars().any(char::is_control);
        if is_name {
            return Some(name.to_owned());
        }
        self.fail(
            path,
            "is not the name of a file",
            "write it in double quotes",
        )
    }

    fn scan_unit(&mut self, text: &Option<Text>, path: &Path) -> Option<LengthUnit> {
        // Nothing in an STL says what its numbers are: to guess is to be off by 25.4.
        let text = self.required(text, path, "\"mm\", or the unit of the file's numbers")?;
        let unit = text.0.as_str().and_then(LengthUnit::from_symbol);
        let symbols = LengthUnit::ALL.map(LengthUnit::symbol).join(", ");
        unit.or_else(|| self.fail(path, "is no unit", format!("use one of {symbols}")))
    }

    fn patterns(&mut self, texts: Option<&[Text]>, path: &Path) -> Option<Vec<String>> {
        let texts = self.at_most(texts.unwrap_or_default(), path, MAX_MARKS, "names")?;
        self.each(texts, path, |reader, text, path| {
            match text.0.as_str().filter(|text| !text.is_empty()) {
                Some(text) => Some(text.to_owned()),
                None => reader.fail(path, "is not a name", "write a group's name, or \"pipe*\""),
            }
        })
    }

    fn zone(&mut self, file: &ZoneFile, path: &Path) -> Option<Zone> {
        let name = self.required(&file.name, &path.key("name"), "\"wiring\"");
        let name = name.and_then(|name| self.text(name, &path.key("name")));
        let groups = self.patterns(file.groups.as_deref(), &path.key("groups"));
        let body = match &file.r#box {
            Some(body) => self.block(body, &path.key("box")).map(Some),
            None => Some(None),
        };
        let clearance = self.required(&file.clearance, &path.key("clearance"), "its clearance");
        let clearance =
            clearance.and_then(|c| self.length(c, &path.key("clearance"), Sign::NotNegative));
        let (groups, body) = (groups?, body?);
        if groups.is_empty() && body.is_none() {
            return self.fail(path, "holds nothing", "give 'groups', a 'box' or both");
        }
        Some(Zone {
            name: name?,
            groups,
            body,
            clearance: clearance?,
        })
    }

    fn landmark(&mut self, file: &LandmarkFile, path: &Path, unit: LengthUnit) -> Option<Landmark> {
        let name = match &file.name {
            Some(name) => self.text(name, &path.key("name")),
            None => Some(format!(
                "landmark {}",
                path.last_index().map_or(1, |i| i + 1)
            )),
        };
        let in_scan = self.in_unit(unit, |reader| {
            reader.required_point(&file.scan, &path.key("scan"))
        });
        let in_job = self.required_point(&file.job, &path.key("job"));
        Some(Landmark {
            name: name?,
            in_scan: in_scan?,
            in_job: in_job?,
        })
    }

    fn rim(
        &mut self,
        file: &RimFile,
        path: &Path,
        unit: LengthUnit,
        ports: &BTreeMap<String, Option<Port>>,
    ) -> Option<RimMatch> {
        let near = self.in_unit(unit, |reader| {
            reader.required_point(&file.near, &path.key("near"))
        });
        let name = self.required(&file.port, &path.key("port"), "the port's name");
        let name = self.text(name?, &path.key("port"))?;
        let Some(port) = ports.get(&name) else {
            let known: Vec<String> = ports.keys().cloned().collect();
            let help = nearest(&name, &known);
            return self.fail(
                &path.key("port"),
                format!("there is no port '{name}'"),
                help,
            );
        };
        // A port that is wrong itself has been reported.
        let port = port.as_ref()?;
        Some(RimMatch {
            near: near?,
            within: RimMatch::USUAL_REACH,
            center: port.center,
            outward: port.outward,
            name,
        })
    }

    fn marks<T, U>(
        &mut self,
        files: &[T],
        path: &Path,
        read: impl FnMut(&mut Self, &T, &Path) -> Option<U>,
    ) -> Option<Vec<U>> {
        let files = self.at_most(files, path, MAX_MARKS, "entries")?;
        self.each(files, path, read)
    }

    fn at_most<'v, T>(
        &mut self,
        files: &'v [T],
        path: &Path,
        most: usize,
        what: &str,
    ) -> Option<&'v [T]> {
        if files.len() <= most {
            return Some(files);
        }
        let message = format!("holds {} {what}", files.len());
        self.fail(path, message, format!("give at most {most}"))
    }
}
