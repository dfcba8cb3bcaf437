//! `run.stl`, one STL a piece, and `envelope.stl`: binary, in millimeters.

use super::{ExportError, Exporter, OutFile, file_stems};
use crate::geometry::Vector;
use crate::plan::Plan;
use crate::run::Run;
use crate::tube::{Facets, Mesh};
use crate::units::Length;
use stl_io::{Normal, Triangle, Vertex};

/// Writes `run.stl`: every run as it stands in the job's frame.
#[derive(Clone, Copy, Debug)]
pub struct RunStl {
    /// How far a flat may lie inside the true circle.
    pub chord_tolerance: Length,
    /// A full rod instead of a wall with its bore.
    pub solid: bool,
}

impl Exporter for RunStl {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let meshes = plan.runs.iter().map(|planned| {
            let run = planned.run();
            let facets = Facets::within(run.tube().radius(), self.chord_tolerance);
            run.mesh(facets, self.solid)
        });
        let meshes: Vec<Mesh> = meshes.collect();
        Ok(vec![stl("run.stl", meshes.iter())?])
    }
}

/// Writes `pieces/RUN-NN.stl`: each piece by itself, standing on its start, axis
/// up, clock zero along x.
#[derive(Clone, Copy, Debug)]
pub struct PieceStls {
    /// How far a flat may lie inside the true circle.
    pub chord_tolerance: Length,
}

impl Exporter for PieceStls {
    fn files(&self, plan: &Plan) -> Result<Vec<OutFile>, ExportError> {
        let mut files = Vec::new();
        for (planned, stem) in plan.runs.iter().zip(file_stems(plan)) {
            let facets = Facets::within(planned.run().tube().radius(), self.chord_tolerance);
            for (i, placed) in planned.run().pieces().iter().enumerate() {
                let name = format!("pieces/{stem}-{:02}.stl", i + 1);
                files.push(stl(&name, [&placed.piece.mesh(facets)].into_iter())?);
            }
        }
        Ok(files)
    }
}

/// What single precision may take from a coordinate, as a part of it: twice its rounding,
/// since a flat's corners may all go the wrong way along all three axes.
const SINGLE_ROUNDING: f64 = 2.0 * f32::EPSILON as f64;

/// `envelope.stl`: the room that runs take up, each grown by the length beside it, with
/// flats that stand out at most `chord_tolerance` of the true circle. Rounding to single
/// precision is made up for.
pub fn envelope_stl(
    runs: &[(&Run, Length)],
    chord_tolerance: Length,
) -> Result<OutFile, ExportError> {
    let meshes: Vec<Mesh> = runs
        .iter()
        .map(|(run, grow)| {
            let (low, high) = run.bounds();
            let farthest = low.coords.abs().sup(&high.coords.abs()).max() + grow.mm();
            let grow = *grow + Length::from_mm(farthest * SINGLE_ROUNDING);
            let facets = Facets::within(run.tube().radius() + grow, chord_tolerance);
            run.envelope(grow, facets)
        })
        .collect();
    stl("envelope.stl", meshes.iter())
}

pub(super) fn stl<'a>(
    name: &str,
    meshes: impl Iterator<Item = &'a Mesh>,
) -> Result<OutFile, ExportError> {
    let triangles: Vec<Triangle> = meshes.flat_map(triangles).collect();
    let mut bytes = Vec::with_capacity(84 + triangles.len() * 50);
    stl_io::write_stl(&mut bytes, triangles.iter()).map_err(|e| ExportError::new(name, e))?;
    Ok(OutFile::new(name, bytes))
}

fn triangles(mesh: &Mesh) -> impl Iterator<Item = Triangle> + '_ {
    mesh.triangles.iter().map(|corners| {
        let [a, b, c] = corners.map(|i| mesh.vertices[i]);
        let normal = (b - a).cross(&(c - a));
        let normal = normal / normal.norm().max(f64::MIN_POSITIVE);
        Triangle {
            normal: Normal::new(single(normal)),
            vertices: [a, b, c].map(|p| Vertex::new(single(p.coords))),
        }
    })
}

/// The STL format holds single precision: 0.06 µm at 1 m from the origin.
fn single(v: Vector) -> [f32; 3] {
    [v.x as f32, v.y as f32, v.z as f32]
}
