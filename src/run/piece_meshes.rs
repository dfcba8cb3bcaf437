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

#[cfg(test)]
mod tests {
    use crate::job::read_job;
    use crate::plan::plan;
    use crate::tube::Facets;

    /// A run of straight pieces and one with stock bends.
    const JOBS: [&[u8]; 2] = [
        include_bytes!("../../examples/stack.json"),
        include_bytes!("../../examples/duct.json"),
    ];

    #[test]
    fn pieces_fill_what_the_run_does() {
        for bytes in JOBS {
            let job = read_job(bytes, "job").job.expect("a good example");
            let plan = plan(&job).expect("a run");
            let run = plan.runs[0].run();
            let facets = Facets::at_least(48);
            let pieces = run.piece_meshes(facets);
            assert_eq!(pieces.len(), run.pieces().len());
            let volume: f64 = pieces.iter().map(|mesh| mesh.volume_mm3()).sum();
            let whole = run.mesh(facets, false).volume_mm3();
            assert!((volume / whole - 1.0).abs() < 1e-9, "{volume} {whole}");
            assert!(pieces.iter().all(|mesh| mesh.is_watertight()));
        }
    }
}
