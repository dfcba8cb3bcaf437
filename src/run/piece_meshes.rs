//! A run's pieces as bodies where they stand.

use super::Run;
use crate::tube::{Facets, Mesh};

impl Run {
    /// Each piece as a closed wall where it stands in the run, in order of flow, from
    /// joint to joint: gaps and sockets are not shown. Neighbors share their joint's
    /// ellipse, so together they fill what [`Run::mesh`] does.
    pub fn piece_meshes(&self, facets: Facets) -> Vec<Mesh> {
        let outer = self.rings(self.tube().radius(), facets);
        let inner = self.rings(self.tube().bore_radius(), facets);
        let mut first = 0;
        let pieces = self.pieces().iter().zip(self.joints().windows(2));
        pieces
            .map(|(placed, joints)| {
                let ends = [joints[0].plane.point, joints[1].plane.point];
                let inside = placed.stations(facets, self.tube().radius(), ends).len();
                let rings = first..(first + inside + 2).min(outer.len());
                first += inside + 1;
                Mesh::hollow(&outer[rings.clone()], &inner[rings])
            })
            .collect()
    }
}
