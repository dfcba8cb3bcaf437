//! [`read_mesh`]: from a file's bytes to a mesh.

use super::clean::{Dropped, clean};
use super::error::ReadError;
use super::format::Format;
use super::limits::Limits;
use super::soup::Soup;
use super::source::Source;
use super::wanted::Wanted;
use super::{obj, ply, stl};
use crate::scan::Mesh;
use std::io::Read;

/// A mesh and what became of its file.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The sound triangles of the groups that were kept. Points are numbered as the
    /// triangles first use them, whatever the file's order.
    pub mesh: Mesh,
    /// Names of the file's groups with their triangles, before any were dropped.
    pub groups_in_file: Vec<(String, usize)>,
    /// Patterns that fit no group.
    pub unused_patterns: Vec<String>,
    /// Triangles that were left out.
    pub dropped: Dropped,
}

/// Reads a mesh. The start of `source` tells its format, or else the ending of the
/// file's `name`. Holes and triangles that face either way are left as they are; points
/// in exactly one place become one.
pub fn read_mesh(name: &str, source: impl Read, wanted: &Wanted) -> Result<Reading, ReadError> {
    read_within(name, source, wanted, Limits::ALL)
}

/// Reads a mesh of limited size.
pub(super) fn read_within(
    name: &str,
    source: impl Read,
    wanted: &Wanted,
    limits: Limits,
) -> Result<Reading, ReadError> {
    let mut source = Source::open(source, limits)?;
    let mut soup = Soup::new(wanted.unit, limits);
    match Format::of(source.head(), name)? {
        Format::StlText => stl::read_text(&mut source, &mut soup),
        Format::StlBinary => stl::read_binary(&mut source, &mut soup),
        Format::Ply => ply::read(&mut source, &mut soup),
        Format::Obj => obj::read(&mut source, &mut soup),
    }?;
    source.finish()?;
    choose(soup, wanted)
}

/// Chooses the groups and cleans them.
fn choose(mut soup: Soup, wanted: &Wanted) -> Result<Reading, ReadError> {
    let points = soup.points().max(soup.welded.len()) as u64;
    soup.resolve()?;
    let groups_in_file: Vec<(String, usize)> = soup
        .groups
        .iter()
        .filter(|(_, count)| **count > 0)
        .map(|(name, count)| (name.clone(), *count))
        .collect();
    if groups_in_file.is_empty() {
        return Err(ReadError::NoTriangles { points });
    }
    if !groups_in_file.iter().any(|(name, _)| wanted.keeps(name)) {
        let groups = groups_in_file.into_iter().map(|(name, _)| name).collect();
        return Err(ReadError::NothingKept { groups });
    }
    let (mesh, dropped) = clean(soup, wanted);
    if mesh.triangles.is_empty() {
        return Err(ReadError::NothingSound { dropped });
    }
    Ok(Reading {
        mesh,
        unused_patterns: wanted.unused(&groups_in_file),
        groups_in_file,
        dropped,
    })
}
