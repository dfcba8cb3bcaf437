//! `closure.stl`: the closing piece as a body.

use crate::export::stl::stl;
use crate::export::{ExportError, OutFile};
use crate::plan::{Closing, Found};
use crate::tube::Facets;
use crate::units::Length;

/// `closure.stl`: the piece by itself, standing on its start, axis up, clock zero along x;
/// one each for several. And `closure-in-place.stl`: all of it in the job's frame. None
/// where nothing closes the gap.
pub fn closing_stls(closing: &Closing, chord: Length) -> Result<Vec<OutFile>, ExportError> {
    const IN_PLACE: &str = "closure-in-place.stl";
    let facets = Facets::within(closing.tube.radius(), chord);
    let between = match &closing.found {
        Found::Widths { gap, .. } => {
            let mesh = gap.sleeve.mesh(facets);
            return Ok(vec![stl("closure.stl", [&mesh].into_iter())?]);
        }
        Found::Ends(between) => between,
    };
    if let Some(closure) = between.closure() {
        let own = closure.sleeve.mesh(facets);
        let placed = closure.axis.place(&closure.zero, own.clone());
        return Ok(vec![
            stl("closure.stl", [&own].into_iter())?,
            stl(IN_PLACE, [&placed].into_iter())?,
        ]);
    }
    let Some(Ok(several)) = &between.several else {
        return Ok(Vec::new());
    };
    let mut files = Vec::new();
    for (i, placed) in several.pieces().iter().enumerate() {
        let name = format!("closure-{}.stl", closing.piece_name(i));
        files.push(stl(&name, [&placed.piece.mesh(facets)].into_iter())?);
    }
    files.push(stl(IN_PLACE, several.meshes(facets).iter())?);
    Ok(files)
}
