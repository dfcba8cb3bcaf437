//! Where what is built comes nearest to a scan: by the map while searching, and exactly
//! to correct it.
//!
//! A scan is no convex body: a leg may be held by several of its parts at once. So legs
//! and bends are taken in parts, a term each.

use super::layout::Layout;
use super::map::Level;
use super::nearness::{PLENTY, exempt_parts, radius_slope};
use super::shape::{Shape, Slopes, bend_of_edge};
use super::term::ScanPart;
use crate::geometry::{Point, Vector};
use crate::scan::Drum;
use crate::scene::{Body, Obstacle};

/// Parts of a leg.
pub(super) const LEG_PARTS: usize = 8;
/// Most parts of a bend.
pub(super) const BEND_PARTS: usize = 3;
/// Places looked at along a part of a leg…
const LEG_LOOKS: u32 = 4;
/// …and along each edge of a bend.
const EDGE_LOOKS: u32 = 2;
/// Model margins above this, in cells, need no correction.
pub(super) const PLAIN: f64 = 2.0;

/// Where a part comes nearest to a scan.
pub(super) struct NearScan {
    edge: usize,
    /// In units, by the map alone.
    pub margin: f64,
    /// Part of the way along the edge…
    part: f64,
    /// …and how that changes as the edge grows, a mm.
    part_by_length: f64,
    /// Gradient of the margin over the place, in the job's frame.
    away: Vector,
}

/// A stretch of an edge that is looked at.
struct Look {
    edge: usize,
    /// Parts of the way along the edge.
    from: f64,
    to: f64,
    /// What ports exempt of the edge, as parts of it.
    exempt: [f64; 2],
    start: Point,
    end: Point,
    /// Radius that holds the true tube, and its wrap, mm.
    radius: f64,
}

/// Where `part` comes nearest to its scan by the map; `None` where ports exempt it all.
pub(super) fn nearest_on_map(
    layout: &Layout<'_>,
    shape: &Shape,
    part: &ScanPart,
) -> Option<NearScan> {
    let field = layout.field();
    let map = &field.chart.as_ref()?.map;
    let rule = &field.task.obstacles[part.obstacle];
    let wrap = field.task.wrap.mm();
    let clearance = rule.clearance.mm();
    let level = |point: &Point| map.level(part.obstacle, point);
    if !part.is_leg
        && let Some(bend) = bend_of_edge(shape, part.first)
        && let Some(ball) = &shape.balls[bend]
    {
        let needed = ball.tube * field.unit + wrap + clearance + ball.reach;
        let margin = (level(&ball.center)?.distance - needed) / field.unit;
        if margin > PLENTY {
            return Some(NearScan::far(part.first, margin));
        }
    }
    let mut nearest: Option<NearScan> = None;
    for look in looks(layout, shape, part, rule) {
        let margin = |level: &Level| (level.distance - look.radius - clearance) / field.unit;
        let near = look.nearest(&level, &margin, part.looks(), field.unit)?;
        if nearest
            .as_ref()
            .is_none_or(|nearest| near.margin < nearest.margin)
        {
            nearest = Some(near);
        }
    }
    nearest
}

/// Margin of `part` as its scan really is, in units; `None` where the map will do: far
/// from it, exempt, or deep in it.
pub(super) fn exact_margin(layout: &Layout<'_>, shape: &Shape, part: &ScanPart) -> Option<f64> {
    let field = layout.field();
    let rule = &field.task.obstacles[part.obstacle];
    let (Body::Scan(surface), Some(chart)) = (&rule.body, &field.chart) else {
        return None;
    };
    let plain = PLAIN * chart.map.lattice.cell;
    let mut least = f64::INFINITY;
    for look in looks(layout, shape, part, rule) {
        let needed = look.radius + rule.clearance.mm();
        let within = (needed + plain).max(0.0).min(least + needed);
        if let Some(contact) = surface.contact(&Drum::segment(look.start, look.end), within) {
            if contact.distance <= 0.0 {
                return None;
            }
            least = least.min(contact.distance - needed);
        }
    }
    least.is_finite().then_some(least / field.unit)
}

/// The stretches of a part that no port exempts.
fn looks<'a>(
    layout: &'a Layout<'_>,
    shape: &'a Shape,
    part: &'a ScanPart,
    rule: &Obstacle,
) -> impl Iterator<Item = Look> + 'a {
    let field = layout.field();
    let exempt = field.task.exempt(rule).mm();
    (part.first..part.last).filter_map(move |edge| {
        let (a, b) = (shape.vertices[edge].at, shape.vertices[edge + 1].at);
        let kept = exempt_parts(shape, edge, exempt);
        let [first, last] = part.span;
        let (from, to) = (kept[0].max(first), kept[1].min(last));
        (from < to).then(|| Look {
            edge,
            from,
            to,
            exempt: kept,
            start: a + (b - a) * from,
            end: a + (b - a) * to,
            radius: shape.edge_radii[edge] * field.unit + field.task.wrap.mm(),
        })
    })
}

impl Look {
    /// The nearest of some places along it, and where it seems to be nearest between two.
    fn nearest(
        &self,
        level: &impl Fn(&Point) -> Option<Level>,
        margin: &impl Fn(&Level) -> f64,
        looks: u32,
        unit: f64,
    ) -> Option<NearScan> {
        let along = self.end - self.start;
        let look = |u: f64| {
            let level = level(&(self.start + along * u))?;
            Some((u, margin(&level), level.away))
        };
        let middle = look(0.5)?;
        let bound = middle.1 - 0.5 * along.norm() / unit;
        if bound > PLENTY {
            return Some(NearScan::far(self.edge, bound));
        }
        let mut seen = Vec::with_capacity(looks as usize + 1);
        for i in 0..=looks {
            seen.push(if 2 * i == looks {
                middle
            } else {
                look(f64::from(i) / f64::from(looks))?
            });
        }
        let least = (0..seen.len()).fold(
            0,
            |least, i| {
                if seen[i].1 < seen[least].1 { i } else { least }
            },
        );
        let mut best = seen[least];
        let slope = best.2.dot(&along);
        // Downhill from the least place, until the slope turns.
        let next = if slope > 0.0 {
            least.checked_sub(1)
        } else {
            (least + 1 < seen.len()).then_some(least + 1)
        };
        if let Some(next) = next {
            let there = seen[next].2.dot(&along);
            if slope * there < 0.0 {
                let u = best.0 - slope * (seen[next].0 - best.0) / (there - slope);
                let between = look(u)?;
                if between.1 < best.1 {
                    best = between;
                }
            }
        }
        let (u, margin, away) = best;
        Some(self.place(u, margin, away))
    }

    fn place(&self, u: f64, margin: f64, away: Vector) -> NearScan {
        // Where a port's stretch ends it, a look's end keeps its distance from the port.
        let length = (self.end - self.start).norm() / (self.to - self.from);
        let at_start = if self.from == self.exempt[0] {
            -self.from
        } else {
            0.0
        };
        let at_end = if self.to == self.exempt[1] {
            1.0 - self.to
        } else {
            0.0
        };
        NearScan {
            edge: self.edge,
            margin,
            part: self.from + (self.to - self.from) * u,
            part_by_length: ((1.0 - u) * at_start + u * at_end) / length,
            away,
        }
    }
}

impl NearScan {
    /// A lower bound that no search comes near.
    fn far(edge: usize, margin: f64) -> Self {
        Self {
            edge,
            margin,
            part: 0.0,
            part_by_length: 0.0,
            away: Vector::zeros(),
        }
    }

    pub fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        let pull = self.away * weight;
        let edge = shape.vertices[self.edge + 1].at - shape.vertices[self.edge].at;
        let stretch = edge * (edge.dot(&pull) * self.part_by_length / edge.norm());
        slopes.vertices[self.edge] += pull * (1.0 - self.part) - stretch;
        slopes.vertices[self.edge + 1] += pull * self.part + stretch;
        radius_slope(layout, shape, self.edge, -weight, slopes);
    }
}

impl ScanPart {
    const fn looks(&self) -> u32 {
        if self.is_leg { LEG_LOOKS } else { EDGE_LOOKS }
    }
}
