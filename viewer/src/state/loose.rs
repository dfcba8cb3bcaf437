//! [`Loose`]: a piece or a built end that stands by itself, in no run.

use runwright::closure::{Axis, BuiltEnd, Closure, Gap, Side};
use runwright::geometry::{Direction, Point};
use runwright::tube::{Edge, Facets, Mesh, Sleeve, Tube};
use runwright::units::{Length, Style};

/// How far a facet may lie inside the true circle.
const CHORD: Length = Length::from_mm(0.05);
/// Length of built tube that is shown behind an end, in diameters.
const STUB: f64 = 1.6;

/// Something that stands by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Loose {
    /// What it is called.
    pub name: String,
    /// Whether it is to be cut, or stands already.
    pub is_new: bool,
    /// In the job's frame.
    pub mesh: Mesh,
    /// Its middle.
    pub middle: Point,
    /// Its numbers, name and value.
    pub numbers: Vec<(String, String)>,
}

impl Loose {
    /// From a mesh where it stands.
    pub fn new(name: impl Into<String>, mesh: Mesh, numbers: Vec<(String, String)>) -> Self {
        let count = mesh.vertices.len().max(1) as f64;
        let sum: nalgebra::Vector3<f64> = mesh.vertices.iter().map(|point| point.coords).sum();
        Self {
            name: name.into(),
            is_new: true,
            middle: Point::from(sum / count),
            mesh,
            numbers,
        }
    }

    /// The piece that closes a gap, in its place.
    pub fn of_closure(name: &str, closure: &Closure, style: Style) -> Self {
        let mesh = closure.sleeve.mesh(facets(closure.sleeve.tube()));
        let placed = closure.axis.place(&closure.zero, mesh);
        Self::new(name, placed, sleeve_numbers(&closure.sleeve, style))
    }

    /// The piece that fills a gap of which only the widths are known: it stands on its start,
    /// clock zero along x.
    pub fn of_gap(name: &str, gap: &Gap, style: Style) -> Self {
        let mesh = gap.sleeve.mesh(facets(gap.sleeve.tube()));
        Self::new(name, mesh, sleeve_numbers(&gap.sleeve, style))
    }

    /// A short length of built tube behind its end, cut as that is.
    pub fn of_end(end: &BuiltEnd, side: Side, tube: &Tube) -> Option<Self> {
        let length = tube.od() * STUB;
        let (edges, through, along) = match side {
            Side::Before => {
                let back = end.center - end.axis.into_inner() * length.mm();
                ([Edge::SQUARE, end.edge(side)], back, end.axis)
            }
            Side::After => (
                [end.edge(side), Edge::SQUARE],
                end.center,
                Direction::new_unchecked(-end.axis.into_inner()),
            ),
        };
        let [start, after] = edges;
        let sleeve = Sleeve::new(tube.clone(), length, start, after).ok()?;
        let axis = Axis { through, along };
        let mesh = axis.place(&end.mark_side(), sleeve.mesh(facets(tube)));
        let name = format!("end {}", side.word());
        Some(Self {
            is_new: false,
            ..Self::new(name, mesh, Vec::new())
        })
    }

    /// Least and greatest corner.
    pub fn bounds(&self) -> (Point, Point) {
        let points = self.mesh.vertices.iter();
        points.fold((self.middle, self.middle), |(low, high), point| {
            (low.inf(point), high.sup(point))
        })
    }
}

/// Facets of a tube that is to look round.
pub fn facets(tube: &Tube) -> Facets {
    Facets::within(tube.radius(), CHORD)
}

/// A closing piece's numbers, in words of the saw sheet.
pub fn sleeve_numbers(sleeve: &Sleeve, style: Style) -> Vec<(String, String)> {
    let (long, long_at) = sleeve.long_side();
    let (short, short_at) = sleeve.short_side();
    let row = |name: &str, value: String| (name.to_owned(), value);
    let mut rows = vec![
        row(
            "long side",
            format!("{}  ({})", style.length(long), style.decimal(long)),
        ),
        row("at clock", style.clock(long_at)),
        row("center", style.length(sleeve.length())),
        row("short side", style.length(short)),
        row("at clock ", style.clock(short_at)),
        row("cut at its start", edge(sleeve.start(), style)),
        row("cut at its end", edge(sleeve.end(), style)),
    ];
    if let (Edge::Cut(start), Edge::Cut(end)) = (sleeve.start(), sleeve.end()) {
        let clock = (end.clock - start.clock).wrapped();
        rows.push(row("clock, long side to long side", style.clock(clock)));
    }
    rows
}

fn edge(edge: &Edge, style: Style) -> String {
    match edge {
        Edge::Cut(cut) => style.angle(cut.angle),
        Edge::Scribed(_) => "scribed: see its pattern".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use nalgebra::Unit;
    use runwright::geometry::Vector;

    /// Built ends are drawn where they are: every corner at the open end lies on the rim's
    /// plane, and the tube is behind it.
    #[test]
    fn a_built_end_stands_behind_its_rim() {
        let tube = Tube::new(Length::from_mm(60.0), Length::from_mm(2.0), "304").unwrap();
        let normal = Unit::new_normalize(Vector::new(0.2, 0.1, 1.0));
        for (side, axis) in [
            (Side::Before, Vector::z_axis()),
            (Side::After, Vector::z_axis()),
        ] {
            let end = BuiltEnd::flat(Point::new(5.0, 6.0, 7.0), axis, normal);
            let loose = Loose::of_end(&end, side, &tube).unwrap();
            assert!(!loose.is_new && loose.mesh.is_watertight());
            let plane = end.plane().unwrap();
            let off = |point: &Point| (point - plane.point).dot(&plane.normal);
            let most = loose.mesh.vertices.iter().map(off).fold(f64::MIN, f64::max);
            assert!(most.abs() < 1e-6, "{side:?}: {most}");
            assert!(off(&loose.middle) < -20.0);
        }
    }
}
