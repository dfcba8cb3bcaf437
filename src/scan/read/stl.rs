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
