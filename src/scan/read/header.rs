//! [`Header`]: what a PLY says that it holds.

use super::error::{Place, ReadError};
use super::source::Source;
use super::text::printable;

/// Words of a line that are looked at: one more than the longest line has that matters.
const MOST_WORDS: usize = 6;

/// A header, checked.
pub(super) struct Header {
    /// How what follows is written.
    pub encoding: Encoding,
    /// What follows, in order.
    pub elements: Vec<Element>,
}

/// How elements are written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Encoding {
    /// A line each.
    Text,
    /// Numbers, the low byte first.
    Little,
    /// Numbers, the high byte first.
    Big,
}

/// Many items of the same properties.
pub(super) struct Element {
    /// What the items are.
    pub kind: Kind,
    /// As the file calls it.
    pub name: String,
    /// How many items there should be.
    pub count: u64,
    /// What each has, in order.
    pub properties: Vec<Property>,
}

/// What an element is to the surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Its points.
    Points,
    /// Its polygons.
    Faces,
    /// Its strips of triangles.
    Strips,
    /// Nothing.
    Other,
}

/// One property of an element.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Property {
    /// A coordinate: 0, 1 or 2.
    Axis(usize, Scalar),
    /// A list of points' numbers: types of its count and of its values.
    Corners(Scalar, Scalar),
    /// Another number.
    Scalar(Scalar),
    /// Another list.
    List(Scalar, Scalar),
}

/// A type of numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Scalar {
    /// Signed bytes.
    I8,
    /// Bytes.
    U8,
    /// Signed, 2 bytes.
    I16,
    /// 2 bytes.
    U16,
    /// Signed, 4 bytes.
    I32,
    /// 4 bytes.
    U32,
    /// Floating point, 4 bytes.
    F32,
    /// Floating point, 8 bytes.
    F64,
}

impl Header {
    /// Reads up to the header's end.
    pub fn read(source: &mut Source) -> Result<Self, ReadError> {
        let mut encoding = None;
        let mut elements: Vec<Element> = Vec::new();
        if !source.next_line()? || source.word() != Some(b"ply") {
            return Err(malformed(source.line_place(), "a PLY begins with `ply`"));
        }
        for _ in 0..source.limits().header {
            let more = source.next_line()?;
            let place = source.line_place();
            if !more {
                let missing = "end_header";
                return Err(ReadError::Unfinished { place, missing });
            }
            let words = std::iter::from_fn(|| source.word().map(printable));
            let words: Vec<String> = words.take(MOST_WORDS).collect();
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            match *words.as_slice() {
                [] | ["comment" | "obj_info", ..] => {}
                ["format", name, ..] => encoding = Some(Encoding::of(name, place)?),
                ["element", name, count] => elements.push(Element::new(name, count, place)?),
                ["property", ref words @ ..] => match elements.last_mut() {
                    Some(element) => element.properties.push(Property::of(words, place)?),
                    None => return Err(malformed(place, "a property comes before any element")),
                },
                ["end_header"] => return Self::check(encoding, elements, place),
                _ => return Err(malformed(place, "this is no line of a PLY header")),
            }
        }
        Err(malformed(source.line_place(), "the header has no end"))
    }

    fn check(
        encoding: Option<Encoding>,
        elements: Vec<Element>,
        place: Place,
    ) -> Result<Self, ReadError> {
        let Some(encoding) = encoding else {
            return Err(malformed(place, "the header does not say the format"));
        };
        for element in &elements {
            element.check(place)?;
        }
        let of_points = |element: &&Element| element.kind == Kind::Points;
        if elements.iter().filter(of_points).count() != 1 {
            return Err(malformed(place, "the header needs one element `vertex`"));
        }
        Ok(Self { encoding, elements })
    }

    /// How many points there should be.
    pub fn points(&self) -> u64 {
        let of_points = |element: &&Element| element.kind == Kind::Points;
        self.elements
            .iter()
            .find(of_points)
            .map_or(0, |element| element.count)
    }
}

impl Encoding {
    fn of(name: &str, place: Place) -> Result<Self, ReadError> {
        match name {
            "ascii" => Ok(Self::Text),
            "binary_little_endian" => Ok(Self::Little),
            "binary_big_endian" => Ok(Self::Big),
            _ => Err(malformed(place, "this is no format of PLY")),
        }
    }
}

impl Element {
    fn new(name: &str, count: &str, place: Place) -> Result<Self, ReadError> {
        let kind = match name {
            "vertex" => Kind::Points,
            "face" => Kind::Faces,
            "tristrips" => Kind::Strips,
            _ => Kind::Other,
        };
        let Ok(count) = count.parse() else {
            return Err(malformed(place, "the element's count is no count"));
        };
        Ok(Self {
            kind,
            name: name.to_owned(),
            count,
            properties: Vec::new(),
        })
    }

    /// What a message calls its items.
    pub fn label(&self) -> String {
        match self.kind {
            Kind::Points => "points".to_owned(),
            Kind::Faces => "faces".to_owned(),
            Kind::Strips => "lists of strips".to_owned(),
            Kind::Other => format!(
                "items of `{}`",
                self.name.chars().take(40).collect::<String>()
            ),
        }
    }

    /// Whether it has what the surface needs of it, once.
    fn check(&self, place: Place) -> Result<(), ReadError> {
        let count = |wanted: fn(&Property) -> Option<usize>, index: usize| {
            let found = self.properties.iter().filter_map(wanted);
            found.filter(|&found| found == index).count()
        };
        let axis = |index| count(Property::axis, index);
        match self.kind {
            Kind::Points if (0..3).any(|index| axis(index) != 1) => Err(malformed(
                place,
                "`vertex` needs one number each for x, y and z",
            )),
            Kind::Faces | Kind::Strips if count(Property::corners, 0) != 1 => Err(malformed(
                place,
                "faces need one list `vertex_indices` or `vertex_index`",
            )),
            _ => Ok(()),
        }
    }
}

impl Property {
    fn of(words: &[&str], place: Place) -> Result<Self, ReadError> {
        let scalar = |name| match Scalar::of(name) {
            Some(scalar) => Ok(scalar),
            None => Err(malformed(
                place,
                "the property has a type that PLY does not",
            )),
        };
        match *words {
            ["list", count, value, name] => {
                let (count, value) = (scalar(count)?, scalar(value)?);
                Ok(match name {
                    "vertex_indices" | "vertex_index" => Self::Corners(count, value),
                    _ => Self::List(count, value),
                })
            }
            [kind, name] => {
                let kind = scalar(kind)?;
                let axis = ["x", "y", "z"].iter().position(|axis| *axis == name);
                Ok(axis.map_or(Self::Scalar(kind), |axis| Self::Axis(axis, kind)))
            }
            _ => Err(malformed(place, "the property is not a type and a name")),
        }
    }

    const fn axis(&self) -> Option<usize> {
        match self {
            Self::Axis(axis, _) => Some(*axis),
            _ => None,
        }
    }

    const fn corners(&self) -> Option<usize> {
        match self {
            Self::Corners(..) => Some(0),
            _ => None,
        }
    }
}

impl Scalar {
    fn of(name: &str) -> Option<Self> {
        Some(match name {
            "char" | "int8" => Self::I8,
            "uchar" | "uint8" => Self::U8,
            "short" | "int16" => Self::I16,
            "ushort" | "uint16" => Self::U16,
            "int" | "int32" => Self::I32,
            "uint" | "uint32" => Self::U32,
            "float" | "float32" => Self::F32,
            "double" | "float64" => Self::F64,
            _ => return None,
        })
    }

    /// In bytes.
    pub const fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }

    /// The number that these bytes are, the low one first; there are as many as its size.
    pub fn value(self, bytes: &[u8]) -> f64 {
        let mut all = [0; 8];
        for (to, from) in all.iter_mut().zip(bytes) {
            *to = *from;
        }
        let bits = u64::from_le_bytes(all);
        match self {
            Self::I8 => f64::from(bits as i8),
            Self::I16 => f64::from(bits as i16),
            Self::I32 => f64::from(bits as i32),
            Self::U8 | Self::U16 | Self::U32 => bits as f64,
            Self::F32 => f64::from(f32::from_bits(bits as u32)),
            Self::F64 => f64::from_bits(bits),
        }
    }
}

fn malformed(place: Place, what: &str) -> ReadError {
    ReadError::Malformed {
        place,
        what: what.to_owned(),
    }
}
