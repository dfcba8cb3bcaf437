//! Reading a job's scans, putting them in its frame, and in its runs' way.

use super::scan::ScanOrder;
use super::{Job, LoadedScan, Problem};
use crate::geometry::Point;
use crate::scan::{
    IcpLimits, IcpWarning, Mesh, PlaceError, Placed, Placement, Reading, Settled, Surface, fits,
    place, read_mesh, settle_on_touches,
};
use crate::scene::{Body, Obstacle, Side};
use crate::units::{Length, LengthUnit, Style, counted};
use std::io::Read;
use std::sync::Arc;

/// A scan whose box is this many times smaller than the ports are apart, or larger, is
/// likely read in a wrong unit.
const FAR_TOO_SMALL: f64 = 0.05;
/// See [`FAR_TOO_SMALL`].
const FAR_TOO_LARGE: f64 = 200.0;
/// A scan that is farther from the ports than so many times its own size likely too.
const FAR_AWAY: f64 = 2.0;

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
        for order in std::mem::take(&mut self.scans) {
            match self.load(&order, &open, &mut warnings) {
                Ok((loaded, found)) => {
                    obstacles.extend(found);
                    self.loaded.push(loaded);
                }
                Err(problem) => errors.push(problem),
            }
        }
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
        let (mesh, placed, settled) = put(mesh, order, warnings)?;
        self.pick_rims(&order.name, &mesh, placed.as_ref(), warnings)?;
        let bounds = mesh.bounds().unwrap_or_default();
        self.warn_of_unit(order, bounds, warnings);
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

    /// Says when a scan is far too small, too large or too far off to be a bay that the
    /// ports are in, and which unit would make sense.
    fn warn_of_unit(&self, order: &ScanOrder, bounds: (Point, Point), warnings: &mut Vec<Problem>) {
        let centers: Vec<Point> = self.ports.values().map(|port| port.center).collect();
        let Some((ports, wide)) = around(&centers) else {
            return;
        };
        if wide <= 0.0 || is_plausible(bounds, ports, wide) {
            return;
        }
        let is_free = order.landmarks.is_empty() && order.rims.is_empty();
        let other = LengthUnit::ALL.into_iter().find(|unit| {
            let factor = unit.mm() / order.wanted.unit.mm();
            let scaled = (bounds.0 * factor, bounds.1 * factor);
            is_free && factor != 1.0 && is_plausible(scaled, ports, wide)
        });
        let style = Style::new(self.style.unit);
        let help = match other {
            Some(unit) => format!("in \"{}\" it would lie about the ports", unit.symbol()),
            None => "check its unit, and that it was measured from the same place".to_owned(),
        };
        warnings.push(Problem::at(
            &order.path.key("units"),
            format!(
                "'{}' reaches from {} to {}: that is not where the ports are",
                order.name,
                style.point(bounds.0.into()),
                style.point(bounds.1.into()),
            ),
            help,
        ));
    }
}

/// Least and greatest coordinates of points, and how far these are apart.
fn around(points: &[Point]) -> Option<((Point, Point), f64)> {
    let first = *points.first()?;
    let bounds = points
        .iter()
        .fold((first, first), |(min, max), p| (min.inf(p), max.sup(p)));
    Some((bounds, (bounds.1 - bounds.0).norm()))
}

/// Whether a box may be that of a bay with ports within `wide` of each other.
fn is_plausible(bounds: (Point, Point), ports: (Point, Point), wide: f64) -> bool {
    let size = (bounds.1 - bounds.0).norm();
    let apart = (bounds.0 - ports.1).sup(&(ports.0 - bounds.1));
    let apart = apart.map(|side| side.max(0.0)).norm();
    (FAR_TOO_SMALL * wide..=FAR_TOO_LARGE * wide).contains(&size) && apart <= FAR_AWAY * size
}

/// A mesh where landmarks, rims and touched points say.
fn put(
    mut mesh: Mesh,
    order: &ScanOrder,
    warnings: &mut Vec<Problem>,
) -> Result<(Mesh, Option<Placed>, Option<Settled>), Problem> {
    let mut placement = Placement::identity();
    let mut placed = None;
    if !order.landmarks.is_empty() || !order.rims.is_empty() {
        let found = place(&mesh, &order.landmarks, &order.rims).map_err(|error| {
            let help = match error {
                PlaceError::Rim { .. } => {
                    "give 'near' about the middle of an open end, in the scan's own axes and units"
                }
                PlaceError::SameRim { .. } => "give each port the rim that is its own",
                PlaceError::TooFew { .. } | PlaceError::Fit(_) => {
                    "measure landmarks that lie apart, or name a rim's port"
                }
            };
            Problem::at(&order.path, error.to_string(), help)
        })?;
        for warning in &found.warnings {
            let help = "see 'runwright check' for what is left over at each";
            warnings.push(Problem::at(&order.path, warning.to_string(), help));
        }
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
