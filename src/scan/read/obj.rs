//! OBJ: points, and faces by the numbers of their points, in named groups.

use super::error::{Place, ReadError};
use super::fan::Fan;
use super::number::{bad_number, coordinate, whole};
use super::soup::Soup;
use super::source::Source;

/// What a corner of a face has to be.
const CORNER: &str = "a corner of a face, such as `7`, `7/1`, `7//2` or `-1`";

/// Reads an OBJ. What is neither a point nor a face nor a name does not matter to the
/// surface and is passed over.
pub(super) fn read(source: &mut Source, soup: &mut Soup) -> Result<(), ReadError> {
    while source.next_joined_line()? {
        let place = source.line_place();
        match source.word() {
            Some(b"v") => {
                let mut point = [0.0; 3];
                for axis in &mut point {
                    *axis = coordinate(source.word(), place)?;
                }
                soup.point(point)?;
            }
            Some(b"f") => face(source, soup, place)?,
            Some(b"g" | b"o") => soup.begin_group(source.rest(), place)?,
            _ => {}
        }
    }
    Ok(())
}

/// A face as a fan of triangles about its first corner.
fn face(source: &mut Source, soup: &mut Soup, place: Place) -> Result<(), ReadError> {
    let points = soup.points();
    let mut fan = Fan::default();
    while let Some(word) = source.word() {
        fan.corner(index(word, points, place)?, soup, place)?;
    }
    fan.end(soup);
    Ok(())
}

/// The point, from 0, that a corner names: from 1, or from the last one backward.
fn index(word: &[u8], points: usize, place: Place) -> Result<u32, ReadError> {
    let number = word.split(|&byte| byte == b'/').next().unwrap_or_default();
    let written = whole(number, place).map_err(|_| bad_number(word, place, CORNER))?;
    let index = if written < 0 {
        written.checked_add_unsigned(points as u64)
    } else {
        written.checked_sub(1)
    };
    let index = index.and_then(|index| u32::try_from(index).ok());
    index.ok_or_else(|| ReadError::NoSuchPoint {
        place,
        index: written.to_string(),
        points: points as u64,
    })
}
