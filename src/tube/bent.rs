//! [`BentPiece`]: a stock bend as it is used in a run.

use super::{Facets, Mesh, Ring, Tube};
use crate::geometry::{Direction, Point, Vector};
use crate::units::{Angle, Length};

/// An arc of bent tube with a straight leg at each end, both ends cut square.
///
/// The piece's frame has the start leg downstream along +z, the center of the start cut
/// at the origin, and the outside of the bend along +x: the arc turns toward −x.
#[derive(Clone, Debug, PartialEq)]
pub struct BentPiece {
    /// The stock that was bent.
    pub tube: Tube,
    /// Radius of the arc's centerline.
    pub clr: Length,
    /// Change of direction.
    pub turn: Angle,
    /// Straight tube before and after the arc, as cut. A weld's allowance may take a
    /// little from the arc itself, which makes a leg that much less than nothing.
    pub legs: [Length; 2],
}

impl BentPiece {
    /// Length along the centerline, L = leg + CLR·θ + leg.
    pub fn length(&self) -> Length {
        self.legs[0] + self.legs[1] + self.clr * self.turn.radians()
    }

    /// Length along the outside of the bend.
    pub fn long_side(&self) -> Length {
        self.length() + self.tube.radius() * self.turn.radians()
    }

    /// Length along the inside of the bend.
    pub fn short_side(&self) -> Length {
        self.length() - self.tube.radius() * self.turn.radians()
    }

    /// The piece as a closed mesh in its own frame.
    pub fn mesh(&self, facets: Facets) -> Mesh {
        let rings = |radius: Length| -> Vec<Ring> {
            self.stations(facets)
                .into_iter()
                .map(|(center, axis)| ring(center, axis, radius, facets))
                .collect()
        };
        Mesh::hollow(&rings(self.tube.radius()), &rings(self.tube.bore_radius()))
    }

    /// Centers and directions of the rings that the mesh is made of.
    fn stations(&self, facets: Facets) -> Vec<(Point, Direction)> {
        let mut stations = vec![(Point::origin(), Vector::z_axis())];
        let clr = self.clr.mm();
        let steps = facets.steps_along(self.tube.radius(), self.clr, self.turn);
        for step in 0..=steps {
            let (sin, cos) = (self.turn * (f64::from(step) / f64::from(steps))).sin_cos();
            let center = Point::new(clr * (cos - 1.0), 0.0, self.legs[0].mm() + clr * sin);
            stations.push((
                center,
                Direction::new_normalize(Vector::new(-sin, 0.0, cos)),
            ));
        }
        if let Some(&(end, axis)) = stations.last() {
            stations.push((end + axis.into_inner() * self.legs[1].mm(), axis));
        }
        // A leg without length has no ring of its own.
        stations.dedup_by(|next, here| (next.0 - here.0).norm() <= LEAST_LEG.mm());
        stations
    }
}

/// Legs shorter than this are none.
const LEAST_LEG: Length = Length::from_mm(1e-6);

/// Points round `axis`, square to it, clock zero on the outside of the bend.
fn ring(center: Point, axis: Direction, radius: Length, facets: Facets) -> Ring {
    let across = Vector::y_axis();
    let out = across.cross(&axis);
    facets
        .clocks()
        .map(|clock| {
            let (sin, cos) = clock.sin_cos();
            center + (out * cos + across.into_inner() * sin) * radius.mm()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn volume_is_wall_area_times_centerline() {
        // Pappus: a bent tube holds its section times its centerline.
        let tube = Tube::new(Length::from_mm(60.3), Length::from_mm(2.77), "304").unwrap();
        let bend = BentPiece {
            clr: Length::from_mm(76.0),
            turn: Angle::QUARTER,
            legs: [Length::from_mm(20.0), Length::ZERO],
            tube,
        };
        let mesh = bend.mesh(Facets::at_least(1024));
        assert!(mesh.is_watertight());
        let exact = bend.tube.wall_area_mm2() * bend.length().mm();
        let ratio = mesh.volume_mm3() / exact;
        assert!((ratio - 1.0).abs() < 1e-4, "{ratio}");
    }
}
