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

/// Reads a file in millimeters, all of it.
#[cfg(test)]
pub(super) fn read_mm(name: &str, bytes: impl AsRef<[u8]>) -> Result<Reading, ReadError> {
    use crate::units::Length;
    read_mesh(name, bytes.as_ref(), &Wanted::all(Length::from_mm(1.0)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use crate::scan::{Group, Place};
    use crate::units::Length;
    use flate2::Compression;
    use flate2::write::GzEncoder;
    use std::io::{self, Write};

    /// A square of two triangles, the second facing the other way.
    const SQUARE: &str = "g base\nv 0 0 0\nv 2 0 0\nv 0 2 0\nv 2 2 0.5\nf 1 2 3\nf 2 3 4\n";

    fn square() -> Mesh {
        Mesh {
            points: [
                [0.0, 0.0, 0.0],
                [2.0, 0.0, 0.0],
                [0.0, 2.0, 0.0],
                [2.0, 2.0, 0.5],
            ]
            .map(Point::from)
            .to_vec(),
            triangles: vec![[0, 1, 2], [1, 2, 3]],
            groups: vec![Group {
                name: "base".to_owned(),
                triangles: 0..2,
            }],
        }
    }

    fn gzip(bytes: &[u8]) -> Vec<u8> {
        let mut packed = GzEncoder::new(Vec::new(), Compression::default());
        packed.write_all(bytes).unwrap();
        packed.finish().unwrap()
    }

    fn small(limits: Limits, text: &str) -> ReadError {
        let wanted = Wanted::all(Length::from_mm(1.0));
        read_within("a.obj", text.as_bytes(), &wanted, limits).unwrap_err()
    }

    /// Gives a byte at a time, as slow networks do.
    struct Slow<'a>(&'a [u8]);

    impl Read for Slow<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
            let length = buffer.len().min(1);
            self.0.read(&mut buffer[..length])
        }
    }

    /// A disk that fails after a while.
    struct Failing;

    impl Read for Failing {
        fn read(&mut self, _: &mut [u8]) -> io::Result<usize> {
            Err(io::Error::from(io::ErrorKind::PermissionDenied))
        }
    }

    #[test]
    fn a_mesh_is_read_with_its_group() {
        let reading = read_mm("a.obj", SQUARE).unwrap();
        assert_eq!(reading.mesh, square());
        assert_eq!(reading.groups_in_file, [("base".to_owned(), 2)]);
        assert_eq!(reading.dropped, Dropped::default());
    }

    #[test]
    fn points_are_in_the_unit_asked_for() {
        let wanted = Wanted::all(Length::from_inches(1.0));
        let mesh = read_mesh("a.obj", SQUARE.as_bytes(), &wanted).unwrap().mesh;
        assert_eq!(mesh.points[3], Point::new(50.8, 50.8, 12.7));
    }

    #[test]
    fn packed_files_are_unpacked_whatever_their_name() {
        let (start, end) = SQUARE.as_bytes().split_at(30);
        let members = [gzip(start), gzip(end)].concat();
        for name in ["a.obj", "a.obj.gz"] {
            assert_eq!(read_mm(name, &members).unwrap().mesh, square());
        }
        let wanted = Wanted::all(Length::from_mm(1.0));
        let slow = read_mesh("a.obj", Slow(&members), &wanted).unwrap();
        assert_eq!(slow.mesh, square());
    }

    #[test]
    fn damaged_packing_is_told() {
        let whole = gzip(SQUARE.as_bytes());
        let damaged = |bytes: &[u8]| {
            let error = read_mm("a.obj.gz", bytes).unwrap_err();
            assert!(matches!(error, ReadError::Damaged { .. }), "{error}");
        };
        for length in 2..whole.len() {
            damaged(&whole[..length]);
        }
        // The sum is right behind the data, and the data are all there.
        let mut wrong_sum = whole.clone();
        wrong_sum[whole.len() - 5] ^= 1;
        damaged(&wrong_sum);
        damaged(&[&whole[..], b"more"].concat());
    }

    #[test]
    fn nothing_and_unknown_formats_are_told() {
        assert!(matches!(read_mm("a.stl", ""), Err(ReadError::Empty)));
        assert!(matches!(read_mm("a.stl", gzip(b"")), Err(ReadError::Empty)));
        let unknown = read_mm("a.step", "ISO-10303-21;").unwrap_err();
        assert!(matches!(unknown, ReadError::UnknownFormat));
        assert!(unknown.help().contains("STL, PLY and OBJ"));
    }

    #[test]
    fn a_failing_disk_is_no_damage() {
        let wanted = Wanted::all(Length::from_mm(1.0));
        let packed = gzip(SQUARE.as_bytes());
        for start in [&b""[..], &packed[..packed.len() / 2]] {
            let error = read_mesh("a.obj", start.chain(Failing), &wanted).unwrap_err();
            assert!(matches!(error, ReadError::Io(_)), "{error}");
        }
    }

    #[test]
    fn limits_hold() {
        let limits = Limits {
            bytes: 500,
            line: 40,
            triangles: 3,
            points: 5,
            groups: 2,
            name: 10,
            ..Limits::ALL
        };
        let error = |more: &str, times| small(limits, &(SQUARE.to_owned() + &more.repeat(times)));
        let many = |error| match error {
            ReadError::TooMany { what, .. } => what,
            other => panic!("{other}"),
        };
        assert_eq!(many(error("f 1 2 4\n", 2)), "triangles");
        assert_eq!(many(error("v 0 0 0\n", 2)), "points");
        assert_eq!(many(error("g a\ng b\n", 1)), "groups");
        let long = error("vn 0 0 1\n", 60);
        assert!(matches!(long, ReadError::TooLong { limit: 500 }));
        let name = error("g abcdefghijk\n", 1);
        assert!(matches!(
            name,
            ReadError::Malformed {
                place: Place::Line(8),
                ..
            }
        ));
        for line in [
            "f 1 2 3 4 1 2 3 4 1 2 3 4 1 2 3 4 1 2 3 4",
            "f 1 2 3 4 1 2 3 \\\n 4 1 2 3 4 1 2 3 4 1 2 3 4",
        ] {
            let line = error(line, 1);
            assert!(matches!(line, ReadError::LineTooLong { limit: 40, .. }));
        }
    }

    #[test]
    fn a_small_file_that_unpacks_without_end_is_stopped() {
        let bomb = gzip(&vec![b'\n'; 1_000_000]);
        assert!(bomb.len() < 2000);
        let limits = Limits {
            bytes: 100_000,
            ..Limits::ALL
        };
        let wanted = Wanted::all(Length::from_mm(1.0));
        let error = read_within("a.obj", bomb.as_slice(), &wanted, limits).unwrap_err();
        assert!(matches!(error, ReadError::TooLong { .. }));
    }

    #[test]
    fn patterns_choose_groups_and_unused_ones_are_told() {
        let text = SQUARE.to_owned() + "g wheel%1\nf 1 2 4\ng wheel%2\nf 1 3 4\ng base\nf 4 3 2\n";
        let wanted = |keep: &[&str], drop: &[&str]| Wanted {
            unit: Length::from_mm(1.0),
            keep: keep.iter().map(ToString::to_string).collect(),
            drop: drop.iter().map(ToString::to_string).collect(),
        };
        let read =
            |keep: &[&str], drop: &[&str]| read_mesh("a.obj", text.as_bytes(), &wanted(keep, drop));
        let names = |reading: &Reading| -> Vec<String> {
            reading
                .mesh
                .groups
                .iter()
                .map(|group| group.name.clone())
                .collect()
        };
        let reading = read(&[], &["wheel*", "tire"]).unwrap();
        assert_eq!(reading.mesh, square());
        assert_eq!(reading.dropped.duplicate, 1);
        assert_eq!(reading.unused_patterns, ["tire"]);
        assert_eq!(reading.groups_in_file.len(), 3);
        assert_eq!(reading.groups_in_file[0], ("base".to_owned(), 3));
        assert_eq!(
            names(&read(&["*1", "base"], &[]).unwrap()),
            ["base", "wheel%1"]
        );
        let nothing = read(&["door"], &[]).unwrap_err();
        assert_eq!(
            nothing.to_string(),
            "keeps none of its groups: 'base', 'wheel%1', 'wheel%2'"
        );
    }

    #[test]
    fn a_unit_that_is_none_leaves_nothing() {
        for unit in [0.0, f64::NAN, f64::INFINITY] {
            let wanted = Wanted::all(Length::from_mm(unit));
            let error = read_mesh("a.obj", SQUARE.as_bytes(), &wanted).unwrap_err();
            assert!(matches!(error, ReadError::NothingSound { .. }));
        }
    }
}
