//! [`Obstacle`]: a body and the rule that a tube keeps about it.

use super::{Near, Solid};
use crate::geometry::{Point, Vector};
use crate::scan::{Convex, Drum, Gap, Surface, gap};
use crate::units::Length;
use std::sync::Arc;

/// Which side of a body's surface a tube must stay on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Outside: the solid is in the way.
    KeepOut,
    /// Inside: the solid is the room there is.
    KeepIn,
}

/// What stands in a run's way, or holds it.
#[derive(Clone)]
pub enum Body {
    /// A convex body.
    Solid(Solid),
    /// A scanned surface, which may be open: it is kept out of whatever the side says.
    Scan(Arc<Surface>),
}

impl std::fmt::Debug for Body {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Solid(solid) => solid.fmt(f),
            Self::Scan(surface) => {
                write!(f, "Scan({} triangles)", surface.mesh().triangles.len())
            }
        }
    }
}

impl PartialEq for Body {
    /// Scans are equal where they are one and the same.
    fn eq(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Solid(a), Self::Solid(b)) => a == b,
            (Self::Scan(a), Self::Scan(b)) => Arc::ptr_eq(a, b),
            _ => false,
        }
    }
}

impl From<Solid> for Body {
    fn from(solid: Solid) -> Self {
        Self::Solid(solid)
    }
}

/// A body that a tube keeps out of or within.
///
/// The tube is taken as *ball-swept*: all points within its radius of the
/// segment, so round beyond both ends. That holds the whole of a tube whose ends
/// are cut flat and square, so a margin is never more than the true one. It is
/// less by up to a radius beyond an end. The sharp corner of a miter reaches
/// r/cos κ from the joint: where it counts, pass a radius widened by that.
#[derive(Clone, Debug, PartialEq)]
pub struct Obstacle {
    /// What messages call it.
    pub name: String,
    /// Its body.
    pub body: Body,
    /// The side that is allowed.
    pub side: Side,
    /// Distance to keep between the body's surface and the tube's outside.
    pub clearance: Length,
    /// How far out of its port's face a body reaches that the tube of that port stands
    /// in: as much more of centerline is not asked about.
    pub reach: Length,
}

impl Obstacle {
    /// How far a tube of `radius`, mm, along the segment from `a` to `b` is from
    /// breaking the rule, mm; negative where it breaks it. `away` is the margin's
    /// gradient: where a tube that is too near should go.
    ///
    /// - [`Side::KeepOut`]: least distance − radius − clearance.
    /// - [`Side::KeepIn`]: −greatest distance − radius − clearance.
    ///
    /// Moving `a` by δa and `b` by δb changes the margin by
    /// `away`·((1 − part)·δa + part·δb), to first order and away from kinks.
    pub fn margin(&self, a: &Point, b: &Point, radius: f64) -> Near {
        match (&self.body, self.side) {
            (Body::Solid(solid), Side::KeepOut) => self.outside(solid.nearest_along(a, b), radius),
            (Body::Solid(solid), Side::KeepIn) => self.within(solid, a, b, radius),
            (Body::Scan(surface), _) => {
                self.outside(scan_along(surface, a, b, f64::INFINITY), radius)
            }
        }
    }

    /// As [`Obstacle::margin`], but where the margin is plainly more than
    /// `enough`, mm, only a lower bound of it that is also more than `enough`.
    ///
    /// See [`Solid::nearest_along_at_least`]. Keeping in is cheap already and
    /// always exact.
    pub fn margin_at_least(&self, a: &Point, b: &Point, radius: f64, enough: f64) -> Near {
        let distance = enough + self.standoff(radius);
        match (&self.body, self.side) {
            (Body::Solid(solid), Side::KeepOut) => {
                self.outside(solid.nearest_along_at_least(a, b, distance), radius)
            }
            (Body::Solid(solid), Side::KeepIn) => self.within(solid, a, b, radius),
            (Body::Scan(surface), _) => {
                let within = distance.max(0.0) * (1.0 + f64::EPSILON);
                self.outside(scan_along(surface, a, b, within), radius)
            }
        }
    }

    /// Where `body` comes nearest to a solid that is kept out of, exactly: distance zero
    /// where they touch or overlap. `None` for scans ([`Surface::contact`] tells them) and
    /// for what is kept within.
    pub fn gap(&self, body: &impl Convex) -> Option<Gap> {
        let (Body::Solid(solid), Side::KeepOut) = (&self.body, self.side) else {
            return None;
        };
        Some(match solid {
            Solid::HalfSpace(plane) => {
                let on_first = body.farthest(&-plane.normal.into_inner());
                let distance = plane.distance(&on_first).max(0.0);
                Gap {
                    distance,
                    on_first,
                    on_second: on_first - plane.normal.into_inner() * distance,
                }
            }
            bounded => gap(body, &Bounded(bounded)),
        })
    }

    /// How far `point` is from breaking the rule, mm, as a tube without radius: the
    /// distance from a scan, or the signed distance from a solid, less the clearance.
    pub fn margin_at(&self, point: &Point) -> f64 {
        let distance = match &self.body {
            Body::Scan(surface) => surface
                .nearest(point, f64::INFINITY)
                .map_or(f64::INFINITY, |nearest| nearest.distance),
            Body::Solid(solid) => match self.side {
                Side::KeepOut => solid.distance(point).0,
                Side::KeepIn => -solid.distance(point).0,
            },
        };
        distance - self.clearance.mm()
    }

    /// Least distance, mm, of the centerline from the surface.
    fn standoff(&self, radius: f64) -> f64 {
        radius + self.clearance.mm()
    }

    fn outside(&self, near: Near, radius: f64) -> Near {
        Near {
            distance: near.distance - self.standoff(radius),
            ..near
        }
    }

    fn within(&self, solid: &Solid, a: &Point, b: &Point, radius: f64) -> Near {
        let far = solid.farthest_along(a, b);
        Near {
            distance: -far.distance - self.standoff(radius),
            away: -far.away,
            ..far
        }
    }
}

/// A solid that is not a half space.
struct Bounded<'a>(&'a Solid);

impl Convex for Bounded<'_> {
    fn farthest(&self, direction: &Vector) -> Point {
        self.0.farthest(direction)
    }

    fn ball(&self) -> (Point, f64) {
        // No half space comes here; to whom one did, it would be a point.
        self.0.bounds_sphere().unwrap_or((Point::origin(), 0.0))
    }
}

/// The least distance of a surface along a segment, or `within` where there is none less.
/// Where they cross there is no way out to tell: `away` is zero.
fn scan_along(surface: &Surface, a: &Point, b: &Point, within: f64) -> Near {
    let Some(contact) = surface.contact(&Drum::segment(*a, *b), within) else {
        return Near {
            part: 0.5,
            distance: within,
            away: Vector::zeros(),
        };
    };
    let axis = b - a;
    let part = axis.dot(&(contact.on_body - a)) / axis.norm_squared().max(f64::MIN_POSITIVE);
    let across = contact.on_body - contact.on_surface;
    Near {
        part: part.clamp(0.0, 1.0),
        distance: contact.distance,
        away: across / across.norm().max(f64::MIN_POSITIVE),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Vector;
    use proptest::prelude::*;

    fn cube(side: Side) -> Obstacle {
        Obstacle {
            name: "cube".to_owned(),
            body: Body::Solid(Solid::between(
                Point::new(-50.0, -50.0, -50.0),
                Point::new(50.0, 50.0, 50.0),
            )),
            side,
            clearance: Length::from_mm(5.0),
            reach: Length::ZERO,
        }
    }

    fn drum() -> Obstacle {
        Obstacle {
            name: "drum".to_owned(),
            body: Body::Solid(Solid::Cylinder {
                from: Point::new(0.0, -70.0, 0.0),
                to: Point::new(10.0, 80.0, 0.0),
                radius: Length::from_mm(90.0),
            }),
            side: Side::KeepOut,
            clearance: Length::ZERO,
            reach: Length::ZERO,
        }
    }

    #[test]
    fn keeping_out_counts_radius_and_clearance() {
        let (a, b) = (Point::new(-200.0, 0.0, 80.0), Point::new(200.0, 0.0, 90.0));
        let near = cube(Side::KeepOut).margin(&a, &b, 20.0);
        // The cube's edge (−50, 50) from a line that rises by 1 in 40 and passes it
        // 33.75 mm above; less 20 for the tube and 5 to keep.
        let least = 33.75 / 1.0_f64.hypot(1.0 / 40.0);
        assert!((near.distance - (least - 25.0)).abs() < 1e-9);
        let square = Vector::new(-1.0, 0.0, 40.0).normalize();
        assert!((near.away - square).norm() < 1e-6);
    }

    #[test]
    fn keeping_in_is_decided_by_an_end() {
        let (a, b) = (Point::new(0.0, 0.0, 0.0), Point::new(0.0, 22.0, 0.0));
        let near = cube(Side::KeepIn).margin(&a, &b, 20.0);
        assert!((near.distance - 3.0).abs() < 1e-12);
        assert_eq!(near.part, 1.0);
        // Back toward the middle.
        assert!((near.away + Vector::y()).norm() < 1e-12);
    }

    #[test]
    fn a_wall_reads_the_same_from_either_side() {
        let wall = |normal| {
            Solid::HalfSpace(crate::geometry::Plane {
                point: Point::origin(),
                normal,
            })
        };
        let (a, b) = (Point::new(40.0, 0.0, 0.0), Point::new(90.0, 10.0, 0.0));
        let rule = |solid, side| Obstacle {
            name: "wall".to_owned(),
            body: Body::Solid(solid),
            side,
            clearance: Length::from_mm(1.0),
            reach: Length::ZERO,
        };
        let out = rule(wall(Vector::x_axis()), Side::KeepOut).margin(&a, &b, 15.0);
        let within = rule(wall(-Vector::x_axis()), Side::KeepIn).margin(&a, &b, 15.0);
        assert_eq!(out, within);
        assert!((out.distance - 24.0).abs() < 1e-12);
    }

    fn point() -> impl Strategy<Value = Point> {
        prop::array::uniform3(-300.0..300.0_f64).prop_map(Point::from)
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

        #[test]
        fn the_shortcut_is_a_lower_bound(a in point(), b in point(), enough in -20.0..80.0_f64) {
            for side in [Side::KeepOut, Side::KeepIn] {
                let rule = cube(side);
                let exact = rule.margin(&a, &b, 20.0).distance;
                let quick = rule.margin_at_least(&a, &b, 20.0, enough).distance;
                prop_assert!(quick <= exact + 1e-9);
                prop_assert!(quick == exact || quick > enough);
            }
        }

        #[test]
        fn the_margin_changes_as_it_says(a in point(), b in point(), step in point()) {
            // Moving both ends, through the body too, against differences.
            prop_assume!(step.coords.norm() > 1.0);
            let da = step.coords.normalize() * 1e-3;
            let db = da.yzx();
            for rule in [cube(Side::KeepOut), cube(Side::KeepIn), drum()] {
                let near = rule.margin(&a, &b, 20.0);
                let ahead = rule.margin(&(a + da), &(b + db), 20.0);
                let back = rule.margin(&(a - da), &(b - db), 20.0);
                let steady = |other: &Near| {
                    (other.away - near.away).norm() < 1e-3 && (other.part - near.part).abs() < 1e-3
                };
                if steady(&ahead) && steady(&back) {
                    let told = near.away.dot(&(da * (1.0 - near.part) + db * near.part));
                    let measured = 0.5 * (ahead.distance - back.distance);
                    prop_assert!((told - measured).abs() < 1e-7);
                }
            }
        }
    }
}
