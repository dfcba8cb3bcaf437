//! PLY: a header that says what follows, then its elements as text or as numbers of
//! fixed size.

use super::error::{Place, ReadError};
use super::fan::Fan;
use super::header::{Element, Encoding, Header, Kind, Property, Scalar};
use super::number::{bad_number, coordinate};
use super::soup::Soup;
use super::source::Source;

/// What a corner of a face has to be.
const CORNER: &str = "the number of a point";
/// What a list has to begin with.
const COUNT: &str = "a count";

/// Reads a PLY. Elements and properties that are no part of the surface are passed over.
pub(super) fn read(source: &mut Source, soup: &mut Soup) -> Result<(), ReadError> {
    let header = Header::read(source)?;
    let mut body = Body {
        source,
        encoding: header.encoding,
        points: header.points(),
    };
    for element in &header.elements {
        body.element(element, soup)?;
    }
    Ok(())
}

/// What follows the header.
struct Body<'a, 'b> {
    source: &'a mut Source<'b>,
    encoding: Encoding,
    /// Points by the header.
    points: u64,
}

/// Why an item of an element was not read.
enum Stop {
    /// The file ends.
    End,
    /// Something else.
    Error(ReadError),
}

impl From<ReadError> for Stop {
    fn from(error: ReadError) -> Self {
        Self::Error(error)
    }
}

impl Body<'_, '_> {
    fn element(&mut self, element: &Element, soup: &mut Soup) -> Result<(), ReadError> {
        let claimed = element.count;
        // Nothing stands in the file for it, however many there are.
        if element.properties.is_empty() {
            return Ok(());
        }
        for there in 0..claimed {
            self.item(element, soup).map_err(|stop| match stop {
                Stop::Error(error) => error,
                Stop::End => ReadError::Truncated {
                    what: element.label(),
                    there,
                    claimed,
                },
            })?;
        }
        Ok(())
    }

    /// One item: in text a line, in bytes its properties.
    fn item(&mut self, element: &Element, soup: &mut Soup) -> Result<(), Stop> {
        if self.encoding == Encoding::Text {
            self.begin_line()?;
        }
        let mut point = [0.0; 3];
        for property in &element.properties {
            match (property, element.kind) {
                (Property::Axis(axis, scalar), Kind::Points) => {
                    point[*axis] = self.value(*scalar)?
                }
                (Property::Corners(count, scalar), Kind::Faces) => {
                    self.polygon(*count, *scalar, soup)?;
                }
                (Property::Corners(count, scalar), Kind::Strips) => {
                    self.strips(*count, *scalar, soup)?;
                }
                (Property::Axis(_, scalar) | Property::Scalar(scalar), _) => {
                    self.value(*scalar)?;
                }
                (Property::Corners(count, scalar) | Property::List(count, scalar), _) => {
                    for _ in 0..self.count(*count)? {
                        self.value(*scalar)?;
                    }
                }
            }
        }
        if element.kind == Kind::Points {
            soup.point(point)?;
        }
        Ok(())
    }

    /// The next line with anything in it.
    fn begin_line(&mut self) -> Result<(), Stop> {
        while self.source.next_line()? {
            if !self.source.rest().is_empty() {
                return Ok(());
            }
        }
        Err(Stop::End)
    }

    fn place(&self) -> Place {
        if self.encoding == Encoding::Text {
            self.source.line_place()
        } else {
            self.source.byte_place()
        }
    }

    fn value(&mut self, scalar: Scalar) -> Result<f64, Stop> {
        let place = self.place();
        let mut bytes = [0; 8];
        let bytes = &mut bytes[..scalar.size()];
        match self.encoding {
            Encoding::Text => return Ok(coordinate(self.source.word(), place)?),
            Encoding::Little | Encoding::Big => {
                if self.source.fill(bytes)? < bytes.len() {
                    return Err(Stop::End);
                }
            }
        }
        if self.encoding == Encoding::Big {
            bytes.reverse();
        }
        Ok(scalar.value(bytes))
    }

    /// How many values a list has.
    fn count(&mut self, scalar: Scalar) -> Result<u32, Stop> {
        let place = self.place();
        let value = self.value(scalar)?;
        Ok(natural(value).ok_or_else(|| bad_number(value.to_string().as_bytes(), place, COUNT))?)
    }

    fn polygon(&mut self, count: Scalar, scalar: Scalar, soup: &mut Soup) -> Result<(), Stop> {
        let mut fan = Fan::default();
        for _ in 0..self.count(count)? {
            let place = self.place();
            let value = self.value(scalar)?;
            fan.corner(self.corner(value, place)?, soup, place)?;
        }
        fan.end(soup);
        Ok(())
    }

    /// Strips, each ended by -1: three points in a row are a triangle, every other one
    /// turned over.
    fn strips(&mut self, count: Scalar, scalar: Scalar, soup: &mut Soup) -> Result<(), Stop> {
        let mut last = [None; 2];
        let mut turned = false;
        for _ in 0..self.count(count)? {
            let place = self.place();
            let value = self.value(scalar)?;
            if is_restart(value) {
                (last, turned) = ([None; 2], false);
                continue;
            }
            let corner = self.corner(value, place)?;
            if let [Some(a), Some(b)] = last {
                let triangle = if turned {
                    [b, a, corner]
                } else {
                    [a, b, corner]
                };
                soup.triangle(triangle, place)?;
                turned = !turned;
            }
            last = [last[1], Some(corner)];
        }
        Ok(())
    }

    /// The number of a point, if the header says that there are so many.
    fn corner(&self, value: f64, place: Place) -> Result<u32, ReadError> {
        let index = natural(value);
        if let Some(index) = index.filter(|&index| u64::from(index) < self.points) {
            return Ok(index);
        }
        if value.fract() != 0.0 {
            return Err(bad_number(value.to_string().as_bytes(), place, CORNER));
        }
        Err(ReadError::NoSuchPoint {
            place,
            index: value.to_string(),
            points: self.points,
        })
    }
}

/// A whole number that is not negative.
fn natural(value: f64) -> Option<u32> {
    let whole = value as u32;
    (f64::from(whole) == value).then_some(whole)
}

/// Whether a strip ends here; some files have no sign for it.
fn is_restart(value: f64) -> bool {
    value == -1.0 || value == f64::from(u32::MAX)
}

#[cfg(test)]
mod tests {
    use super::super::reading::read_mm;

    const POINTS: &str = "element vertex 4\nproperty float x\nproperty float y\nproperty float z\n";
    const FACES: &str = "element face 2\nproperty list uchar int vertex_indices\n";
    const PLACES: &str = "0 0 0\n1 0 0\n1 1 0\n0 1 0\n";

    fn text(header: &str, body: &str) -> String {
        format!("ply\nformat ascii 1.0\n{header}end_header\n{body}")
    }

    fn triangles(file: impl AsRef<[u8]>) -> Vec<[u32; 3]> {
        read_mm("a", file).unwrap().mesh.triangles
    }

    fn error(file: impl AsRef<[u8]>) -> String {
        read_mm("a.ply", file).unwrap_err().to_string()
    }

    /// With four points and two faces.
    fn square(faces: &str) -> String {
        text(&(POINTS.to_owned() + FACES), &(PLACES.to_owned() + faces))
    }

    #[test]
    fn text_is_read_line_by_line() {
        let wanted = [[0, 1, 2], [0, 2, 3]];
        let file = square("3 0 1 2\n\n3 0 2 3");
        assert_eq!(triangles(&file), wanted);
        assert_eq!(triangles(file.replace('\n', "\r\n")), wanted);
        let header = POINTS.to_owned() + FACES;
        let file = text(
            &header.replace("face 2", "face 1"),
            &(PLACES.to_owned() + "4 0 1 2 3\n"),
        );
        assert_eq!(triangles(file), wanted);
    }

    #[test]
    fn faces_may_come_first_and_other_things_between() {
        let header = FACES.to_owned()
            + "comment caf\u{e9}\nobj_info x\nelement\t nothing 999999999999999\n"
            + "element other 1\nproperty list int int a\nproperty int b\n"
            + POINTS
            + "property list uchar uchar tags\nproperty uchar red\n";
        let body = "3 0 1 2\n3 0 2 3\n2 5 6 7\n0 0 0 0 9\n1 0 0 1 7 9\n1 1 0 0 9\n0 1 0 0 9\n";
        assert_eq!(triangles(text(&header, body)), [[0, 1, 2], [0, 2, 3]]);
    }

    #[test]
    fn every_type_of_number_is_read_in_both_orders() {
        for (order, big) in [("little", false), ("big", true)] {
            for (index, size) in [("char", 1), ("ushort", 2), ("int32", 4), ("uint", 4)] {
                let mut file = format!(
                    "ply\nformat binary_{order}_endian 1.0\nelement vertex 3\nproperty short x\n\
                     property double y\nproperty int8 z\nelement face 1\n\
                     property list {index} {index} vertex_index\nend_header\n"
                )
                .into_bytes();
                let mut put = |mut bytes: Vec<u8>| {
                    if big {
                        bytes.reverse();
                    }
                    file.extend(bytes);
                };
                for (x, y, z) in [(0_i16, 0.0_f64, 0_i8), (-300, 0.0, 0), (0, 0.1, -128)] {
                    put(x.to_le_bytes().to_vec());
                    put(y.to_le_bytes().to_vec());
                    put(z.to_le_bytes().to_vec());
                }
                for number in [3_u32, 0, 1, 2] {
                    put(number.to_le_bytes()[..size].to_vec());
                }
                let mesh = read_mm("a", file).unwrap().mesh;
                assert_eq!(mesh.points[1].x, -300.0);
                assert_eq!((mesh.points[2].y, mesh.points[2].z), (0.1, -128.0));
                assert_eq!(mesh.triangles, [[0, 1, 2]]);
            }
        }
    }

    #[test]
    fn strips_turn_every_other_triangle_and_start_again_at_minus_one() {
        let header =
            POINTS.to_owned() + "element tristrips 1\nproperty list int int vertex_indices\n";
        let file = |strips: &str| text(&header, &(PLACES.to_owned() + strips));
        assert_eq!(triangles(file("4 0 1 3 2")), [[0, 1, 2], [2, 1, 3]]);
        assert_eq!(triangles(file("7 0 1 2 -1 2 3 0")), [[0, 1, 2], [2, 3, 0]]);
        assert_eq!(triangles(file("6 0 1 -1 2 3 0")), [[0, 1, 2]]);
        assert_eq!(
            triangles(file("7 0 1 2 4294967295 2 3 0")),
            [[0, 1, 2], [2, 3, 0]]
        );
    }

    #[test]
    fn a_short_file_is_told() {
        assert_eq!(
            error(square("3 0 1 2\n")),
            "is cut short: 1 of 2 faces are there"
        );
        let header = POINTS.replace("vertex 4", "vertex 99999999999999999") + FACES;
        let wanted = "is cut short: 4 of 99999999999999999 points are there";
        assert_eq!(error(text(&header, PLACES)), wanted);
        let binary = "ply\nformat binary_big_endian 1.0\n".to_owned() + POINTS + FACES;
        let mut file = (binary + "end_header\n").into_bytes();
        file.extend([0; 48]);
        assert_eq!(error(&file), "is cut short: 0 of 2 faces are there");
        file.truncate(file.len() - 1);
        assert_eq!(error(&file), "is cut short: 3 of 4 points are there");
        assert_eq!(
            error("ply\nformat"),
            "line 2: this is no line of a PLY header"
        );
        let wanted = "is cut short: it ends at line 1, before `end_header`";
        assert_eq!(error("ply\n"), wanted);
    }

    #[test]
    fn points_that_are_not_there_are_told_with_their_line() {
        for (faces, wanted) in [
            ("3 0 1 4\n", "line 14: there is no point 4; the file has 4"),
            (
                "3 0 1 -1\n",
                "line 14: there is no point -1; the file has 4",
            ),
            (
                "3 0 1 1e12\n",
                "line 14: there is no point 1000000000000; the file has 4",
            ),
            ("3 0 1 1.5\n", "line 14: `1.5` is not the number of a point"),
            ("3 0 1 nan\n", "line 14: `NaN` is not the number of a point"),
            ("-3 0 1 2\n", "line 14: `-3` is not a count"),
            ("3 0 1\n", "line 14: a number is missing"),
            ("3 0 1 2,5\n", "line 14: `2,5` is not a number"),
        ] {
            assert_eq!(error(square(faces)), wanted);
        }
    }

    #[test]
    fn headers_that_do_not_make_sense_are_told_with_their_line() {
        let end = "end_header\n";
        for (header, wanted) in [
            (
                "format ascii 1.0\n",
                "line 3: the header needs one element `vertex`",
            ),
            (
                "element vertex 0\n",
                "line 3: the header does not say the format",
            ),
            ("format pdp 1.0\n", "line 2: this is no format of PLY"),
            (
                "property int x\n",
                "line 2: a property comes before any element",
            ),
            (
                "element vertex -1\n",
                "line 2: the element's count is no count",
            ),
            (
                "element vertex 1\nproperty real x\n",
                "line 3: the property has a type that PLY does not",
            ),
            (
                "element vertex 1\nproperty x\n",
                "line 3: the property is not a type and a name",
            ),
            (
                "elements vertex 1\n",
                "line 2: this is no line of a PLY header",
            ),
            (
                "format ascii 1.0\nelement vertex 1\nproperty int x\nproperty int x\nproperty int y\n",
                "line 7: `vertex` needs one number each for x, y and z",
            ),
        ] {
            assert_eq!(error(format!("ply\n{header}{end}")), wanted);
        }
        let faces = FACES.replace("_indices", "_names");
        let file = text(&(POINTS.to_owned() + &faces), PLACES);
        assert_eq!(
            error(file),
            "line 9: faces need one list `vertex_indices` or `vertex_index`"
        );
        assert_eq!(
            error(text(&POINTS.repeat(2), "")),
            "line 11: the header needs one element `vertex`"
        );
        assert_eq!(error("solid\n"), "line 1: a PLY begins with `ply`");
        let endless = "ply\n".to_owned() + &"comment\n".repeat(20_000);
        assert_eq!(error(endless), "line 10001: the header has no end");
    }

    #[test]
    fn points_alone_are_no_surface() {
        assert_eq!(
            error(text(POINTS, PLACES)),
            "has no triangles, only 4 points"
        );
        let header = POINTS.to_owned() + &FACES.replace("face 2", "face 0");
        assert_eq!(
            error(text(&header, PLACES)),
            "has no triangles, only 4 points"
        );
    }
}
