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
