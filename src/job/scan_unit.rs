//! Scans that seem to be read in a wrong unit: nothing in most files says what it is.

use super::scan::ScanOrder;
use super::{Job, Problem};
use crate::geometry::Point;
use crate::scan::{Mesh, Surface};
use crate::units::{Length, LengthUnit, Style};

/// A scan whose box is this many times smaller than the ports are apart, or larger, is
/// likely read in a wrong unit.
const FAR_TOO_SMALL: f64 = 0.05;
/// See [`FAR_TOO_SMALL`].
const FAR_TOO_LARGE: f64 = 200.0;
/// A scan that is farther from the ports than so many times its own size likely too.
const FAR_AWAY: f64 = 2.0;
/// One that is so many times larger than the ports are apart is, if they do not all lie
/// on it and another unit makes it a bay of the usual size…
const LARGE: f64 = 12.0;
/// …which is from this many times as far as the ports are apart
const LEAST_USUAL: f64 = 0.5;
/// to this many times, and of several units the nearest to
const MOST_USUAL: f64 = 6.0;
/// this many times (common practice, no source).
const USUAL: f64 = 2.0;
/// How near to the scan a port that belongs to it lies.
const ON_IT: Length = Length::from_mm(50.0);
/// How far marks' distances may be from a unit's, as a ratio: units are at least 2.54
/// times each other.
const LIKE: f64 = 1.25;

/// What is wrong if marks lie `stretch` times as far apart in the job as in the scan, and
/// another unit explains it.
pub(super) fn wrong_unit(order: &ScanOrder, stretch: Option<f64>) -> Option<Problem> {
    let stretch = stretch?;
    let declared = order.wanted.unit.mm();
    let explains = |unit: &LengthUnit| {
        let left = stretch * declared / unit.mm();
        unit.mm() != declared && (1.0 / LIKE..LIKE).contains(&left)
    };
    let unit = LengthUnit::ALL.into_iter().find(explains)?;
    let (right, wrong) = (unit.symbol(), symbol(declared));
    Some(Problem::at(
        &order.path.key("units"),
        format!(
            "the marks are {} times as far apart in the job as in '{}': its unit is '{right}', not '{wrong}'",
            told(stretch),
            order.name
        ),
        format!(
            "write \"units\": \"{right}\"; if '{wrong}' is right, check the marks' numbers in scan and job"
        ),
    ))
}

/// A ratio in three digits or so.
pub(super) fn told(ratio: f64) -> String {
    if ratio < 1.0 {
        format!("{ratio:.3}")
    } else {
        format!("{ratio:.1}")
    }
}

/// Symbol of the unit that is so many mm.
fn symbol(mm: f64) -> &'static str {
    let unit = LengthUnit::ALL.into_iter().find(|unit| unit.mm() == mm);
    unit.unwrap_or(LengthUnit::Mm).symbol()
}

/// A scan's box beside that of the ports.
struct Beside {
    bounds: (Point, Point),
    ports: (Point, Point),
    /// How far the ports are apart, mm.
    wide: f64,
}

impl Job {
    /// Says when a scan is far too small, too large or too far off to be a bay that the
    /// ports are in, and which unit would make sense. Gives the mesh back.
    pub(super) fn warn_of_unit(
        &self,
        order: &ScanOrder,
        mesh: Mesh,
        warnings: &mut Vec<Problem>,
    ) -> Mesh {
        let centers: Vec<Point> = self.ports.values().map(|port| port.center).collect();
        let bounds = mesh.bounds().unwrap_or_default();
        let Some((ports, wide)) = around(&centers).filter(|(_, wide)| *wide > 0.0) else {
            return mesh;
        };
        let beside = Beside {
            bounds,
            ports,
            wide,
        };
        // Two marks tell the unit for certain; one carries the scan wherever it says.
        let is_free = order.landmarks.len() + order.rims.len() < 2;
        let unit = is_free.then(|| beside.best_unit(order)).flatten();
        if !beside.is_plausible() {
            warnings.push(self.not_there(order, &beside, unit));
            return mesh;
        }
        let Some(unit) = unit.filter(|_| beside.times() > LARGE) else {
            return mesh;
        };
        let surface = Surface::new(mesh);
        let is_on = |port: &Point| surface.nearest(port, ON_IT.mm()).is_some();
        if !centers.iter().all(is_on) {
            warnings.push(self.too_large(order, &beside, unit));
        }
        surface.into_mesh()
    }

    fn not_there(&self, order: &ScanOrder, beside: &Beside, unit: Option<LengthUnit>) -> Problem {
        let style = Style::new(self.style.unit);
        let help = match unit {
            Some(unit) => format!(
                "in \"{}\" it would lie about the ports, {}",
                unit.symbol(),
                beside.sizes(order, unit, style)
            ),
            None => "check its unit, and that it was measured from the same place".to_owned(),
        };
        Problem::at(
            &order.path.key("units"),
            format!(
                "'{}' reaches from {} to {}: that is not where the ports are",
                order.name,
                style.point(beside.bounds.0.into()),
                style.point(beside.bounds.1.into()),
            ),
            help,
        )
    }

    fn too_large(&self, order: &ScanOrder, beside: &Beside, unit: LengthUnit) -> Problem {
        let style = Style::new(self.style.unit);
        Problem::at(
            &order.path.key("units"),
            format!(
                "'{}' is {} across, {:.0} times as far as the ports are apart: is '{}' its unit?",
                order.name,
                style.length(Length::from_mm(beside.size())),
                beside.times(),
                symbol(order.wanted.unit.mm()),
            ),
            format!(
                "in \"{}\" it would be {}; nothing to do if it is that large",
                unit.symbol(),
                beside.sizes(order, unit, style)
            ),
        )
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

impl Beside {
    /// The scan's size, mm.
    fn size(&self) -> f64 {
        (self.bounds.1 - self.bounds.0).norm()
    }

    /// How many times the ports' distance that is.
    fn times(&self) -> f64 {
        self.size() / self.wide
    }

    /// Whether the scan may be a bay with these ports.
    fn is_plausible(&self) -> bool {
        let (bounds, ports, size) = (self.bounds, self.ports, self.size());
        let apart = (bounds.0 - ports.1).sup(&(ports.0 - bounds.1));
        let apart = apart.map(|side| side.max(0.0)).norm();
        (FAR_TOO_SMALL..=FAR_TOO_LARGE).contains(&self.times()) && apart <= FAR_AWAY * size
    }

    /// The same if the scan's unit were so many times as large.
    fn scaled(&self, factor: f64) -> Self {
        Self {
            bounds: (self.bounds.0 * factor, self.bounds.1 * factor),
            ..*self
        }
    }

    /// The other unit that makes the scan most like a bay about the ports.
    fn best_unit(&self, order: &ScanOrder) -> Option<LengthUnit> {
        let declared = order.wanted.unit.mm();
        let units = LengthUnit::ALL.into_iter().filter(|u| u.mm() != declared);
        let scaled = units.map(|unit| (unit, self.scaled(unit.mm() / declared)));
        let usual = scaled.filter(|(_, scaled)| {
            scaled.is_plausible() && (LEAST_USUAL..=MOST_USUAL).contains(&scaled.times())
        });
        let unlike = |scaled: &Self| (scaled.times() / USUAL).ln().abs();
        usual
            .min_by(|a, b| unlike(&a.1).total_cmp(&unlike(&b.1)))
            .map(|(unit, _)| unit)
    }

    /// What sizes come of another unit.
    fn sizes(&self, order: &ScanOrder, unit: LengthUnit, style: Style) -> String {
        let scaled = self.scaled(unit.mm() / order.wanted.unit.mm());
        let [size, wide] = [scaled.size(), self.wide].map(Length::from_mm);
        format!(
            "{} across, with ports {} apart",
            style.length(size),
            style.length(wide)
        )
    }
}
