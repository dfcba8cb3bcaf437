//! Reading a job's scans, putting them in its frame, and in its runs' way.

use super::scan::ScanOrder;
use super::scan_marks::Marking;
use super::{Job, LoadedScan, Problem};
use crate::geometry::Point;
use crate::scan::{
    IcpLimits, IcpWarning, Mesh, Placed, Placement, Reading, Settled, Surface, fits, read_mesh,
    settle_on_touches,
};
use crate::scene::{Body, Obstacle, Side};
use crate::units::{Length, counted};
use std::io::Read;
use std::sync::Arc;

impl Job {
    /// Reads the scans that the job asks for, once, and puts them in every run's way.
    /// `open` gives a file's bytes by the name that the job has. Returns warnings, or all
    /// that is wrong.
    pub fn load_scans<R: Read>(
        &mut self,
        open: impl Fn(&str) -> std::io::Result<R>,
    ) -> Result<Vec<Problem>, Vec<Problem>> {
        let mut warnings = Vec::new();
        let mut errors = Vec::new();
        let mut obstacles = Vec::new();
        let picked = self.surveys.iter().filter(|survey| survey.rim.is_some());
        let picked: Vec<String> = picked.map(|survey| survey.port.clone()).collect();
        for order in std::mem::take(&mut self.scans) {
            match self.load(&order, &open, &mut warnings) {
                Ok((loaded, found)) => {
                    obstacles.extend(found);
                    self.loaded.push(loaded);
                }
                Err(problem) => errors.push(problem),
            }
        }
        // Where a port that is picked from a scan stands is known only now.
        errors.extend(self.buried(|name| picked.iter().any(|port| port == name)));
        if !errors.is_empty() {
            return Err(errors);
        }
        for run in &mut self.runs {
            run.task.obstacles.extend(obstacles.iter().cloned());
        }
        self.warnings.extend(warnings.iter().cloned());
        Ok(warnings)
    }

    fn load<R: Read>(
        &mut self,
        order: &ScanOrder,
        open: impl Fn(&str) -> std::io::Result<R>,
        warnings: &mut Vec<Problem>,
    ) -> Result<(LoadedScan, Vec<Obstacle>), Problem> {
        let file = order.path.key("file");
        let source = open(&order.file).map_err(|error| {
            let message = format!("'{}': {error}", order.file);
            let help = "check the name; it is looked for beside the job file";
            Problem::at(&file, message, help)
        })?;
        let reading = read_mesh(&order.file, source, &order.wanted)
            .map_err(|e| Problem::at(&file, format!("'{}' {e}", order.file), e.help()))?;
        self.warn_of_reading(order, &reading, warnings);
        let Reading {
            mesh,
            groups_in_file,
            dropped,
            ..
        } = reading;
        let marking = Marking {
            measuring: self.bench.measuring,
            style: self.style,
        };
        let (mesh, placed, settled) = put(mesh, order, marking, warnings)?;
        self.pick_rims(&order.name, &mesh, placed.as_ref(), warnings)?;
        let mesh = self.warn_of_unit(order, mesh, warnings);
        let bounds = mesh.bounds().unwrap_or_default();
        let triangles = mesh.triangles.len();
        let parts = parts(mesh, order, warnings);
        let loaded = LoadedScan {
            name: order.name.clone(),
            file: order.file.clone(),
            groups: groups_in_file.len(),
            triangles,
            dropped,
            bounds,
            placed,
            settled,
            parts: parts
                .iter()
                .map(|part| (part.name.clone(), part.mesh.triangles.len(), part.clearance))
                .collect(),
        };
        let obstacles = parts.into_iter().map(|part| Obstacle {
            name: part.name,
            body: Body::Scan(Arc::new(Surface::new(part.mesh))),
            side: Side::KeepOut,
            clearance: part.clearance,
            reach: Length::ZERO,
        });
        Ok((loaded, obstacles.collect()))
    }

    fn warn_of_reading(&self, order: &ScanOrder, reading: &Reading, warnings: &mut Vec<Problem>) {
        let names: Vec<&str> = reading
            .groups_in_file
            .iter()
            .map(|(name, _)| name.as_str())
            .collect();
        for pattern in &reading.unused_patterns {
            warnings.push(Problem::at(
                &order.path,
                format!("no group of '{}' is named {pattern:?}", order.file),
                format!("it has {}", listed(&names)),
            ));
        }
        let most = reading.mesh.triangles.len() / 2;
        if reading.dropped.not_finite + reading.dropped.degenerate > most {
            warnings.push(Problem::at(
                &order.path,
                format!("of '{}', {}", order.file, reading.dropped),
                "more is damaged than is used: export the scan again",
            ));
        }
    }
}

/// A mesh where landmarks, rims and touched points say.
fn put(
    mut mesh: Mesh,
    order: &ScanOrder,
    marking: Marking,
    warnings: &mut Vec<Problem>,
) -> Result<(Mesh, Option<Placed>, Option<Settled>), Problem> {
    let mut placement = Placement::identity();
    let mut placed = None;
    if !order.landmarks.is_empty() || !order.rims.is_empty() {
        let found = marking.place(&mesh, order, warnings)?;
        placement = found.placement;
        placed = Some(found);
    }
    let mut settled = None;
    if !order.touch.is_empty() {
        let path = order.path.key("touch");
        let surface = Surface::new(mesh);
        let found = settle_on_touches(&surface, &order.touch, &placement, &IcpLimits::default())
            .map_err(|error| {
                let help = "place the scan by landmarks or rims first";
                Problem::at(&path, error.to_string(), help)
            })?;
        for warning in &found.warnings {
            let help = match warning {
                IcpWarning::Free(_) => "touch more places, on faces that look different ways",
                IcpWarning::Off { .. } | IcpWarning::Beside { .. } => {
                    "check its three numbers, and touch a place that the scan has"
                }
                IcpWarning::Far { .. } | IcpWarning::Unsettled { .. } => {
                    "place the scan by landmarks or rims first, then settle it"
                }
            };
            warnings.push(Problem::at(&path, warning.to_string(), help));
        }
        placement = found.placement;
        settled = Some(found);
        mesh = surface.into_mesh();
    }
    if placed.is_some() || settled.is_some() {
        placement.carry(&mut mesh);
    }
    Ok((mesh, placed, settled))
}

/// A part of a scan that one clearance is kept from.
struct Part {
    name: String,
    mesh: Mesh,
    clearance: Length,
}

/// The scan's zones and what is left, those that hold anything.
fn parts(mesh: Mesh, order: &ScanOrder, warnings: &mut Vec<Problem>) -> Vec<Part> {
    if order.zones.is_empty() {
        return vec![Part {
            name: order.name.clone(),
            mesh,
            clearance: order.clearance,
        }];
    }
    let mut zone_of = vec![None; mesh.triangles.len()];
    for group in &mesh.groups {
        let named = |patterns: &[String]| patterns.iter().any(|p| fits(p, &group.name));
        for triangle in group.triangles.clone() {
            let [a, b, c] = mesh.corners(triangle);
            let middle = Point::from((a.coords + b.coords + c.coords) / 3.0);
            zone_of[triangle] = order.zones.iter().position(|zone| {
                let held = zone.body.as_ref();
                let is_held = held.is_none_or(|body| body.distance(&middle).0 <= 0.0);
                is_held && (zone.groups.is_empty() || named(&zone.groups))
            });
        }
    }
    let zones = order.zones.iter().map(Some).chain([None]).enumerate();
    let mut found = Vec::new();
    for (i, zone) in zones {
        let wanted = zone.map(|_| i);
        let part = mesh.part(|triangle| zone_of[triangle] == wanted);
        if part.triangles.is_empty() {
            if let Some(zone) = zone {
                warnings.push(Problem::at(
                    &order.path.key("zones").index(i),
                    format!("'{}' holds nothing of '{}'", zone.name, order.name),
                    "check its groups and its box, which is in the job's frame",
                ));
            }
            continue;
        }
        found.push(Part {
            name: match zone {
                Some(zone) => format!("{}: {}", order.name, zone.name),
                None => order.name.clone(),
            },
            mesh: part,
            clearance: zone.map_or(order.clearance, |zone| zone.clearance),
        });
    }
    found
}

/// Names for a message, not too many.
fn listed(names: &[&str]) -> String {
    const MOST: usize = 12;
    let named: Vec<&str> = names.iter().filter(|n| !n.is_empty()).copied().collect();
    if named.is_empty() {
        return "no named groups".to_owned();
    }
    let shown = named[..named.len().min(MOST)].join(", ");
    match named.len().checked_sub(MOST) {
        None | Some(0) => shown,
        Some(more) => format!("{shown} and {}", counted(more, "other")),
    }
}
