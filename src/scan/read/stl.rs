//! STL: triangles by their corners' coordinates, as text or as numbers of fixed size.

use super::error::{Place, ReadError};
use super::number::coordinate;
use super::soup::Soup;
use super::source::Source;

/// Bytes of the header, before the count.
const HEADER: u64 = 80;
/// Bytes to a triangle: a normal and three corners of three `f32` each, and two more.
const RECORD: usize = 50;
/// Where the corners begin in it.
const CORNERS: usize = 12;

/// Reads a binary STL. Fewer bytes than a triangle's may follow the last one.
pub(super) fn read_binary(source: &mut Source, soup: &mut Soup) -> Result<(), ReadError> {
    let mut count = [0; size_of::<u32>()];
    let skipped = source.skip(HEADER)?;
    let filled = source.fill(&mut count)?;
    let there = skipped + filled as u64;
    let whole = HEADER + count.len() as u64;
    if there < whole {
        return Err(ReadError::Truncated {
            what: "bytes of its header".to_owned(),
            there,
            claimed: whole,
        });
    }
    let claimed = u64::from(u32::from_le_bytes(count));
    let mut record = [0; RECORD];
    for there in 0..claimed {
        if source.fill(&mut record)? < RECORD {
            return Err(ReadError::Truncated {
                what: "triangles".to_owned(),
                there,
                claimed,
            });
        }
        soup.loose_triangle(corners(&record))?;
    }
    if source.fill(&mut record)? == RECORD {
        let there = claimed + 1;
        return Err(ReadError::FalseCount { claimed, there });
    }
    Ok(())
}

fn corners(record: &[u8; RECORD]) -> [[f64; 3]; 3] {
    let (numbers, _) = record[CORNERS..].as_chunks::<4>();
    let number = |index: usize| f64::from(f32::from_le_bytes(numbers[index]));
    [0, 3, 6].map(|first| [number(first), number(first + 1), number(first + 2)])
}

/// Reads an STL in text. Each solid is a group.
pub(super) fn read_text(source: &mut Source, soup: &mut Soup) -> Result<(), ReadError> {
    let mut text = Text::default();
    while source.next_line()? {
        let place = source.line_place();
        match source.word().map(keyword) {
            Some(Keyword::Vertex) => text.vertex(source, place)?,
            Some(Keyword::EndLoop) => text.end_loop(soup, place)?,
            Some(Keyword::Solid) => text.begin_solid(source, soup, place)?,
            Some(Keyword::EndSolid) => text.end_solid(place)?,
            Some(Keyword::Other) | None => {}
            Some(Keyword::Unknown) => {
                return Err(malformed(place, "this is no line of an STL"));
            }
        }
    }
    if text.in_solid {
        return Err(ReadError::Unfinished {
            place: source.line_place(),
            missing: "endsolid",
        });
    }
    Ok(())
}

/// What has been read of a solid.
#[derive(Default)]
struct Text {
    in_solid: bool,
    corners: [[f64; 3]; 3],
    /// Corners of the triangle at hand.
    count: usize,
}

impl Text {
    fn vertex(&mut self, source: &mut Source, place: Place) -> Result<(), ReadError> {
        let Some(corner) = self.corners.get_mut(self.count) else {
            return Err(malformed(place, "a facet has more than three corners"));
        };
        for coordinate_of in corner {
            *coordinate_of = coordinate(source.word(), place)?;
        }
        self.count += 1;
        Ok(())
    }

    fn end_loop(&mut self, soup: &mut Soup, place: Place) -> Result<(), ReadError> {
        if !self.in_solid {
            return Err(malformed(place, "a facet stands outside of a solid"));
        }
        if self.count < self.corners.len() {
            return Err(malformed(place, "a facet has fewer than three corners"));
        }
        self.count = 0;
        soup.loose_triangle(self.corners)
    }

    fn begin_solid(
        &mut self,
        source: &Source,
        soup: &mut Soup,
        place: Place,
    ) -> Result<(), ReadError> {
        if self.in_solid {
            return Err(malformed(place, "a solid begins within another"));
        }
        self.in_solid = true;
        soup.begin_group(source.rest(), place)
    }

    fn end_solid(&mut self, place: Place) -> Result<(), ReadError> {
        if self.count > 0 {
            return Err(malformed(place, "a solid ends within a facet"));
        }
        self.in_solid = false;
        Ok(())
    }
}

/// What a line begins with.
#[derive(Clone, Copy)]
enum Keyword {
    Solid,
    Vertex,
    EndLoop,
    EndSolid,
    /// One that only says what has to follow.
    Other,
    Unknown,
}

fn keyword(word: &[u8]) -> Keyword {
    let known: [(&[u8], Keyword); 7] = [
        (b"vertex", Keyword::Vertex),
        (b"facet", Keyword::Other),
        (b"outer", Keyword::Other),
        (b"endloop", Keyword::EndLoop),
        (b"endfacet", Keyword::Other),
        (b"solid", Keyword::Solid),
        (b"endsolid", Keyword::EndSolid),
    ];
    let found = known
        .iter()
        .find(|(name, _)| name.eq_ignore_ascii_case(word));
    found.map_or(Keyword::Unknown, |(_, keyword)| *keyword)
}

fn malformed(place: Place, what: impl Into<String>) -> ReadError {
    ReadError::Malformed {
        place,
        what: what.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::reading::read_mm;
    use super::*;

    const FACET: &str = "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\n\
                         vertex 0 1 0\nendloop\nendfacet\n";

    fn binary(claimed: u32, triangles: u8) -> Vec<u8> {
        let mut bytes = vec![b' '; HEADER as usize];
        bytes[..6].copy_from_slice(b"solid ");
        bytes.extend(claimed.to_le_bytes());
        for height in 0..triangles {
            let z = f32::from(height);
            let numbers = [0.0, 0.0, 1.0, 0.0, 0.0, z, 1.0, 0.0, z, 0.0, 1.0, z];
            bytes.extend(numbers.iter().flat_map(|number| number.to_le_bytes()));
            bytes.extend([0, 0]);
        }
        bytes
    }

    fn error(bytes: impl AsRef<[u8]>) -> String {
        read_mm("a.stl", bytes).unwrap_err().to_string()
    }

    #[test]
    fn binary_and_text_are_told_apart_and_alike() {
        let text = format!("  SOLID a\n{FACET}\nendsolid a\n");
        let binary = read_mm("a.stl", binary(1, 1)).unwrap().mesh;
        let text = read_mm("a.stl", text.to_uppercase()).unwrap().mesh;
        assert_eq!(binary.points, text.points);
        assert_eq!(binary.triangles, text.triangles);
        assert_eq!(
            (binary.groups[0].name.as_str(), text.groups[0].name.as_str()),
            ("", "A")
        );
    }

    #[test]
    fn solids_are_groups() {
        let text = format!("solid a\n{FACET}endsolid\nsolid b c\nendsolid\n");
        let reading = read_mm("a.stl", text).unwrap();
        assert_eq!(reading.groups_in_file, [("a".to_owned(), 1)]);
    }

    #[test]
    fn a_short_binary_file_is_told() {
        assert_eq!(
            error(binary(3, 2)),
            "is cut short: 2 of 3 triangles are there"
        );
        assert_eq!(
            error(&binary(3, 3)[..233]),
            "is cut short: 2 of 3 triangles are there"
        );
        assert_eq!(
            error(&binary(3, 3)[..82]),
            "is cut short: 82 of 84 bytes of its header are there"
        );
        assert_eq!(
            error([0, 1]),
            "is cut short: 2 of 84 bytes of its header are there"
        );
        assert_eq!(
            error(binary(u32::MAX, 1)),
            "is cut short: 1 of 4294967295 triangles are there"
        );
    }

    #[test]
    fn a_count_below_what_is_there_is_told() {
        let wanted = "says that it holds 2 triangles, but 3 or more are there";
        assert_eq!(error(binary(2, 3)), wanted);
        assert_eq!(
            error(binary(0, 1)),
            "says that it holds 0 triangles, but 1 or more are there"
        );
    }

    #[test]
    fn a_few_bytes_may_follow() {
        let mut bytes = binary(2, 2);
        bytes.extend([b'\n'; RECORD - 1]);
        assert_eq!(read_mm("a.stl", &bytes).unwrap().mesh.triangles.len(), 2);
    }

    #[test]
    fn no_triangles_are_told() {
        assert_eq!(error(binary(0, 0)), "has no triangles, only 0 points");
        assert_eq!(
            error("solid a\nendsolid a\n"),
            "has no triangles, only 0 points"
        );
    }

    #[test]
    fn a_short_text_is_told() {
        let text = format!("solid a\n{FACET}{FACET}endsolid\n");
        for (end, _) in text.match_indices('\n').take(15) {
            let wanted = "is cut short: it ends at line";
            let error = error(&text[..end]);
            assert!(error.starts_with(wanted), "{error}");
        }
    }

    #[test]
    fn text_that_is_no_stl_is_told_with_its_line() {
        for (text, wanted) in [
            (
                FACET.replace("1 0 0", "1 0 o"),
                "line 5: `o` is not a number",
            ),
            (FACET.replace("1 0 0", "1 0"), "line 5: a number is missing"),
            (
                FACET.replace("vertex 1 0 0\n", ""),
                "line 6: a facet has fewer than three corners",
            ),
            (
                FACET.replace("endloop", "vertex 1 1 1"),
                "line 7: a facet has more than three corners",
            ),
            (
                FACET.replace("outer", "inner"),
                "line 3: this is no line of an STL",
            ),
            (
                FACET.replace("endloop", "endsolid"),
                "line 7: a solid ends within a facet",
            ),
            (
                FACET.replace("endloop", "endsolid"),
                "line 7: a solid ends within a facet",
            ),
            (
                "solid b\n".to_owned(),
                "line 2: a solid begins within another",
            ),
            (
                "endsolid\n".to_owned() + FACET,
                "line 8: a facet stands outside of a solid",
            ),
        ] {
            assert_eq!(error(format!("solid a\n{text}endsolid a\n")), wanted);
        }
    }
}
