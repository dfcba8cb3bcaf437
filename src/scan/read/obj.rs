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

#[cfg(test)]
mod tests {
    use super::super::reading::read_mm;
    use super::*;

    const CORNERS: &str = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\n";

    fn triangles(text: &str) -> Vec<[u32; 3]> {
        read_mm("a.obj", CORNERS.to_owned() + text)
            .unwrap()
            .mesh
            .triangles
    }

    fn error(text: &str) -> ReadError {
        read_mm("a.obj", CORNERS.to_owned() + text).unwrap_err()
    }

    #[test]
    fn corners_are_written_in_many_ways() {
        let wanted = [[0, 1, 2], [0, 2, 3]];
        for text in [
            "f 1 2 3\nf 1 3 4\n",
            "f 1 2 3 4\n",
            "f -4 -3 -2 -1",
            "f 1/1 2/2 3/3 4/4\n",
            "vn 0 0 1\r\nf 1//1 2//1 3//1 4//1\r\n",
            "\tf  1/7/8 2/-1/-2   3// 4/ \n",
            "f 1 2 \\\n3\\\r\n 4\n",
            "usemtl steel\ns 1\nl 1 2\np 1\nf 1 2 3 4\n",
            "# C:\\scans\\\nf 1 2 3 4\n",
            "f 1 2 3 4 \\",
        ] {
            assert_eq!(triangles(text), wanted, "{text}");
        }
    }

    #[test]
    fn points_may_have_weights_colors_and_a_mark_before_them() {
        let text = "\u{feff}v 0 0 0 1\nv 1 0 0 0.5 0.5 0.5\nv 0 1 0\nf 1 2 3\n";
        assert_eq!(read_mm("a.obj", text).unwrap().mesh.points.len(), 3);
    }

    #[test]
    fn points_may_come_after_their_faces() {
        let text = "f 1 2 3\n".to_owned() + CORNERS;
        assert_eq!(read_mm("a.obj", text).unwrap().mesh.triangles, [[0, 1, 2]]);
    }

    #[test]
    fn groups_of_one_name_are_one() {
        let text = "f 1 2 3\ng a b \nf 1 2 4\no c\ng a b\nf 2 3 4\ng\nf 1 3 4\n";
        let reading = read_mm("a.obj", CORNERS.to_owned() + text).unwrap();
        let counts = [(String::new(), 2), ("a b".to_owned(), 2)];
        assert_eq!(reading.groups_in_file, counts);
        let strange = read_mm(
            "a.obj",
            [CORNERS.as_bytes(), b"g caf\xe9\nf 1 2 3"].concat(),
        );
        assert_eq!(strange.unwrap().mesh.groups[0].name, "caf\u{fffd}");
    }

    #[test]
    fn points_that_are_not_there_are_told_with_their_line() {
        for (text, wanted) in [
            ("f 1 2 5", "line 5: there is no point 5; the file has 4"),
            ("f 1 2 0", "line 5: there is no point 0; the file has 4"),
            ("\nf 1 2 -5", "line 6: there is no point -5; the file has 4"),
            (
                "f 1 2 99999999999",
                "line 5: there is no point 99999999999; the file has 4",
            ),
            (
                "f 1 2 4294967296",
                "line 5: there is no point 4294967296; the file has 4",
            ),
            (
                "f 1 2 -9223372036854775808",
                "line 5: there is no point -9223372036854775808; the file has 4",
            ),
        ] {
            assert_eq!(error(text).to_string(), wanted);
        }
    }

    #[test]
    fn bad_numbers_are_told_with_their_line() {
        for (text, wanted) in [
            ("v 1,5 0 0", "line 5: `1,5` is not a number"),
            ("v 1 0", "line 5: a number is missing"),
            (
                "f 1 2 x",
                "line 5: `x` is not a corner of a face, such as `7`, `7/1`, `7//2` or `-1`",
            ),
            (
                "f 1 2 /3",
                "line 5: `/3` is not a corner of a face, such as `7`, `7/1`, `7//2` or `-1`",
            ),
            ("v \x1b[2J 0 0", "line 5: `\u{fffd}[2J` is not a number"),
            ("f 1 2\x00", "line 5 is not text"),
        ] {
            assert_eq!(error(text).to_string(), wanted);
        }
    }

    #[test]
    fn points_alone_are_no_surface() {
        assert_eq!(error("").to_string(), "has no triangles, only 4 points");
    }
}
