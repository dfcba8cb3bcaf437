//! Where what is built comes nearest to a scan: by the map while searching, and exactly
//! to correct it.
//!
//! A scan is no convex body: a leg may be held by several of its parts at once. So legs
//! and bends are taken in parts, a term each.

use super::layout::Layout;
use super::map::Map;
use super::near_scan::NearScan;
use super::nearness::{PLENTY, exempt_parts, radius_slope};
use super::shape::{Shape, Slopes, bend_of_edge};
use super::term::ScanPart;
use crate::geometry::Point;
use crate::scan::Drum;
use crate::scene::{Body, Obstacle};

/// Places looked at along a part of a leg…
const LEG_LOOKS: usize = 4;
/// …and along each edge of a bend.
const EDGE_LOOKS: usize = 3;
/// Model margins above this, in cells, need no correction.
pub(super) const PLAIN: f64 = 2.0;

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
/// All parts are looked at once: values and slopes ask for the same.
pub(super) fn near_scan(layout: &Layout<'_>, shape: &Shape, part: &ScanPart) -> Option<NearScan> {
    let all = shape.near_scans.get_or_init(|| {
        let parts = layout.scan_parts();
        parts
            .map(|part| nearest_on_map(layout, shape, part))
            .collect()
    });
    *all.get(part.slot)?
}

fn nearest_on_map(layout: &Layout<'_>, shape: &Shape, part: &ScanPart) -> Option<NearScan> {
    let field = layout.field();
    let map = &field.chart.as_ref()?.map;
    let rule = &field.task.obstacles[part.obstacle];
    let clearance = rule.clearance.mm();
    if !part.is_leg
        && let Some(bend) = bend_of_edge(shape, part.first)
        && let Some(ball) = &shape.balls[bend]
    {
        let needed = ball.tube * field.unit + field.task.wrap.mm() + clearance + ball.reach;
        let margin = (map.distance(part.obstacle, &ball.center) - needed) / field.unit;
        if margin > PLENTY {
            return Some(NearScan::far(part, margin));
        }
    }
    let mut nearest: Option<NearScan> = None;
    for look in looks(layout, shape, part, rule) {
        let near = look.nearest(map, part, clearance, field.unit);
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
    /// The nearest of some places along it. What lies nearer between them the correction
    /// makes good: places that do not shift along have exact slopes.
    fn nearest(&self, map: &Map, part: &ScanPart, clearance: f64, unit: f64) -> NearScan {
        let along = self.end - self.start;
        let needed = self.radius + clearance;
        let at = |u: f64| self.start + along * u;
        let length = along.norm();
        let bound = |u: f64, reach: f64| {
            (map.least_distance(part.obstacle, &at(u)) - reach - needed) / unit
        };
        let far = bound(0.5, 0.5 * length);
        if far > PLENTY {
            return NearScan::far(part, far);
        }
        let looks = if part.is_leg { LEG_LOOKS } else { EDGE_LOOKS };
        let look = |u: f64| {
            // Not exact where no search comes near it.
            let bound = bound(u, 0.5 * length / looks as f64);
            if bound > PLENTY {
                bound
            } else {
                (map.distance(part.obstacle, &at(u)) - needed) / unit
            }
        };
        // In the middle of as many parts.
        let place = |i: f64| (i + 0.5) / looks as f64;
        let mut seen = [0.0; LEG_LOOKS];
        let mut least = 0;
        for i in 0..looks {
            seen[i] = look(place(i as f64));
            if seen[i] < seen[least] {
                least = i;
            }
        }
        self.place(part.obstacle, (place(least as f64), seen[least]))
    }

    fn place(&self, obstacle: usize, (u, margin): (f64, f64)) -> NearScan {
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
            obstacle,
            margin,
            part: self.from + (self.to - self.from) * u,
            part_by_length: ((1.0 - u) * at_start + u * at_end) / length.max(f64::MIN_POSITIVE),
        }
    }
}

impl NearScan {
    pub fn add_slopes(&self, layout: &Layout<'_>, shape: &Shape, weight: f64, slopes: &mut Slopes) {
        let Some(chart) = &layout.field().chart else {
            return;
        };
        let start = shape.vertices[self.edge].at;
        let edge = shape.vertices[self.edge + 1].at - start;
        let pull = chart.map.away(self.obstacle, &(start + edge * self.part)) * weight;
        // An edge without length, at a bend that does not turn, has no direction.
        let along = self.part_by_length / edge.norm().max(f64::MIN_POSITIVE);
        let stretch = edge * (edge.dot(&pull) * along);
        slopes.vertices[self.edge] += pull * (1.0 - self.part) - stretch;
        slopes.vertices[self.edge + 1] += pull * self.part + stretch;
        radius_slope(layout, shape, self.edge, -weight, slopes);
    }
}
